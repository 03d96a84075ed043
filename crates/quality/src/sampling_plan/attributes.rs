//! Sampling by attributes: count the bad items of a sample.

use super::Risks;
use crate::distributions::{Split, beta, binomial, hypergeometric};
use crate::proportion;

/// Largest acceptance number that a design tries.
const ACCEPT_MOST: u64 = 10_000;
/// Rounding noise that a risk may have without missing its limit.
const NOISE: f64 = 1e-12;

/// A single plan: accept a lot when a sample of `n` has at most `accept` bad items.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Plan {
    /// Items in the sample.
    pub n: u64,
    /// Acceptance number Ac; the rejection number Re is one more.
    pub accept: u64,
}

impl Plan {
    /// Probability to accept a lot, large against the sample, with the share `bad` of bad
    /// items: binomial (ISO 2859-1:1999, clause 12 and tables 10). None unless it is a share.
    #[must_use]
    pub fn acceptance(self, bad: f64) -> Option<f64> {
        binomial::tails(self.n, self.accept, bad).map(|split| split.below)
    }

    /// Probability to accept a lot of `lot` items of which `bad` are bad, drawn without
    /// putting back: hypergeometric. None where sample or bad items exceed the lot.
    #[must_use]
    pub fn acceptance_in_lot(self, lot: u64, bad: u64) -> Option<f64> {
        hypergeometric::tails(lot, bad, self.n, self.accept).map(|split| split.below)
    }

    /// Share of bad items at which a lot is accepted with probability `acceptance`. None
    /// unless that lies between 0 and 1 and n > Ac, since else every lot is accepted.
    #[must_use]
    pub fn share_at(self, acceptance: f64) -> Option<f64> {
        let split = Split::with_below(acceptance)?;
        binomial::chance(self.n, self.accept, split).map(|share| share.x)
    }
}

/// The smallest single plan that keeps two risks: fewest items, by the binomial
/// distribution. A risk that exceeds its limit by rounding only, 1e-12 of it, keeps it. None
/// where Ac would exceed 10,000.
#[must_use]
pub fn smallest(risks: Risks) -> Option<Plan> {
    let chance = |split: Split| beta::Point { x: split.above, rest: split.below };
    let refused = risks.producer * (1.0 + NOISE);
    let mut n = 0;
    // The fewest items that refuse bad lots grow with Ac: the first Ac that also accepts
    // good lots gives the smallest plan.
    for accept in 0..=ACCEPT_MOST {
        n = proportion::fewest(chance(risks.bad), accept, risks.consumer * (1.0 + NOISE), n)?;
        if binomial::tails_at(n, accept, chance(risks.good))?.above <= refused {
            return Some(Plan { n, accept });
        }
    }
    None
}
