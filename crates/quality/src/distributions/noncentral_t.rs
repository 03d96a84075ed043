//! The noncentral t distribution: a normal variable of mean delta and variance one, over
//! the root of an independent chi-square over its degrees of freedom.

use super::normal::{density_over_below, ln_below};
use super::saddle::stirling_error;
use super::{Split, normal, point_of, root};
use std::f64::consts::PI;

/// Most points on one side of the peak; more would be needed where the noncentrality is some
/// 10^4 times the root of the degrees of freedom, and there is no answer then.
const POINTS: u32 = 500_000;
/// Points further out than that add nothing.
const NOTHING: f64 = 1e-18;

/// A probability with its derivatives.
struct Below {
    share: f64,
    /// By t.
    by_t: f64,
    /// By delta.
    by_delta: f64,
}

/// Share below `t`: the mean of Phi(t s - delta) over s, where freedom s^2 is chi-square.
/// In v = ln s the integrand has one peak and is analytic in a strip, so that the
/// trapezoidal rule converges geometrically (Trefethen and Weideman, SIAM Review 56 (2014)
/// 385-458). Its parts are positive: small shares keep their digits.
fn below(freedom: f64, delta: f64, t: f64) -> Option<Below> {
    let log = |v: f64| freedom * well(v) + ln_below(t * v.exp() - delta);
    let width = 1.0 / ((2.0 * freedom).sqrt() + delta.abs());
    // The slope of the logarithm over s falls with s: it has one root, the peak.
    let peak = root::of_increasing(0.0, width, |v| {
        let s = v.exp();
        let rise = freedom * (1.0 / s - s) + t * density_over_below(t * s - delta);
        Some((-rise, freedom * (1.0 / s + s)))
    })?;
    let top = log(peak);
    let step = (0.5 * width).min(0.12);
    let (mut sum, mut by_t, mut by_delta) = (0.0, 0.0, 0.0);
    for direction in [-1.0, 1.0] {
        let first = u32::from(direction > 0.0);
        let mut ended = false;
        for i in first..POINTS {
            let v = peak + direction * f64::from(i) * step;
            let term = (log(v) - top).exp();
            let slope = term * density_over_below(t * v.exp() - delta);
            sum += term;
            by_t += slope * v.exp();
            by_delta -= slope;
            ended = term <= NOTHING * sum;
            if ended {
                break;
            }
        }
        if !ended {
            return None;
        }
    }
    let scale = step * 2.0 * (0.25 * freedom / PI).sqrt();
    let scale = scale * (top - stirling_error(0.5 * freedom)).exp();
    let share = scale * sum;
    share.is_finite().then(|| Below {
        share: share.min(1.0),
        by_t: scale * by_t,
        by_delta: scale * by_delta,
    })
}

/// v - (e^2v - 1) / 2, the logarithm of the density of v over the degrees of freedom.
fn well(v: f64) -> f64 {
    if v.abs() > 0.05 {
        return v - 0.5 * (2.0 * v).exp_m1();
    }
    let (mut sum, mut term) = (0.0, v);
    for k in 2..14 {
        term *= 2.0 * v / f64::from(k);
        sum -= term;
    }
    sum
}

fn proper(freedom: f64, delta: f64) -> bool {
    freedom > 0.0 && freedom.is_finite() && delta.is_finite()
}

/// Shares of the noncentral t below and above `t`, for `freedom` > 0 degrees and the
/// noncentrality `delta`.
#[must_use]
pub fn tails(freedom: f64, delta: f64, t: f64) -> Option<Split> {
    with_slopes(freedom, delta, t).map(|(split, _)| split)
}

/// The shares, and the share below with its slopes or, where that is more than half, those
/// of the share above by -t and -delta, which are the same.
fn with_slopes(freedom: f64, delta: f64, t: f64) -> Option<(Split, Below)> {
    if !proper(freedom, delta) || t.is_nan() {
        return None;
    }
    let lower = below(freedom, delta, t)?;
    if lower.share <= 0.5 {
        return Some((Split::of_below(lower.share)?, lower));
    }
    let upper = below(freedom, -delta, -t)?;
    Some((Split::of_above(upper.share)?, upper))
}

/// The point of the noncentral t with the shares `split` below and above it.
#[must_use]
pub fn quantile(freedom: f64, delta: f64, split: Split) -> Option<f64> {
    if !proper(freedom, delta) {
        return None;
    }
    let z = normal::quantile(split)?;
    let spread = (1.0 + 0.5 * delta * delta / freedom).sqrt();
    point_of(split, delta + z * spread, spread, |t| {
        let (shares, slopes) = with_slopes(freedom, delta, t)?;
        Some((shares, slopes.by_t))
    })
}

/// The noncentrality at which the point `t` has the shares `split` below and above it; the
/// share below falls as it grows.
#[must_use]
pub fn noncentrality(freedom: f64, t: f64, split: Split) -> Option<f64> {
    if !proper(freedom, t) {
        return None;
    }
    let spread = (1.0 + 0.5 * t * t / freedom).sqrt();
    let near_normal = t - normal::quantile(split)? * spread;
    // With few degrees of freedom the normal guess may be far too large to begin with.
    let (start, reach) = if spread < 0.2 * t.abs() { (near_normal, spread) } else { (0.0, 1.0) };
    point_of(split.swapped(), start, reach, |delta| {
        let (shares, slopes) = with_slopes(freedom, delta, t)?;
        Some((shares.swapped(), -slopes.by_delta))
    })
}
