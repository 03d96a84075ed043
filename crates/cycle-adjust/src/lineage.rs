//! Which lots are of one family: made from one another without mixing in lots that have
//! been melted more or less often.

use crate::book::Book;
use crate::lab::Lab;
use secondmelt_record::facts::Does;
use std::collections::{BTreeMap, BTreeSet};

/// Families of lots.
#[derive(Debug, Default)]
pub(crate) struct Families<'a> {
    parent: BTreeMap<&'a str, &'a str>,
}

impl<'a> Families<'a> {
    /// The families that the weighings show. What comes out of a step that mixes starts one
    /// of its own.
    pub(crate) fn of(book: &'a Book, lab: &Lab) -> Self {
        let mut families = Self::default();
        for (step, taken, put) in book.passages() {
            let mixed = mixes(book, lab, step, taken);
            // To have been mixed into another says nothing of where a lot came from.
            let through = taken.iter().filter(|_| !mixed).chain(put);
            let mut lots = through.map(String::as_str);
            if let Some(first) = lots.next() {
                families.join(first, first);
                lots.for_each(|lot| families.join(first, lot));
            }
        }
        families
    }

    /// A lot that stands for the family; none for a lot that no weighing links to another.
    pub(crate) fn head(&self, lot: &str) -> Option<&'a str> {
        let (mut at, mut above) = self.parent.get_key_value(lot)?;
        while at != above {
            (at, above) = self.parent.get_key_value(above)?;
        }
        Some(at)
    }

    fn join(&mut self, a: &'a str, b: &'a str) {
        self.parent.entry(a).or_insert(a);
        self.parent.entry(b).or_insert(b);
        if let (Some(a), Some(b)) = (self.head(a), self.head(b)) {
            self.parent.insert(a.max(b), a.min(b));
        }
    }
}

/// Whether a step mixes lots that differ: it is said to, or their passes are not the same.
fn mixes(book: &Book, lab: &Lab, step: &str, taken: &BTreeSet<String>) -> bool {
    let blends = book.step_fact(step).is_some_and(|fact| fact.does == Does::Blend);
    let passes: BTreeSet<_> = taken.iter().filter_map(|lot| lab.passes(lot)).collect();
    taken.len() > 1 && (blends || passes.len() > 1)
}
