//! Statistical tolerance intervals: limits that hold at least a share of all values with a
//! stated confidence, from a sample (ISO 16269-6:2014).
//!
//! Two kinds: factors for normal values, here, and ranks of the ordered sample where no
//! distribution is assumed, in [`order_statistics`]. Assumption of both: values are
//! independent.

pub mod order_statistics;
mod two_sided;

use crate::distributions::{Split, gamma, noncentral_t, normal};
pub use two_sided::{two_sided_factor, two_sided_factor_pooled};

/// Limits on both sides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

/// Factor k of a one-sided interval: at least the share `share` of a normal population lies
/// below mean + k sd (or above mean - k sd) with confidence `confidence`, mean and sd being
/// those of `n` values. Exact: quantile of the noncentral t over sqrt(n) (ISO 16269-6:2014,
/// 5.3 and annex C; NIST/SEMATECH e-Handbook, 7.2.6.3). None unless n >= 2 and both shares
/// lie between 0 and 1.
#[must_use]
pub fn one_sided_factor(n: u64, share: f64, confidence: f64) -> Option<f64> {
    let freedom = n.checked_sub(1)? as f64;
    one_sided_factor_pooled(n as f64, freedom, share, confidence)
}

/// The same where the sd has its own degrees of freedom, such as one pooled over several
/// samples, and the mean is one of `n` values.
#[must_use]
pub fn one_sided_factor_pooled(n: f64, freedom: f64, share: f64, confidence: f64) -> Option<f64> {
    let delta = noncentrality(n, share)?;
    let t = noncentral_t::quantile(freedom, delta, Split::with_below(confidence)?)?;
    Some(t / n.sqrt())
}

/// The noncentrality z_share sqrt(n) of the one-sided factor.
#[must_use]
pub fn noncentrality(n: f64, share: f64) -> Option<f64> {
    let delta = normal::quantile_below(share)? * n.sqrt();
    (n > 0.0 && delta.is_finite()).then_some(delta)
}

/// One-sided factor by Natrella's approximation (Experimental Statistics, 1963; NIST/SEMATECH
/// e-Handbook, 7.2.6.3); far off for small samples, and none where its root is not real.
#[must_use]
pub fn one_sided_factor_natrella(n: u64, share: f64, confidence: f64) -> Option<f64> {
    let freedom = n.checked_sub(1).filter(|f| *f > 0)? as f64;
    let (z_share, z) = (normal::quantile_below(share)?, normal::quantile_below(confidence)?);
    let a = 1.0 - z * z / (2.0 * freedom);
    let b = z_share * z_share - z * z / n as f64;
    let factor = (z_share + (z_share * z_share - a * b).sqrt()) / a;
    (a > 0.0 && factor.is_finite()).then_some(factor)
}

/// Two-sided factor by Howe's approximation (Howe 1969, Journal of the American Statistical
/// Association 64:610; NIST/SEMATECH e-Handbook, 7.2.6.3).
#[must_use]
pub fn two_sided_factor_howe(n: u64, share: f64, confidence: f64) -> Option<f64> {
    let freedom = n.checked_sub(1)? as f64;
    howe(n as f64, freedom, share, confidence)
}

fn howe(n: f64, freedom: f64, share: f64, confidence: f64) -> Option<f64> {
    let z = normal::quantile(half_outside(share)?)?;
    let least = gamma::chi_square_quantile(freedom, Split::with_above(confidence)?)?;
    Some(z * (freedom * (1.0 + 1.0 / n) / least).sqrt())
}

/// The split of the upper limit that leaves half of what lies outside above it.
fn half_outside(share: f64) -> Option<Split> {
    Split::with_above(0.5 * Split::with_below(share)?.above)
}

/// One-sided factor where the standard deviation is known: z_share + z_confidence / sqrt(n)
/// (ISO 16269-6:2014, 5.1).
#[must_use]
pub fn one_sided_factor_known_sd(n: u64, share: f64, confidence: f64) -> Option<f64> {
    let (z_share, z) = (normal::quantile_below(share)?, normal::quantile_below(confidence)?);
    (n > 0).then(|| z_share + z / (n as f64).sqrt())
}

/// Two-sided factor where the standard deviation is known: it holds the share for every mean
/// as far off as the confidence allows (ISO 16269-6:2014, 5.1).
#[must_use]
pub fn two_sided_factor_known_sd(n: u64, share: f64, confidence: f64) -> Option<f64> {
    let z = normal::quantile(half_outside(confidence)?)?;
    if n == 0 {
        return None;
    }
    two_sided::half_width(z / (n as f64).sqrt(), share)
}

/// The two-sided interval from mean and standard deviation of `n` normal values. None where
/// there is no factor, or the sd is negative or not a number.
#[must_use]
pub fn two_sided(n: u64, mean: f64, sd: f64, share: f64, confidence: f64) -> Option<Limits> {
    let reach = two_sided_factor(n, share, confidence)? * sd;
    (reach >= 0.0 && mean.is_finite()).then_some(Limits { low: mean - reach, high: mean + reach })
}

/// The upper limit of a one-sided interval.
#[must_use]
pub fn upper(n: u64, mean: f64, sd: f64, share: f64, confidence: f64) -> Option<f64> {
    let limit = mean + one_sided_factor(n, share, confidence)? * sd;
    (sd >= 0.0 && limit.is_finite()).then_some(limit)
}

/// The lower limit of a one-sided interval.
#[must_use]
pub fn lower(n: u64, mean: f64, sd: f64, share: f64, confidence: f64) -> Option<f64> {
    let limit = mean - one_sided_factor(n, share, confidence)? * sd;
    (sd >= 0.0 && limit.is_finite()).then_some(limit)
}

/// Fewest values whose interval fits: the smallest n at which the factor, two-sided or
/// one-sided, is at most `factor`, such as the distance from the mean to the limit over the
/// standard deviation. None where no n up to `most` does.
#[must_use]
pub fn values_needed(
    factor: f64,
    share: f64,
    confidence: f64,
    most: u64,
    factor_of: impl Fn(u64, f64, f64) -> Option<f64>,
) -> Option<u64> {
    let fits = |n: u64| Some(factor_of(n, share, confidence)? <= factor);
    let (mut short, mut enough) = (1_u64, 2_u64);
    while !fits(enough.min(most))? {
        if enough >= most {
            return None;
        }
        short = enough;
        enough = enough.saturating_mul(2);
    }
    enough = enough.min(most);
    while enough - short > 1 {
        let middle = short + (enough - short) / 2;
        if fits(middle)? { enough = middle } else { short = middle }
    }
    Some(enough)
}
