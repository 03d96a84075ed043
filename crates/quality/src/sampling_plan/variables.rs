//! Sampling by variables: judge a lot by mean and standard deviation of a measured value.
//!
//! Assumption: the value is normal within the lot. Form 1 accepts when a limit lies at least
//! k standard deviations from the mean; form 2 when the estimated share outside is at most M
//! (MIL-STD-414 (1957), section B; ISO 3951-1 and -2; ANSI/ASQ Z1.9).

mod table;

use super::Risks;
use crate::distributions::beta::{self, Point};
use crate::distributions::{Split, noncentral_t, normal};
pub use table::{standard_k, standard_m};

/// Largest sample that a design tries.
const MOST: u64 = 1 << 40;

/// Quality index of a limit: its distance from the mean, outwards, in standard deviations.
/// `side` tells an upper limit from a lower one. None unless sd > 0.
#[must_use]
pub fn quality_index(mean: f64, sd: f64, limit: f64, side: Side) -> Option<f64> {
    let distance = match side {
        Side::Upper => limit - mean,
        Side::Lower => mean - limit,
    };
    let index = distance / sd;
    (sd > 0.0 && index.is_finite()).then_some(index)
}

/// Which limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The upper one.
    Upper,
    /// The lower one.
    Lower,
}

/// Minimum-variance unbiased estimate of the share beyond a limit with the quality index
/// `q`, from `n` values: the share of a symmetric beta variable of parameters n/2 - 1 below
/// 1/2 - q sqrt(n) / (2 (n - 1)) (Lieberman and Resnikoff 1955, Journal of the American
/// Statistical Association 50:457). With q = k it is M. None unless n >= 3.
#[must_use]
pub fn share_beyond(n: u64, q: f64) -> Option<f64> {
    let (size, shape) = shape(n)?;
    let off = 0.5 * q * size.sqrt() / (size - 1.0);
    let at = Point { x: (0.5 - off).clamp(0.0, 1.0), rest: (0.5 + off).clamp(0.0, 1.0) };
    beta::tails(shape, shape, at).map(|split| split.below)
}

/// The k that does the same for one limit as the largest estimated share `m`: the inverse of
/// [`share_beyond`].
#[must_use]
pub fn k_of_share(n: u64, m: f64) -> Option<f64> {
    let (size, shape) = shape(n)?;
    let at = beta::quantile(shape, shape, Split::with_below(m)?)?;
    Some((at.rest - at.x) * (size - 1.0) / size.sqrt())
}

/// Sample size and parameter of the beta distribution.
fn shape(n: u64) -> Option<(f64, f64)> {
    (n >= 3).then_some((n as f64, 0.5 * n as f64 - 1.0))
}

/// A plan for one limit: accept when the quality index of `n` values is at least `k`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plan {
    /// Values in the sample.
    pub n: u64,
    /// Acceptability constant.
    pub k: f64,
}

impl Plan {
    /// Probability to accept a lot with the share `bad` beyond the limit, where the standard
    /// deviation is estimated from the sample: noncentral t. None unless n >= 2 and
    /// 0 < bad < 1.
    #[must_use]
    pub fn acceptance(self, bad: f64) -> Option<f64> {
        let root = (self.n as f64).sqrt();
        let delta = normal::quantile(Split::with_above(bad)?)? * root;
        let freedom = self.n.checked_sub(1)? as f64;
        noncentral_t::tails(freedom, delta, self.k * root).map(|split| split.above)
    }

    /// The same where the standard deviation of the process is known.
    #[must_use]
    pub fn acceptance_known_sd(self, bad: f64) -> Option<f64> {
        let z = normal::quantile(Split::with_above(bad)?)?;
        let share = normal::below((z - self.k) * (self.n as f64).sqrt());
        (self.n > 0 && share.is_finite()).then_some(share)
    }
}

/// The smallest plan that keeps two risks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Design {
    /// Values in the sample.
    pub n: u64,
    /// Smallest k that keeps the consumer's risk.
    pub k_min: f64,
    /// Largest k that keeps the producer's risk.
    pub k_max: f64,
}

/// Smallest plan for one limit with the standard deviation estimated from the sample, exact
/// by the noncentral t.
#[must_use]
pub fn smallest(risks: Risks) -> Option<Design> {
    let range = |n: u64| -> Option<Design> {
        let (size, freedom) = (n as f64, n.checked_sub(1)? as f64);
        let k = |bad: Split, below: Split| {
            let delta = normal::quantile(bad)? * size.sqrt();
            Some(noncentral_t::quantile(freedom, delta, below)? / size.sqrt())
        };
        let k_max = k(risks.good, Split::with_below(risks.producer)?)?;
        let k_min = k(risks.bad, Split::with_above(risks.consumer)?)?;
        Some(Design { n, k_min, k_max })
    };
    smallest_of(2, range)
}

/// Smallest plan for one limit where the standard deviation is known.
#[must_use]
pub fn smallest_known_sd(risks: Risks) -> Option<Design> {
    let z = Quantiles::of(risks)?;
    let range = |n: u64| {
        let root = (n as f64).sqrt();
        let (k_min, k_max) = (z.bad + z.consumer / root, z.good - z.producer / root);
        Some(Design { n, k_min, k_max })
    };
    smallest_of(1, range)
}

/// The first n whose range of k is not empty; it stays so for larger ones.
fn smallest_of(least: u64, range: impl Fn(u64) -> Option<Design>) -> Option<Design> {
    let fits = |n: u64| range(n).map(|design| design.k_min <= design.k_max);
    let (mut short, mut enough) = (least - 1, least);
    while !fits(enough)? {
        short = enough;
        enough = enough.checked_mul(2).filter(|n| *n <= MOST)?;
    }
    while enough - short > 1 {
        let middle = short + (enough - short) / 2;
        if fits(middle)? { enough = middle } else { short = middle }
    }
    range(enough)
}

/// Normal quantiles of the shares and risks.
struct Quantiles {
    good: f64,
    bad: f64,
    producer: f64,
    consumer: f64,
}

impl Quantiles {
    fn of(risks: Risks) -> Option<Self> {
        Some(Self {
            good: normal::quantile(risks.good)?,
            bad: normal::quantile(risks.bad)?,
            producer: normal::quantile(Split::with_above(risks.producer)?)?,
            consumer: normal::quantile(Split::with_above(risks.consumer)?)?,
        })
    }
}

/// A plan by formula, its size not yet rounded up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Approximate {
    /// Values in the sample, unrounded.
    pub n: f64,
    /// Acceptability constant.
    pub k: f64,
}

/// Size and k of a plan with known standard deviation that meets both risks exactly.
#[must_use]
pub fn known_sd(risks: Risks) -> Option<Approximate> {
    let z = Quantiles::of(risks)?;
    let sum = z.producer + z.consumer;
    let n = (sum / (z.good - z.bad)).powi(2);
    let k = (z.producer * z.bad + z.consumer * z.good) / sum;
    (n.is_finite() && k.is_finite()).then_some(Approximate { n, k })
}

/// Wallis's approximation (1947, Techniques of Statistical Analysis, chapter 1) for an sd
/// estimated from the sample: the k of the known one, and its size times 1 + k^2 / 2.
#[must_use]
pub fn wallis(risks: Risks) -> Option<Approximate> {
    let known = known_sd(risks)?;
    Some(Approximate { n: known.n * (1.0 + 0.5 * known.k * known.k), k: known.k })
}
