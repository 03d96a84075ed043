//! The binomial distribution, by the beta distribution (Abramowitz and Stegun 26.5.24).

use super::beta::Point;
use super::saddle::{deviance, stirling_error};
use super::{Split, beta};
use std::f64::consts::PI;

/// Share of samples of `n` with at most `k` hits, and with more, where each is a hit with
/// chance `p`. None unless 0 <= p <= 1.
#[must_use]
pub fn tails(n: u64, k: u64, p: f64) -> Option<Split> {
    tails_at(n, k, Point::new(p)?)
}

/// The same for a chance given with what is left of one.
#[must_use]
pub fn tails_at(n: u64, k: u64, p: Point) -> Option<Split> {
    if k >= n {
        return (0.0..=1.0).contains(&p.x).then_some(Split::ALL_BELOW);
    }
    beta::tails(k as f64 + 1.0, (n - k) as f64, p).map(Split::swapped)
}

/// The chance of a hit at which a sample of `n` has at most `k` hits with probability
/// `split.below`; it falls as that grows. None where `k` >= `n`: at most n hits is certain.
#[must_use]
pub fn chance(n: u64, k: u64, split: Split) -> Option<Point> {
    if k >= n {
        return None;
    }
    beta::quantile(k as f64 + 1.0, (n - k) as f64, split.swapped())
}

/// Chance of exactly `k` hits in `n` (Loader, Fast and accurate computation of binomial
/// probabilities, 2000); zero where k > n or p lies at an end that forbids it.
#[must_use]
pub fn chance_of(n: u64, k: u64, p: Point) -> f64 {
    let (size, hits) = (n as f64, k as f64);
    if k > n {
        return 0.0;
    }
    if k == 0 {
        return (size * (-p.x).ln_1p()).exp();
    }
    if k == n {
        return (size * (-p.rest).ln_1p()).exp();
    }
    if p.x <= 0.0 || p.rest <= 0.0 {
        return 0.0;
    }
    let misses = (n - k) as f64;
    let error = stirling_error(size) - stirling_error(hits) - stirling_error(misses);
    let exponent = error - deviance(hits, size * p.x) - deviance(misses, size * p.rest);
    exponent.exp() * (size / (2.0 * PI * hits * misses)).sqrt()
}
