//! What repeated passes through the melt do: the closed loop of regrind, and what is
//! published of single polymers.
//!
//! There is no factor per pass that holds for a polymer: grade, stabiliser, moisture,
//! temperature and time decide. A lab measures its own.

mod published;

pub use published::{Direction, Published, published};

/// A loop in which every batch holds the same share of regrind of the batch before and the
/// rest of new material. Earlier passes are counted before the pass in hand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loop {
    share: f64,
}

impl Loop {
    /// A loop with that share of regrind; none unless 0 <= share < 1.
    #[must_use]
    pub fn new(regrind_share: f64) -> Option<Self> {
        (0.0..1.0).contains(&regrind_share).then_some(Self { share: regrind_share })
    }

    /// The largest share of regrind that keeps the feed at a flow-rate limit once the loop is
    /// steady, when each pass multiplies the rate by a factor and blends follow the
    /// logarithmic rule. None where no share reaches the limit.
    #[must_use]
    pub fn at_limit(factor_per_pass: f64, virgin: f64, limit: f64) -> Option<Self> {
        let passes = (limit / virgin).ln() / factor_per_pass.ln();
        if passes.is_finite() && passes >= 0.0 { Self::new(passes / (1.0 + passes)) } else { None }
    }

    /// The share of regrind.
    #[must_use]
    pub fn share(self) -> f64 {
        self.share
    }

    /// Share of material with so many earlier passes, once the loop is steady.
    #[must_use]
    pub fn steady_share(self, earlier_passes: i32) -> f64 {
        (1.0 - self.share) * self.share.powi(earlier_passes)
    }

    /// Share of material with more than so many earlier passes, once the loop is steady.
    #[must_use]
    pub fn steady_share_beyond(self, earlier_passes: i32) -> f64 {
        self.share.powi(earlier_passes + 1)
    }

    /// Mean number of earlier passes, once the loop is steady.
    #[must_use]
    pub fn steady_mean(self) -> f64 {
        self.share / (1.0 - self.share)
    }

    /// Variance of the number of earlier passes, once the loop is steady.
    #[must_use]
    pub fn steady_variance(self) -> f64 {
        self.share / (1.0 - self.share).powi(2)
    }

    /// Shares by number of earlier passes after so many rounds from a batch of new material.
    #[must_use]
    pub fn shares_after(self, rounds: i32) -> Vec<f64> {
        let mut shares: Vec<_> = (0..rounds).map(|passes| self.steady_share(passes)).collect();
        shares.push(self.share.powi(rounds));
        shares
    }

    /// Mean number of earlier passes after so many rounds.
    #[must_use]
    pub fn mean_after(self, rounds: i32) -> f64 {
        self.steady_mean() * (1.0 - self.share.powi(rounds))
    }

    /// Rounds until the mean is within a share `within` of its steady value; none unless
    /// 0 < within < 1.
    #[must_use]
    #[expect(clippy::cast_possible_truncation, reason = "a share below one takes few rounds")]
    pub fn rounds_to_steady(self, within: f64) -> Option<i32> {
        if !(within > 0.0 && within < 1.0) {
            return None;
        }
        let rounds = (within.ln() / self.share.ln() - 1e-9).ceil();
        (rounds.is_finite() && rounds < 1e9).then_some((rounds as i32).max(0))
    }

    /// Flow rate of the feed, in g/10 min, once the loop is steady, when each pass multiplies
    /// it by a factor and blends follow the logarithmic rule.
    #[must_use]
    pub fn steady_feed_mfr(self, virgin: f64, factor_per_pass: f64) -> f64 {
        virgin * factor_per_pass.powf(self.steady_mean())
    }

    /// Flow rate of the product, one pass after the feed.
    #[must_use]
    pub fn steady_product_mfr(self, virgin: f64, factor_per_pass: f64) -> f64 {
        self.steady_feed_mfr(virgin, factor_per_pass) * factor_per_pass
    }

    /// A property of the feed, once the loop is steady, that each pass multiplies by `q` and
    /// that adds by mass. None where it grows without end.
    #[must_use]
    pub fn steady_property(self, virgin: f64, q: f64) -> Option<f64> {
        let rest = 1.0 - self.share * q;
        (rest > 0.0).then(|| virgin * (1.0 - self.share) / rest)
    }
}

/// The factor of one pass that so many even ones make a ratio of.
#[must_use]
pub fn factor_per_pass(ratio: f64, passes: f64) -> f64 {
    ratio.powf(1.0 / passes)
}
