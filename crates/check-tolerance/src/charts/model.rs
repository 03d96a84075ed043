//! What later subgroups are judged by.

use super::subgroups::Point;
use crate::reading::rounded;
use secondmelt_quality::chart::{Baseline, Basis, Subgroup};
use secondmelt_record::findings::ChartLimits;
use secondmelt_record::{Count, Fraction, NonNegative, Number, Positive, Text};

/// Fewest subgroups that limits are learned from (common practice, no source).
const FEWEST: u32 = 20;
/// Share by which the readings in a subgroup, or its length, may differ from the baseline's.
const ALIKE: f64 = 0.2;

/// Centre lines and limits, in mm.
#[derive(Debug, Clone, Copy)]
pub struct Model {
    /// Length of a subgroup, in m.
    pub subgroup_m: Option<f64>,
    /// Readings in a subgroup.
    pub n: f64,
    /// Subgroups they were learned from.
    pub subgroups: f64,
    /// Centre line, lower and upper limit of the means.
    pub mean: Lines,
    /// Those of the standard deviations.
    pub spread: Lines,
    /// Lag-1 autocorrelation of the means.
    pub lag1: f64,
    /// Standard deviation between subgroups; not known of limits that were fed.
    pub between: Option<f64>,
}

/// A centre line with its limits.
#[derive(Debug, Clone, Copy)]
pub struct Lines {
    /// Centre.
    pub centre: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// Standard deviation of a point.
    pub sd: f64,
}

impl Lines {
    /// Distance from the centre in standard deviations.
    pub fn standardised(&self, value: f64) -> f64 {
        (value - self.centre) / self.sd
    }

    /// Whether a point lies beyond a limit.
    pub fn beyond(&self, value: f64) -> bool {
        value > self.high || value < self.low
    }
}

/// Subgroups that limits are being learned from, of one lot or several.
#[derive(Debug, Default)]
pub struct Learned {
    baseline: Baseline,
    n: Option<u32>,
    length_m: Option<f64>,
}

impl Learned {
    /// Adds the subgroups of a lot. Those whose number of readings is not that of the others are
    /// left out.
    pub fn add(&mut self, points: &[Point], length_m: Option<f64>) {
        self.baseline.restart();
        let n = *self.n.get_or_insert_with(|| usual(points));
        self.length_m = self.length_m.or(length_m);
        for point in points {
            if point.after_break {
                self.baseline.restart();
            }
            if alike(f64::from(point.n), f64::from(n)) {
                let subgroup = Subgroup { n, mean: point.mean_mm, range: 0.0, sd: point.sd_mm() };
                self.baseline.push(&subgroup);
            }
        }
    }

    /// The limits; none of too few subgroups, or where nothing varies. Those of the means allow
    /// for what is between subgroups (variance components), those of the spread for
    /// readings within a subgroup that follow one another.
    pub fn model(&self) -> Option<Model> {
        let count = self.baseline.count();
        let limits = (count >= FEWEST).then(|| self.baseline.limits(Basis::Components))??;
        let lines = |limits: secondmelt_quality::chart::Limits| Lines {
            centre: limits.centre,
            low: limits.lower,
            high: limits.upper,
            sd: limits.sigma,
        };
        Some(Model {
            subgroup_m: self.length_m,
            n: f64::from(self.n?),
            subgroups: f64::from(count),
            mean: lines(limits.mean),
            spread: lines(limits.spread),
            lag1: self.baseline.lag1_of_means()?.clamp(0.0, 0.99),
            between: Some(limits.sigma_between),
        })
    }
}

/// The number of readings that most subgroups have, the middle one.
fn usual(points: &[Point]) -> u32 {
    let mut sizes: Vec<u32> = points.iter().map(|point| point.n).collect();
    sizes.sort_unstable();
    sizes.get(sizes.len() / 2).copied().unwrap_or_default()
}

fn alike(one: f64, other: f64) -> bool {
    (one - other).abs() <= ALIKE * other
}

impl Model {
    /// Whether it can judge subgroups like this one, of a length in m where they have one.
    pub fn fits(
        &self,
        point: &Point,
        length_m: Option<f64>,
        meant: impl Fn(f64, f64) -> bool,
    ) -> bool {
        let as_long = match (length_m, self.subgroup_m) {
            (Some(one), Some(other)) => alike(one, other),
            (one, other) => one.is_none() && other.is_none(),
        };
        as_long && meant(point.mean_mm, self.mean.centre) && alike(f64::from(point.n), self.n)
    }

    /// What is wrong with limits that were kept; none where nothing is.
    pub fn fault(&self) -> Option<String> {
        let around = |lines: Lines| lines.low < lines.centre && lines.centre < lines.high;
        if !around(self.mean) {
            return Some("limits of the mean that do not lie on either side of it".to_owned());
        }
        let spread = self.spread;
        if !(spread.low <= spread.centre && spread.centre < spread.high) {
            return Some("limits of the spread that do not lie on either side of it".to_owned());
        }
        (self.subgroups < 2.0 || self.n < 2.0)
            .then(|| "fewer than two subgroups, or readings in one".to_owned())
    }

    /// From a record that was kept.
    pub fn of(record: &ChartLimits<'_>) -> Self {
        #[expect(clippy::cast_precision_loss, reason = "a count")]
        let count = |n: Count| n.0 as f64;
        Self {
            subgroup_m: record.subgroup_m.map(Into::into),
            n: count(record.subgroup_readings),
            subgroups: count(record.subgroups),
            mean: Lines {
                centre: record.mean_mm.get(),
                low: record.mean_low_mm.get(),
                high: record.mean_high_mm.get(),
                sd: record.mean_sd_mm.get(),
            },
            spread: Lines {
                centre: record.spread_mm.get(),
                low: record.spread_low_mm.get(),
                high: record.spread_high_mm.get(),
                sd: record.spread_sd_mm.get(),
            },
            lag1: record.lag1.get().min(0.99),
            between: None,
        }
    }

    /// The record to keep.
    pub fn record(&self, learned_from: String) -> Option<ChartLimits<'static>> {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count")]
        let count = |x: f64| Count(x as u64);
        Some(ChartLimits {
            learned_from: Text::from(learned_from),
            subgroup_m: self.subgroup_m.map(rounded).and_then(Positive::new),
            subgroup_readings: count(self.n),
            subgroups: count(self.subgroups),
            mean_mm: Positive::new(rounded(self.mean.centre))?,
            mean_sd_mm: Positive::new(rounded(self.mean.sd))?,
            mean_low_mm: Number::new(rounded(self.mean.low))?,
            mean_high_mm: Number::new(rounded(self.mean.high))?,
            spread_mm: NonNegative::new(rounded(self.spread.centre))?,
            spread_sd_mm: Positive::new(rounded(self.spread.sd))?,
            spread_low_mm: NonNegative::new(rounded(self.spread.low))?,
            spread_high_mm: NonNegative::new(rounded(self.spread.high))?,
            lag1: Fraction::new(rounded(self.lag1))?,
            ..ChartLimits::default()
        })
    }
}
