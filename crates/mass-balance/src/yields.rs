//! Yields rolled through the steps.

use crate::graph::Graph;
use crate::names::Id;
use crate::reconcile::Balanced;
use crate::sums::{cycle, fed};
use crate::trace::Traced;
use secondmelt_record::facts::{Does, Role};
use secondmelt_record::findings::RolledYield;
use secondmelt_record::{Count, NonNegative};
use std::collections::{BTreeMap, HashMap};

/// A mass, the square of its uncertainty, in g and g2.
#[derive(Debug, Clone, Copy, Default)]
struct Sum {
    mass: f64,
    variance: f64,
}

impl Sum {
    fn add(&mut self, mass: f64, u: f64) {
        self.mass += mass;
        self.variance += u * u;
    }

    /// Square of the relative uncertainty.
    fn relative(self) -> f64 {
        self.variance / (self.mass * self.mass)
    }
}

/// What went through a step, dry.
#[derive(Debug, Default)]
struct Through {
    fed: Vec<(Id, f64, f64)>,
    made: Vec<(Id, f64)>,
    into: Sum,
    good: Sum,
}

/// A yield as a share, the square of its relative uncertainty, and the steps behind it.
#[derive(Debug, Clone, Copy)]
struct Rolled {
    share: f64,
    relative: f64,
    stages: u64,
}

const WHOLE: Rolled = Rolled { share: 1.0, relative: 0.0, stages: 0 };

/// Yields of every lot that a step made, of every cycle, and of all. Uncertainties are carried to
/// first order, weighings taken as independent.
pub(crate) fn rolled<'b>(
    graph: &Graph<'b>,
    balanced: &Balanced<'_>,
    traced: &Traced,
) -> Vec<RolledYield<'b>> {
    let steps = through(graph, balanced);
    let mut found = of_lots(graph, traced, &steps);
    let fed = fed(graph, balanced, traced);
    let mut kinds: BTreeMap<Option<u64>, BTreeMap<Does, (Sum, Sum)>> = BTreeMap::new();
    // In the order of names, so that no sum depends on the order of the records.
    let by_name: BTreeMap<&str, (&Id, &Through)> =
        steps.iter().map(|(step, flows)| (graph.book.name(*step), (step, flows))).collect();
    for (step, flows) in by_name.into_values() {
        let Some(does) = graph.book.does(*step) else { continue };
        if flows.into.mass <= 0.0 || flows.good.mass <= 0.0 {
            continue;
        }
        for group in [None, Some(cycle(&fed, *step))] {
            let entry = kinds.entry(group).or_default().entry(does).or_default();
            entry.0.mass += flows.into.mass;
            entry.0.variance += flows.into.variance;
            entry.1.mass += flows.good.mass;
            entry.1.variance += flows.good.variance;
        }
    }
    for (passes, kinds) in kinds {
        let rolled = kinds.values().fold(WHOLE, |so_far, (into, good)| Rolled {
            share: so_far.share * good.mass / into.mass,
            relative: so_far.relative + into.relative() + good.relative(),
            stages: so_far.stages + 1,
        });
        found.extend(finding(rolled).map(|of| RolledYield { passes: passes.map(Count), ..of }));
    }
    found
}

/// Steps with what went in and came out, streams in the order of the graph.
fn through(graph: &Graph<'_>, balanced: &Balanced<'_>) -> BTreeMap<Id, Through> {
    let mut steps: BTreeMap<Id, Through> = BTreeMap::new();
    for (n, stream) in graph.streams.iter().enumerate() {
        let w = stream.weighing;
        let Some(mass) = balanced.mass_g(n).filter(|mass| *mass > 0.0) else { continue };
        let dry = 1.0 - graph.book.wet_share(w);
        let (mass, u) = (mass * dry, balanced.u_g(n).unwrap_or(0.0) * dry);
        let flows = steps.entry(w.step).or_default();
        match w.role {
            Role::In => {
                flows.into.add(mass, u);
                flows.fed.push((w.lot, mass, u));
            }
            Role::Out => {
                flows.good.add(mass, u);
                flows.made.push((w.lot, mass));
            }
            _ => {}
        }
    }
    steps
}

fn of_lots<'b>(
    graph: &Graph<'b>,
    traced: &Traced,
    steps: &BTreeMap<Id, Through>,
) -> Vec<RolledYield<'b>> {
    // What a lot holds so far: its mass and its yield.
    let mut lots: HashMap<Id, (f64, Rolled)> = HashMap::new();
    for flows in traced.order.iter().filter_map(|step| steps.get(step)) {
        if flows.into.mass <= 0.0 || flows.good.mass <= 0.0 {
            continue;
        }
        let of = |lot: Id| lots.get(&lot).map_or(WHOLE, |(_, rolled)| *rolled);
        let fed = || flows.fed.iter().map(|(lot, mass, _)| (mass / flows.into.mass, of(*lot)));
        let before: f64 = fed().map(|(part, lot)| part * lot.share).sum();
        let variance: f64 =
            fed().map(|(part, lot)| (part * lot.share).powi(2) * lot.relative).sum();
        let now = Rolled {
            share: before * flows.good.mass / flows.into.mass,
            relative: variance / (before * before) + flows.into.relative() + flows.good.relative(),
            stages: fed().map(|(_, lot)| lot.stages).max().unwrap_or(0) + 1,
        };
        for (lot, mass) in &flows.made {
            let (held, rolled) = lots.entry(*lot).or_insert((0.0, now));
            let part = mass / (*held + mass);
            *rolled = Rolled {
                share: rolled.share + (now.share - rolled.share) * part,
                relative: rolled.relative + (now.relative - rolled.relative) * part,
                stages: rolled.stages.max(now.stages),
            };
            *held += mass;
        }
    }
    let named: BTreeMap<&str, (Id, Rolled)> =
        lots.into_iter().map(|(lot, (_, rolled))| (graph.book.name(lot), (lot, rolled))).collect();
    let of = |(lot, rolled): (Id, Rolled)| {
        finding(rolled).map(|found| RolledYield { lot: Some(graph.book.named(lot)), ..found })
    };
    named.into_values().filter_map(of).collect()
}

fn finding<'b>(rolled: Rolled) -> Option<RolledYield<'b>> {
    let u = 100.0 * rolled.share * rolled.relative.sqrt();
    Some(RolledYield {
        yield_pct: NonNegative::new(100.0 * rolled.share)?,
        u_yield_pct: NonNegative::new(u).filter(|u| u.get() > 0.0),
        stages: Count(rolled.stages),
        ..RolledYield::default()
    })
}
