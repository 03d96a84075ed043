//! The F distribution, by the beta distribution (Abramowitz and Stegun 26.6.2).

use super::{Split, beta};

/// Shares of F below and above `f`, for degrees of freedom of the
/// numerator and the denominator, both positive.
#[must_use]
pub fn tails(numerator: f64, denominator: f64, f: f64) -> Option<Split> {
    if f.is_nan() || !(numerator > 0.0 && denominator > 0.0) {
        return None;
    }
    let odds = numerator / denominator * f.max(0.0);
    let at = beta::Point { x: 1.0 / (1.0 + 1.0 / odds), rest: 1.0 / (1.0 + odds) };
    beta::tails(0.5 * numerator, 0.5 * denominator, at)
}

/// The point of F with the shares `split` below and above it.
#[must_use]
pub fn quantile(numerator: f64, denominator: f64, split: Split) -> Option<f64> {
    let at = beta::quantile(0.5 * numerator, 0.5 * denominator, split)?;
    let f = at.x / at.rest * denominator / numerator;
    f.is_finite().then_some(f)
}
