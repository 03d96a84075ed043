//! Repeatability studies of gauges: readings of pieces, taken again and again by one person or
//! several.

use crate::machines::Fit;
use crate::reading::rounded;
use secondmelt_quality::gauge_study::{Study, StudyError, crossed, one_way};
use secondmelt_record::facts::Diameter;
use secondmelt_record::findings::{Axis, Decision, GaugeStudy, Verdict};
use secondmelt_record::{Count, Name, NonNegative, Number, Out, Text};
use std::collections::{BTreeMap, HashMap};

/// Readings that are kept for studies, all gauges together.
const READINGS_MAX: usize = 20_000;
/// Share of a tolerance, in per cent, that the spread of a good gauge takes at most, and of one that
/// is of no use takes more than (AIAG, Measurement Systems Analysis, 4th ed., chapter II
/// section D; a rule of thumb).
const GOOD_PCT: f64 = 10.0;
const USELESS_PCT: f64 = 30.0;

const RULE: &str = "six standard deviations of the gauge over the width of the tolerance (AIAG, Measurement Systems \
Analysis, 4th ed.): at most 10 % conforms, more than 30 % fails, between them it depends on what is at stake";
const STUDY_RULE: &str = "analysis of variance of pieces, people and repeats (AIAG, Measurement Systems Analysis, \
4th ed.; NIST/SEMATECH e-Handbook 2.4)";

/// Readings of one gauge: by person, by piece, every repeat with its axes.
type Taken = BTreeMap<String, BTreeMap<String, Vec<[Option<f64>; 3]>>>;

/// The studies of all gauges; the empty name is a gauge without one.
#[derive(Debug, Default)]
pub struct Studies {
    gauges: BTreeMap<String, Taken>,
    readings: usize,
}

/// Whether a reading belongs to a study, and not to a spool.
#[inline]
pub fn is_of_study(reading: &Diameter<'_>) -> bool {
    reading.part.is_some()
}

impl Studies {
    /// Takes a reading of a study; false where there are too many.
    pub fn push(&mut self, reading: &Diameter<'_>) -> bool {
        let Some(part) = &reading.part else { return true };
        if self.readings == READINGS_MAX {
            return false;
        }
        self.readings += 1;
        let name = |name: &Option<Name<'_>>| name.as_ref().map(Name::to_string).unwrap_or_default();
        let taken = self.gauges.entry(name(&reading.gauge)).or_default();
        let parts = taken.entry(name(&reading.operator)).or_default();
        let axis = |mm: secondmelt_record::Positive| mm.get();
        parts.entry(part.to_string()).or_default().push([
            Some(axis(reading.dx_mm)),
            reading.dy_mm.map(axis),
            reading.dz_mm.map(axis),
        ]);
        true
    }

    /// Writes what the studies show, and takes the spread of each gauge as its standard
    /// uncertainty where it is more than what is recorded.
    pub fn write(&self, machines: &[Fit], gauges: &mut HashMap<String, f64>, out: &mut Out) {
        for (name, taken) in &self.gauges {
            let mut worst: Option<f64> = None;
            for (place, axis) in Axis::ALL.iter().enumerate() {
                match study(name, taken, place, *axis) {
                    None => {}
                    Some(Ok(study)) => {
                        worst = Some(worst.unwrap_or(0.0_f64).max(study.gauge_mm.get()));
                        out.write(&study);
                    }
                    Some(Err(why)) => out.write(&unusable(name, why)),
                }
            }
            let Some(gauge_mm) = worst else { continue };
            for fit in machines {
                out.write(&fits(name, gauge_mm, gauges.get(name).copied(), fit));
            }
            if !name.is_empty() && gauge_mm > 0.0 {
                let u_mm = gauges.entry(name.clone()).or_insert(gauge_mm);
                *u_mm = u_mm.max(gauge_mm);
            }
        }
    }
}

/// The study of one axis; none where no reading has it.
fn study(
    gauge: &str,
    taken: &Taken,
    place: usize,
    axis: Axis,
) -> Option<Result<GaugeStudy<'static>, String>> {
    let read: Vec<Vec<Vec<f64>>> = taken
        .values()
        .map(|parts| {
            let of = |repeats: &Vec<[Option<f64>; 3]>| {
                repeats.iter().filter_map(|axes| axes.get(place).copied().flatten()).collect()
            };
            parts.values().map(of).collect()
        })
        .collect();
    if read.iter().flatten().all(|repeats: &Vec<f64>| repeats.is_empty()) {
        return None;
    }
    let result = match read.as_slice() {
        [parts] => of_one_person(parts),
        _ => of_several(taken, &read),
    };
    let mm = |x: f64| NonNegative::new(rounded(x)).unwrap_or_default();
    Some(result.map(|found| GaugeStudy {
        gauge: (!gauge.is_empty()).then(|| Name::from(gauge.to_owned())),
        axis,
        parts: Count(found.parts as u64),
        operators: Count(read.len() as u64),
        trials: Count(found.trials as u64),
        repeatability_mm: mm(found.repeatability),
        reproducibility_mm: found.people.map(|(people, _)| mm(people)),
        interaction_mm: found.people.map(|(_, interaction)| mm(interaction)),
        parts_mm: mm(found.between),
        gauge_mm: mm(found.gauge),
        gauge_pct: found.percent.map(rounded).and_then(NonNegative::new),
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "cut to a whole number"
        )]
        categories: found.categories.map(|n| Count(n as u64)),
        ..GaugeStudy::default()
    }))
}

/// What an analysis found, standard deviations in mm.
struct Found {
    parts: usize,
    trials: usize,
    repeatability: f64,
    /// Between people, and of their interaction with pieces.
    people: Option<(f64, f64)>,
    between: f64,
    gauge: f64,
    percent: Option<f64>,
    categories: Option<f64>,
}

/// A study without names of people: pieces against repeats.
fn of_one_person(parts: &[Vec<f64>]) -> Result<Found, String> {
    let analysed = one_way::analyse(parts)
        .ok_or("it takes two pieces or more, and one of them read twice or more")?;
    let (gauge, between) = (analysed.residual_sd, analysed.between_variance.sqrt());
    let finite = |x: f64| Some(x).filter(|x| x.is_finite());
    Ok(Found {
        parts: parts.len(),
        trials: parts.iter().map(Vec::len).min().unwrap_or_default(),
        repeatability: gauge,
        people: None,
        between,
        gauge,
        percent: finite(100.0 * gauge / gauge.hypot(between)),
        categories: finite(secondmelt_quality::gauge_study::CATEGORY * between / gauge),
    })
}

/// A crossed study: every person read every piece equally often.
fn of_several(taken: &Taken, read: &[Vec<Vec<f64>>]) -> Result<Found, String> {
    let mut names = taken.values().map(|parts| parts.keys().collect::<Vec<_>>());
    let first = names.next();
    if names.any(|other| Some(other) != first) {
        return Err(StudyError::Unbalanced.to_string());
    }
    let trials = read.iter().flatten().map(Vec::len).max().unwrap_or_default();
    let by_trial = |parts: &Vec<Vec<f64>>| -> Vec<Vec<f64>> {
        (0..trials)
            .map(|trial| parts.iter().filter_map(|repeats| repeats.get(trial).copied()).collect())
            .collect()
    };
    let study = Study::new(&read.iter().map(by_trial).collect::<Vec<_>>())
        .map_err(|error| error.to_string())?;
    let variation = crossed::analyse(&study).usual().variation;
    Ok(Found {
        parts: study.parts(),
        trials: study.trials(),
        repeatability: variation.repeatability,
        people: Some((variation.reproducibility, variation.interaction)),
        between: variation.parts,
        gauge: variation.gauge,
        percent: variation.percent_of_total(variation.gauge),
        categories: variation.categories(),
    })
}

fn called(gauge: &str) -> String {
    if gauge.is_empty() { "the gauge".to_owned() } else { format!("gauge {gauge}") }
}

/// A study that cannot be worked out.
fn unusable(gauge: &str, why: String) -> Verdict<'static> {
    Verdict {
        check: Name::from("gauge-study"),
        result: Decision::Undecided,
        rule: Text::from(STUDY_RULE),
        why: Text::from(format!("The study of {} shows nothing: {why}.", called(gauge))),
        ..Verdict::default()
    }
}

/// Whether a gauge is fine enough for the tolerance of a machine.
fn fits(gauge: &str, gauge_mm: f64, recorded_mm: Option<f64>, fit: &Fit) -> Verdict<'static> {
    let percent = 600.0 * gauge_mm / (fit.high_mm - fit.low_mm);
    // Repeats that never differ show a coarse display or a copied figure, not a perfect gauge.
    let (result, word) = match percent {
        _ if gauge_mm == 0.0 => (
            Decision::Undecided,
            "not shown to be fine enough: its repeats never differ, so its display is too coarse to show its spread",
        ),
        x if x <= GOOD_PCT => (Decision::Conforms, "fine enough"),
        x if x > USELESS_PCT || x.is_nan() => (Decision::Fails, "too coarse"),
        _ => (Decision::Undecided, "neither clearly fine enough nor clearly too coarse"),
    };
    let used = match recorded_mm {
        None if gauge_mm == 0.0 => "Its uncertainty stays unknown.".to_owned(),
        Some(u_mm) if u_mm >= gauge_mm => {
            format!("The {} mm recorded as its uncertainty stay in use.", u_mm)
        }
        Some(u_mm) => format!(
            "Its record says {u_mm} mm; the larger {} mm of the study is used as its uncertainty.",
            rounded(gauge_mm)
        ),
        None => format!("The study's {} mm is used as its uncertainty.", rounded(gauge_mm)),
    };
    let share = if percent.is_finite() {
        format!("its spread takes {percent:.1} % of {}", fit.tolerance_text())
    } else {
        "the tolerance has no width".to_owned()
    };
    Verdict {
        check: Name::from("gauge-fit"),
        result,
        machine: Some(Name::from(fit.machine.clone())),
        value: Number::new(rounded(percent)),
        limit: Number::new(USELESS_PCT),
        unit: Some(Text::from("%")),
        rule: Text::from(RULE),
        why: Text::from(format!(
            "For {}, {} is {word}: {share}. {used}",
            fit.machine,
            called(gauge)
        )),
        ..Verdict::default()
    }
}
