//! A running verdict on the share of good trials, whose error does not grow however often one
//! looks.
//!
//! The likelihood ratio of the trials, mixed over the shares on the far side of the limit with a
//! beta density cut off there, is a nonnegative supermartingale whenever the true share is on the
//! near side: there the expected factor of one trial, linear in the true share, is at most one.
//! By Ville's inequality (Ville 1939, Etude critique de la notion de collectif; Robbins 1970,
//! Statistical methods related to the law of the iterated logarithm, Ann. Math. Stat.
//! 41:1397) it ever reaches 1 / error with at most the probability `error`, whenever one looks
//! and whenever one stops.
//!
//! The mixture is the beta density with both parameters 1/2, which is at hand for trials that
//! are nearly all good or nearly all bad. Assumption: each trial is good with the same chance,
//! whatever came before.
//!
//! # Error rates
//!
//! How often a verdict is wrong at some look within 500 trials, looking after every trial, and
//! how often and how soon it is right: 2,000 simulated labs a row, limit 80 %, error 5 %
//! (`cargo test -p secondmelt-quality --test sequential -- --nocapture` prints it). Beside it the
//! same for the exact one-sided limit of [`crate::proportion::lower`], which is made for one look
//! at a number of trials fixed beforehand.
//!
//! | true share, % | called proven, % | called refuted, % | median trials to it | fixed-size limit, looked at after every trial: called proven, % |
//! |---|---|---|---|---|
//! | 50 | 0.0 | 100.0 | 14 | 0.1 |
//! | 60 | 0.1 | 99.9 | 32 | 0.1 |
//! | 70 | 0.3 | 98.1 | 149 | 1.0 |
//! | 75 | 0.9 | 40.9 | none in most | 4.4 |
//! | 80 | 3.9 | 2.0 | none in most | 26.4 |
//! | 85 | 55.1 | 0.7 | 438 | 96.2 |
//! | 90 | 99.8 | 0.1 | 84 | 100.0 |
//! | 95 | 100.0 | 0.0 | 31 | 100.0 |
//! | 99 | 100.0 | 0.0 | 17 | 100.0 |

use crate::distributions::beta;
use crate::proportion::Interval;

/// Both parameters of the mixing density.
pub(crate) const HALF: f64 = 0.5;

/// What the trials say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// The share of good ones is above the limit.
    Proven,
    /// The trials do not tell.
    NotYet,
    /// The share of good ones is below the limit.
    Refuted,
}

/// Natural logarithm of the evidence, a likelihood ratio, that the share of good ones is above
/// `share`. None unless 0 < share < 1.
#[must_use]
pub fn evidence_above(good: u64, bad: u64, share: f64) -> Option<f64> {
    evidence(good, bad, beta::Point::new(share).filter(|at| at.x > 0.0 && at.rest > 0.0)?)
}

/// The same that it is below.
#[must_use]
pub fn evidence_below(good: u64, bad: u64, share: f64) -> Option<f64> {
    let at = beta::Point::new(share).filter(|at| at.x > 0.0 && at.rest > 0.0)?;
    evidence(bad, good, beta::Point { x: at.rest, rest: at.x })
}

fn evidence(good: u64, bad: u64, at: beta::Point) -> Option<f64> {
    let (good, bad) = (good as f64, bad as f64);
    let before = beta::tails(HALF, HALF, at)?.above;
    let after = beta::tails(HALF + good, HALF + bad, at)?.above;
    let mixed = ln_beta(HALF + good, HALF + bad) - ln_beta(HALF, HALF);
    Some(mixed + after.ln() - before.ln() - good * at.x.ln() - bad * at.rest.ln())
}

pub(crate) fn ln_beta(a: f64, b: f64) -> f64 {
    libm::lgamma(a) + libm::lgamma(b) - libm::lgamma(a + b)
}

/// The running verdict: `error` bounds the probability of ever calling a share proven that is
/// not above `share`, and that of ever calling one refuted that is not below it. None unless both
/// lie between 0 and 1.
#[must_use]
pub fn standing(good: u64, bad: u64, share: f64, error: f64) -> Option<Standing> {
    let enough = threshold(error)?;
    Some(if evidence_above(good, bad, share)? >= enough {
        Standing::Proven
    } else if evidence_below(good, bad, share)? >= enough {
        Standing::Refuted
    } else {
        Standing::NotYet
    })
}

fn threshold(error: f64) -> Option<f64> {
    (error > 0.0 && error < 1.0).then(|| -error.ln())
}

/// Most further trials that are counted.
const MOST: u64 = 1 << 40;

/// Fewest further good trials, one after another without a bad one, after which the verdict is
/// proven; 0 where it is. None as for [`standing`], and where it would take more than 2^40.
#[must_use]
pub fn more_good(good: u64, bad: u64, share: f64, error: f64) -> Option<u64> {
    let enough = threshold(error)?;
    let proven = |more: u64| Some(evidence_above(good.checked_add(more)?, bad, share)? >= enough);
    if proven(0)? {
        return Some(0);
    }
    // A good trial never lessens the evidence: the mixture lies above the limit.
    let (mut short, mut last) = (0, 1);
    while !proven(last)? {
        short = last;
        last = last.checked_mul(2).filter(|n| *n <= MOST)?;
    }
    while last - short > 1 {
        let middle = short + (last - short) / 2;
        if proven(middle)? { last = middle } else { short = middle }
    }
    Some(last)
}

/// Interval that holds the share of good ones at every look at once with the probability
/// 1 - error: the shares against which the mixture over all shares does not reach 1 / error
/// (Robbins 1970). None unless 0 < error < 1.
#[must_use]
pub fn interval(good: u64, bad: u64, error: f64) -> Option<Interval> {
    let enough = threshold(error)?;
    let (s, f) = (good as f64, bad as f64);
    let mixed = ln_beta(HALF + s, HALF + f) - ln_beta(HALF, HALF);
    let term = |count: f64, ln: f64| if count > 0.0 { count * ln } else { 0.0 };
    let inside = |p: f64| mixed - term(s, p.ln()) - term(f, (-p).ln_1p()) < enough;
    let best = if good + bad == 0 { 0.5 } else { s / (s + f) };
    let end = |outer: f64| {
        if inside(outer) {
            return outer;
        }
        let (mut within, mut without) = (best, outer);
        for _ in 0..200 {
            let middle = f64::midpoint(within, without);
            if inside(middle) { within = middle } else { without = middle }
        }
        without
    };
    Some(Interval { low: end(0.0), high: end(1.0) })
}
