//! The feed that a batch takes, what must be weighed before that is known, and whether there is
//! enough.

use crate::book::Book;
use crate::route::{Leg, Route, ToWeigh, yield_of};
use crate::target::Target;
use crate::words::{joined, positive};
use secondmelt_quality::yield_product::Predicted;
use secondmelt_record::facts::{Does, Form};
use secondmelt_record::findings::{Decision, FeedNeed, Verdict};
use secondmelt_record::{Count, Name, Out, Positive, Text};

#[cfg(test)]
#[path = "feed_test.rs"]
mod feed_test;

const CONFIDENCE: f64 = 0.95;
const KNOWN: &str = "yields-known";
const KNOWN_RULE: &str = "conforms where every stage from feed to filament has been weighed in two runs or more whose balances do not fail, \
                          so that its yield and the spread of it are known, and no run gave nothing, or more than it took by more than \
                          twice the standard uncertainty; else undecided";

/// Writes the feed by form, and what the yields lack.
pub(crate) fn write(book: &Book, target: &Target, route: &Route, out: &mut Out) {
    out.write(&known(book, route));
    let mut before = usize::MAX;
    for (form, enters) in
        [(Form::Waste, Does::Sort), (Form::Parts, Does::Shred), (Form::Regrind, Does::Dry)]
    {
        let legs = route.from(enters);
        // A form that enters where another does needs as much.
        if legs.len() < before
            && let Some(need) = need_of(target, form, legs)
        {
            before = legs.len();
            out.write(&need);
        }
    }
}

/// What the yields still lack.
fn known(book: &Book, route: &Route) -> Verdict<'static> {
    let ToWeigh { never, once, alike } = route.to_weigh();
    let mut first = Vec::new();
    if book.balances.is_empty() && book.has_weighings() {
        first.push(
            "there are weighings, and no balance of a step: let mass-balance read them before plan-batch".to_owned(),
        );
    } else if !never.is_empty() {
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
    if !alike.is_empty() {
        let names: Vec<String> = alike.into_iter().collect();
        first.push(format!(
            "the runs of {} never differ, which tells of the scale and not of their spread: weigh another one, or finer",
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
    if !route.melted_again.is_empty() {
        first.push(format!(
            "{} melted what had been extruded before: two melts in a row are not planned as two stages, so that the feed is more \
             than is told",
            joined(&route.melted_again)
        ));
    }
    if !route.unnamed.is_empty() {
        first.push(format!(
            "what is lost in {} is in no stage: give it the kind of the stage that it is (sort, wash, shred, dry)",
            joined(&route.unnamed)
        ));
    }
    let left_out = route.named(|leg| &leg.left_out);
    let left_out = if left_out.is_empty() {
        String::new()
    } else {
        format!("; left out, since its balance does not hold: {}", joined(&left_out))
    };
    let rework = if route.rework.is_empty() {
        String::new()
    } else {
        format!(
            "; rework that most plastic did not take, and no stage of it: {}",
            joined(&route.rework)
        )
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
        why: Text::from(format!("{said}{left_out}{rework}")),
        ..Verdict::default()
    }
}

/// The feed of a form; none where a stage was never weighed, or beyond what a record holds.
pub(crate) fn need_of<'t>(target: &'t Target, form: Form, legs: &[Leg]) -> Option<FeedNeed<'t>> {
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
