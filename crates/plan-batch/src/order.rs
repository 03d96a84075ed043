//! In which order the lab's steps follow one another, by the lots that they hand on.

use crate::book::Book;
use secondmelt_record::facts::Does;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

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
/// in circles, in the usual one. And the steps through which plastic went once more, where most of it
/// did not: they are rework, and no stage of a route.
pub(crate) fn places<'b>(book: &'b Book, steps: &[&'b str]) -> Places<'b> {
    let chain = Chain::new(book, steps);
    let rounds = chain.rounds();
    let mut by_place: BTreeMap<Place, Vec<&str>> = BTreeMap::new();
    let mut place_of: BTreeMap<&str, Place> = BTreeMap::new();
    for step in steps {
        if let Some(does) = book.does(step).filter(|does| usual(*does) < KINDS.len()) {
            let place = (does, rounds.get(step).map_or(0, |rounds| rounds[usual(does)]));
            by_place.entry(place).or_default().push(step);
            place_of.insert(step, place);
        }
    }
    let mut rework = Vec::new();
    for round in 1..=ROUNDS_MAX {
        for does in KINDS {
            let count = |round| by_place.get(&(does, round)).map_or(0, Vec::len);
            let before = count(round - 1);
            if before == 0 || 2 * count(round) <= before {
                rework.extend(by_place.remove(&(does, round)).into_iter().flatten());
            }
        }
    }
    let mut after: BTreeMap<Place, BTreeSet<Place>> = BTreeMap::new();
    let mut melted_again = BTreeSet::new();
    for (lot, takers) in &chain.taken_by {
        let makers = chain.makers_through(lot);
        let made: BTreeSet<Place> =
            makers.iter().filter_map(|step| place_of.get(step).copied()).collect();
        let taken: BTreeSet<Place> =
            takers.iter().filter_map(|step| place_of.get(step).copied()).collect();
        for place in taken {
            // What was melted starts anew.
            let before = made.iter().filter(|before| {
                **before != place && (before.0 != Does::Extrude || place.0 == Does::Wind)
            });
            after.entry(place).or_default().extend(before);
        }
        if makers.iter().any(|step| book.does(step) == Some(Does::Extrude)) {
            melted_again.extend(chain.melts_of(takers));
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
    // What is weighed in steps of no kind between stages is a loss that no stage has.
    let between = |step: &&&str| {
        let has = |lots: Option<&BTreeSet<String>>, by: &BTreeMap<&str, Vec<&str>>| {
            lots.into_iter().flatten().any(|lot| by.contains_key(lot.as_str()))
        };
        book.does(step) == Some(Does::Other)
            && has(book.took.get(**step), &chain.made_by)
            && has(book.spools.gave(step), &chain.taken_by)
    };
    let unnamed = steps.iter().filter(between).copied().collect();
    Places { ordered, rework, melted_again: melted_again.into_iter().collect(), unnamed }
}

/// The places of steps, and the steps that have none.
#[derive(Debug, Default)]
pub(crate) struct Places<'b> {
    /// Places with their steps, in order.
    pub(crate) ordered: Vec<(Place, Vec<&'b str>)>,
    /// Steps through which plastic went once more, where most of it did not.
    pub(crate) rework: Vec<&'b str>,
    /// Extrusions of what was extruded before.
    pub(crate) melted_again: Vec<&'b str>,
    /// Steps of no kind between two others.
    pub(crate) unnamed: Vec<&'b str>,
}

/// How often plastic went through each kind, by its place in the usual order.
type Rounds = [u32; KINDS.len()];

/// Which steps made the lots that steps took in. A lot that a step takes in and gives back under the same
/// name tells of no order.
struct Chain<'b> {
    book: &'b Book,
    made_by: BTreeMap<&'b str, Vec<&'b str>>,
    taken_by: BTreeMap<&'b str, Vec<&'b str>>,
}

impl<'b> Chain<'b> {
    fn new(book: &'b Book, steps: &[&'b str]) -> Self {
        let mut made_by: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
        let mut taken_by: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
        for step in steps {
            let (took, gave) = (book.took.get(*step), book.spools.gave(step));
            let both = |lot: &&String| {
                took.is_some_and(|took| took.contains(*lot))
                    && gave.is_some_and(|gave| gave.contains(*lot))
            };
            for lot in gave.into_iter().flatten().filter(|lot| !both(lot)) {
                made_by.entry(lot).or_default().push(step);
            }
            for lot in took.into_iter().flatten().filter(|lot| !both(lot)) {
                taken_by.entry(lot).or_default().push(step);
            }
        }
        Self { book, made_by, taken_by }
    }

    /// For each step how often all that it took in had been through each kind before, since it was last
    /// melted. Of a lot that several steps made the least counts, and so it does of several lots.
    fn rounds(&self) -> BTreeMap<&'b str, Rounds> {
        let mut rounds: BTreeMap<&str, Rounds> = BTreeMap::new();
        let mut open: VecDeque<&str> = self
            .taken_by
            .values()
            .flatten()
            .copied()
            .collect::<BTreeSet<_>>()
            .into_iter()
            .collect();
        let mut waits: BTreeSet<&str> = open.iter().copied().collect();
        // Rounds only ever grow, and no further than they are counted, so that this ends.
        while let Some(step) = open.pop_front() {
            waits.remove(step);
            let took = self.book.took.get(step).into_iter().flatten();
            let of_lots = took.map(|lot| self.of_lot(lot, &rounds));
            let found = of_lots.reduce(least).unwrap_or_default();
            if rounds.get(step).copied().unwrap_or_default() == found {
                continue;
            }
            rounds.insert(step, found);
            for lot in self.book.spools.gave(step).into_iter().flatten() {
                for next in self.taken_by.get(lot.as_str()).into_iter().flatten() {
                    if waits.insert(next) {
                        open.push_back(next);
                    }
                }
            }
        }
        rounds
    }

    /// Extrusions among some steps, and those of what steps among them dried.
    fn melts_of(&self, steps: &[&'b str]) -> Vec<&'b str> {
        let does = |step: &str, kind| self.book.does(step) == Some(kind);
        let dried = steps.iter().filter(|step| does(step, Does::Dry));
        let lots = dried.filter_map(|step| self.book.spools.gave(step)).flatten();
        let next = lots.filter_map(|lot| self.taken_by.get(lot.as_str())).flatten();
        steps.iter().chain(next).filter(|step| does(step, Does::Extrude)).copied().collect()
    }

    /// Whether a step is no stage and hands on what it took: blending, and what has no kind of its own.
    fn passes_through(&self, step: &str) -> bool {
        matches!(self.book.does(step), Some(Does::Blend | Does::Other))
    }

    /// The steps that made a lot, and behind those that hand on what they took the ones before.
    fn makers_through(&self, lot: &'b str) -> BTreeSet<&'b str> {
        let mut makers = BTreeSet::new();
        let mut seen = BTreeSet::from([lot]);
        let mut open = vec![lot];
        while let Some(lot) = open.pop() {
            for step in self.made_by.get(lot).into_iter().flatten() {
                if !self.passes_through(step) {
                    makers.insert(*step);
                    continue;
                }
                let took = self.book.took.get(*step).into_iter().flatten();
                open.extend(took.map(String::as_str).filter(|lot| seen.insert(lot)));
            }
        }
        makers
    }

    /// How often a lot has been through each kind.
    fn of_lot(&self, lot: &str, rounds: &BTreeMap<&'b str, Rounds>) -> Rounds {
        let made_by = self.made_by.get(lot).into_iter().flatten();
        let of_maker = |step: &&'b str| {
            let mut found = rounds.get(step).copied().unwrap_or_default();
            match self.book.does(step).map(usual) {
                Some(kind) if kind < usual(Does::Extrude) => {
                    found[kind] = (found[kind] + 1).min(ROUNDS_MAX);
                    found
                }
                _ if self.passes_through(step) => found,
                _ => Rounds::default(),
            }
        };
        made_by.map(of_maker).reduce(least).unwrap_or_default()
    }
}

fn least(a: Rounds, b: Rounds) -> Rounds {
    std::array::from_fn(|kind| a[kind].min(b[kind]))
}
