//! What a fitted line tells.

use crate::tails::{f_above, t_outside, t_within};

/// A straight line fitted by least squares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Number of points.
    pub n: u64,
    /// Degrees of freedom of the residuals.
    pub freedom: f64,
    /// y at x = 0; none of a line through the origin.
    pub intercept: Option<f64>,
    /// Change of y for one unit of x.
    pub slope: f64,
    /// Mean of x; 0 for a line through the origin.
    pub mean_x: f64,
    /// Mean of y; 0 for a line through the origin.
    pub mean_y: f64,
    /// Sum of squares of x, about its mean where there is an intercept.
    pub squares_x: f64,
    /// Sum of squares that the line explains, about the mean where there is an intercept.
    pub regression_squares: f64,
    /// Sum of squares of the residuals.
    pub residual_squares: f64,
}

/// An x worked out from new readings of y.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inverse {
    /// The x.
    pub x: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// How uncertain the slope is: (t se / slope)^2, below one.
    pub g: f64,
}

impl Line {
    /// Standard deviation of the residuals.
    #[must_use]
    pub fn residual_sd(&self) -> f64 {
        (self.residual_squares / self.freedom).sqrt()
    }

    /// Standard error of the slope.
    #[must_use]
    pub fn slope_se(&self) -> f64 {
        self.residual_sd() / self.squares_x.sqrt()
    }

    /// Standard error of the intercept; none of a line through the origin.
    #[must_use]
    pub fn intercept_se(&self) -> Option<f64> {
        self.intercept.map(|_| self.residual_sd() * self.leverage(0.0).sqrt())
    }

    /// Variance of the line at `x` over that of a reading.
    #[expect(clippy::cast_precision_loss, reason = "a count")]
    fn leverage(&self, x: f64) -> f64 {
        let shared = if self.intercept.is_some() { 1.0 / self.n as f64 } else { 0.0 };
        shared + (x - self.mean_x).powi(2) / self.squares_x
    }

    /// Share of the sum of squares that the line explains (about the mean, or about zero
    /// for a line through the origin); none where y does not vary.
    #[must_use]
    pub fn r_squared(&self) -> Option<f64> {
        let share = self.regression_squares / (self.regression_squares + self.residual_squares);
        share.is_finite().then_some(share)
    }

    /// F of the line; none where no residuals are left.
    #[must_use]
    pub fn f(&self) -> Option<f64> {
        let f = self.regression_squares * self.freedom / self.residual_squares;
        f.is_finite().then_some(f)
    }

    /// Probability of so large an F were the slope zero.
    #[must_use]
    pub fn slope_p(&self) -> Option<f64> {
        f_above(self.f()?, 1.0, self.freedom)
    }

    /// y of the line at `x`.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        self.mean_y + self.slope * (x - self.mean_x)
    }

    /// Interval for the slope.
    #[must_use]
    pub fn slope_interval(&self, confidence: f64) -> Option<(f64, f64)> {
        let half = t_within(confidence, self.freedom)? * self.slope_se();
        Some((self.slope - half, self.slope + half))
    }

    /// Interval for the mean of y at `x`.
    #[must_use]
    pub fn mean_interval(&self, x: f64, confidence: f64) -> Option<(f64, f64)> {
        self.interval(x, confidence, 0.0)
    }

    /// Interval for the mean of `m` further readings of y at `x`.
    #[must_use]
    pub fn prediction_interval(&self, x: f64, m: f64, confidence: f64) -> Option<(f64, f64)> {
        if m > 0.0 { self.interval(x, confidence, 1.0 / m) } else { None }
    }

    fn interval(&self, x: f64, confidence: f64, more: f64) -> Option<(f64, f64)> {
        let t = t_within(confidence, self.freedom)?;
        let half = t * self.residual_sd() * (self.leverage(x) + more).sqrt();
        let y = self.at(x);
        half.is_finite().then_some((y - half, y + half))
    }

    /// The x at which the mean of `m` new readings is `y`, with exact limits (Fieller
    /// 1954, Journal of the Royal Statistical Society B 16:175). None where the slope is
    /// so uncertain that there are no finite limits.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "a count")]
    pub fn inverse(&self, y: f64, m: f64, confidence: f64) -> Option<Inverse> {
        let reach = t_within(confidence, self.freedom)? * self.residual_sd();
        let g = (reach / self.slope).powi(2) / self.squares_x;
        if !(g < 1.0 && m > 0.0 && y.is_finite()) {
            return None;
        }
        let distance = (y - self.mean_y) / self.slope;
        let shared = if self.intercept.is_some() { 1.0 / self.n as f64 } else { 0.0 };
        let free = (1.0 - g) * (1.0 / m + shared) + distance * distance / self.squares_x;
        let half = (reach / self.slope).abs() * free.sqrt() / (1.0 - g);
        let middle = self.mean_x + distance / (1.0 - g);
        Some(Inverse { x: self.mean_x + distance, low: middle - half, high: middle + half, g })
    }

    /// Probability of so large a |t| for the slope with other standard error and freedom.
    pub(super) fn slope_p_with(&self, se: f64, freedom: f64) -> Option<f64> {
        t_outside(self.slope / se, freedom)
    }
}
