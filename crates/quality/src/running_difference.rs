//! Running evidence that two groups of trials differ, whose error grows neither with the number of
//! looks nor with how the group of the next trial is picked.
//!
//! The likelihood of each group is mixed over all chances of a good trial with the beta density with
//! both parameters 1/2, and their product is held against the largest likelihood that one chance for
//! both can reach. Under one common chance the mixture over the true likelihood is a non-negative
//! martingale of mean 1, since the mixture foretells each trial from those before it in its group,
//! whatever rule picks the group from the past; and the largest likelihood is at least the true one.
//! By Ville's inequality (Ville 1939, Etude critique de la notion de collectif) the evidence ever
//! reaches 1 / error with at most the probability `error` (universal inference: Wasserman, Ramdas
//! and Balakrishnan 2020, PNAS 117:16880).
//!
//! Assumption: under one common chance each trial is good with it whatever came before; a chance
//! that drifts with time is no common one.
//!
//! # Error rates
//!
//! How often the evidence reaches 20 (error 5 %) at some look within 200 trials, looking after every
//! trial, where both groups have the same chance: 2,000 simulated labs a row
//! (`cargo test -p secondmelt-quality --test running_difference -- --nocapture` prints it). Each lab
//! begins with the first group. Beside it the same for a p of at most 0.05 by
//! [`Table::fisher_two_sided`], which is made for one look at groups fixed beforehand.
//!
//! | group changes | chance 20 %: called different, % | 50 % | 80 % | by Fisher's test, 50 % |
//! |---|---|---|---|---|
//! | after each failure | 0.1 | 0.6 | 0.6 | 26.4 |
//! | after two failures | 0.1 | 0.5 | 0.6 | 25.4 |
//! | after each trial | 0.5 | 1.1 | 0.5 | 25.4 |
//! | at random | 0.8 | 1.1 | 0.3 | 29.0 |
//!
//! How often it has reached 20 by so many trials, alternating, where they differ:
//!
//! | chances, % | within 10 trials, % | within 20 | within 40 |
//! |---|---|---|---|
//! | 10 and 90 | 39.0 | 81.5 | 99.3 |
//! | 30 and 90 | 11.7 | 41.1 | 81.0 |

use crate::contingency::Table;
use crate::sequential::{HALF, ln_beta};

/// Natural logarithm of the evidence, a likelihood ratio, that the two groups have different chances
/// of a good trial, against the same chance: they are shown to differ where it is at least -ln of
/// the error. Below 0 it shows nothing; 0 without trials. None where the counts add up to more than
/// 2^64 - 1.
#[must_use]
pub fn running_difference(table: Table) -> Option<f64> {
    let Table { good1, bad1, good2, bad2 } = table;
    let (good, bad) = (good1.checked_add(good2)?, bad1.checked_add(bad2)?);
    let all = good.checked_add(bad)? as f64;
    let mixed = |good: u64, bad: u64| ln_beta(HALF + good as f64, HALF + bad as f64);
    let apart = mixed(good1, bad1) + mixed(good2, bad2) - 2.0 * ln_beta(HALF, HALF);
    // Of a share p of them: so many times ln p.
    let of = |n: u64| if n > 0 { n as f64 * (n as f64 / all).ln() } else { 0.0 };
    Some(apart - of(good) - of(bad))
}
