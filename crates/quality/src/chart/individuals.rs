//! Individual readings and their moving ranges (ISO 7870-2:2013; NIST/SEMATECH e-Handbook
//! 6.3.2.2).

use super::Limits;
use crate::chart_factors::{ChartFactors, D2_OF_TWO};

/// Moving ranges of two along a sequence.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Moving {
    pub(super) last: Option<f64>,
    count: u64,
    pub(super) sum: f64,
    squares: f64,
}

impl Moving {
    /// Adds a value; its distance from the one before.
    pub(super) fn push(&mut self, x: f64) -> Option<f64> {
        let range = (x - self.last.replace(x)?).abs();
        self.count += 1;
        self.sum += range;
        self.squares += range * range;
        Some(range)
    }

    /// Adds the ranges of another sequence; none reaches from one to the other.
    pub(super) fn merge(&mut self, other: Self) {
        self.last = None;
        self.count += other.count;
        self.sum += other.sum;
        self.squares += other.squares;
    }

    #[expect(clippy::cast_precision_loss, reason = "a count")]
    pub(super) fn average(&self, sum: f64) -> Option<f64> {
        (self.count > 0).then(|| sum / self.count as f64)
    }

    pub(super) fn mean_square(&self) -> Option<f64> {
        self.average(self.squares)
    }

    pub(super) fn sigma(&self) -> Option<f64> {
        Some(self.average(self.sum)? / D2_OF_TWO)
    }
}

/// Sums over individual readings for a chart of individuals and moving ranges.
#[derive(Debug, Clone, Default)]
pub struct Individuals {
    count: u64,
    mean: f64,
    moving: Moving,
}

impl Individuals {
    /// Adds a reading; its moving range, from the second reading on. What is not finite
    /// is left out, and no range reaches across it.
    #[expect(clippy::cast_precision_loss, reason = "a count")]
    pub fn push(&mut self, x: f64) -> Option<f64> {
        if !x.is_finite() {
            self.moving.last = None;
            return None;
        }
        self.count += 1;
        self.mean += (x - self.mean) / self.count as f64;
        self.moving.push(x)
    }

    /// Mean of the readings.
    #[must_use]
    pub fn mean(&self) -> Option<f64> {
        (self.count > 0).then_some(self.mean)
    }

    /// Mean moving range.
    #[must_use]
    pub fn mean_range(&self) -> Option<f64> {
        self.moving.average(self.moving.sum)
    }

    /// Sigma from the mean moving range with divisor `d2`, [`D2_OF_TWO`] unless a rounded
    /// value of a table is to be followed.
    #[must_use]
    pub fn sigma(&self, d2: f64) -> Option<f64> {
        self.mean_range().map(|range| range / d2).filter(|sigma| sigma.is_finite())
    }

    /// Limits of the individual readings.
    #[must_use]
    pub fn limits(&self, d2: f64) -> Option<Limits> {
        Limits::three_sigma(self.mean()?, self.sigma(d2)?, 1)
    }

    /// Limits of the moving range.
    #[must_use]
    pub fn range_limits(&self) -> Option<Limits> {
        let factors = ChartFactors::of(2)?;
        Limits::of_spread(self.mean_range()?, self.sigma(factors.d2)? * factors.d3, 2)
    }
}
