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
/// Most products of two chances that are added up over strata.
const PRODUCTS: usize = 100_000_000;

impl Table {
    /// Two-sided p of Fisher's exact test: the chance, given all four margins, of a table that
    /// is as improbable as this one or more so (Fisher 1935). None beyond a million tables.
    #[must_use]
    pub fn fisher_two_sided(self) -> Option<f64> {
        let (least, most) = self.range()?;
        as_rare(&self.weights(least, most)?, self.good1 - least)
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
        let mode = (first as f64 + 1.0) * (good as f64 + 1.0) / (lot as f64 + 2.0);
        let mode = (mode as u64).clamp(least, most);
        let mut weight = 1.0;
        for k in (least..mode).rev() {
            weight /= ratio(k + 1);
            weights.push(weight);
        }
        weights.reverse();
        weight = 1.0;
        for k in mode..most {
            weight *= ratio(k + 1);
            weights.push(weight);
        }
        Some(weights)
    }
}

/// Two-sided p of no difference between the groups in any of several strata (days, lots, parts),
/// whose chances may differ: the chance, given the margins of each, of a sum of good ones of the
/// second group that is as improbable as this one or more so. With one stratum it is
/// [`Table::fisher_two_sided`]; 1 without any. A stratum with an empty group, or whose trials all
/// came out alike, adds nothing. A difference that changes its sign between strata may go unseen.
///
/// The sum is distributed as the convolution of the hypergeometric distributions of the strata
/// (exact conditional test of a common odds ratio of 1: Mehta, Patel and Gray 1985, J. Am. Stat.
/// Assoc. 80:969, from memory). None beyond a million tables in a stratum, or 100 million products.
#[must_use]
pub fn stratified_two_sided(strata: &[Table]) -> Option<f64> {
    // Of the first group, whose good ones are the same number of them less those of the second.
    let mut sums = vec![1.0];
    let (mut here, mut products) = (0, 0_usize);
    for table in strata {
        let (least, most) = table.range()?;
        if least == most {
            continue;
        }
        let weights = table.weights(least, most)?;
        products = products.checked_add(sums.len().checked_mul(weights.len())?)?;
        if products > PRODUCTS {
            return None;
        }
        sums = convolved(&sums, &weights);
        here += table.good1 - least;
    }
    as_rare(&sums, here)
}

/// Share of the weights that are as small as the one at `here` or smaller.
fn as_rare(weights: &[f64], here: u64) -> Option<f64> {
    let here = weights.get(usize::try_from(here).ok()?)? * (1.0 + NOISE);
    let all: f64 = weights.iter().sum();
    let as_rare: f64 = weights.iter().filter(|weight| **weight <= here).sum();
    Some((as_rare / all).min(1.0))
}

/// Weights of the sum of two independent numbers, the largest of them 1.
fn convolved(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut sums = vec![0.0; a.len() + b.len() - 1];
    for (i, a) in a.iter().enumerate() {
        for (sum, b) in sums.iter_mut().skip(i).zip(b) {
            *sum += a * b;
        }
    }
    let most = sums.iter().copied().fold(0.0, f64::max);
    sums.iter().map(|sum| sum / most).collect()
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
