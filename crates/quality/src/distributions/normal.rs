//! The standard normal distribution. The error function is that of libm: the one of statrs
//! 0.19 is off by 8e-11 near one standard deviation.

use super::Split;
use libm::erfc;
use statrs::function::erf::erfc_inv;
use std::f64::consts::{FRAC_1_SQRT_2, PI, SQRT_2};

/// Density at `z`.
#[must_use]
pub fn density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * PI).sqrt()
}

/// Share below `z`; not a number for what is none.
#[must_use]
pub fn below(z: f64) -> f64 {
    0.5 * erfc(-z * FRAC_1_SQRT_2)
}

/// Shares below and above `z`; none for what is not a number.
#[must_use]
pub fn tails(z: f64) -> Option<Split> {
    (!z.is_nan()).then(|| Split { below: below(z), above: below(-z) })
}

/// The point with the shares `split` below and above it; none where one of them is not a
/// proper share. The library's value is corrected by one step of Halley.
#[must_use]
pub fn quantile(split: Split) -> Option<f64> {
    if !split.is_inside() {
        return None;
    }
    let tail = split.below.min(split.above);
    let z = -SQRT_2 * erfc_inv(2.0 * tail);
    let step = (below(z) - tail) / density(z);
    let halley = step / (1.0 + 0.5 * z * step);
    let z = if halley.is_finite() { z - halley } else { z };
    z.is_finite().then_some(if split.below <= split.above { z } else { -z })
}

/// The point with the share `p` below it; none unless 0 < p < 1.
#[must_use]
pub fn quantile_below(p: f64) -> Option<f64> {
    quantile(Split::with_below(p)?)
}

/// Logarithm of the share below `z`, without underflow.
pub(crate) fn ln_below(z: f64) -> f64 {
    if z > -30.0 {
        return below(z).ln();
    }
    // Abramowitz and Stegun 26.2.12.
    let r = 1.0 / (z * z);
    let series = 1.0 - r * (1.0 - 3.0 * r * (1.0 - 5.0 * r * (1.0 - 7.0 * r)));
    -0.5 * z * z - (-z * (2.0 * PI).sqrt()).ln() + series.ln()
}

/// Density over share below.
pub(crate) fn density_over_below(z: f64) -> f64 {
    (-0.5 * z * z - 0.5 * (2.0 * PI).ln() - ln_below(z)).exp()
}
