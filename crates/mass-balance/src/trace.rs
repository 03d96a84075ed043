//! What each lot is made of, carried through the network in order of time.
//!
//! A step mixes what goes into it, so that all that comes out of it has one composition;
//! a lot mixes what steps put into it before it is used. Water that is driven off carries
//! no plastic. A lot that is fed back into what it came from is unrolled by time: what a
//! step takes of a lot is what steps had put into it until then.

use crate::book::Book;
use crate::graph::Graph;
use crate::names::Id;
use crate::reconcile::Balanced;
use secondmelt_record::facts::{Does, Origin, Role};
use std::collections::{BTreeMap, HashMap};

/// Ancestors that are kept of a lot.
const ANCESTORS_MAX: usize = 256;

/// Parts that are kept apart: origin as it entered, times melted, and whether it has come back
/// from this lab's own process.
pub(crate) type Parts = BTreeMap<(Origin, u64, bool), f64>;

/// What is known of a lot that no step made.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Source {
    pub(crate) origin: Option<Origin>,
    pub(crate) passes: Option<u64>,
}

/// Composition of every lot, and where it came from.
#[derive(Debug, Default)]
pub(crate) struct Traced {
    /// Shares of one by origin and passes.
    pub(crate) lots: BTreeMap<Id, Parts>,
    /// For each lot its ancestors: share of the lot that came through each.
    pub(crate) from: BTreeMap<Id, BTreeMap<Id, (u64, f64)>>,
    /// Lots that are among their own ancestors, and the step that fed them back.
    pub(crate) loops: BTreeMap<Id, Id>,
    /// Variance of the recycled content of each lot, from the weighings.
    pub(crate) variance: BTreeMap<Id, f64>,
    /// Steps in the order in which plastic went through them.
    pub(crate) order: Vec<Id>,
    /// Lots whose passes were not known and taken as none.
    pub(crate) assumed: BTreeMap<Id, f64>,
}

/// One step's flows.
#[derive(Default)]
struct Move {
    fed: Vec<Fed>,
    /// Lot, mass, and whether it is scrap of the step.
    made: Vec<(Id, f64, bool)>,
}

/// What a step took of a lot, dry.
struct Fed {
    lot: Id,
    mass: f64,
    u: f64,
}

/// Share of post-consumer and pre-consumer plastic that is not the lab's own regrind.
pub(crate) fn recycled_share(parts: &Parts) -> f64 {
    let counts = |(origin, _, internal): &(Origin, u64, bool)| {
        !internal && matches!(origin, Origin::PostConsumer | Origin::PreConsumer)
    };
    parts.iter().filter(|(key, _)| counts(key)).map(|(_, part)| part).sum()
}

impl Traced {
    pub(crate) fn new(graph: &Graph<'_>, balanced: &Balanced<'_>) -> Self {
        let book = graph.book;
        let mut moves: HashMap<Id, Move> = HashMap::new();
        for (n, stream) in graph.streams.iter().enumerate() {
            let w = stream.weighing;
            let Some(mass) = balanced.mass_g(n).filter(|mass| *mass > 0.0) else { continue };
            match w.role {
                Role::In => {
                    let dry = 1.0 - book.wet_share(w);
                    let u = balanced.u_g(n).unwrap_or(0.0);
                    let fed = Fed { lot: w.lot, mass: mass * dry, u: u * dry };
                    moves.entry(w.step).or_default().fed.push(fed);
                }
                Role::Stock | Role::Water => {}
                // A loss under the name of a lot of its own makes that lot.
                _ if graph.makes(stream) => {
                    moves.entry(w.step).or_default().made.push((w.lot, mass, w.role != Role::Out));
                }
                _ => {}
            }
        }
        let mut traced = Self::default();
        let mut held: HashMap<Id, f64> = HashMap::new();
        for step in in_order(graph, &moves) {
            traced.order.push(step);
            let does = book.does(step);
            let Some(flows) = moves.get(&step) else { continue };
            traced.carry(graph, step, does == Some(Does::Extrude), flows, &mut held);
        }
        traced
    }

    /// Times that a lot was melted, mean by mass.
    pub(crate) fn mean_passes(&self, lot: Id) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "a number of passes")]
        let part = |((_, passes, _), part): (&(Origin, u64, bool), &f64)| *passes as f64 * part;
        self.lots.get(&lot).into_iter().flatten().map(part).sum()
    }

    fn start(&mut self, graph: &Graph<'_>, lot: Id) {
        if self.lots.contains_key(&lot) {
            return;
        }
        let source = graph.book.lot_source(lot);
        let origin = source.origin.unwrap_or(Origin::Unknown);
        let passes = source.passes.unwrap_or(0);
        if source.passes.is_none() && origin != Origin::Virgin {
            self.assumed.insert(lot, 1.0);
        }
        self.lots.insert(lot, Parts::from([((origin, passes, origin == Origin::InProcess), 1.0)]));
    }

    fn carry(
        &mut self,
        graph: &Graph<'_>,
        step: Id,
        melts: bool,
        flows: &Move,
        held: &mut HashMap<Id, f64>,
    ) {
        let total: f64 = flows.fed.iter().map(|fed| fed.mass).sum();
        if total <= 0.0 {
            return;
        }
        let (mut mixed, mut assumed) = (Parts::new(), 0.0);
        let mut above: BTreeMap<Id, (u64, f64)> = BTreeMap::new();
        for Fed { lot, mass, .. } in &flows.fed {
            self.start(graph, *lot);
            let share = mass / total;
            for ((origin, passes, internal), part) in &self.lots[lot] {
                let passes = passes.saturating_add(u64::from(melts));
                *mixed.entry((*origin, passes, *internal)).or_default() += share * part;
            }
            assumed += share * self.assumed.get(lot).copied().unwrap_or(0.0);
            reach(&mut above, *lot, 1, share);
            for (ancestor, (steps, part)) in self.from.get(lot).into_iter().flatten() {
                reach(&mut above, *ancestor, steps + 1, share * part);
            }
            if let Some(held) = held.get_mut(lot) {
                *held = (*held - mass).max(0.0);
            }
        }
        largest(&mut above, graph.book);
        // Law of propagation (JCGM 100:2008, 5.1.2) on the mean by mass.
        let content = recycled_share(&mixed);
        let moved = |Fed { lot, mass, u }: &Fed| {
            let by_mass = (recycled_share(&self.lots[lot]) - content) * u / total;
            let own = self.variance.get(lot).copied().unwrap_or(0.0);
            by_mass * by_mass + (mass / total).powi(2) * own
        };
        let variance: f64 = flows.fed.iter().map(moved).sum();
        let mut made: BTreeMap<Id, (f64, bool)> = BTreeMap::new();
        for (lot, mass, scrap) in &flows.made {
            let entry = made.entry(*lot).or_default();
            *entry = (entry.0 + mass, entry.1 || *scrap);
        }
        for (lot, (mass, scrap)) in made {
            let own = graph.book.lot_source(lot).origin == Some(Origin::InProcess);
            let mixed = if scrap || own { come_back(&mixed) } else { mixed.clone() };
            if above.contains_key(&lot) {
                self.loops.entry(lot).or_insert(step);
            }
            let before = held.get(&lot).copied().unwrap_or(0.0);
            let new = if before > 0.0 { mass / (before + mass) } else { 1.0 };
            mix(self.lots.entry(lot).or_default(), &mixed, new);
            let from = self.from.entry(lot).or_default();
            for (_, part) in from.values_mut() {
                *part *= 1.0 - new;
            }
            for (ancestor, (steps, part)) in &above {
                reach(from, *ancestor, *steps, new * part);
            }
            let old = self.assumed.get(&lot).copied().unwrap_or(0.0);
            self.assumed.insert(lot, old * (1.0 - new) + assumed * new);
            let old = self.variance.get(&lot).copied().unwrap_or(0.0);
            let new_variance = if scrap || own { 0.0 } else { variance };
            let both = old * (1.0 - new).powi(2) + new_variance * new * new;
            self.variance.insert(lot, both);
            held.insert(lot, before + mass);
        }
    }
}

/// Leaves the ancestors with the largest shares, so that a long chain keeps no more than it can.
fn largest(above: &mut BTreeMap<Id, (u64, f64)>, book: &Book) {
    if above.len() <= ANCESTORS_MAX {
        return;
    }
    let mut all: Vec<_> = std::mem::take(above).into_iter().collect();
    all.sort_by(|(a, (_, x)), (b, (_, y))| {
        y.total_cmp(x).then_with(|| book.name(*a).cmp(book.name(*b)))
    });
    above.extend(all.into_iter().take(ANCESTORS_MAX));
}

fn reach(above: &mut BTreeMap<Id, (u64, f64)>, lot: Id, steps: u64, share: f64) {
    let entry = above.entry(lot).or_insert((steps, 0.0));
    *entry = (entry.0.min(steps), entry.1 + share);
}

/// The same plastic once it is scrap or regrind of the lab's own process.
fn come_back(parts: &Parts) -> Parts {
    parts.iter().fold(Parts::new(), |mut back, ((origin, passes, _), part)| {
        *back.entry((*origin, *passes, true)).or_default() += part;
        back
    })
}

/// Makes `new` of a composition that of what was added.
fn mix(parts: &mut Parts, added: &Parts, new: f64) {
    for part in parts.values_mut() {
        *part *= 1.0 - new;
    }
    for (key, part) in added {
        *parts.entry(*key).or_default() += new * part;
    }
    parts.retain(|_, part| *part > 0.0);
}

/// Steps in order of time; those without one, or at the same time, such that lots are made
/// before they are used where that can be; then by name.
fn in_order(graph: &Graph<'_>, moves: &HashMap<Id, Move>) -> Vec<Id> {
    let book = graph.book;
    let mut times: HashMap<Id, i64> = HashMap::new();
    for weighing in book.weighings() {
        if let Some(at) = book.at_ms(weighing) {
            let first = times.entry(weighing.step).or_insert(at);
            *first = (*first).min(at);
        }
    }
    let mut makers: HashMap<Id, Vec<Id>> = HashMap::new();
    for (step, flows) in moves {
        for (lot, ..) in &flows.made {
            makers.entry(*lot).or_default().push(*step);
        }
    }
    let key = |step: &Id| (times.get(step).copied(), book.name(*step));
    let before = |a: Id, b: Id| match (times.get(&a), times.get(&b)) {
        (Some(a), Some(b)) => a <= b,
        _ => true,
    };
    // What must come first: the makers of what a step takes in, unless they are later.
    let mut waits: HashMap<Id, usize> = HashMap::new();
    let mut next: HashMap<Id, Vec<Id>> = HashMap::new();
    for (step, flows) in moves {
        let mut first: Vec<Id> = flows
            .fed
            .iter()
            .filter_map(|fed| makers.get(&fed.lot))
            .flatten()
            .copied()
            .filter(|maker| maker != step && before(*maker, *step))
            .collect();
        first.sort_unstable();
        first.dedup();
        waits.insert(*step, first.len());
        for maker in first {
            next.entry(maker).or_default().push(*step);
        }
    }
    let mut ready: std::collections::BTreeSet<_> =
        waits.iter().filter(|(_, n)| **n == 0).map(|(step, _)| (key(step), *step)).collect();
    let mut left: std::collections::BTreeSet<_> =
        waits.keys().map(|step| (key(step), *step)).collect();
    let mut order = Vec::with_capacity(moves.len());
    // Where each waits for another, the earliest goes on.
    while let Some(first) = ready.pop_first().or_else(|| left.first().copied()) {
        if !left.remove(&first) {
            continue;
        }
        order.push(first.1);
        for step in next.get(&first.1).into_iter().flatten() {
            if let Some(n) = waits.get_mut(step) {
                *n = n.saturating_sub(1);
                if *n == 0 && left.contains(&(key(step), *step)) {
                    ready.insert((key(step), *step));
                }
            }
        }
    }
    order
}
