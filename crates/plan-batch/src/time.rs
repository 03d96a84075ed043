//! How long each stage takes on its machine, when it is done, and what must be timed first.

use crate::book::Book;
use crate::options::{Settled, Start};
use crate::route::{Leg, Route, yield_of};
use crate::target::Target;
use crate::words::{amount, figures, joined, positive, up};
use secondmelt_plastics::filament::output_kg_h;
use secondmelt_record::facts::Does;
use secondmelt_record::findings::{Decision, MachineTime, Verdict};
use secondmelt_record::{Name, Number, Out, Text, Time};

const CONFIDENCE: f64 = 0.95;
const CHECK: &str = "times-known";
const RULE: &str = "conforms where every stage has a rate (--rate, `throughput_kg_h` of the machine or the steps, line speed with \
                    diameter and density) or, for drying, a time and the size of a load; else undecided. Stages follow one \
                    another, and a load that would not be done before the end of the day waits for the next; setting up, warming up and \
                    cleaning are not in it";

/// How fast a stage is.
enum Pace {
    /// kg/h, and where that is from.
    Rate(f64, String),
    /// kg/h at the most, and where that is from.
    AtMost(f64, String),
    /// kg a load and hours for each, and where they are from.
    Loads(f64, f64, String),
}

/// Writes the time of each stage, and what must be timed first.
pub(crate) fn write(book: &Book, target: &Target, route: &Route, settled: &Settled, out: &mut Out) {
    let mut lacking = Vec::new();
    let mut worked_h = 0.0;
    // Where the clock of work stands after the stages so far: typically, and at the latest.
    let (mut now, mut late) = (0.0, Some(0.0));
    let mut unbroken = true;
    let mut ends_at = None;
    // Stages of which only the most that the machine does is known.
    let mut floors = Vec::new();
    let mut machines_of_time = 0_u32;
    for (i, leg) in route.legs.iter().enumerate() {
        let Some(does) = leg.does() else { continue };
        let Some(predicted) = yield_of(&route.legs[i..]) else {
            unbroken = false;
            continue;
        };
        let pace = match pace(book, leg, does, target, settled) {
            Ok(pace) => pace,
            Err(what) => {
                lacking.push(what);
                unbroken = false;
                continue;
            }
        };
        let into = |share: f64| target.grams / share;
        let typical = into(predicted.typical());
        let ends = predicted.interval(CONFIDENCE);
        let hours = |g: f64| match &pace {
            Pace::Rate(rate, _) | Pace::AtMost(rate, _) => g / 1000.0 / rate,
            Pace::Loads(load, each, _) => (g / 1000.0 / load - 1e-9).ceil() * each,
        };
        let took = hours(typical);
        let day_h = settled.hours_a_day;
        let done = |from: f64, hours: f64| match &pace {
            Pace::Rate(..) | Pace::AtMost(..) => from + hours,
            Pace::Loads(_, each, _) => after_loads(from, hours / each, *each, day_h),
        };
        let at = |worked: f64, edge: Edge| {
            let start = settled.start.filter(|_| unbroken)?;
            Some(Time::parse(&clock(start, worked, day_h, edge)?)?.into_owned())
        };
        // Of the most that a machine does only the least time follows.
        let at_most = matches!(pace, Pace::AtMost(..));
        if at_most {
            floors.push(leg.name());
        }
        let high = ends.map(|(low, _)| hours(into(low))).filter(|_| !at_most);
        let from = at(begins(now, &pace, day_h), Edge::Morning);
        now = done(now, took);
        late = late.zip(high).map(|(late, high)| done(late, high));
        worked_h += took;
        let (to, latest) = (at(now, Edge::Evening), late.and_then(|late| at(late, Edge::Evening)));
        ends_at = to.clone().map(|to| (to, latest.clone()));
        let (Some(mass_g), Some(took)) = (positive(typical), amount(took)) else { continue };
        machines_of_time += 1;
        out.write(&MachineTime {
            does,
            machine: leg.machine.as_deref().map(Name::from),
            mass_g,
            rate_kg_h: match &pace {
                Pace::Rate(rate, _) | Pace::AtMost(rate, _) => positive(*rate),
                Pace::Loads(..) => None,
            },
            loads: match &pace {
                Pace::Loads(load, ..) => up(typical / 1000.0 / load),
                Pace::Rate(..) | Pace::AtMost(..) => None,
            },
            hours: took,
            low_h: ends.and_then(|(_, high)| amount(hours(into(high)))),
            high_h: high.and_then(amount),
            from,
            to,
            latest,
            basis: Text::from(match &pace {
                Pace::Rate(_, basis) | Pace::AtMost(_, basis) | Pace::Loads(_, _, basis) => {
                    basis.clone()
                }
            }),
            ..MachineTime::default()
        });
    }
    let unweighed: Vec<String> =
        route.legs.iter().filter(|leg| leg.stage.is_none()).map(Leg::name).collect();
    if !floors.is_empty() {
        lacking.push(format!(
            "a weighed load of {}, since only the most that the machine does is known and it takes at least so long",
            joined(&floors)
        ));
    }
    let all = lacking.is_empty() && unweighed.is_empty();
    let why = if all {
        let done = match &ends_at {
            Some((to, latest)) if unbroken => {
                let latest = latest.as_ref().map_or_else(String::new, |latest| {
                    format!(", at the latest {}", latest.as_str())
                });
                format!(": done {}{latest}", to.as_str())
            }
            _ if settled.hours_a_day < 24.0 => {
                format!(
                    ", {} days of {} h; --start says when that is",
                    (now / settled.hours_a_day - 1e-9).ceil(),
                    settled.hours_a_day
                )
            }
            _ => String::new(),
        };
        format!("all stages take {} h, one after another{done}", figures(worked_h))
    } else {
        let weigh = if unweighed.is_empty() {
            String::new()
        } else {
            format!(
                "; how much goes through the stages before {} is not known until they are weighed",
                joined(&unweighed)
            )
        };
        if lacking.is_empty() {
            weigh.trim_start_matches("; ").to_owned()
        } else {
            format!("what must be timed first: {}{weigh}", lacking.join("; "))
        }
    };
    let unused = unused(book, route, settled);
    out.write(&Verdict {
        check: Name::from(CHECK),
        result: if all { Decision::Conforms } else { Decision::Undecided },
        value: if machines_of_time > 0 { Number::new(figures(worked_h)) } else { None },
        unit: (machines_of_time > 0).then(|| Text::from("h")),
        rule: Text::from(RULE),
        why: Text::from(format!("{why}{unused}")),
        ..Verdict::default()
    });
}

/// Names given with --rate and --load that no machine and no stage of the route has.
fn unused(book: &Book, route: &Route, settled: &Settled) -> String {
    let known = |name: &str| {
        book.machines.contains_key(name)
            || route.legs.iter().any(|leg| {
                leg.machine.as_deref() == Some(name)
                    || leg.does().is_some_and(|does| does.as_str() == name)
            })
    };
    let given = settled.rates.iter().chain(&settled.loads).map(|(name, _)| name);
    let names: Vec<String> = given.filter(|name| !known(name)).cloned().collect();
    if names.is_empty() {
        return String::new();
    }
    format!("; --rate and --load name {}, which no machine and no stage is called", joined(&names))
}

/// The pace of a stage, or what to time for it.
fn pace(
    book: &Book,
    leg: &Leg,
    does: Does,
    target: &Target,
    settled: &Settled,
) -> Result<Pace, String> {
    let machine = leg.machine.as_deref();
    let fact = machine.and_then(|machine| book.machines.get(machine));
    // A stage without a machine, such as sorting by hand, goes by its own name.
    let named = |name: &str| Some(name) == machine || name == does.as_str();
    let given = |list: &[(String, f64)]| list.iter().find(|(name, _)| named(name)).map(|(_, x)| *x);
    if does == Does::Dry && given(&settled.rates).is_none() {
        return drying(book, leg, target, given(&settled.loads), settled.hours_a_day);
    }
    if let Some(rate) = given(&settled.rates) {
        return Ok(Pace::Rate(rate, "as given by --rate".to_owned()));
    }
    if let Some(rate) = fact.and_then(|fact| fact.throughput_kg_h) {
        return Ok(Pace::Rate(rate, "throughput of the machine as it was timed".to_owned()));
    }
    // What other machines did says nothing of this one.
    let here = |step: &&String| {
        let of = book.steps.get(*step).and_then(|fact| fact.machine.as_deref());
        of.is_none() || of == machine
    };
    let steps = leg.steps.iter().filter(here).filter_map(|step| book.steps.get(step));
    if let Some(rate) = mean(steps.filter_map(|step| step.throughput_kg_h)) {
        return Ok(Pace::Rate(rate, "mean throughput of the steps so far".to_owned()));
    }
    if does == Does::Extrude
        && let Some(rate) = drawn(book, leg.steps.iter().filter(here), target)
    {
        return Ok(Pace::Rate(
            rate,
            "line speed, diameter and density of the steps so far (mean of them)".to_owned(),
        ));
    }
    if let Some(rate) = fact.and_then(|fact| fact.throughput_max_kg_h) {
        return Ok(Pace::AtMost(
            rate,
            "largest throughput of the machine: it takes at least so long".to_owned(),
        ));
    }
    Err(match machine {
        Some(machine) => {
            format!("a weighed load through {machine} ({does}), then --rate {machine}=KG_H")
        }
        None => format!("a weighed load of {does}, then --rate {does}=KG_H"),
    })
}

fn drying(
    book: &Book,
    leg: &Leg,
    target: &Target,
    given: Option<f64>,
    day_h: f64,
) -> Result<Pace, String> {
    let machine = leg.machine.as_deref().unwrap_or("the dryer");
    let fact = leg.machine.as_deref().and_then(|machine| book.machines.get(machine));
    let load = given.or_else(|| fact.and_then(|fact| fact.load_kg));
    let time = book.drying_h(target.material.as_deref());
    match (load, time) {
        (Some(_), Some((hours, _))) if hours > day_h => Err(format!(
            "a shorter load of {machine}, since {} h do not fit a day of {} h, or plan it over night with longer days",
            figures(hours),
            figures(day_h)
        )),
        (Some(load), Some((hours, whose))) => {
            let basis =
                format!("loads of {} kg, {} h each by {whose}", figures(load), figures(hours));
            Ok(Pace::Loads(load, hours, basis))
        }
        (None, _) => {
            Err(format!("what one load of {machine} holds, weighed, then --load {machine}=KG"))
        }
        (_, None) => Err(format!(
            "a load through {machine} until its moisture keeps the limit, then `dry_h` of a material record"
        )),
    }
}

/// Mean output of the extrusions, in kg/h, from the speed at which filament of known diameter was
/// drawn.
fn drawn<'s>(book: &Book, steps: impl Iterator<Item = &'s String>, target: &Target) -> Option<f64> {
    let density = book.density(target.material.as_deref())?;
    mean(steps.filter_map(|step| {
        let speed = book.steps.get(step)?.line_speed_m_min?;
        let lots = book.spools.gave(step).into_iter().flatten();
        let diameter = mean(lots.filter_map(|lot| book.diameters.get(lot).copied()))?;
        Some(output_kg_h(density, diameter, speed)).filter(|rate| rate.is_finite() && *rate > 0.0)
    }))
}

#[expect(clippy::cast_precision_loss, reason = "numbers of steps")]
fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let values: Vec<f64> = values.collect();
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// Hours of work left of the day in which the clock of work stands.
fn left_of_day(now: f64, day_h: f64) -> f64 {
    let left = day_h - now.rem_euclid(day_h);
    if left < 1e-9 { day_h } else { left }
}

/// Where the clock of work stands when a stage begins: a load that would not be done before the end of
/// the day waits for the next.
fn begins(now: f64, pace: &Pace, day_h: f64) -> f64 {
    match pace {
        Pace::Loads(_, each, _) if day_h < 24.0 && *each <= day_h => {
            let left = left_of_day(now, day_h);
            if *each > left + 1e-9 { now + left } else { now }
        }
        _ => now,
    }
}

/// Where the clock of work stands after so many loads of so many hours each, none of them over night.
fn after_loads(now: f64, loads: f64, each: f64, day_h: f64) -> f64 {
    if day_h >= 24.0 || each > day_h || loads < 1.0 {
        return now + loads * each;
    }
    let fit = |hours: f64| (hours / each + 1e-9).floor();
    let left = left_of_day(now, day_h);
    let today = fit(left);
    if loads <= today {
        return now + loads * each;
    }
    let (rest, a_day) = (loads - today, fit(day_h));
    let days = (rest / a_day - 1e-9).floor();
    now + left + days * day_h + (rest - days * a_day) * each
}

/// What the end of a day of work is taken for: that evening, when something is done, or the next
/// morning, when something starts.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Edge {
    Evening,
    Morning,
}

/// The time on the clock after so many hours of work, so many of them a day; none beyond what a
/// clock counts.
fn clock(start: Start, worked_h: f64, hours_a_day: f64, edge: Edge) -> Option<String> {
    let edge = if edge == Edge::Morning { 1e-9 } else { -1e-9 };
    let days =
        if hours_a_day < 24.0 { (worked_h / hours_a_day + edge).floor().max(0.0) } else { 0.0 };
    let elapsed_s = 3600.0 * (24.0 * days + worked_h - days * hours_a_day);
    #[expect(clippy::cast_possible_truncation, reason = "checked before")]
    let seconds = (elapsed_s < 1e10).then_some(elapsed_s.round() as i64)?;
    let at = start.at.checked_add(jiff::SignedDuration::from_secs(seconds)).ok()?;
    Some(at.display_with_offset(start.offset).to_string())
}
