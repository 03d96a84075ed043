//! What later subgroups are judged by.

use super::subgroups::Point;
use crate::reading::rounded;
use secondmelt_quality::chart::{Baseline, Basis, Known, Limits, Subgroup, beyond_three_sigma};
use secondmelt_record::findings::ChartLimits;
use secondmelt_record::{Count, Fraction, NonNegative, Number, Positive, Text};

/// Fewest subgroups that limits are learned from (common practice, no source).
const FEWEST: u32 = 20;
/// Share by which the readings in a subgroup, or its length, may differ from the baseline's.
const ALIKE: f64 = 0.2;
/// Largest autocorrelation of the means that can be allowed for.
const LAG1_MAX: f64 = 0.99;

/// No diameter is steadier than this, in mm.
const SD_LEAST: f64 = 1e-7;

/// Why limits cannot judge a lot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Unfit {
    /// They are of filament of another diameter.
    Diameter,
    /// One has positions and the other has none.
    Positions(&'static str),
    /// Subgroups of another length, in m: the lot's and the limits'.
    Length(f64, f64),
    /// Subgroups of another number of readings: the lot's and the limits'.
    Readings(u32, f64),
}

impl std::fmt::Display for Unfit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Diameter => f.write_str("of filament of another diameter"),
            Self::Positions(words) => f.write_str(words),
            Self::Length(own, other) => {
                write!(f, "of subgroups of {other:.2} m, and its own are {own:.2} m")
            }
            Self::Readings(own, other) => {
                write!(f, "of subgroups of {other} readings, and its own have {own}")
            }
        }
    }
}

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
    /// Whether a point lies beyond a limit.
    pub fn beyond(&self, value: f64) -> bool {
        value > self.high || value < self.low
    }
}

/// Subgroups that limits are being learned from, of one lot or several.
#[derive(Debug, Default, Clone)]
pub struct Learned {
    baseline: Baseline,
    /// Readings in a subgroup, once that is known.
    n: Option<u32>,
    /// The first subgroups, which tell it.
    waiting: Vec<Point>,
    length_m: Option<f64>,
}

impl Learned {
    /// From all subgroups of a lot, of a length in m where they have one.
    pub fn of(points: &[Point], length_m: Option<f64>) -> Self {
        let mut learned = Self { length_m, ..Self::default() };
        points.iter().for_each(|point| learned.push(*point));
        learned
    }

    /// Adds the next subgroup of a lot. Those whose number of readings is not that of the others are
    /// left out.
    pub fn push(&mut self, point: Point) {
        if self.n.is_some() {
            return self.take(&point);
        }
        self.waiting.push(point);
        if self.waiting.len() >= FEWEST as usize {
            self.settle();
        }
    }

    /// Takes the number of readings that most subgroups so far have as the usual one.
    fn settle(&mut self) {
        let waiting = std::mem::take(&mut self.waiting);
        let mut sizes: Vec<u32> = waiting.iter().map(|point| point.n).collect();
        sizes.sort_unstable();
        self.n = sizes.get(sizes.len() / 2).copied();
        waiting.iter().for_each(|point| self.take(point));
    }

    fn take(&mut self, point: &Point) {
        let Some(n) = self.n else { return };
        if point.after_break {
            self.baseline.restart();
        }
        if alike(f64::from(point.n), f64::from(n)) {
            let subgroup = Subgroup { n, mean: point.mean_mm, range: 0.0, sd: point.sd_mm() };
            self.baseline.push(&subgroup);
        }
    }

    /// Adds the subgroups of another lot, of a length in m where they have one; why that cannot be, in words
    /// that follow the name of the lot.
    pub fn join(
        &mut self,
        other: &Self,
        length_m: Option<f64>,
        meant: impl Fn(f64, f64) -> bool,
    ) -> Result<(), &'static str> {
        let mut other = other.clone();
        if other.n.is_none() {
            other.settle();
        }
        let Some((mean, n)) = other.baseline.grand_mean().zip(other.n) else {
            return Err("has no full subgroup");
        };
        if let Some((own, own_n)) = self.baseline.grand_mean().zip(self.n) {
            if !meant(mean, own) {
                return Err("is filament of another diameter than those before it");
            }
            let as_long = match (self.length_m, length_m) {
                (Some(one), Some(two)) => alike(one, two),
                (one, two) => one.is_none() && two.is_none(),
            };
            if !as_long || !alike(f64::from(n), f64::from(own_n)) {
                return Err("was read at other distances than those before it");
            }
            other.baseline.take_as_of_size(own_n);
        }
        self.n = self.n.or(Some(n));
        self.length_m = self.length_m.or(length_m);
        if self.baseline.merge(&other.baseline) { Ok(()) } else { Err("has too many subgroups") }
    }

    /// Variance of the mean of all subgroups; none of fewer than twenty.
    pub fn variance_of_grand_mean(&self) -> Option<f64> {
        let count = Some(self.baseline.count()).filter(|count| *count >= FEWEST)?;
        let r = self.baseline.lag1_of_means()?.clamp(0.0, LAG1_MAX);
        Some(self.baseline.variance_of_means()? * (1.0 + r) / (1.0 - r) / f64::from(count))
    }

    /// The limits; none of too few subgroups, or where nothing varies. Those of the means allow
    /// for what is between subgroups (variance components), those of the spread for
    /// readings within a subgroup that follow one another.
    pub fn model(&self) -> Option<Model> {
        let count = self.baseline.count();
        let limits = (count >= FEWEST).then(|| self.baseline.limits(Basis::Components))??;
        // A wave that averages out within subgroups makes their means vary less than what is within them
        // would, so it is their own variance that counts.
        let sd = self.baseline.variance_of_means()?.sqrt();
        let mean = Limits::three_sigma(limits.mean.centre, sd, self.n?)?;
        let lines = |limits: Limits| Lines {
            centre: limits.centre,
            low: limits.lower,
            high: limits.upper,
            sd: limits.sigma,
        };
        Some(Model {
            subgroup_m: self.length_m,
            n: f64::from(self.n?),
            subgroups: f64::from(count),
            mean: lines(mean),
            spread: lines(limits.spread),
            lag1: self.baseline.lag1_of_means()?.clamp(0.0, LAG1_MAX),
            between: Some(limits.sigma_between),
        })
    }
}

fn alike(one: f64, other: f64) -> bool {
    (one - other).abs() <= ALIKE * other
}

impl Model {
    /// Why it cannot judge a subgroup like this one, of a length in m where it has one, in words that
    /// follow "they are"; none where it can.
    pub fn unfit(
        &self,
        point: &Point,
        length_m: Option<f64>,
        meant: impl Fn(f64, f64) -> bool,
    ) -> Option<Unfit> {
        if !meant(point.mean_mm, self.mean.centre) {
            return Some(Unfit::Diameter);
        }
        match (length_m, self.subgroup_m) {
            (Some(_), None) => return Some(Unfit::Positions("without positions")),
            (None, Some(_)) => {
                return Some(Unfit::Positions("by position, which its readings lack"));
            }
            (Some(one), Some(other)) if !alike(one, other) => {
                return Some(Unfit::Length(one, other));
            }
            _ => {}
        }
        (!self.as_many(point)).then_some(Unfit::Readings(point.n, self.n))
    }

    /// Whether a subgroup has about as many readings as its own.
    pub fn as_many(&self, point: &Point) -> bool {
        alike(f64::from(point.n), self.n)
    }

    /// What is wrong with limits that were kept; none where nothing is.
    pub fn fault(&self) -> Option<&'static str> {
        let three = |lines: Lines| {
            let reach = 3.0 * lines.sd;
            let near = |one: f64, other: f64| (one - other).abs() <= 0.01 * reach + 1e-9;
            near(lines.high - lines.centre, reach)
                && (near(lines.centre - lines.low, reach)
                    || lines.low == 0.0 && lines.centre <= 1.01 * reach)
        };
        if self.subgroups < f64::from(FEWEST) || self.n < 2.0 {
            return Some("limits of fewer than 20 subgroups, or of single readings");
        }
        if self.mean.sd < SD_LEAST || self.spread.sd < SD_LEAST {
            return Some("standard deviations below a tenth of a nanometre");
        }
        if !three(self.mean) || self.mean.sd >= self.mean.centre / 3.0 {
            return Some(
                "limits of the mean that do not lie three of its standard deviations to either side",
            );
        }
        if !three(self.spread) || self.spread.centre <= 0.0 {
            return Some(
                "limits of the spread that do not lie three of its standard deviations to either side",
            );
        }
        (self.lag1 > LAG1_MAX).then_some("an autocorrelation of the means above 0.99")
    }

    /// Chance that the spread of a steady process is beyond its limits, readings taken as a first-order
    /// autoregression.
    pub fn spread_by_chance(&self) -> f64 {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count")]
        let n = self.n.min(1e6) as u32;
        beyond_three_sigma(n, self.spread.sd / self.spread.centre).unwrap_or_default()
    }

    /// What is kept to compare lots with.
    pub fn known(&self) -> Known {
        Known {
            subgroups: self.subgroups,
            centre: self.mean.centre,
            sd: self.mean.sd,
            lag1: self.lag1,
            spread: self.spread.centre,
            spread_sd: self.spread.sd,
        }
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
            lag1: record.lag1.get(),
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
