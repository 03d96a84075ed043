//! Repeatability studies of gauges: readings of pieces, taken again and again by one person or
//! several.

use crate::gauge::Known;
use crate::machines::Fit;
use crate::reading::rounded;
use secondmelt_quality::gauge_study::{Study, StudyError, crossed, one_way};
use secondmelt_record::facts::Diameter;
use secondmelt_record::findings::{Axis, Decision, GaugeStudy, Verdict};
use secondmelt_record::{Count, Name, NonNegative, Number, Out, Text};
use std::collections::{BTreeMap, HashMap, HashSet};

/// Readings that are kept for studies, all gauges together.
const READINGS_MAX: usize = 20_000;
/// Confidence of each bound of a spread.
const CONFIDENCE: f64 = 0.95;
/// Share of a tolerance, in per cent, that the spread of a good gauge takes at most, and of one that
/// is of no use takes more than (AIAG, Measurement Systems Analysis, 4th ed., chapter II
/// section D; a rule of thumb).
const GOOD_PCT: f64 = 10.0;
const USELESS_PCT: f64 = 30.0;

const RULE: &str = "six standard deviations of the gauge over the width of the tolerance (AIAG, Measurement Systems \
Analysis, 4th ed.): it conforms where the upper 95 % bound is at most 10 %, fails where the lower is above 30 %; between \
them it depends on what is at stake. Bounds by chi square for one person, by Graybill and Wang (1980) for several";
const STUDY_RULE: &str = "analysis of variance of pieces, people and repeats (AIAG, Measurement Systems Analysis, \
4th ed.; NIST/SEMATECH e-Handbook 2.4)";

/// Readings of one gauge: by person, by piece, every repeat with its axes.
type Taken = BTreeMap<String, BTreeMap<String, Vec<[Option<f64>; 3]>>>;

/// The studies of all gauges; the empty name is a gauge without one.
#[derive(Debug, Default)]
pub struct Studies {
    gauges: BTreeMap<String, Taken>,
    readings: usize,
    /// Gauge, person, piece and number of the repeats that are numbered.
    numbered: HashSet<(String, String, String, u64)>,
}

/// What becomes of a reading of a study.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TakenAs {
    /// It is one of its repeats.
    Repeat,
    /// A repeat of that number by that person on that piece was there before.
    Twice,
    /// There are more readings than are kept.
    TooMany,
}

/// Whether a reading belongs to a study, and not to a spool.
#[inline]
pub fn is_of_study(reading: &Diameter<'_>) -> bool {
    reading.part.is_some()
}

impl Studies {
    /// Takes a reading of a study.
    pub fn push(&mut self, reading: &Diameter<'_>) -> TakenAs {
        let Some(part) = &reading.part else { return TakenAs::Repeat };
        if self.readings == READINGS_MAX {
            return TakenAs::TooMany;
        }
        let name = |name: &Option<Name<'_>>| name.as_ref().map(Name::to_string).unwrap_or_default();
        let (gauge, person) = (name(&reading.gauge), name(&reading.operator));
        if let Some(Count(trial)) = reading.trial
            && !self.numbered.insert((gauge.clone(), person.clone(), part.to_string(), trial))
        {
            return TakenAs::Twice;
        }
        self.readings += 1;
        let parts = self.gauges.entry(gauge).or_default().entry(person).or_default();
        let axis = |mm: secondmelt_record::SizeMm| mm.get();
        parts.entry(part.to_string()).or_default().push([
            Some(axis(reading.dx_mm)),
            reading.dy_mm.map(axis),
            reading.dz_mm.map(axis),
        ]);
        TakenAs::Repeat
    }

    /// Writes what the studies show, and notes the spread of each gauge.
    pub fn write(&self, machines: &[Fit], gauges: &mut HashMap<String, Known>, out: &mut Out) {
        for (name, taken) in &self.gauges {
            let mut worst: Option<Spread> = None;
            for (place, axis) in Axis::ALL.iter().enumerate() {
                match study(name, taken, place, *axis) {
                    None => {}
                    Some(Ok((study, spread))) => {
                        worst = Some(worst.map_or(spread, |worst| worst.or_wider(spread)));
                        out.write(&study);
                    }
                    Some(Err(why)) => out.write(&unusable(name, why)),
                }
            }
            let Some(spread) = worst else { continue };
            let mut known = gauges.get(name).copied().unwrap_or_default();
            let before_mm = known.u_mm();
            known.studied(spread.sd_mm);
            for fit in machines {
                out.write(&fits(name, spread, (before_mm, known.u_mm()), fit));
            }
            if !name.is_empty() {
                gauges.insert(name.clone(), known);
            }
        }
    }
}

/// Standard deviation of a gauge with its 95 % bounds, in mm.
#[derive(Debug, Clone, Copy)]
struct Spread {
    sd_mm: f64,
    low_mm: f64,
    high_mm: f64,
}

impl Spread {
    /// The larger of each figure of two axes.
    fn or_wider(self, other: Self) -> Self {
        Self {
            sd_mm: self.sd_mm.max(other.sd_mm),
            low_mm: self.low_mm.max(other.low_mm),
            high_mm: self.high_mm.max(other.high_mm),
        }
    }
}

/// The study of one axis; none where no reading has it.
fn study(
    gauge: &str,
    taken: &Taken,
    place: usize,
    axis: Axis,
) -> Option<Result<(GaugeStudy<'static>, Spread), String>> {
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
    Some(result.map(|found| {
        let (low_mm, high_mm) = found.bounds.unwrap_or((0.0, f64::INFINITY));
        let spread = Spread { sd_mm: found.gauge, low_mm, high_mm };
        let study = GaugeStudy {
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
            gauge_low_mm: found.bounds.map(|(low, _)| mm(low)),
            gauge_high_mm: found.bounds.map(|(_, high)| mm(high)),
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "cut to a whole number"
            )]
            categories: found.categories.map(|n| Count(n as u64)),
            ..GaugeStudy::default()
        };
        (study, spread)
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
    /// Its 95 % bounds.
    bounds: Option<(f64, f64)>,
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
        bounds: analysed.residual_bounds(CONFIDENCE),
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
    let table = crossed::analyse(&study);
    let variation = table.usual().variation;
    Ok(Found {
        parts: study.parts(),
        trials: study.trials(),
        repeatability: variation.repeatability,
        people: Some((variation.reproducibility, variation.interaction)),
        between: variation.parts,
        gauge: variation.gauge,
        bounds: table.gauge_bounds(CONFIDENCE),
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

/// Whether a gauge is fine enough for the tolerance of a machine; its standard uncertainty before
/// and after the study.
fn fits(
    gauge: &str,
    spread: Spread,
    (before_mm, now_mm): (Option<f64>, Option<f64>),
    fit: &Fit,
) -> Verdict<'static> {
    let percent = |sd_mm: f64| 600.0 * sd_mm / (fit.high_mm - fit.low_mm);
    let (low, high) = (percent(spread.low_mm), percent(spread.high_mm));
    let still = spread.sd_mm == 0.0;
    // Repeats that never differ show a coarse display or a copied figure, not a perfect gauge.
    let (result, word) = match (low, high) {
        _ if still => (
            Decision::Undecided,
            "not shown to be fine enough: its repeats never differ, so its display is too coarse to show its spread, or \
             a figure was copied",
        ),
        (_, high) if high <= GOOD_PCT => (Decision::Conforms, "fine enough"),
        (low, _) if low > USELESS_PCT || low.is_nan() => (Decision::Fails, "too coarse"),
        _ if percent(spread.sd_mm) <= GOOD_PCT || percent(spread.sd_mm) > USELESS_PCT => (
            Decision::Undecided,
            "not shown to be either by so small a study; more pieces, people or repeats would tell",
        ),
        _ => (Decision::Undecided, "neither clearly fine enough nor clearly too coarse"),
    };
    let used = match (before_mm, now_mm) {
        (_, None) => "Its uncertainty stays unknown.".to_owned(),
        (Some(before), Some(now)) if before >= now => {
            format!("The {} mm known before as its uncertainty stay in use.", rounded(before))
        }
        (Some(before), Some(now)) => format!(
            "{} mm were known as its uncertainty; the larger {} mm of the study are used.",
            rounded(before),
            rounded(now)
        ),
        (None, Some(now)) => {
            format!("The {} mm of the study are used as its uncertainty.", rounded(now))
        }
    };
    let share = match (still, low.is_finite()) {
        (true, _) => String::new(),
        (_, false) => ": the tolerance has no width".to_owned(),
        _ if high.is_finite() => format!(
            ": its spread takes {:.1} % of {} ({low:.1} to {high:.1} %, 95 % either side)",
            percent(spread.sd_mm),
            fit.tolerance_text()
        ),
        _ => {
            format!(": its spread takes {:.1} % of {}", percent(spread.sd_mm), fit.tolerance_text())
        }
    };
    let value = percent(spread.sd_mm);
    Verdict {
        check: Name::from("gauge-fit"),
        result,
        machine: Some(Name::from(fit.machine.clone())),
        value: Number::new(rounded(value)),
        limit: Number::new(USELESS_PCT),
        unit: Some(Text::from("%")),
        rule: Text::from(RULE),
        why: Text::from(format!("For {}, {} is {word}{share}. {used}", fit.machine, called(gauge))),
        ..Verdict::default()
    }
}
