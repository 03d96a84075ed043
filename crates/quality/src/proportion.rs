//! What good and bad among trials say of the share of all that is good.
//!
//! Assumption: trials are independent and each is good with the same chance.

use crate::distributions::{Split, beta, binomial, normal};

/// An interval for a share, both ends between 0 and 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

/// Lower limit of the share of good ones at one-sided confidence `confidence`, with `good`
/// good ones among `n`: the share at which as many or more come with probability
/// 1 - confidence (Clopper and Pearson 1934, Biometrika 26:404). Zero where none is good.
/// None unless good <= n and 0 < confidence < 1.
#[must_use]
pub fn lower(good: u64, n: u64, confidence: f64) -> Option<f64> {
    let split = Split::with_above(confidence)?;
    let bad = n.checked_sub(good)?;
    if good == 0 {
        return Some(0.0);
    }
    beta::quantile(good as f64, bad as f64 + 1.0, split).map(|p| p.x)
}

/// Upper limit of the share of good ones at one-sided confidence `confidence`: the share at
/// which as few or fewer come with probability 1 - confidence. One where all are good; with
/// `good` the number of bad ones it bounds the share of bad ones. None as for [`lower`].
#[must_use]
pub fn upper(good: u64, n: u64, confidence: f64) -> Option<f64> {
    let split = Split::with_below(confidence)?;
    let bad = n.checked_sub(good)?;
    if bad == 0 {
        return Some(1.0);
    }
    beta::quantile(good as f64 + 1.0, bad as f64, split).map(|p| p.x)
}

/// Two-sided interval of Clopper and Pearson (1934): half of what is left of the confidence
/// on either side. It holds the true share with at least the confidence, whatever the share.
#[must_use]
pub fn clopper_pearson(good: u64, n: u64, confidence: f64) -> Option<Interval> {
    let one_sided = each_side(confidence)?;
    Some(Interval { low: lower(good, n, one_sided)?, high: upper(good, n, one_sided)? })
}

/// Two-sided score interval of Wilson (1927), without continuity correction: near the
/// confidence on average, at times below it. None unless 1 <= n and good <= n.
#[must_use]
pub fn wilson(good: u64, n: u64, confidence: f64) -> Option<Interval> {
    let z = normal::quantile(Split::with_below(each_side(confidence)?)?)?;
    let bad = n.checked_sub(good)?;
    if n == 0 {
        return None;
    }
    let (size, good_count, bad_count) = (n as f64, good as f64, bad as f64);
    let half = 0.5 * z * z;
    let reach = z * (good_count * bad_count / size + 0.5 * half).sqrt();
    // Product of the roots over the other root: no difference of near numbers.
    let low = good_count * good_count / size / (good_count + half + reach);
    let high = 1.0 - bad_count * bad_count / size / (bad_count + half + reach);
    Some(Interval { low, high })
}

/// The one-sided confidence of each limit of a two-sided interval.
pub(crate) fn each_side(confidence: f64) -> Option<f64> {
    (confidence > 0.0 && confidence < 1.0).then_some(0.5 + 0.5 * confidence)
}

/// Rounding noise that a probability may have without missing a limit that it meets.
const NOISE: f64 = 1e-12;

/// Confidence that at least the share `share` is good, once `n` trials had `bad` bad ones or
/// fewer: one less the probability of that at the share itself.
#[must_use]
pub fn confidence_shown(n: u64, bad: u64, share: f64) -> Option<f64> {
    let at = beta::Point::new(share)?;
    let failures = beta::Point { x: at.rest, rest: at.x };
    binomial::tails_at(n, bad, failures).map(|split| split.above)
}

/// Fewest trials that, with at most `bad` bad ones, show with confidence `confidence` that
/// at least the share `share` of all is good: the smallest n at which so few bad ones come
/// with probability 1 - confidence or less if the share is good (success-run theorem for
/// bad = 0, binomial tail otherwise; a probability that exceeds the limit by rounding only,
/// 1e-12 of it, meets it). None unless both lie between 0 and 1, or where n would exceed
/// 2^52.
#[must_use]
pub fn trials_needed(share: f64, confidence: f64, bad: u64) -> Option<u64> {
    let at = Split::with_below(share)?;
    let most = Split::with_below(confidence)?.above * (1.0 + NOISE);
    let failures = beta::Point { x: at.above, rest: at.below };
    fewest(failures, bad, most, 0)
}

/// Fewest trials, above `from`, at which `bad` hits or fewer come with probability `most` or
/// less, where each is a hit with the chance `hit`. None beyond 2^52.
pub(crate) fn fewest(hit: beta::Point, bad: u64, most: f64, from: u64) -> Option<u64> {
    let few = |n: u64| Some(binomial::tails_at(n, bad, hit)?.below <= most);
    let mut short = bad.max(from);
    let mut step = 1;
    let mut enough = short.checked_add(step)?;
    while !few(enough)? {
        short = enough;
        step *= 2;
        enough = enough.checked_add(step).filter(|n| *n <= 1 << 52)?;
    }
    while enough - short > 1 {
        let middle = short + (enough - short) / 2;
        if few(middle)? { enough = middle } else { short = middle }
    }
    Some(enough)
}
