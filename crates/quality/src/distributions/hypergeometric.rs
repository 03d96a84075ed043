//! The hypergeometric distribution: hits in a sample drawn without putting back.

use super::Split;
use super::beta::Point;
use super::binomial::chance_of;

/// Most hits or items in the sample, whichever is fewer: their chances are summed.
const MOST: u64 = 10_000_000;

/// Share of samples of `n` out of a lot of `lot`, of which `bad` are hits, with at most `k`
/// hits, and with more. None where sample or hits exceed the lot,
/// or both ten million.
#[must_use]
pub fn tails(lot: u64, bad: u64, n: u64, k: u64) -> Option<Split> {
    if bad > lot || n > lot || bad.min(n) > MOST {
        return None;
    }
    let (least, most) = (n.saturating_sub(lot - bad), n.min(bad));
    if k >= most {
        return Some(Split::ALL_BELOW);
    }
    if k < least {
        return Some(Split::ALL_ABOVE);
    }
    let mean = n as f64 * bad as f64 / lot as f64;
    // Terms fall away from the mean; the ratio of neighbours needs no factorial.
    if (k as f64) < mean {
        let down = (least + 1..=k).rev().map(|i| 1.0 / ratio(lot, bad, n, i - 1));
        Split::of_below(chance(lot, bad, n, k) * falling(down))
    } else {
        let up = (k + 1..most).map(|i| ratio(lot, bad, n, i));
        Split::of_above(chance(lot, bad, n, k + 1) * falling(up))
    }
}

/// One and the running products of factors, summed until nothing is added.
fn falling(factors: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut term) = (1.0, 1.0);
    for factor in factors {
        term *= factor;
        if term <= 1e-18 * sum {
            break;
        }
        sum += term;
    }
    sum
}

/// Chance of `i` + 1 hits over the chance of `i`.
fn ratio(lot: u64, bad: u64, n: u64, i: u64) -> f64 {
    // Not below one, since i is not below the least number of hits.
    let good_left = (lot - bad) as f64 - (n - i) as f64 + 1.0;
    (bad - i) as f64 * (n - i) as f64 / ((i + 1) as f64 * good_left)
}

/// Chance of exactly `k` hits, a proper number of them: three binomial chances at p = n / lot
/// (Loader 2000).
fn chance(lot: u64, bad: u64, n: u64, k: u64) -> f64 {
    if n == 0 || n == lot {
        return 1.0;
    }
    let size = lot as f64;
    let p = Point { x: n as f64 / size, rest: (lot - n) as f64 / size };
    chance_of(bad, k, p) * chance_of(lot - bad, n - k, p) / chance_of(lot, n, p)
}
