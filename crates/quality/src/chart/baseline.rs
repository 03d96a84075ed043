//! From subgroups of a baseline to limits.

use super::individuals::Moving;
use super::{Limits, Subgroup, SubgroupLimits, Whitener};
use crate::chart_factors::{ChartFactors, c4};

/// What the limits of subgroup means are drawn from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// Mean range within subgroups.
    Ranges,
    /// Mean standard deviation within subgroups.
    Deviations,
    /// Mean moving range of subgroup means.
    MovingRange,
    /// The same, corrected for the autocorrelation of the means.
    MovingRangeCorrected,
    /// Variance within and between subgroups.
    Components,
}

impl Basis {
    /// Whether readings within a subgroup are taken as independent. Where they are not,
    /// standard deviations of subgroups scatter more than c4 tells, and the limits of the
    /// spread allow for what the baseline shows.
    fn trusts_what_is_within(self) -> bool {
        matches!(self, Self::Ranges | Self::Deviations)
    }
}

/// Sums over the subgroups of a baseline.
#[derive(Debug, Clone, Default)]
pub struct Baseline {
    size: u32,
    count: u32,
    mean: f64,
    scatter: f64,
    ranges: f64,
    deviations: f64,
    squares: f64,
    moving: Moving,
}

impl Baseline {
    /// Adds a subgroup; false, and nothing is added, where its size is not that of the
    /// first or a figure is not finite.
    pub fn push(&mut self, subgroup: &Subgroup) -> bool {
        let finite =
            subgroup.mean.is_finite() && subgroup.range.is_finite() && subgroup.sd.is_finite();
        if !finite || (self.count > 0 && subgroup.n != self.size) || self.count == u32::MAX {
            return false;
        }
        if self.count == 0 {
            self.size = subgroup.n;
        }
        self.count += 1;
        let deviation = subgroup.mean - self.mean;
        self.mean += deviation / f64::from(self.count);
        self.scatter += deviation * (subgroup.mean - self.mean);
        self.ranges += subgroup.range;
        self.deviations += subgroup.sd;
        self.squares += subgroup.sd * subgroup.sd;
        self.moving.push(subgroup.mean);
        true
    }

    /// Adds the subgroups of another baseline, with no step from one to the other (sums of squares by
    /// Chan, Golub and LeVeque 1983, The American Statistician 37:242); false, and nothing is added,
    /// where their sizes differ.
    pub fn merge(&mut self, other: &Self) -> bool {
        if other.count == 0 {
            return true;
        }
        let Some(count) = self.count.checked_add(other.count) else { return false };
        if self.count > 0 && self.size != other.size {
            return false;
        }
        let (a, b, n) = (f64::from(self.count), f64::from(other.count), f64::from(count));
        let apart = other.mean - self.mean;
        self.size = other.size;
        self.count = count;
        self.mean += apart * b / n;
        self.scatter += other.scatter + apart * apart * a * b / n;
        self.ranges += other.ranges;
        self.deviations += other.deviations;
        self.squares += other.squares;
        self.moving.merge(other.moving);
        true
    }

    /// Takes its subgroups as ones of `size` readings, where theirs differ a little.
    pub fn take_as_of_size(&mut self, size: u32) {
        self.size = size;
    }

    /// No step is taken from the subgroup before to the next, as from one lot to another.
    pub fn restart(&mut self) {
        self.moving.last = None;
    }

    /// Number of subgroups.
    #[must_use]
    pub fn count(&self) -> u32 {
        self.count
    }

    fn average(&self, sum: f64) -> Option<f64> {
        (self.count > 0).then(|| sum / f64::from(self.count))
    }

    /// Mean of the subgroup means.
    #[must_use]
    pub fn grand_mean(&self) -> Option<f64> {
        self.average(self.mean * f64::from(self.count))
    }

    /// Mean range.
    #[must_use]
    pub fn mean_range(&self) -> Option<f64> {
        self.average(self.ranges)
    }

    /// Mean standard deviation.
    #[must_use]
    pub fn mean_sd(&self) -> Option<f64> {
        self.average(self.deviations)
    }

    /// Factors of ranges, which take an integration: only where ranges are asked for.
    fn factors(&self) -> Option<ChartFactors> {
        ChartFactors::of(self.size)
    }

    /// Sigma within subgroups from the mean range.
    #[must_use]
    pub fn sigma_from_ranges(&self) -> Option<f64> {
        Some(self.mean_range()? / self.factors()?.d2)
    }

    /// Sigma within subgroups from the mean standard deviation.
    #[must_use]
    pub fn sigma_from_sds(&self) -> Option<f64> {
        Some(self.mean_sd()? / c4(self.size)?)
    }

    /// Sigma within subgroups from the pooled variance.
    #[must_use]
    pub fn sigma_pooled(&self) -> Option<f64> {
        self.average(self.squares).map(f64::sqrt)
    }

    /// Variance of the subgroup means, divisor one less than their number.
    #[must_use]
    pub fn variance_of_means(&self) -> Option<f64> {
        (self.count > 1).then(|| self.scatter / f64::from(self.count - 1))
    }

    /// Standard deviation of the subgroups' standard deviations.
    fn sd_of_sds(&self) -> Option<f64> {
        let mean = self.mean_sd()?;
        Some((self.average(self.squares)? - mean * mean).max(0.0).sqrt())
    }

    /// Sigma between subgroups: what the variance of the means leaves once the pooled
    /// variance over n is taken off (one-way analysis of variance; zero where that is
    /// negative).
    #[must_use]
    pub fn sigma_between(&self) -> Option<f64> {
        let within = self.sigma_pooled()?.powi(2) / f64::from(self.size);
        Some((self.variance_of_means()? - within).max(0.0).sqrt())
    }

    /// Lag-1 autocorrelation of the subgroup means, by von Neumann's ratio: one less half
    /// the mean squared step over the variance. None of fewer than three.
    #[must_use]
    pub fn lag1_of_means(&self) -> Option<f64> {
        let variance = self.variance_of_means().filter(|_| self.count > 2)?;
        let ratio = 1.0 - 0.5 * self.moving.mean_square()? / variance;
        ratio.is_finite().then_some(ratio)
    }

    /// Standard deviation of a subgroup mean on a basis.
    fn sigma_of_mean(&self, basis: Basis) -> Option<f64> {
        let root = f64::from(self.size).sqrt();
        match basis {
            Basis::Ranges => Some(self.sigma_from_ranges()? / root),
            Basis::Deviations => Some(self.sigma_from_sds()? / root),
            Basis::MovingRange => self.moving.sigma(),
            Basis::MovingRangeCorrected => {
                let r = self.lag1_of_means()?.clamp(0.0, 0.99);
                Some(self.moving.sigma()? / (1.0 - r).sqrt())
            }
            Basis::Components => Some((self.sigma_pooled()? / root).hypot(self.sigma_between()?)),
        }
    }

    /// Limits on a basis; none of fewer than two subgroups, or where nothing varies.
    #[must_use]
    pub fn limits(&self, basis: Basis) -> Option<SubgroupLimits> {
        if self.count < 2 {
            return None;
        }
        let by_range = basis == Basis::Ranges;
        let sigma_within =
            if by_range { self.sigma_from_ranges()? } else { self.sigma_from_sds()? };
        let spread = if by_range {
            let width = self.factors()?.d3 * sigma_within;
            Limits::of_spread(self.mean_range()?, width, self.size)?
        } else {
            let expected = (1.0 - c4(self.size)?.powi(2)).sqrt() * sigma_within;
            let seen = if basis.trusts_what_is_within() { 0.0 } else { self.sd_of_sds()? };
            Limits::of_spread(self.mean_sd()?, expected.max(seen), self.size)?
        };
        let mean = Limits::three_sigma(self.grand_mean()?, self.sigma_of_mean(basis)?, self.size)?;
        Some(SubgroupLimits {
            mean,
            spread,
            by_range,
            sigma_within,
            sigma_between: self.sigma_between()?,
        })
    }

    /// The model of the means that takes their autocorrelation out.
    #[must_use]
    pub fn whitener(&self) -> Option<Whitener> {
        let r = self.lag1_of_means()?.clamp(0.0, 0.99);
        Whitener::new(self.grand_mean()?, self.variance_of_means()?.sqrt(), r)
    }
}
