//! The Poisson distribution, by the gamma distribution (Abramowitz and Stegun 26.4.21).

use super::{Split, gamma};

/// Chance of at most `k` events, and of more, where `mean` are expected. None unless the
/// mean is a number of zero or more.
#[must_use]
pub fn tails(k: u64, mean: f64) -> Option<Split> {
    if mean.is_nan() || mean < 0.0 {
        return None;
    }
    gamma::tails(k as f64 + 1.0, mean).map(Split::swapped)
}

/// The mean at which at most `k` events come with probability `split.below`.
#[must_use]
pub fn mean(k: u64, split: Split) -> Option<f64> {
    gamma::quantile(k as f64 + 1.0, split.swapped())
}
