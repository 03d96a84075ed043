//! What a count of rare events says of their rate, such as inclusions per metre.
//!
//! Assumption: events come independently and at one rate (a Poisson process);
//! [`dispersion`] tests that.

use crate::distributions::{Split, beta, binomial, gamma, poisson};
use crate::proportion::{self, each_side};

/// A rate with its interval, in events per unit of length (or time).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rate {
    /// Events over length.
    pub rate: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

/// Lower limit of the expected count at one-sided confidence `confidence` (Garwood 1936,
/// Biometrika 28:437); zero where none was found.
#[must_use]
pub fn count_lower(count: u64, confidence: f64) -> Option<f64> {
    let split = Split::with_above(confidence)?;
    if count == 0 {
        return Some(0.0);
    }
    gamma::quantile(count as f64, split)
}

/// Upper limit of the expected count at one-sided confidence `confidence` (Garwood 1936).
/// With none found it is -ln(1 - confidence).
#[must_use]
pub fn count_upper(count: u64, confidence: f64) -> Option<f64> {
    poisson::mean(count, Split::with_above(confidence)?)
}

/// Two-sided limits of the expected count, half of what is left of the confidence on either
/// side (Garwood 1936). They hold the true value with at least the confidence.
#[must_use]
pub fn garwood(count: u64, confidence: f64) -> Option<(f64, f64)> {
    let one_sided = each_side(confidence)?;
    Some((count_lower(count, one_sided)?, count_upper(count, one_sided)?))
}

/// The rate of `count` events over `length` with two-sided limits by Garwood. None unless
/// the length is positive and finite.
#[must_use]
pub fn rate(count: u64, length: f64, confidence: f64) -> Option<Rate> {
    let (low, high) = garwood(count, confidence)?;
    positive(length).then(|| Rate {
        rate: count as f64 / length,
        low: low / length,
        high: high / length,
    })
}

/// Upper limit of the rate at one-sided confidence `confidence`.
#[must_use]
pub fn rate_upper(count: u64, length: f64, confidence: f64) -> Option<f64> {
    let most = count_upper(count, confidence)?;
    positive(length).then(|| most / length)
}

fn positive(x: f64) -> bool {
    x > 0.0 && x.is_finite()
}

/// Two counts over two lengths.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Comparison {
    /// First rate over second; none where the second count is zero.
    pub ratio: Option<f64>,
    /// Lower limit of the ratio.
    pub ratio_low: f64,
    /// Upper limit; none where the second count is zero: there is no limit.
    pub ratio_high: Option<f64>,
    /// Two-sided probability of counts no likelier than these, were the rates equal.
    pub p_minimum_likelihood: f64,
    /// Twice the smaller one-sided probability, at most one.
    pub p_doubled: f64,
}

/// Compares the rates of `first` and `second`, each a count over a length: given the sum, the
/// first count is binomial (Przyborowski and Wilenski 1940, Biometrika 31:313); the limits of
/// the ratio are those of Clopper and Pearson for that share. None unless the lengths are
/// positive and something was counted.
#[must_use]
pub fn compare(first: (u64, f64), second: (u64, f64), confidence: f64) -> Option<Comparison> {
    let ((x1, length1), (x2, length2)) = (first, second);
    let n = x1.checked_add(x2).filter(|n| *n > 0)?;
    if !positive(length1) || !positive(length2) {
        return None;
    }
    let per_length = length2 / length1;
    let one_sided = each_side(confidence)?;
    let low = proportion::lower(x1, n, one_sided)?;
    // What is left of the upper limit is the lower limit of the other share.
    let rest = proportion::lower(x2, n, one_sided)?;
    let low_rest = proportion::upper(x2, n, one_sided)?;
    let high = proportion::upper(x1, n, one_sided)?;
    let share = length1 / (length1 + length2);
    let at = beta::Point { x: share, rest: length2 / (length1 + length2) };
    let (at_most, at_least) = one_sided_tests(n, x1, at)?;
    Some(Comparison {
        ratio: (x2 > 0).then(|| x1 as f64 / x2 as f64 * per_length),
        ratio_low: low / low_rest * per_length,
        ratio_high: (x2 > 0).then(|| high / rest * per_length),
        p_minimum_likelihood: no_likelier(n, x1, at)?,
        p_doubled: (2.0 * at_most.min(at_least)).min(1.0),
    })
}

/// Probabilities of at most and of at least `x` of `n`.
fn one_sided_tests(n: u64, x: u64, at: beta::Point) -> Option<(f64, f64)> {
    let at_most = binomial::tails_at(n, x, at)?.below;
    let at_least = match x.checked_sub(1) {
        None => 1.0,
        Some(less) => binomial::tails_at(n, less, at)?.above,
    };
    Some((at_most, at_least))
}

/// Probability of all counts of `n` that are no likelier than `x`, within 1e-7 of its
/// chance: one tail from x on, and the other from the first that is as unlikely.
fn no_likelier(n: u64, x: u64, at: beta::Point) -> Option<f64> {
    let (p, flipped) = (at, beta::Point { x: at.rest, rest: at.x });
    if x as f64 > n as f64 * p.x {
        // Seen from the other side the count lies below its mean.
        return no_likelier_below(n, n - x, flipped);
    }
    no_likelier_below(n, x, p)
}

fn no_likelier_below(n: u64, x: u64, p: beta::Point) -> Option<f64> {
    let limit = binomial::chance_of(n, x, p) * (1.0 + 1e-7);
    let at_most = binomial::tails_at(n, x, p)?.below;
    // Chances rise up to the mode and fall beyond it.
    let (mut likely, mut far) = (mode(n, p).max(x), n.checked_add(1)?);
    if binomial::chance_of(n, likely, p) <= limit {
        return Some(1.0);
    }
    while far - likely > 1 {
        let middle = likely + (far - likely) / 2;
        if binomial::chance_of(n, middle, p) > limit { likely = middle } else { far = middle }
    }
    let beyond = binomial::tails_at(n, likely, p)?.above;
    Some((at_most + beyond).min(1.0))
}

/// The likeliest count.
fn mode(n: u64, p: beta::Point) -> u64 {
    (((n as f64 + 1.0) * p.x) as u64).min(n)
}

/// Counts in equal lengths, tested for one common rate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dispersion {
    /// Mean count.
    pub mean: f64,
    /// Sum of squared deviations over the mean.
    pub statistic: f64,
    /// Degrees of freedom, one less than the number of counts.
    pub freedom: f64,
    /// Probability of so large a statistic under one rate: chi-square.
    pub p_upper: f64,
}

/// Index of dispersion (Fisher 1925, Statistical Methods for Research Workers, section 16):
/// whether counts in equal lengths spread more than one rate explains. None of fewer than
/// two counts or where nothing was counted.
#[must_use]
pub fn dispersion(counts: &[u64]) -> Option<Dispersion> {
    let n = counts.len() as f64;
    let mean = counts.iter().map(|x| *x as f64).sum::<f64>() / n;
    if counts.len() < 2 || mean <= 0.0 {
        return None;
    }
    let statistic = counts.iter().map(|x| (*x as f64 - mean).powi(2)).sum::<f64>() / mean;
    let freedom = n - 1.0;
    let p_upper = gamma::chi_square_tails(freedom, statistic)?.above;
    Some(Dispersion { mean, statistic, freedom, p_upper })
}
