//! Control charts along a spool (ISO 7870-2): means and spreads of subgroups by length, with
//! run rules, a moving average and a cumulative sum on what is left of the means once their
//! autocorrelation is out.
//!
//! Limits of the means come from the variance within and between subgroups, since readings of a
//! spool follow one another and limits from within alone would drown a healthy spool in
//! signals. They are the lot's own, or those of a baseline that came as a `chart_limits` record
//! before its readings; then signals are told as they begin.

mod judge;
mod model;
mod rules;
mod subgroups;

use crate::machines::is_near;
use crate::reading::rounded;
use judge::Judge;
pub use model::{Learned, Model};
pub use rules::{Signal, Signals};
use secondmelt_quality::distributions::binomial;
use secondmelt_record::facts::Settings;
use secondmelt_record::findings::{Chart, ChartPoint, Decision, Verdict};
use secondmelt_record::{Count, Fraction, Name, NonNegative, Number, Out, Positive, Text};
pub use subgroups::Point;
use subgroups::Subgroups;

/// Probability below which a lot is said to differ from its baseline.
const LEVEL: f64 = 0.01;
/// Fewest subgroups that can show that a lot is like its baseline (common practice, no source).
const FEWEST: u32 = 20;

const LIKE_BASELINE: &str = "the lot is judged by the control limits of the baseline (ISO 7870-2); it differs where so \
many points beyond three standard deviations, or a mean, a residual or a moving average as far out as its furthest, \
has a probability below 1 % (binomial; Bonferroni), means taken as normal with the autocorrelation of the baseline. \
A baseline of one lot does not know how lots differ. Nothing is refused by it: limits of \
few subgroups, and readings that follow one another, call more than 1 % of healthy lots different";

/// Limits that came with the input.
#[derive(Debug)]
pub struct Fed {
    /// Lots they were learned from.
    pub learned_from: String,
    /// The limits.
    pub model: Model,
}

/// The charts of one spool.
#[derive(Debug)]
pub struct Charts {
    subgroups: Subgroups,
    wanted: Signals,
    /// Judge by limits that were fed, and the lots these were learned from.
    fed: Option<(Judge, String)>,
    /// What signalled at the last subgroup.
    signals: Signals,
    steps: Steps,
    positions: bool,
}

/// Steps from one subgroup mean to the next.
#[derive(Debug, Default)]
struct Steps {
    before_mm: Option<f64>,
    squares_mm2: f64,
    count: u32,
}

/// A subgroup that has just become full.
#[derive(Debug, Clone, Copy)]
pub struct Filled {
    /// The subgroup.
    pub point: Point,
    /// What signals at it that did not signal at the one before.
    pub begun: Signals,
    /// Standard deviation of a subgroup mean, from steps between neighbours, and the number of
    /// steps; none of fewer than five.
    pub sd_of_mean: Option<(f64, u32)>,
}

impl Charts {
    /// Charts of subgroups of a length, in m, that look for the signals wanted.
    pub fn new(length_m: f64, wanted: Signals) -> Self {
        Self {
            subgroups: Subgroups::new(length_m),
            wanted,
            fed: None,
            signals: Signals::default(),
            steps: Steps::default(),
            positions: false,
        }
    }

    /// Takes a diameter by area, `along_m` after the one before, none without positions. True
    /// where it fills a subgroup; [`Self::fill`] must follow then.
    #[inline]
    pub fn push(&mut self, diameter_mm: f64, along_m: Option<f64>) -> bool {
        self.subgroups.push(diameter_mm, along_m)
    }

    /// The subgroup that a reading filled, judged.
    pub fn fill(&mut self, reading: u64, at_m: Option<f64>, direction: f64, fed: &[Fed]) -> Filled {
        let mut point = self.subgroups.fill(reading, at_m, direction);
        self.positions |= at_m.is_some();
        if self.subgroups.points().is_empty() && self.fed.is_none() {
            self.choose(&point, fed);
        }
        if let Some((judge, _)) = &mut self.fed {
            point.signals = judge.push(&point);
        }
        let begun = point.signals.without(self.signals);
        self.signals = point.signals;
        self.steps.push(point.mean_mm);
        self.subgroups.add(point);
        Filled { point, begun, sd_of_mean: self.steps.sd_of_mean() }
    }

    /// The limits that fit a lot whose first subgroup this is; the last of several.
    fn choose(&mut self, point: &Point, fed: &[Fed]) {
        let fits =
            fed.iter().rev().find(|fed| fed.model.fits(point, self.subgroups.point_m(), is_near));
        self.fed = fits
            .and_then(|fed| Some((Judge::new(fed.model, self.wanted)?, fed.learned_from.clone())));
    }

    /// Drops what is not full yet, as after a gap in the log.
    pub fn restart(&mut self) {
        self.subgroups.restart();
        self.steps.before_mm = None;
    }

    /// Mean diameter over the last full subgroup and what came since.
    pub fn recent_mm(&self) -> Option<f64> {
        self.subgroups.recent_mm()
    }

    /// Adds its subgroups to a baseline.
    pub fn teach(&self, learned: &mut Learned) {
        learned.add(self.subgroups.points(), self.subgroups.point_m());
    }

    /// Writes what the charts show.
    pub fn write(&self, lot: &str, cut: bool, out: &mut Out) {
        let mut own = Learned::default();
        self.teach(&mut own);
        let own = own.model();
        let between = own.and_then(|model| model.between);
        let points = self.subgroups.points();
        let by = match &self.fed {
            Some((judge, learned_from)) => Some((judge.model, Some(learned_from.as_str()))),
            None => own.map(|model| (model, None)),
        };
        let Some((model, limits_of)) = by else { return };
        let judged = self.judged(points, model);
        if let Some(chart) = self.chart(lot, model, limits_of, between, &judged) {
            out.write(&chart);
        }
        for (point, signals) in points.iter().zip(judged) {
            if let Some(point) = self.point(lot, point, signals) {
                out.write(&point);
            }
        }
        if let Some((judge, learned_from)) = &self.fed {
            out.write(&like_baseline(lot, judge, learned_from, cut));
        }
    }

    /// The signals at each point: those told while it was read, or those of its own limits.
    fn judged(&self, points: &[Point], model: Model) -> Vec<Signals> {
        if self.fed.is_some() {
            return points.iter().map(|point| point.signals).collect();
        }
        match Judge::new(model, self.wanted) {
            Some(mut judge) => points.iter().map(|point| judge.push(point)).collect(),
            None => vec![Signals::default(); points.len()],
        }
    }

    fn chart<'a>(
        &self,
        lot: &'a str,
        model: Model,
        limits_of: Option<&'a str>,
        between: Option<f64>,
        judged: &[Signals],
    ) -> Option<Chart<'a>> {
        let limits = model.record(String::new())?;
        let counted = |each: &dyn Fn(Signal) -> f64| {
            let named =
                |signal: Signal| Some((signal.name().to_owned(), Number::new(each(signal))?));
            Settings(self.wanted.each().filter_map(named).collect())
        };
        let subgroups = judged.len() as u64;
        #[expect(clippy::cast_precision_loss, reason = "counts")]
        let (signals, by_chance) = (
            counted(&|signal| judged.iter().filter(|at| at.has(signal)).count() as f64),
            counted(&|signal| rounded(signal.by_chance() * subgroups as f64)),
        );
        Some(Chart {
            lot: Name::from(lot),
            limits_of: limits_of.map(Text::from),
            subgroup_m: self.subgroups.point_m().map(rounded).and_then(Positive::new),
            subgroup_readings: limits.subgroup_readings,
            subgroups: Count(subgroups),
            mean_mm: limits.mean_mm,
            mean_sd_mm: limits.mean_sd_mm,
            mean_low_mm: limits.mean_low_mm,
            mean_high_mm: limits.mean_high_mm,
            spread_mm: limits.spread_mm,
            spread_low_mm: limits.spread_low_mm,
            spread_high_mm: limits.spread_high_mm,
            sd_between_mm: between.map(rounded).and_then(NonNegative::new),
            lag1: limits.lag1,
            signals,
            by_chance,
            ..Chart::default()
        })
    }

    fn point<'a>(&self, lot: &'a str, point: &Point, signals: Signals) -> Option<ChartPoint<'a>> {
        Some(ChartPoint {
            lot: Name::from(lot),
            at_m: self.positions.then(|| Number::new(rounded(point.at_m))).flatten(),
            last_reading: Count(point.last_reading),
            readings: Count(u64::from(point.n)),
            mean_mm: Positive::new(rounded(point.mean_mm))?,
            sd_mm: NonNegative::new(rounded(point.sd_mm()))?,
            signals: signals.names().map(Text::from),
            ..ChartPoint::default()
        })
    }
}

impl Steps {
    fn push(&mut self, mean_mm: f64) {
        if let Some(before) = self.before_mm.replace(mean_mm) {
            self.squares_mm2 += (mean_mm - before).powi(2);
            self.count = self.count.saturating_add(1);
        }
    }

    fn sd_of_mean(&self) -> Option<(f64, u32)> {
        let variance = self.squares_mm2 / f64::from(self.count) / 2.0;
        (self.count >= 5).then_some((variance.sqrt(), self.count))
    }
}

/// Whether a lot was made like its baseline.
fn like_baseline<'a>(lot: &'a str, judge: &Judge, learned_from: &str, cut: bool) -> Verdict<'a> {
    let count = judge.count;
    let points = 3.0 * f64::from(count);
    let chance = Signal::Mean.by_chance();
    let as_many = match u64::from(judge.far) {
        0 => 1.0,
        far => binomial::tails(u64::from(3 * count), far - 1, chance).map_or(1.0, |s| s.above),
    };
    let as_far = (points * judge.least).min(1.0);
    let probability = (2.0 * as_many.min(as_far)).min(1.0);
    let of = format!("its {count} subgroups from the baseline {learned_from}");
    let (result, why) = if probability < LEVEL {
        let far = judge.far;
        let expected = rounded((points * chance * 10.0).round() / 10.0);
        let why = if as_many < as_far {
            format!(
                "It may not have been made like the baseline {learned_from}: {far} points lie beyond three standard deviations where chance gives {expected}."
            )
        } else {
            format!(
                "It may not have been made like the baseline {learned_from}: a mean moved further than the limits explain."
            )
        };
        (Decision::Undecided, why)
    } else if cut || count < FEWEST {
        let but = if cut { "the input was cut short" } else { "they are too few to tell" };
        (Decision::Undecided, format!("Nothing sets {of} apart, but {but}."))
    } else {
        (Decision::Conforms, format!("Nothing sets {of} apart."))
    };
    Verdict {
        check: Name::from("like-baseline"),
        result,
        lot: Some(Name::from(lot)),
        value: Number::new(f64::from(judge.far)),
        limit: Number::new(rounded(points * chance)),
        unit: Some(Text::from("1")),
        rule: Text::from(LIKE_BASELINE),
        probability: Fraction::new(probability),
        why: Text::from(why),
        ..Verdict::default()
    }
}
