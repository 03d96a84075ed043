//! Student's t distribution, by the beta distribution (Abramowitz and Stegun 26.7.1).

use super::{Split, beta};

/// Shares of Student's t below and above `t`, for `freedom` > 0 degrees, whole or not.
#[must_use]
pub fn tails(freedom: f64, t: f64) -> Option<Split> {
    if !(freedom > 0.0 && freedom.is_finite()) || t.is_nan() {
        return None;
    }
    // Over the larger of the two, so that no square overflows.
    let (root, size) = (freedom.sqrt(), t.abs());
    let ratio = (root.min(size) / root.max(size)).powi(2);
    let (small, large) = (ratio / (1.0 + ratio), 1.0 / (1.0 + ratio));
    let (x, rest) = if size > root { (small, large) } else { (large, small) };
    let at = beta::Point { x, rest };
    let beyond = 0.5 * beta::tails(0.5 * freedom, 0.5, at)?.below;
    let upper = Split { below: 1.0 - beyond, above: beyond };
    Some(if t > 0.0 { upper } else { upper.swapped() })
}

/// The point of Student's t with the shares `split` below and above it.
#[must_use]
pub fn quantile(freedom: f64, split: Split) -> Option<f64> {
    if !(freedom > 0.0 && freedom.is_finite() && split.is_inside()) {
        return None;
    }
    let tail = split.below.min(split.above);
    if tail >= 0.5 {
        return Some(0.0);
    }
    let both = Split { below: 2.0 * tail, above: 1.0 - 2.0 * tail };
    let at = beta::quantile(0.5 * freedom, 0.5, both)?;
    let t = (freedom * at.rest / at.x).sqrt();
    t.is_finite().then_some(if split.below < split.above { -t } else { t })
}
