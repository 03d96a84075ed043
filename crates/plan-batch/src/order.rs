//! In which order the lab's steps follow one another, by the lots that they hand on.

use crate::book::Book;
use secondmelt_record::facts::Does;
use std::collections::{BTreeMap, BTreeSet};

/// Kinds of step that lead to filament, in their usual order. Blending is none: what is added there takes
/// the place of as much feed.
pub(crate) const KINDS: [Does; 6] =
    [Does::Sort, Does::Wash, Does::Shred, Does::Dry, Does::Extrude, Does::Wind];
/// Most times in a row that plastic goes through steps of a kind.
const ROUNDS_MAX: u32 = 4;

/// Steps of a kind that stand at the same place of the route: the kind, and how often plastic went
/// through that kind before, since it was last melted.
pub(crate) type Place = (Does, u32);

/// The place of a kind in the usual order.
pub(crate) fn usual(does: Does) -> usize {
    KINDS.iter().position(|kind| *kind == does).unwrap_or(KINDS.len())
}

/// The places of some steps, in the order in which lots go through them; where that says nothing or goes
/// in circles, in the usual one.
pub(crate) fn places<'b>(book: &'b Book, steps: &[&'b str]) -> Vec<(Place, Vec<&'b str>)> {
    let chain = Chain::new(book, steps);
    let mut by_place: BTreeMap<Place, Vec<&str>> = BTreeMap::new();
    for step in steps {
        if let Some(does) = book.does(step).filter(|does| usual(*does) < KINDS.len()) {
            let before = chain.before(step, does, &mut BTreeSet::new());
            by_place.entry((does, before)).or_default().push(step);
        }
    }
    let place_of: BTreeMap<&str, Place> = by_place
        .iter()
        .flat_map(|(place, steps)| steps.iter().map(move |step| (*step, *place)))
        .collect();
    let mut after: BTreeMap<Place, BTreeSet<Place>> = BTreeMap::new();
    for (step, place) in &place_of {
        for earlier in chain.feeds(step) {
            let Some(before) = place_of.get(earlier).filter(|before| *before != place) else {
                continue;
            };
            // What was melted starts anew.
            if before.0 != Does::Extrude || place.0 == Does::Wind {
                after.entry(*place).or_default().insert(*before);
            }
        }
    }
    let mut left: Vec<Place> = by_place.keys().copied().collect();
    left.sort_by_key(|(does, round)| (usual(*does), *round));
    let mut ordered = Vec::new();
    while !left.is_empty() {
        let open = |place: &Place| {
            after.get(place).is_none_or(|before| before.iter().all(|one| !left.contains(one)))
        };
        let place = left.remove(left.iter().position(open).unwrap_or(0));
        ordered.push((place, by_place.remove(&place).unwrap_or_default()));
    }
    ordered
}

/// Which steps made the lots that a step took in.
struct Chain<'b> {
    book: &'b Book,
    made_by: BTreeMap<&'b str, Vec<&'b str>>,
}

impl<'b> Chain<'b> {
    fn new(book: &'b Book, steps: &[&'b str]) -> Self {
        let mut made_by: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
        for step in steps {
            for lot in book.spools.gave(step).into_iter().flatten() {
                made_by.entry(lot).or_default().push(step);
            }
        }
        Self { book, made_by }
    }

    fn feeds(&self, step: &str) -> impl Iterator<Item = &'b str> {
        let took = self.book.took.get(step).into_iter().flatten();
        took.filter_map(|lot| self.made_by.get(lot.as_str())).flatten().copied()
    }

    /// How often what a step took in had been through steps of a kind before, since it was last melted.
    fn before(&self, step: &'b str, does: Does, seen: &mut BTreeSet<&'b str>) -> u32 {
        if does == Does::Extrude || does == Does::Wind || !seen.insert(step) {
            return 0;
        }
        let through = |earlier: &'b str, seen: &mut BTreeSet<&'b str>| {
            let kind = self.book.does(earlier);
            if kind.is_none_or(|kind| usual(kind) >= usual(Does::Extrude)) {
                return 0;
            }
            u32::from(kind == Some(does)) + self.before(earlier, does, seen)
        };
        let most = self.feeds(step).map(|earlier| through(earlier, seen)).max().unwrap_or(0);
        seen.remove(step);
        most.min(ROUNDS_MAX)
    }
}
