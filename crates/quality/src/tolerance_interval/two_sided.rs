//! The exact two-sided factor.

use super::{half_outside, howe};
use crate::distributions::saddle::gamma_density;
use crate::distributions::{Split, gamma, normal, point_of, root};

/// Largest deviation of the mean that counts, in its standard errors: 2e-23 lies beyond.
const FAR: f64 = 10.0;
/// Step of the rule where the sample decides; the error falls as exp(-2 pi d / step), with d
/// above one.
const STEP: f64 = 0.1;
/// Most steps; more would be needed only for a standard deviation that is known so well
/// against the mean that it may be taken as known.
const STEPS: f64 = 20_000.0;

/// Factor k of a two-sided interval: at least the share `share` of a normal population lies
/// within mean +- k sd with confidence `confidence`, mean and sd being those of `n` values.
/// Exact: k solves E P(chi-square > freedom r^2 / k^2) = confidence, the mean taken over
/// x ~ N(0, 1/n), where Phi(x + r) - Phi(x - r) = share (Odeh and Owen 1980, Tables for
/// normal tolerance limits; ISO 16269-6:2014, annexes E and F, which rounds up). None unless
/// n >= 2 and both shares lie between 0 and 1.
#[must_use]
pub fn two_sided_factor(n: u64, share: f64, confidence: f64) -> Option<f64> {
    let freedom = n.checked_sub(1)? as f64;
    two_sided_factor_pooled(n as f64, freedom, share, confidence)
}

/// The same where the sd has its own degrees of freedom, such as one pooled over several
/// samples (ISO 16269-6:2014, 5.4), and the mean is one of `n` values. None, too, for more
/// than some 10^6 `n` degrees of freedom: take the standard deviation as known.
#[must_use]
pub fn two_sided_factor_pooled(n: f64, freedom: f64, share: f64, confidence: f64) -> Option<f64> {
    let wanted = Split::with_below(confidence)?;
    if !(n > 0.0 && n.is_finite() && freedom > 0.0 && freedom.is_finite()) {
        return None;
    }
    let widths = widths(n, freedom, share)?;
    let start = howe(n, freedom, share, confidence)?.ln();
    point_of(wanted, start, 0.1, |log| shares(&widths, freedom, log.exp())).map(f64::exp)
}

/// Weights and half widths r over the deviation of the mean: the trapezoidal rule for an
/// even, analytic function that vanishes like a normal density, on one side.
fn widths(n: f64, freedom: f64, share: f64) -> Option<Vec<(f64, f64)>> {
    let root = n.sqrt();
    // Over one of x, r grows by the part tanh(x r) / r of itself.
    let growth = (1.0 / half_width(0.0, share)?).min(FAR / root);
    let narrow = 0.4 * root / (growth * (2.0 * freedom).sqrt());
    let steps = (FAR / narrow.min(STEP)).ceil();
    if steps > STEPS {
        return None;
    }
    let step = FAR / steps;
    (0..=steps as u32)
        .map(|i| {
            let z = step * f64::from(i);
            let both = if i == 0 { 1.0 } else { 2.0 };
            Some((both * step * normal::density(z), half_width(z / root, share)?))
        })
        .collect()
}

/// Confidence of the factor `k`, what is left of it, and the slope over ln k.
fn shares(widths: &[(f64, f64)], freedom: f64, k: f64) -> Option<(Split, f64)> {
    let mut sum = Split { below: 0.0, above: 0.0 };
    let mut slope = 0.0;
    for (weight, r) in widths {
        let x = 0.5 * freedom * (r / k).powi(2);
        let chi = gamma::tails(0.5 * freedom, x)?;
        sum.below += weight * chi.above;
        sum.above += weight * chi.below;
        slope += weight * 2.0 * if x > 0.0 { gamma_density(0.5 * freedom, x) } else { 0.0 };
    }
    Some((sum, slope))
}

/// Half the width r of an interval around `x` that holds the share `share` of the standard
/// normal distribution.
pub(super) fn half_width(x: f64, share: f64) -> Option<f64> {
    let outside = Split::with_below(share)?.above;
    let start = normal::quantile(half_outside(share)?)?;
    if x == 0.0 {
        return Some(start);
    }
    root::of_increasing(start.max(x), start, |r| {
        let rest = normal::below(-(x + r)) + normal::below(x - r);
        let density = normal::density(x + r) + normal::density(r - x);
        Some((outside.ln() - rest.ln(), density / rest))
    })
}
