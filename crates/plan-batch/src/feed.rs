//! The feed that a batch takes, what must be weighed before that is known, and whether there is
//! enough.

use crate::book::Book;
use crate::route::{Leg, Route, entry, yield_of};
use crate::target::Target;
use crate::words::{amount, joined, mass, positive};
use secondmelt_quality::yield_product::Predicted;
use secondmelt_record::facts::{Does, Form};
use secondmelt_record::findings::{Decision, FeedNeed, Verdict};
use secondmelt_record::{Count, Name, Number, Out, Positive, Text};

#[cfg(test)]
#[path = "feed_test.rs"]
mod feed_test;

const CONFIDENCE: f64 = 0.95;
const KNOWN: &str = "yields-known";
const KNOWN_RULE: &str = "conforms where every stage from feed to filament has been weighed in two runs or more whose balances hold, \
                          so that its yield and the spread of it are known, and no run gave nothing, or more than it took by more than \
                          twice the standard uncertainty; else undecided";
const ENOUGH: &str = "feed-enough";
const ENOUGH_RULE: &str = "what the lots on the shelf make, each from its form on: conforms where the lower ends of their 95 % prediction \
                           intervals add up to the target, fails where the upper ends do not, else undecided";
/// What a lot may be off by when nobody has weighed what is left of it, in g.
const CRUMBS_G: f64 = 1.0;

/// What a lot on the shelf makes, in g: typically, and the ends of its interval where they are known.
struct Makes {
    lot: String,
    typical: f64,
    ends: Option<(f64, f64)>,
}

/// Writes the feed by form and by lot, and the verdicts.
pub(crate) fn write(book: &Book, target: &Target, route: &Route, out: &mut Out) {
    out.write(&known(route));
    let mut before = usize::MAX;
    for (form, enters) in
        [(Form::Waste, Does::Sort), (Form::Parts, Does::Shred), (Form::Regrind, Does::Dry)]
    {
        let legs = route.from(enters);
        // A form that enters where another does needs as much.
        if legs.len() < before
            && let Some(need) = need(target, form, legs)
        {
            before = legs.len();
            out.write(&need);
        }
    }
    let mut made = Vec::new();
    for (lot, have_g) in on_shelf(book, target) {
        let Some(fact) = book.lots.get(lot) else { continue };
        let Some((enters, form)) = entry(fact.form, fact.origin).zip(fact.form) else { continue };
        let legs = route.from(enters);
        let Some((need, predicted)) = need(target, form, legs).zip(yield_of(legs)) else {
            continue;
        };
        let ends = predicted.interval(CONFIDENCE);
        let typical = have_g * predicted.typical();
        out.write(&FeedNeed {
            lot: Some(Name::from(lot)),
            have_g: amount(have_g),
            makes_g: amount(typical),
            makes_low_g: ends.and_then(|(low, _)| amount(have_g * low)),
            makes_high_g: ends.and_then(|(_, high)| amount(have_g * high)),
            ..need
        });
        let ends = ends.map(|(low, high)| (have_g * low, have_g * high));
        made.push(Makes { lot: lot.to_owned(), typical, ends });
    }
    if yield_of(route.from(Does::Dry)).is_some() {
        out.write(&enough(target, &made));
    }
}

/// What the yields still lack.
fn known(route: &Route) -> Verdict<'static> {
    let (never, once) = route.to_weigh();
    let mut first = Vec::new();
    if !never.is_empty() {
        let names: Vec<String> = never.into_iter().collect();
        first.push(format!(
            "what goes into and comes out of {} must be weighed first (roles in and out; no yield of it is known)",
            joined(&names)
        ));
    }
    if !once.is_empty() {
        let names: Vec<String> = once.into_iter().collect();
        first.push(format!(
            "{} must be weighed in another run, since one tells nothing of the spread",
            joined(&names)
        ));
    }
    let above = route.named(|leg| &leg.above);
    if !above.is_empty() {
        first.push(format!(
            "{} gave more than went in, by more than the uncertainty of the weighings (left out): find the wrong weighing, or \
             what was added",
            joined(&above)
        ));
    }
    let lost = route.named(|leg| &leg.lost);
    if !lost.is_empty() {
        first.push(format!(
            "nothing came out of {}: a batch that is lost whole is in no interval, find out why, or weigh what did come out",
            joined(&lost)
        ));
    }
    let left_out = route.named(|leg| &leg.left_out);
    let left_out = if left_out.is_empty() {
        String::new()
    } else {
        format!("; left out, since its balance does not hold: {}", joined(&left_out))
    };
    let told: Vec<String> = route.legs.iter().map(Leg::told).collect();
    let (result, said) = if first.is_empty() {
        (
            Decision::Conforms,
            format!("every stage has a yield with its spread: {}", told.join(", ")),
        )
    } else {
        (Decision::Undecided, first.join("; "))
    };
    Verdict {
        check: Name::from(KNOWN),
        result,
        rule: Text::from(KNOWN_RULE),
        why: Text::from(format!("{said}{left_out}")),
        ..Verdict::default()
    }
}

/// The feed of a form; none where a stage was never weighed, or beyond what a record holds.
fn need<'t>(target: &'t Target, form: Form, legs: &[Leg]) -> Option<FeedNeed<'t>> {
    let predicted = yield_of(legs)?;
    let feed = |share: f64| positive(target.grams / share);
    let ends = predicted.interval(CONFIDENCE);
    Some(FeedNeed {
        material: target.material.as_deref().map(Name::from),
        form,
        target_g: positive(target.grams)?,
        spools: target.spools.map(Count),
        stages: legs.iter().map(|leg| Text::from(leg.told())).collect(),
        yield_pct: positive(100.0 * predicted.typical())?,
        feed_g: feed(predicted.typical())?,
        low_g: ends.and_then(|(_, high)| feed(high)),
        high_g: ends.and_then(|(low, _)| feed(low)),
        enough_g: enough_g(target, predicted),
        ..FeedNeed::default()
    })
}

fn enough_g(target: &Target, predicted: Predicted) -> Option<Positive> {
    positive(target.grams / predicted.at_least(CONFIDENCE)?)
}

/// Lots of the material with what is left of each: as weighed, else made less used.
fn on_shelf<'b>(book: &'b Book, target: &Target) -> Vec<(&'b str, f64)> {
    let of_material = |lot: &str| {
        let known = book.lots.get(lot);
        known.is_some_and(|fact| {
            target.material.as_deref().is_none_or(|material| fact.material == material)
        })
    };
    let left = |(lot, held): (&'b String, &crate::book::Held)| {
        let by_difference = || Some(held.made_g - held.used_g).filter(|_| held.made_g > 0.0);
        let left = held.stock_g.or_else(by_difference)?;
        (left > CRUMBS_G && of_material(lot)).then_some((lot.as_str(), left))
    };
    book.held.iter().filter_map(left).collect()
}

/// Whether the lots on the shelf are enough.
fn enough<'t>(target: &'t Target, made: &[Makes]) -> Verdict<'t> {
    let typical: f64 = made.iter().map(|makes| makes.typical).sum();
    let ends: Option<Vec<(f64, f64)>> = made.iter().map(|makes| makes.ends).collect();
    let sums =
        ends.map(|ends| ends.iter().fold((0.0, 0.0), |sum, end| (sum.0 + end.0, sum.1 + end.1)));
    let names: Vec<String> = made.iter().map(|makes| makes.lot.clone()).collect();
    let wanted = mass(target.grams);
    let (result, said) = match sums {
        _ if made.is_empty() => (
            Decision::Undecided,
            format!(
                "no lot on the shelf has a known mass: weigh what there is (role stock) before {wanted} are planned"
            ),
        ),
        Some((low, high)) if low >= target.grams => (
            Decision::Conforms,
            format!(
                "{} make {} to {}, and {wanted} are wanted",
                joined(&names),
                mass(low),
                mass(high)
            ),
        ),
        Some((low, high)) if high < target.grams => (
            Decision::Fails,
            format!(
                "{} make {} to {} only, and {wanted} are wanted: collect more first",
                joined(&names),
                mass(low),
                mass(high)
            ),
        ),
        Some((low, high)) => (
            Decision::Undecided,
            format!(
                "{} make {} to {}, and {wanted} are wanted",
                joined(&names),
                mass(low),
                mass(high)
            ),
        ),
        // Whatever the spread, a yield is no more than all of it.
        None => (
            Decision::Undecided,
            format!(
                "{} make about {}, by how much more or less is not known, and {wanted} are wanted",
                joined(&names),
                mass(typical)
            ),
        ),
    };
    Verdict {
        check: Name::from(ENOUGH),
        result,
        value: Number::new(typical.round()),
        limit: Number::new(target.grams.round()),
        unit: Some(Text::from("g")),
        rule: Text::from(ENOUGH_RULE),
        why: Text::from(said),
        ..Verdict::default()
    }
}
