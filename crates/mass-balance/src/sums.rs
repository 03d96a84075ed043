//! Losses by cause, energy and money, and the edges of a mass-flow diagram.

use crate::book::Book;
use crate::graph::Graph;
use crate::names::Id;
use crate::reconcile::Balanced;
use crate::trace::Traced;
use secondmelt_quality::mean_interval::CONFIDENCE;
use secondmelt_quality::regression::LineSums;
use secondmelt_record::facts::{Does, Role};
use secondmelt_record::findings::{Loss, LossTrend, MassFlow, Outlay};
use secondmelt_record::{Count, Fraction, NonNegative, Number, Percent};
use std::collections::BTreeMap;

/// Every stream with its mass.
pub(crate) fn edges<'b>(
    graph: &'b Graph<'b>,
    balanced: &'b Balanced<'b>,
) -> impl Iterator<Item = MassFlow<'b>> {
    let book = graph.book;
    graph.streams.iter().enumerate().filter_map(move |(n, stream)| {
        let w = stream.weighing;
        Some(MassFlow {
            step: book.named(w.step),
            lot: book.named(w.lot),
            role: w.role,
            mass_g: NonNegative::new(balanced.mass_g(n)?)?,
            ..MassFlow::default()
        })
    })
}

/// What went into each step, in g, and the same times the passes it had seen.
pub(crate) type FedInto = BTreeMap<Id, (f64, f64)>;

/// What went into each step.
pub(crate) fn fed(graph: &Graph<'_>, balanced: &Balanced<'_>, traced: &Traced) -> FedInto {
    let mut fed = FedInto::new();
    for (n, stream) in graph.streams.iter().enumerate() {
        let w = stream.weighing;
        if let (Role::In, Some(mass)) = (w.role, balanced.mass_g(n)) {
            let entry = fed.entry(w.step).or_default();
            *entry = (entry.0 + mass, entry.1 + mass * traced.mean_passes(w.lot));
        }
    }
    fed
}

/// The cycle of a step: the passes that what was fed had seen, on average, to the nearest.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a mean of counts")]
pub(crate) fn cycle(fed: &FedInto, step: Id) -> u64 {
    let (mass, passes) = fed.get(&step).copied().unwrap_or_default();
    if mass > 0.0 { (passes / mass).round() as u64 } else { 0 }
}

/// How each loss goes with the cycles, where three or more have one.
pub(crate) fn trends(losses: &[Loss<'_>]) -> Vec<LossTrend<'static>> {
    let mut by_cause: BTreeMap<Role, Vec<(f64, f64)>> = BTreeMap::new();
    for loss in losses {
        if let (Some(passes), Some(share)) = (loss.passes, loss.share_pct) {
            #[expect(clippy::cast_precision_loss, reason = "a number of passes")]
            by_cause.entry(loss.cause).or_default().push((passes.0 as f64, share.get()));
        }
    }
    let trend = |(cause, points): (Role, Vec<(f64, f64)>)| {
        let mut sums = LineSums::with_intercept();
        points.iter().for_each(|(x, y)| sums.push(*x, *y));
        let line = sums.line()?;
        let interval = line.slope_interval(CONFIDENCE);
        Some(LossTrend {
            cause,
            cycles: Count::from(points.len()),
            change_pct_per_pass: Number::new(line.slope)?,
            low_pct_per_pass: interval.and_then(|(low, _)| Number::new(low)),
            high_pct_per_pass: interval.and_then(|(_, high)| Number::new(high)),
            probability: line.slope_p().and_then(Fraction::new),
            ..LossTrend::default()
        })
    };
    by_cause.into_iter().filter_map(trend).collect()
}

/// Losses by cause: all together, then by the whole number of passes that what was fed had
/// seen, on average, so that the cycles can be compared.
pub(crate) fn losses(
    graph: &Graph<'_>,
    balanced: &Balanced<'_>,
    traced: &Traced,
) -> Vec<Loss<'static>> {
    let fed = fed(graph, balanced, traced);
    let cycle = |step: Id| cycle(&fed, step);
    let mut lost: BTreeMap<(Role, Option<u64>), (f64, f64)> = BTreeMap::new();
    let mut seen = std::collections::BTreeSet::new();
    for (n, stream) in graph.streams.iter().enumerate() {
        let w = stream.weighing;
        let Some(mass) = balanced.mass_g(n) else { continue };
        if matches!(w.role, Role::In | Role::Out | Role::Stock) {
            continue;
        }
        for group in [None, Some(cycle(w.step))] {
            let entry = lost.entry((w.role, group)).or_default();
            entry.0 += mass;
            if seen.insert((w.role, group, w.step)) {
                entry.1 += fed.get(&w.step).map_or(0.0, |(mass, _)| *mass);
            }
        }
    }
    let loss = |((cause, passes), (mass, entered)): ((Role, Option<u64>), (f64, f64))| {
        Some(Loss {
            cause,
            passes: passes.map(Count),
            mass_g: NonNegative::new(mass)?,
            share_pct: (entered > 0.0).then(|| 100.0 * mass / entered).and_then(NonNegative::new),
            ..Loss::default()
        })
    };
    lost.into_iter().filter_map(loss).collect()
}

/// Energy and cost for each kg of good filament: the whole, then each step. Nothing where no
/// step carries either, or no filament came out of an extruder.
pub(crate) fn outlays<'b>(graph: &Graph<'b>, balanced: &Balanced<'_>) -> Vec<Outlay<'b>> {
    let book = graph.book;
    let good = graph.streams.iter().enumerate().filter(|(_, stream)| {
        let w = stream.weighing;
        w.role == Role::Out && book.does(w.step) == Some(Does::Extrude)
    });
    let kg = good.filter_map(|(n, _)| balanced.mass_g(n)).sum::<f64>() / 1000.0;
    let steps: BTreeMap<&str, Id> = book.described().map(|step| (book.name(step), step)).collect();
    let energy = of(book, &steps, |outlay| outlay.energy_kwh);
    let cost = of(book, &steps, |outlay| outlay.cost);
    let currency = |step: Id| book.outlay(step)?.currency.clone();
    let mut currencies: Vec<_> = cost.keys().map(|step| currency(*step)).collect();
    currencies.dedup();
    // Money of different currencies does not add up.
    let one = currencies.len() == 1;
    if kg <= 0.0 || (energy.is_empty() && cost.is_empty()) {
        return Vec::new();
    }
    let total = |of: &BTreeMap<Id, f64>| of.values().sum::<f64>();
    let share = |part: Option<f64>, whole: f64| {
        part.filter(|_| whole > 0.0).and_then(|x| Percent::new((100.0 * x / whole).min(100.0)))
    };
    let each = |x: Option<f64>| x.and_then(|x| NonNegative::new(x / kg));
    let filament_kg = NonNegative::new(kg).unwrap_or_default();
    let whole = |of: &BTreeMap<Id, f64>| (!of.is_empty()).then(|| total(of));
    let without = steps.values().filter(|s| !energy.contains_key(s) && !cost.contains_key(s));
    let mut found = vec![Outlay {
        filament_kg,
        energy_kwh_kg: each(whole(&energy)),
        cost_per_kg: each(whole(&cost).filter(|_| one)),
        currency: currencies.first().cloned().flatten().filter(|_| one).map(Into::into),
        steps_without: Some(Count::from(without.count())),
        ..Outlay::default()
    }];
    for step in steps.into_values() {
        let (kwh, spent) = (energy.get(&step).copied(), cost.get(&step).copied());
        if kwh.is_none() && spent.is_none() {
            continue;
        }
        found.push(Outlay {
            step: Some(book.named(step)),
            filament_kg,
            energy_kwh_kg: each(kwh),
            energy_pct: share(kwh, total(&energy)),
            cost_per_kg: each(spent),
            cost_pct: share(spent, total(&cost)).filter(|_| one),
            currency: spent.and(currency(step)).map(Into::into),
            ..Outlay::default()
        });
    }
    found
}

fn of(
    book: &Book,
    steps: &BTreeMap<&str, Id>,
    what: impl Fn(&crate::book::Outlay) -> Option<f64>,
) -> BTreeMap<Id, f64> {
    let carried = |step: &Id| Some((*step, what(book.outlay(*step)?)?));
    steps.values().filter_map(carried).collect()
}
