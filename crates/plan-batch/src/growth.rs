//! A staged growth to the size of the batch: what each stage makes, what opens the next, and the
//! reasons to stop.

use crate::book::{Balance, Book, Evidence, Stop};
use crate::options::Settled;
use crate::route::{Leg, Route, ToWeigh, yield_of};
use crate::shelf::is_gone;
use crate::target::Target;
use crate::words::{joined, mass, plural, positive};
use secondmelt_quality::yield_product::{Stage, predict};
use secondmelt_record::facts::Does;
use secondmelt_record::findings::{BatchStage, Decision, Proof, Verdict};
use secondmelt_record::{Count, Name, Number, Out, Text};

/// Largest growth from one stage to the next (common practice, no source).
const FACTOR: f64 = 3.0;
/// First batch where there has been none, in g (common practice, no source: a few hundred grams).
const FIRST_G: f64 = 300.0;
/// Most stages that are written; three to this power is beyond any lab.
const STAGES_MAX: usize = 20;
const CONFIDENCE: f64 = 0.95;
/// Earlier runs that a last one is held against, the fewest.
const BEFORE_MIN: usize = 2;

const CHECK: &str = "scale-up";
const RULE: &str = "fails where evidence speaks against another batch: extruding refuted by its trials, trials not worth going on \
                    with, the last extrusion refused by every printer (or by the one that is asked for), a last yield below the \
                    prediction interval of the yields before it (95 %, the error divided over the stages), a step that gave nothing, plastic that is never melted, no pass left; \
                    undecided where evidence is missing or thin: a yield, a balance that closes, a judged last extrusion, which run was \
                    the last, another check of it that fails, fewer good trials than are asked for; else conforms";
const GATE: &str = "every balance of the stage closes, the yield of each step lies within the interval predicted from the runs before, \
                    a printer takes every spool, no other check of them fails, and its trials come out as well as is asked";

/// What speaks against growing, and what is missing.
struct Reasons {
    stop: Vec<String>,
    wait: Vec<String>,
}

/// Writes the verdict on growing and the stages.
pub(crate) fn write(book: &Book, target: &Target, route: &Route, settled: &Settled, out: &mut Out) {
    let printer = settled.printer.as_deref();
    let largest = largest(book, route, printer);
    let reasons = reasons(book, target, route, printer);
    let sizes = sizes(largest.map(|(_, grams)| grams), target.grams);
    let first = sizes.first().copied().unwrap_or(target.grams);
    let (result, why) = match (reasons.stop.as_slice(), reasons.wait.as_slice()) {
        ([], []) => (
            Decision::Conforms,
            format!("nothing speaks against {} next{}", mass(first), shown(book, target)),
        ),
        ([], wait) => (Decision::Undecided, format!("before {}: {}", mass(first), wait.join("; "))),
        (stop, _) => (
            Decision::Fails,
            format!("no further batch before this is cleared up: {}", stop.join("; ")),
        ),
    };
    let before = match largest {
        Some((step, grams)) => {
            format!(
                "the largest batch so far that balances and that a printer takes made {} ({step})",
                mass(grams)
            )
        }
        None => "no batch is known that balances and that a printer takes".to_owned(),
    };
    let feed = yield_of(&route.legs);
    for (i, size) in sizes.iter().enumerate() {
        let (Some(product_g), number) = (positive(*size), i + 1) else { continue };
        let (open, reason) = if i == 0 {
            (result, format!("{before}; {why}"))
        } else {
            (Decision::Undecided, format!("it opens when stage {i} has passed its gate"))
        };
        out.write(&BatchStage {
            stage: Count::from(number),
            of: Count::from(sizes.len()),
            product_g,
            feed_g: feed.and_then(|feed| positive(size / feed.typical())),
            open,
            gate: Text::from(GATE),
            why: Text::from(reason),
            ..BatchStage::default()
        });
    }
    out.write(&Verdict {
        check: Name::from(CHECK),
        result,
        value: Number::new(first.round()),
        limit: Number::new(target.grams.round()),
        unit: Some(Text::from("g")),
        rule: Text::from(RULE),
        why: Text::from(why),
        ..Verdict::default()
    });
}

/// The extrusion that made most, of those whose balance closes and that some printer is known to take.
fn largest<'r>(book: &Book, route: &'r Route, printer: Option<&str>) -> Option<(&'r str, f64)> {
    let steps = extruding(route)?.steps.iter();
    let made = steps.filter_map(|step| {
        let balance = book.balances.get(step)?;
        let good = book.is_closed(step) && taken(book, step, printer) == Some(Decision::Conforms);
        let good = good && balance.out_g > 0.0;
        good.then_some((step.as_str(), balance.out_g))
    });
    made.max_by(|a, b| a.1.total_cmp(&b.1))
}

fn extruding(route: &Route) -> Option<&Leg> {
    route.legs.iter().find(|leg| leg.does() == Some(Does::Extrude))
}

/// Whether what a step gave is taken by a printer. By the one that is asked for, spools count that it takes in
/// part: what is cut out of them is a stage of the route.
fn taken(book: &Book, step: &str, printer: Option<&str>) -> Option<Decision> {
    let kept = |printer: &str| -> Option<Vec<f64>> {
        let lots = book.spools.gave(step)?.iter();
        lots.map(|lot| book.kept.get(&(lot.clone(), printer.to_owned())).copied()).collect()
    };
    match printer.and_then(kept) {
        Some(kept) if kept.iter().all(|share| *share > 0.0) => Some(Decision::Conforms),
        Some(_) => Some(Decision::Fails),
        None => book.spools.step(step, printer),
    }
}

/// What each stage makes, in g, the last one what is wanted: even factors of at most [`FACTOR`].
fn sizes(largest: Option<f64>, wanted: f64) -> Vec<f64> {
    let (start, first) = match largest {
        Some(grams) => (grams, None),
        None => (FIRST_G.min(wanted), Some(FIRST_G.min(wanted))),
    };
    let mut stages = 0;
    let mut reached = start;
    while reached < wanted * (1.0 - 1e-9) && stages < STAGES_MAX {
        reached *= FACTOR;
        stages += 1;
    }
    #[expect(clippy::cast_precision_loss, reason = "at most twenty stages")]
    let factor = (wanted / start).powf(1.0 / stages.max(1) as f64);
    let mut sizes: Vec<f64> = first.into_iter().collect();
    let mut size = start;
    for stage in 1..=stages {
        size = if stage == stages { wanted } else { size * factor };
        sizes.push(size);
    }
    if sizes.is_empty() {
        sizes.push(wanted);
    }
    sizes
}

fn reasons(book: &Book, target: &Target, route: &Route, printer: Option<&str>) -> Reasons {
    let mut reasons = Reasons { stop: Vec::new(), wait: Vec::new() };
    let ToWeigh { never, once, alike } = route.to_weigh();
    let unknown: Vec<String> = never.into_iter().chain(once).chain(alike).collect();
    if !unknown.is_empty() {
        reasons.wait.push(format!(
            "the yield of {} or its spread is not known: weigh first",
            joined(&unknown)
        ));
    }
    let unsound = route.named(|leg| &leg.left_out);
    if !unsound.is_empty() {
        reasons.wait.push(format!(
            "the balance of {} does not close: find the wrong weighing",
            joined(&unsound)
        ));
    }
    let above = route.named(|leg| &leg.above);
    if !above.is_empty() {
        reasons
            .wait
            .push(format!("{} gave more than went in: find the wrong weighing", joined(&above)));
    }
    let running: Vec<String> = route
        .legs
        .iter()
        .flat_map(|leg| &leg.steps)
        .filter(|step| book.balances.get(*step).is_some_and(Balance::is_open))
        .cloned()
        .collect();
    if !running.is_empty() {
        reasons.wait.push(format!("what came out of {} is not weighed yet", joined(&running)));
    }
    for lost in route.named(|leg| &leg.lost) {
        reasons.stop.push(format!("nothing of what went into {lost} came out of it: find out why, or weigh what did, before more goes in"));
    }
    let open: Vec<String> = route
        .legs
        .iter()
        .filter(|leg| leg.stage.is_some() && !leg.steps.is_empty())
        .filter(|leg| !leg.steps.iter().any(|step| book.is_closed(step)))
        .map(Leg::name)
        .collect();
    if !open.is_empty() {
        reasons.wait.push(format!(
            "no balance of {} is known to close: weigh all that goes in and comes out",
            joined(&open)
        ));
    }
    if book.reconciliation_fails {
        reasons
            .wait
            .push("the weighings together contradict one another (reconciliation)".to_owned());
    }
    trials(book, target, route, printer, &mut reasons);
    passes(book, target, &mut reasons);
    never_melted(book, target, &mut reasons);
    if let Some(leg) = extruding(route) {
        last_extrusion(book, leg, printer, &mut reasons);
    }
    for leg in &route.legs {
        fallen_yield(book, leg, route.legs.len(), &mut reasons);
    }
    reasons
}

fn of_material<'b>(book: &'b Book, target: &'b Target) -> impl Iterator<Item = &'b Evidence> {
    book.evidence.iter().filter(|evidence| {
        let same =
            |material: &str| target.material.as_deref().is_none_or(|wanted| wanted == material);
        evidence.material.as_deref().is_none_or(same)
    })
}

fn trials(
    book: &Book,
    target: &Target,
    route: &Route,
    printer: Option<&str>,
    reasons: &mut Reasons,
) {
    for evidence in of_material(book, target).filter(|e| e.standing == Proof::Refuted) {
        let on =
            evidence.machine.as_deref().map(|machine| format!(" on {machine}")).unwrap_or_default();
        let what = format!(
            "{}{on}: {} of {} came out well",
            evidence.does,
            evidence.good,
            plural(evidence.trials, "trial")
        );
        // One part on one printer is no reason against filament as such.
        if evidence.does == Does::Extrude && printer.is_none() {
            reasons.stop.push(format!("its trials refute {what}"));
        } else if evidence.does == Does::Extrude {
            // A printer that is asked for may take what is cut out of spools that are refused whole.
            reasons.wait.push(format!("its trials, by whole spools, refute {what}"));
        }
    }
    let here = |evidence: &&Evidence| {
        evidence.does == Does::Print
            && (printer.is_none() || evidence.machine.as_deref() == printer)
    };
    let prints: Vec<&Evidence> = of_material(book, target).filter(here).collect();
    if !prints.is_empty() && prints.iter().all(|e| e.standing == Proof::Refuted) {
        reasons.stop.push("every print with it is refuted by its trials".to_owned());
    } else if !prints.iter().any(|e| e.standing == Proof::Proven) {
        thin("prints", &prints, reasons);
    }
    let extrusions: Vec<&Evidence> = of_material(book, target)
        .filter(|e| e.does == Does::Extrude && e.standing == Proof::NotYet)
        .collect();
    thin("extrusions", &extrusions, reasons);
    for stop in book.stops.iter().filter(|stop| counts(book, target, route, printer, stop)) {
        reasons.stop.push(format!("trials are not worth going on with ({})", stop.why));
    }
}

/// Waits where fewer trials came out well than are asked for.
fn thin(what: &str, evidence: &[&Evidence], reasons: &mut Reasons) {
    let sum = |of: fn(&Evidence) -> u64| evidence.iter().map(|e| of(e)).sum::<u64>();
    let (good, trials) = (sum(|e| e.now_good), sum(|e| e.now_trials));
    let asked = evidence.iter().map(|e| e.asked_pct).fold(0.0, f64::max);
    #[expect(clippy::cast_precision_loss, reason = "numbers of trials")]
    if 100.0 * (good as f64) < asked * trials as f64 {
        reasons
            .wait
            .push(format!("{good} of {trials} {what} with the settings of now came out well, and {asked} % are asked for"));
    }
}

/// Whether lots of the material that are still there are never to be melted.
fn never_melted(book: &Book, target: &Target, reasons: &mut Reasons) {
    let refused = book.checks.keys().filter(|lot| {
        let of = book.lots.get(*lot).map(|fact| fact.material.as_str());
        book.is_never_melted(lot)
            && !is_gone(book, lot)
            && (target.material.is_none() || of.is_none() || of == target.material.as_deref())
    });
    for lot in refused {
        reasons.stop.push(format!("{lot} is never to be melted: take it out"));
    }
}

/// Whether a stop concerns this batch: of its material, and not of one printer while another one is asked for
/// or proven with it.
fn counts(book: &Book, target: &Target, route: &Route, printer: Option<&str>, stop: &Stop) -> bool {
    let same = |material: &str| target.material.as_deref().is_none_or(|wanted| wanted == material);
    let extruder = extruding(route).and_then(|leg| leg.machine.as_deref());
    let of_other = printer.is_some()
        && stop.machine.as_deref() != printer
        && stop.machine.as_deref().and_then(|machine| book.machines.get(machine)).map(|m| m.does)
            == Some(Does::Print);
    let proven = of_material(book, target)
        .any(|evidence| evidence.does == Does::Print && evidence.standing == Proof::Proven);
    stop.material.as_deref().is_none_or(same)
        && !of_other
        && (!proven || stop.machine.is_none() || stop.machine.as_deref() == extruder)
}

fn passes(book: &Book, target: &Target, reasons: &mut Reasons) {
    let of = |material: &String| target.material.as_ref().is_none_or(|wanted| wanted == material);
    let left: Vec<(&String, u64)> = book
        .passes_left
        .iter()
        .filter(|((material, _), _)| of(material))
        .map(|((_, lot), left)| (lot, *left))
        .collect();
    if !left.is_empty() && left.iter().all(|(_, left)| *left == 0) {
        let lots: Vec<String> = left.into_iter().map(|(lot, _)| lot.clone()).collect();
        reasons.stop.push(format!(
            "the melt flow of {} leaves no pass: blend or take another feed",
            joined(&lots)
        ));
    }
}

/// Whether a printer takes what was extruded last, and what else was checked of it.
fn last_extrusion(book: &Book, leg: &Leg, printer: Option<&str>, reasons: &mut Reasons) {
    let steps: Vec<&str> = leg.steps.iter().map(String::as_str).collect();
    let last = Leg::last(book, &steps);
    let of = |wanted: Option<Decision>| -> Vec<String> {
        let fits = |step: &&&str| taken(book, step, printer) == wanted;
        last.iter().filter(fits).map(|step| (*step).to_owned()).collect()
    };
    let (refused, fine) = (of(Some(Decision::Fails)), of(Some(Decision::Conforms)));
    let who =
        printer.map_or("no printer takes".to_owned(), |printer| format!("{printer} does not take"));
    if last.is_empty() {
        reasons.wait.push("nothing was extruded yet".to_owned());
    } else if refused.len() == last.len() {
        let which = if refused.len() == 1 {
            "the last extrusion"
        } else {
            "of which one was the last extrusion"
        };
        reasons.stop.push(format!("{who} all that {}, {which}, made", joined(&refused)));
    } else if fine.len() == last.len() {
        other_checks(book, &last, printer, reasons);
    } else if let [step] = last.as_slice() {
        reasons.wait.push(match taken(book, step, printer) {
            Some(_) => format!(
                "whether a printer takes all that {step}, the last extrusion, made is undecided"
            ),
            None => format!(
                "the last extrusion, {step}, has not been judged by its diameter (check-tolerance)"
            ),
        });
    } else {
        let names: Vec<String> = last.iter().map(|step| (*step).to_owned()).collect();
        reasons.wait.push(format!(
            "which of {} was the last extrusion is not known, and not all of them are taken: say when each was (`at`)",
            joined(&names)
        ));
    }
}

/// Other checks that the last spools fail.
fn other_checks(book: &Book, last: &[&str], printer: Option<&str>, reasons: &mut Reasons) {
    for step in last {
        for lot in book.spools.gave(step).into_iter().flatten() {
            let failed = book.failed(lot, printer);
            if !failed.is_empty() {
                reasons.wait.push(format!("{lot} of the last extrusion fails {}", joined(&failed)));
            }
        }
    }
}

/// Whether the last yield of a stage is below what the ones before predict.
///
/// The error of 5 % is divided over the stages of the route.
fn fallen_yield(book: &Book, leg: &Leg, stages: usize, reasons: &mut Reasons) {
    let share = |step: &str| book.balances.get(step).and_then(Balance::usable);
    let weighed = |step: &str| Some((share(step)?, book.balances.get(step)?.u_share));
    #[expect(clippy::cast_precision_loss, reason = "a few stages")]
    let confidence = 1.0 - (1.0 - CONFIDENCE) / stages.max(1) as f64;
    let known: Vec<&str> = leg
        .steps
        .iter()
        .map(String::as_str)
        .filter(|step| book.is_sound(step) && share(step).is_some())
        .collect();
    if known.len() <= BEFORE_MIN {
        return;
    }
    let last = Leg::last(book, &known);
    for step in &last {
        let earlier: Vec<(f64, f64)> = known
            .iter()
            .filter(|other| *other != step)
            .filter_map(|other| weighed(other))
            .collect();
        let interval =
            Stage::weighed(&earlier).and_then(|stage| predict(&[stage]).interval(confidence));
        let Some((share, (low, _))) =
            share(step).zip(interval).filter(|(share, (low, _))| share < low)
        else {
            continue;
        };
        let fell = format!(
            "the yield of {step}, {:.1} %, is below the {:.1} % at least that the {} {} predict",
            100.0 * share,
            100.0 * low,
            plural(earlier.len() as u64, if last.len() == 1 { "run" } else { "other run" }),
            if last.len() == 1 { "before it" } else { "of it" }
        );
        if last.len() == 1 {
            reasons.stop.push(format!("{fell}: find out why"));
        } else {
            reasons.wait.push(format!(
                "{fell}, and whether it was the last is not known: say when each was (`at`)"
            ));
        }
    }
}

/// What the extrusions so far show.
fn shown(book: &Book, target: &Target) -> String {
    let of = of_material(book, target).filter(|e| e.does == Does::Extrude).max_by_key(|e| e.trials);
    of.map_or_else(String::new, |e| {
        format!(
            "; {} of {} came out well, which, looked at once, shows a share of {:.0} % or more at {:.0} % confidence",
            e.good,
            plural(e.trials, "extrusion"),
            e.shown_pct,
            100.0 * e.confidence
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stages_grow_by_even_factors_of_at_most_three() {
        assert_eq!(sizes(Some(400.0), 400.0), [400.0]);
        assert_eq!(sizes(Some(400.0), 100.0), [100.0]);
        assert_eq!(sizes(Some(400.0), 1200.0), [1200.0]);
        let steps = sizes(Some(375.0), 10_000.0);
        assert_eq!(steps.len(), 3);
        let factors: Vec<f64> =
            [375.0].iter().chain(&steps).zip(&steps).map(|(a, b)| b / a).collect();
        assert!(
            factors.iter().all(|f| *f <= FACTOR && (f - factors[0]).abs() < 1e-9),
            "{factors:?}"
        );
        assert_eq!(steps.last(), Some(&10_000.0));
        assert_eq!(sizes(None, 200.0), [200.0]);
        assert_eq!(sizes(None, 900.0), [300.0, 900.0]);
        assert!(sizes(Some(1e-9), 1e9).len() <= STAGES_MAX + 1);
    }
}
