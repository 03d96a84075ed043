//! How sure an estimated capability index is. `n` is the number of values; where the
//! standard deviation has other degrees of freedom than n - 1 they are given beside it.

use crate::distributions::{Split, gamma, noncentral_t, normal};
use crate::proportion::each_side;

/// An interval for an index.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

/// Lower bound of Cp (or Pp) at one-sided confidence, for an sd of `freedom` degrees of
/// freedom: Cp sqrt(chi-square / freedom), exact for normal values (Montgomery, Introduction
/// to Statistical Quality Control, process capability; ISO 22514-4).
#[must_use]
pub fn cp_lower(cp: f64, freedom: f64, confidence: f64) -> Option<f64> {
    scaled(cp, freedom, Split::with_above(confidence)?)
}

/// Two-sided interval of Cp (or Pp), exact for normal values.
#[must_use]
pub fn cp_interval(cp: f64, freedom: f64, confidence: f64) -> Option<Interval> {
    let outer = Split::with_below(each_side(confidence)?)?;
    Some(Interval { low: scaled(cp, freedom, outer.swapped())?, high: scaled(cp, freedom, outer)? })
}

fn scaled(index: f64, freedom: f64, split: Split) -> Option<f64> {
    let chi = gamma::chi_square_quantile(freedom, split)?;
    let scaled = index * (chi / freedom).sqrt();
    scaled.is_finite().then_some(scaled)
}

/// Standard error of Cpk by Bissell (1990, Applied Statistics 39:331).
fn bissell(cpk: f64, n: f64, freedom: f64) -> Option<f64> {
    let error = (1.0 / (9.0 * n) + cpk * cpk / (2.0 * freedom)).sqrt();
    (n > 0.0 && freedom > 0.0 && error.is_finite()).then_some(error)
}

/// Lower bound of Cpk (or Ppk) at one-sided confidence, by Bissell's normal approximation:
/// there is no exact bound, since either limit may be the nearer one. On the unsure side
/// below some 25 values.
#[must_use]
pub fn cpk_lower(cpk: f64, n: f64, freedom: f64, confidence: f64) -> Option<f64> {
    let z = normal::quantile_below(confidence)?;
    Some(cpk - z * bissell(cpk, n, freedom)?)
}

/// Two-sided interval of Cpk (or Ppk), by the same approximation.
#[must_use]
pub fn cpk_interval(cpk: f64, n: f64, freedom: f64, confidence: f64) -> Option<Interval> {
    let z = normal::quantile_below(each_side(confidence)?)?;
    let half = z * bissell(cpk, n, freedom)?;
    Some(Interval { low: cpk - half, high: cpk + half })
}

/// Lower bound of a one-sided index, Cpu or Cpl, at one-sided confidence: exact for normal
/// values, the index at which so high an estimate comes with probability 1 - confidence
/// (noncentral t; Chou, Owen and Borrego 1990, Journal of Quality Technology 22:223).
#[must_use]
pub fn one_sided_lower(estimate: f64, n: f64, freedom: f64, confidence: f64) -> Option<f64> {
    one_sided(estimate, n, freedom, Split::with_below(confidence)?)
}

/// Two-sided interval of a one-sided index, exact for normal values.
#[must_use]
pub fn one_sided_interval(
    estimate: f64,
    n: f64,
    freedom: f64,
    confidence: f64,
) -> Option<Interval> {
    let split = Split::with_below(each_side(confidence)?)?;
    Some(Interval {
        low: one_sided(estimate, n, freedom, split)?,
        high: one_sided(estimate, n, freedom, split.swapped())?,
    })
}

fn one_sided(estimate: f64, n: f64, freedom: f64, split: Split) -> Option<f64> {
    let scale = 3.0 * n.sqrt();
    let delta = noncentral_t::noncentrality(freedom, scale * estimate, split)?;
    (n > 0.0).then(|| delta / scale)
}

/// The least estimate of a one-sided index that shows the value `index` with confidence; a
/// third of the one-sided tolerance factor for the share Phi(3 index).
#[must_use]
pub fn one_sided_needed(index: f64, n: f64, freedom: f64, confidence: f64) -> Option<f64> {
    let scale = 3.0 * n.sqrt();
    let t = noncentral_t::quantile(freedom, scale * index, Split::with_below(confidence)?)?;
    (n > 0.0).then(|| t / scale)
}

/// Lower bound of Cpm at one-sided confidence, approximate: chi-square with the degrees of
/// freedom n (1 + d^2)^2 / (1 + 2 d^2), where d is the distance of the mean from the target
/// in standard deviations (Boyles 1991, Journal of Quality Technology 23:17).
#[must_use]
pub fn cpm_lower(cpm: f64, n: f64, off_target_sd: f64, confidence: f64) -> Option<f64> {
    let square = off_target_sd * off_target_sd;
    let freedom = n * (1.0 + square).powi(2) / (1.0 + 2.0 * square);
    scaled(cpm, freedom, Split::with_above(confidence)?)
}

/// Two-sided interval of Cpm, by the same approximation.
#[must_use]
pub fn cpm_interval(cpm: f64, n: f64, off_target_sd: f64, confidence: f64) -> Option<Interval> {
    let square = off_target_sd * off_target_sd;
    cp_interval(cpm, n * (1.0 + square).powi(2) / (1.0 + 2.0 * square), confidence)
}
