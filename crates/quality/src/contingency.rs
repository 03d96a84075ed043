//! Two groups of trials compared: a table of two by two counts.

use crate::distributions::hypergeometric;

/// Good and bad trials in each of two groups.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Table {
    /// Good ones of the first group.
    pub good1: u64,
    /// Bad ones of the first group.
    pub bad1: u64,
    /// Good ones of the second group.
    pub good2: u64,
    /// Bad ones of the second group.
    pub bad2: u64,
}

/// Chances that differ by rounding only count as equal.
const NOISE: f64 = 1e-7;
/// Most tables that are summed over.
const MOST: u64 = 1_000_000;

impl Table {
    /// Two-sided p of Fisher's exact test: the chance, given all four margins, of a table that
    /// is as improbable as this one or more so (Fisher 1935). None beyond a million tables.
    #[must_use]
    pub fn fisher_two_sided(self) -> Option<f64> {
        let (least, most) = self.range()?;
        let weights = self.weights(least, most)?;
        let here = weights.get(usize::try_from(self.good1 - least).ok()?)? * (1.0 + NOISE);
        let all: f64 = weights.iter().sum();
        let as_rare: f64 = weights.iter().filter(|weight| **weight <= here).sum();
        Some((as_rare / all).min(1.0))
    }

    /// One-sided p: the chance of as many good ones in the second group, or more.
    #[must_use]
    pub fn fisher_second_better(self) -> Option<f64> {
        let (lot, good, n) = self.margins()?;
        match self.good2 {
            0 => Some(1.0),
            k => hypergeometric::tails(lot, good, n, k - 1).map(|split| split.above),
        }
    }

    /// Ratio of the odds of the second group over those of the first, half a trial added to each
    /// count: the estimate of Firth (1993), finite whatever the counts.
    #[must_use]
    pub fn odds_ratio(self) -> f64 {
        let half = |n: u64| n as f64 + 0.5;
        half(self.good2) / half(self.bad2) / (half(self.good1) / half(self.bad1))
    }

    /// All trials, the good ones, and the size of the second group.
    fn margins(self) -> Option<(u64, u64, u64)> {
        let good = self.good1.checked_add(self.good2)?;
        let second = self.good2.checked_add(self.bad2)?;
        let lot = good.checked_add(self.bad1)?.checked_add(self.bad2)?;
        Some((lot, good, second))
    }

    /// Fewest and most good ones that the first group can have.
    fn range(self) -> Option<(u64, u64)> {
        let (lot, good, second) = self.margins()?;
        let first = lot - second;
        let (least, most) = (good.saturating_sub(second), good.min(first));
        (most - least <= MOST).then_some((least, most))
    }

    /// Chance of each number of good ones in the first group over that of the most likely one, by
    /// the ratio of neighbours, which needs no factorial.
    fn weights(self, least: u64, most: u64) -> Option<Vec<f64>> {
        let (lot, good, second) = self.margins()?;
        let first = lot - second;
        // Chance of k good ones over that of k - 1.
        let ratio = |k: u64| {
            let into = (good - k + 1) as f64 * (first - k + 1) as f64;
            into / (k as f64 * (second + k - good) as f64)
        };
        let mut weights = vec![1.0];
        let mode = ((first + 1) as f64 * (good + 1) as f64 / (lot + 2) as f64).floor();
        let mode = (mode as u64).clamp(least, most);
        let mut weight = 1.0;
        for k in (least + 1..=mode).rev() {
            weight /= ratio(k);
            weights.push(weight);
        }
        weights.reverse();
        weight = 1.0;
        for k in mode + 1..=most {
            weight *= ratio(k);
            weights.push(weight);
        }
        Some(weights)
    }
}

/// Values of p held against one another: each the smallest level at which it would be called
/// shown, were all of them tested so that any wrong call is rarer than that (Holm 1979, Scand. J.
/// Statist. 6:65).
#[must_use]
pub fn holm(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|a, b| p[*a].total_cmp(&p[*b]));
    let mut adjusted = vec![0.0; p.len()];
    let mut most: f64 = 0.0;
    for (rank, at) in order.into_iter().enumerate() {
        most = most.max((p.len() - rank) as f64 * p[at]).min(1.0);
        adjusted[at] = most;
    }
    adjusted
}
