//! Drift along a spool, with a standard error that allows for readings that follow one
//! another.

use super::{Line, LineSums};
use crate::tails::t_within;

/// Fewest independent readings a drift is judged by.
const FEWEST: f64 = 4.0;

/// Sums over readings in order of position, evenly spaced or nearly.
#[derive(Debug, Clone)]
pub struct DriftSums {
    sums: LineSums,
    first: (f64, f64),
    last: (f64, f64),
    /// Sums over neighbours of x x', x y' + y x', y y', about the first point.
    products: [f64; 3],
    /// Sums of x and y about the first point.
    totals: (f64, f64),
}

/// A drift.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drift {
    /// The fitted line; its own standard errors take readings as independent.
    pub line: Line,
    /// Lag-1 autocorrelation of the residuals, corrected for the bias of a fitted line.
    pub lag1: f64,
    /// Independent readings that would tell the slope as well.
    pub effective: f64,
    /// Standard error of the slope, allowing for the autocorrelation.
    pub slope_se: f64,
    /// Probability of so steep a slope were there no drift.
    pub p: f64,
}

impl Default for DriftSums {
    fn default() -> Self {
        Self {
            sums: LineSums::with_intercept(),
            first: (0.0, 0.0),
            last: (0.0, 0.0),
            products: [0.0; 3],
            totals: (0.0, 0.0),
        }
    }
}

impl DriftSums {
    /// Adds a reading `y` at position `x`; one that is not finite is left out.
    pub fn push(&mut self, x: f64, y: f64) {
        if !x.is_finite() || !y.is_finite() {
            return;
        }
        if self.sums.n() == 0 {
            self.first = (x, y);
        }
        self.sums.push(x, y);
        let (x, y) = (x - self.first.0, y - self.first.1);
        let (last_x, last_y) = self.last;
        self.products[0] += last_x * x;
        self.products[1] += last_x * y + last_y * x;
        self.products[2] += last_y * y;
        self.totals.0 += x;
        self.totals.1 += y;
        self.last = (x, y);
    }

    /// Number of readings.
    #[must_use]
    pub fn n(&self) -> u64 {
        self.sums.n()
    }

    /// Sum of products of neighbouring residuals of a line.
    #[expect(clippy::cast_precision_loss, reason = "a count")]
    pub(super) fn neighbours(&self, line: &Line) -> f64 {
        let b = line.slope;
        // Residual of the first point, from which all others are counted.
        let a = line.at(self.first.0) - self.first.1;
        // With u = y - b x about the first point, residuals are u - a, and u is zero there.
        let products = self.products[2] - b * self.products[1] + b * b * self.products[0];
        let total = self.totals.1 - b * self.totals.0;
        let last = self.last.1 - b * self.last.0;
        let pairs = self.sums.n() as f64 - 1.0;
        products - a * (2.0 * total - last) + pairs * a * a
    }

    /// The drift. Residuals are taken as a first-order autoregression, and n readings
    /// count as n (1 - r) / (1 + r) in the variance of the residuals and its degrees of
    /// freedom (Santer et al. 2000, Journal of Geophysical Research 105:7337), r being raised by (2 + 4 r) / n, what a fitted line takes off it
    /// (Kendall 1954, Biometrika 41:403, for a mean; the same argument for a line). A
    /// negative r is not taken as a gain. Where residuals are noise of the gauge upon a
    /// slow wander of the line, r understates the wander: use means of a metre or so.
    ///
    /// None where fewer than four independent readings are left, or nothing varies.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "a count")]
    pub fn drift(&self) -> Option<Drift> {
        let line = self.sums.line()?;
        let n = line.n as f64;
        let seen = self.neighbours(&line) / line.residual_squares;
        let lag1 = (seen + (2.0 + 4.0 * seen.max(0.0)) / n).clamp(-1.0, 1.0);
        let r = lag1.max(0.0);
        let effective = n * (1.0 - r) / (1.0 + r);
        if !(seen.is_finite() && effective >= FEWEST) {
            return None;
        }
        let freedom = effective - 2.0;
        let slope_se = (line.residual_squares / freedom / line.squares_x).sqrt();
        let p = line.slope_p_with(slope_se, freedom)?;
        Some(Drift { line, lag1, effective, slope_se, p })
    }
}

impl Drift {
    /// Interval for the slope.
    #[must_use]
    pub fn slope_interval(&self, confidence: f64) -> Option<(f64, f64)> {
        let half = t_within(confidence, self.effective - 2.0)? * self.slope_se;
        Some((self.line.slope - half, self.line.slope + half))
    }
}
