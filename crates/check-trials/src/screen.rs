//! Small screening designs, within the windows of machine and material.

use crate::lab::Lab;
use crate::options::{Factor, Screen};
use crate::windows::{holds, told};
use crate::words::{joined, rounded, settings, unit};
use secondmelt_quality::designs::{self, RUNS, design, fewest_runs, letter};
use secondmelt_quality::random::Random;
use secondmelt_record::findings::{Decision, ScreeningDesign, ScreeningRun, Verdict};
use secondmelt_record::{Count, Name, Number, Out, Text};
use std::collections::BTreeMap;

const CHECK: &str = "design-window";
const RULE: &str = "simple acceptance: both levels of every setting within the tightest of the machine's range, the material \
                    card's, and the lab's limits; undecided where no window of a setting is known";

/// Machine, material and part of a design.
type About<'a> = (Option<&'a str>, Option<&'a str>, Option<&'a str>);

/// The number of runs for so many settings.
pub(crate) fn size(settings: usize, runs: Option<usize>) -> Result<usize, String> {
    let Some(runs) = runs else {
        return fewest_runs(settings)
            .ok_or(format!("--factor: there is no design for {settings} settings"));
    };
    if design(settings, runs).is_some() {
        return Ok(runs);
    }
    let some: Vec<String> = RUNS
        .iter()
        .filter(|runs| design(settings, **runs).is_some())
        .map(ToString::to_string)
        .collect();
    Err(format!("--runs {runs}: for {settings} settings expected {}", joined(&some)))
}

/// Writes the design that was asked for, or why it is not to be run.
pub(crate) fn write_asked(asked: &Screen, lab: &Lab, seed: u64, out: &mut Out) {
    let (machine, material) = (asked.machine.as_deref(), asked.material.as_deref());
    let verdict = |result, why: String| Verdict {
        check: Name::from(CHECK),
        result,
        machine: machine.map(Name::from),
        material: material.map(Name::from),
        rule: Text::from(RULE),
        why: Text::from(why),
        ..Verdict::default()
    };
    let does = machine.and_then(|machine| lab.does(machine));
    let mut outside = false;
    let mut unknown = Vec::new();
    for factor in &asked.factors {
        let window = lab.window(&factor.name, does, machine, material);
        if window == (None, None) {
            unknown.push(factor.name.clone());
        }
        let wrong = [factor.low, factor.high].into_iter().find(|level| !holds(window, *level));
        let Some(level) = wrong else { continue };
        outside = true;
        let limit = if window.1.is_some_and(|high| level > high) { window.1 } else { window.0 };
        let why = format!(
            "the level {} of {} is outside its window, {}: no design is written",
            rounded(level),
            factor.name,
            told(window)
        );
        out.write(&Verdict {
            value: Number::new(level),
            limit: limit.and_then(Number::new),
            unit: Some(Text::from(unit(&factor.name))),
            ..verdict(Decision::Fails, why)
        });
    }
    if outside {
        return;
    }
    let mut missing = Vec::new();
    if let Some(machine) = machine.filter(|machine| lab.does(machine).is_none()) {
        missing.push(format!("no record describes the machine {machine}"));
    }
    if let Some(material) = material.filter(|material| !lab.has_card(material)) {
        missing.push(format!("there is no card of the material {material}"));
    }
    if !unknown.is_empty() {
        missing.push(format!("no window of {} is known", joined(&unknown)));
    }
    if missing.is_empty() {
        let why = "both levels of every setting are within its window".to_owned();
        out.write(&verdict(Decision::Conforms, why));
    } else {
        let why = format!(
            "{}: see for yourself that machine and plastic bear every level before the first run, or say so with a limit",
            joined(&missing)
        );
        out.write(&verdict(Decision::Undecided, why));
    }
    write(&asked.factors, (machine, material, None), asked.runs, seed, out);
}

/// Writes a design and its runs in random order.
pub(crate) fn write(
    factors: &[Factor],
    (machine, material, part): About<'_>,
    runs: Option<usize>,
    seed: u64,
    out: &mut Out,
) {
    let made = size(factors.len(), runs).ok().and_then(|runs| design(factors.len(), runs));
    let Some(made) = made else { return };
    let runs = made.rows.len();
    let about = [machine, material, part].into_iter().flatten().map(str::to_owned);
    let name = about.chain([format!("{runs} runs")]).collect::<Vec<_>>().join(", ");
    let lettered = factors.iter().enumerate().filter_map(|(i, factor)| {
        let (low, high) = (rounded(factor.low), rounded(factor.high));
        Some(Text::from(format!("{} = {}: {low} to {high}", letter(i)?, factor.name)))
    });
    out.write(&ScreeningDesign {
        design: Name::from(name.clone()),
        machine: machine.map(Name::from),
        material: material.map(Name::from),
        runs: Count::from(runs),
        factors: lettered.collect(),
        generators: made.generators.iter().cloned().map(Text::from).collect(),
        resolution: resolution(&made),
        aliases: made.aliases().into_iter().map(Text::from).collect(),
        seed: Count(seed),
        basis: Text::from(basis(&made)),
        ..ScreeningDesign::default()
    });
    let mut order: Vec<usize> = (0..runs).collect();
    Random::new(seed).shuffle(&mut order);
    for (place, run) in order.into_iter().enumerate() {
        let levels = factors.iter().zip(&made.rows[run]);
        let values: BTreeMap<String, f64> = levels
            .map(|(factor, level)| {
                (factor.name.clone(), if *level > 0 { factor.high } else { factor.low })
            })
            .collect();
        out.write(&ScreeningRun {
            design: Name::from(name.clone()),
            order: Count::from(place + 1),
            standard: Count::from(run + 1),
            settings: settings(&values),
            ..ScreeningRun::default()
        });
    }
}

/// Of Plackett and Burman III, since main effects are mixed with interactions of two.
fn resolution(made: &designs::Design) -> Option<Count> {
    // Two settings have one interaction, which is mixed with neither.
    if made.settings() < 3 {
        None
    } else if made.cyclic {
        Some(Count(3))
    } else {
        made.resolution.map(Count::from)
    }
}

fn basis(made: &designs::Design) -> &'static str {
    if made.cyclic {
        "design of Plackett and Burman (1946)"
    } else if made.generators.is_empty() {
        "full two-level factorial"
    } else {
        "two-level fractional factorial of least aberration (Box, Hunter and Hunter 1978, table 12.15)"
    }
}
