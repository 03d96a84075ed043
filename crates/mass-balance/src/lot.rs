//! What was made of a lot against what was used of it.

use crate::book::{Book, Weighing};
use crate::flow::{COVERAGE, Flow};
use crate::names::Id;
use crate::words::{grams, list, unsure, with_scales};
use secondmelt_record::facts::Role;
use secondmelt_record::findings::{Decision, LotBalance, Verdict};
use secondmelt_record::{Code, Count, NonNegative, Number, Problem};
use std::collections::{BTreeMap, HashSet};

const RULE: &str = "|made - used - stock| <= 2 u, about 95 %; u is the root sum of squares of the \
                    weighings (JCGM 100:2008, 5.1.2)";
const RULE_NO_STOCK: &str = "used - made <= 2 u, one-sided, since no stock weighing says what is left, \
                             about 98 %; u is the root sum of squares of the weighings \
                             (JCGM 100:2008, 5.1.2)";

/// One lot.
#[derive(Debug)]
pub(crate) struct Balance<'a> {
    book: &'a Book,
    lot: Id,
    made: Flow<'a>,
    used: Flow<'a>,
    stock: Option<&'a Weighing>,
}

/// Which lots a step took in and put out, to tell what a loss was to its lot.
pub(crate) struct Sides {
    fed: HashSet<(Id, Id)>,
    good: HashSet<(Id, Id)>,
    steps_fed: HashSet<Id>,
}

impl Sides {
    pub(crate) fn new(book: &Book) -> Self {
        let of = |role| {
            let found = book.weighings().iter().filter(move |w| w.role == role);
            found.map(|w| (w.step, w.lot)).collect::<HashSet<_>>()
        };
        let fed = of(Role::In);
        Self { steps_fed: fed.iter().map(|(step, _)| *step).collect(), good: of(Role::Out), fed }
    }

    /// What a weighing is to its lot. A loss under a name of its own came into being in
    /// the step; under the name of a lot that the step took in or put out it only left
    /// that lot's good mass, which is weighed by itself; and in a step that took nothing
    /// in, it was taken off the shelf.
    pub(crate) fn part(&self, weighing: &Weighing) -> Part {
        let here = (weighing.step, weighing.lot);
        match weighing.role {
            Role::In => Part::Used,
            Role::Out => Part::Made,
            Role::Stock => Part::Stock,
            _ if self.fed.contains(&here) || self.good.contains(&here) => Part::Neither,
            _ if self.steps_fed.contains(&weighing.step) => Part::Made,
            _ => Part::Used,
        }
    }
}

/// What a weighing is to its lot.
pub(crate) enum Part {
    Made,
    Used,
    Stock,
    Neither,
}

/// One balance a lot, by name.
pub(crate) fn balances(book: &Book) -> Vec<Balance<'_>> {
    let sides = Sides::new(book);
    let mut lots: BTreeMap<&str, Balance<'_>> = BTreeMap::new();
    for weighing in book.weighings() {
        let lot = weighing.lot;
        let balance = lots.entry(book.name(lot)).or_insert_with(|| Balance::new(book, lot));
        match sides.part(weighing) {
            Part::Made => balance.made.add(weighing, book),
            Part::Used => balance.used.add(weighing, book),
            Part::Stock => balance.see_stock(weighing),
            Part::Neither => {}
        }
    }
    lots.into_values().collect()
}

impl<'a> Balance<'a> {
    fn new(book: &'a Book, lot: Id) -> Self {
        Self { book, lot, made: Flow::default(), used: Flow::default(), stock: None }
    }

    /// Keeps the last stock weighing: the latest by its time, else the last read.
    fn see_stock(&mut self, weighing: &'a Weighing) {
        let later =
            self.stock.is_none_or(|kept| self.book.at_ms(kept) <= self.book.at_ms(weighing));
        if weighing.mass_g.is_some() && later {
            self.stock = Some(weighing);
        }
    }

    /// The lot.
    pub(crate) fn lot(&self) -> Id {
        self.lot
    }

    /// The stock weighing that says what is left today.
    pub(crate) fn stock_now(&self) -> Option<&'a Weighing> {
        self.stock.filter(|_| self.after_stock().is_none())
    }

    /// A weighing of this lot that is dated after the stock was weighed.
    fn after_stock(&self) -> Option<&'a Weighing> {
        let stock_ms = self.book.at_ms(self.stock?)?;
        let moved = self.made.all().chain(self.used.all());
        let later = moved.filter(|w| self.book.at_ms(w).is_some_and(|at| at > stock_ms));
        later.min_by_key(|w| (self.book.at_ms(w), self.book.name(w.step)))
    }

    /// The same; of a lot that no step made, and whose stock nothing else is held against, also a weighing
    /// that is not known to be before.
    fn maybe_after_stock(&self) -> Option<&'a Weighing> {
        let unknown = || {
            let stock_ms = self.stock.and_then(|stock| self.book.at_ms(stock));
            let before = |w: &&Weighing| {
                self.book.at_ms(w).zip(stock_ms).is_some_and(|(at, stock)| at < stock)
            };
            let mut used = self.used.all().filter(|_| self.made.is_empty() && self.stock.is_some());
            used.find(|w| !before(w))
        };
        self.after_stock().or_else(unknown)
    }

    fn left(&self) -> Flow<'a> {
        self.made.clone().minus([&self.used])
    }

    /// Made minus used minus stock, where some step made the lot and the stock that was
    /// weighed is that of today.
    fn unexplained(&self) -> Option<Flow<'a>> {
        let mut stock = Flow::default();
        stock.add(self.stock?, self.book);
        let known = !self.made.is_empty() && self.after_stock().is_none();
        known.then(|| self.left().minus([&stock]))
    }

    /// The balance as a record; none where a sum is beyond what a record holds.
    pub(crate) fn finding(&self) -> Option<LotBalance<'_>> {
        let (made_g, used_g) = (self.made.mass_g(), self.used.mass_g());
        let unexplained = self.unexplained();
        let not_weighed = self.made.not_weighed.len() + self.used.not_weighed.len();
        let share = (made_g > 0.0 && not_weighed == 0).then(|| 100.0 * used_g / made_g);
        Some(LotBalance {
            lot: self.book.named(self.lot),
            made_g: NonNegative::new(made_g)?,
            used_g: NonNegative::new(used_g)?,
            stock_g: self.stock.and_then(|w| w.mass_g).and_then(NonNegative::new),
            moved_by: self.maybe_after_stock().map(|w| self.book.named(w.step)),
            unexplained_g: unexplained.as_ref().and_then(|flow| Number::new(flow.mass_g())),
            u_unexplained_g: unexplained.and_then(|flow| flow.u_g()).and_then(NonNegative::new),
            used_pct: share.and_then(NonNegative::new),
            not_weighed: Count::from(not_weighed),
            ..LotBalance::default()
        })
    }

    /// What to say where a sum is beyond what a record holds.
    pub(crate) fn too_large(&self) -> Problem<'static> {
        Problem {
            code: Code::OutOfRange,
            lot: Some(self.book.named(self.lot).into_owned()),
            found: "masses of the lot that add up beyond it".into(),
            expected: "at most 1e9 g of a lot".into(),
            advice: Some("check the unit of its weighings".into()),
            ..Problem::default()
        }
    }

    /// Whether what was made covers what was used and is left. A lot that no step made
    /// is a source, and one that is neither used nor weighed again has nothing to be
    /// checked against: they have no verdict.
    pub(crate) fn verdict(&self) -> Option<Verdict<'_>> {
        if self.made.is_empty() || (self.used.is_empty() && self.stock.is_none()) {
            return None;
        }
        let unexplained = self.unexplained();
        let rule = if unexplained.is_some() { RULE } else { RULE_NO_STOCK };
        let judged = unexplained.unwrap_or_else(|| self.used.clone().minus([&self.made]));
        let (result, why) = self.decision(&judged);
        let value = self.value(&judged);
        let u_g = judged.u_g().filter(|_| value.is_some());
        let mut scales = judged.display_scales(self.book);
        scales.retain(|_| u_g.is_some());
        let (rule, why) = with_scales(rule, why, &scales);
        Some(Verdict {
            check: "lot-balance".into(),
            result,
            lot: Some(self.book.named(self.lot)),
            value,
            limit: u_g.and_then(|u| Number::new(COVERAGE * u)),
            unit: Some("g".into()),
            rule: rule.into(),
            why: why.into(),
            ..Verdict::default()
        })
    }

    /// What is held against the limit: what stock does not explain, else how much more was
    /// used than made. None where it cannot be told.
    fn value(&self, judged: &Flow<'_>) -> Option<Number> {
        let mass_g = judged.mass_g();
        if !judged.not_weighed.is_empty() {
            None
        } else if self.unexplained().is_some() || mass_g > 0.0 {
            Number::new(mass_g)
        } else {
            Number::new(0.0).filter(|_| self.after_stock().is_none())
        }
    }

    fn decision(&self, judged: &Flow<'_>) -> (Decision, String) {
        if !judged.not_weighed.is_empty() {
            let why = format!(
                "{} was not weighed, so it is not known how much must be left",
                list(&judged.not_weighed, self.book)
            );
            return (Decision::Undecided, why);
        }
        match (self.unexplained(), judged.u_g()) {
            (Some(_), Some(u)) => with_stock(judged.mass_g(), COVERAGE * u),
            (None, u) => self.without_stock(judged, u.map(|u| COVERAGE * u)),
            (Some(_), None) => {
                let difference = astray(judged.mass_g());
                let why = format!("{difference}; {}", unsure(&judged.unsure, self.book));
                (Decision::Undecided, why)
            }
        }
    }

    /// No stock weighing tells what must be left, only that it cannot be less than nothing.
    fn without_stock(&self, beyond: &Flow<'_>, limit: Option<f64>) -> (Decision, String) {
        let beyond_g = beyond.mass_g();
        if beyond_g <= 0.0 {
            return self.enough_made(-beyond_g);
        }
        let excess = format!(
            "{} more was used than was made ({} of {})",
            grams(beyond_g),
            grams(self.used.mass_g()),
            grams(self.made.mass_g())
        );
        let Some(limit) = limit else {
            let why = format!("{excess}; {}", unsure(&beyond.unsure, self.book));
            return (Decision::Undecided, why);
        };
        let (result, verb) = if beyond_g <= limit {
            (Decision::Conforms, "up to")
        } else {
            (Decision::Fails, "at most")
        };
        (result, format!("{excess}; the weighings explain {verb} {}", grams(limit)))
    }

    fn enough_made(&self, left_g: f64) -> (Decision, String) {
        let (made, used) = (grams(self.made.mass_g()), grams(self.used.mass_g()));
        let left = grams(left_g);
        match self.after_stock() {
            Some(later) => {
                let why = format!(
                    "the lot was used or made again in step {} after its stock was weighed: weigh what is left, {left} by the books",
                    self.book.name(later.step)
                );
                (Decision::Undecided, why)
            }
            None => {
                let why = format!(
                    "{used} were used of {made} made; {left} are left by the books and were not weighed"
                );
                (Decision::Conforms, why)
            }
        }
    }
}

fn with_stock(unexplained_g: f64, limit: f64) -> (Decision, String) {
    let explained = grams(limit);
    if unexplained_g.abs() <= limit {
        let why = format!(
            "made, used and stock differ by {}, and the weighings explain up to {explained}",
            grams(unexplained_g.abs())
        );
        return (Decision::Conforms, why);
    }
    let why = format!("{}; the weighings explain at most {explained}", astray(unexplained_g));
    (Decision::Fails, why)
}

/// What is not where the books have it.
fn astray(unexplained_g: f64) -> String {
    let size = grams(unexplained_g.abs());
    if unexplained_g > 0.0 {
        format!("{size} of what was made are neither used nor left")
    } else if unexplained_g < 0.0 {
        format!("{size} more are used or left than were made")
    } else {
        "as much is used and left as was made".to_owned()
    }
}
