//! Tolerance limits from the ordered sample, whatever the distribution (Wilks 1941, Annals
//! of Mathematical Statistics 12:91; ISO 16269-6:2014, clause 6).
//!
//! An interval from the r-th smallest to the s-th largest of n values leaves out r + s of
//! the n + 1 blocks between them; one with a single limit, the r-th from its end, leaves out
//! r. Its share holds the confidence that a binomial of n with chance 1 - share reaches that
//! number.

use crate::distributions::{Split, binomial};
use crate::proportion;

/// Blocks left out by the extreme as the only limit.
pub const ONE_SIDED: u64 = 1;
/// Blocks left out by the interval between the two extremes.
pub const TWO_SIDED: u64 = 2;

/// Confidence that limits that leave out `blocks` blocks hold at least the share `share`.
/// None unless 0 < share < 1; zero where the sample has too few values.
#[must_use]
pub fn confidence(n: u64, blocks: u64, share: f64) -> Option<f64> {
    Split::with_below(share)?;
    match blocks.checked_sub(1) {
        None => Some(1.0),
        Some(fewer) => proportion::confidence_shown(n, fewer, share),
    }
}

/// Fewest values so that limits that leave out `blocks` blocks hold the share `share` with
/// confidence `confidence` ([`ONE_SIDED`], [`TWO_SIDED`] or more). None unless both lie
/// between 0 and 1 and blocks is at least 1.
#[must_use]
pub fn values_needed(blocks: u64, share: f64, confidence: f64) -> Option<u64> {
    proportion::trials_needed(share, confidence, blocks.checked_sub(1)?)
}

/// The most blocks that may be left out: as an upper limit for the share, the r-th largest
/// value with r this number; as an interval, ranks r and s with r + s this number (Meeker,
/// Hahn and Escobar 2017, Statistical Intervals, table J.11). None where even the extreme
/// does not reach the confidence.
#[must_use]
pub fn blocks_left_out(n: u64, share: f64, confidence: f64) -> Option<u64> {
    let at = Split::with_below(share)?;
    // As for trials_needed, a probability that misses the limit by rounding only meets it.
    let most = Split::with_below(confidence)?.above * (1.0 + 1e-12);
    let hit = crate::distributions::beta::Point { x: at.above, rest: at.below };
    let reached = |blocks: u64| Some(binomial::tails_at(n, blocks - 1, hit)?.below <= most);
    if n == 0 || !reached(1)? {
        return None;
    }
    let (mut enough, mut many) = (1, n.checked_add(1)?);
    while many - enough > 1 {
        let middle = enough + (many - enough) / 2;
        if reached(middle)? { enough = middle } else { many = middle }
    }
    Some(enough)
}
