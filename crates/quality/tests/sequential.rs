//! Error rates of the running verdict by simulation; the table stands in the documentation of
//! `sequential`.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use secondmelt_quality::random::Random;
use secondmelt_quality::sequential::{Standing, interval, standing};
use secondmelt_quality::{proportion, sequential};
use std::collections::BTreeMap;

const LABS: u64 = 2000;
const TRIALS: u64 = 500;
const LIMIT: f64 = 0.8;
const ERROR: f64 = 0.05;

/// What a look at so many good and bad trials says.
#[derive(Clone, Copy)]
struct Look {
    standing: Standing,
    fixed_proves: bool,
}

#[derive(Default)]
struct Rates {
    proven: u64,
    refuted: u64,
    fixed: u64,
    /// Trials until a verdict.
    first: Vec<u64>,
}

fn simulate(share: f64, looks: &mut BTreeMap<(u64, u64), Look>) -> Rates {
    let mut random = Random::new((share * 1000.0) as u64);
    let mut rates = Rates::default();
    for _ in 0..LABS {
        let (mut good, mut bad) = (0, 0);
        let (mut called, mut fixed) = (None, false);
        while good + bad < TRIALS && (called.is_none() || !fixed) {
            if random.uniform() < share {
                good += 1
            } else {
                bad += 1
            }
            let look = looks.entry((good, bad)).or_insert_with(|| Look {
                standing: standing(good, bad, LIMIT, ERROR).unwrap(),
                fixed_proves: proportion::lower(good, good + bad, 1.0 - ERROR).unwrap() > LIMIT,
            });
            fixed |= look.fixed_proves;
            if called.is_none() && look.standing != Standing::NotYet {
                called = Some(look.standing);
                rates.first.push(good + bad);
            }
        }
        rates.proven += u64::from(called == Some(Standing::Proven));
        rates.refuted += u64::from(called == Some(Standing::Refuted));
        rates.fixed += u64::from(fixed);
    }
    rates.first.sort_unstable();
    rates
}

#[test]
fn looking_after_every_trial_does_not_make_the_verdict_wrong_more_often() {
    let pct = |n: u64| 100.0 * n as f64 / LABS as f64;
    // Three standard deviations of a simulated rate of 5 % above it.
    let most = 5.0 + 3.0 * (5.0_f64 * 95.0 / LABS as f64).sqrt();
    let mut looks = BTreeMap::new();
    for share in [0.5, 0.6, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 0.99] {
        let rates = simulate(share, &mut looks);
        let middle = rates.first.get(LABS as usize / 2);
        println!(
            "| {} | {:.1} | {:.1} | {} | {:.1} |",
            100.0 * share,
            pct(rates.proven),
            pct(rates.refuted),
            middle.map_or("none in most".to_owned(), u64::to_string),
            pct(rates.fixed)
        );
        if share <= LIMIT {
            assert!(pct(rates.proven) < most, "{share}: {}", rates.proven);
        }
        if share >= LIMIT {
            assert!(pct(rates.refuted) < most, "{share}: {}", rates.refuted);
        }
        // What it is there for: the limit for one look is wrong far more often here.
        assert!(share != LIMIT || pct(rates.fixed) > 3.0 * most, "{}", rates.fixed);
        assert!(!(share <= 0.6 || share >= 0.95) || pct(rates.proven + rates.refuted) > 99.0);
    }
}

#[test]
fn the_running_interval_holds_the_share_at_every_look() {
    let mut missed = 0;
    let mut random = Random::new(7);
    let mut known = BTreeMap::new();
    for _ in 0..1000 {
        let (mut good, mut bad, mut out) = (0, 0, false);
        while good + bad < 200 {
            if random.uniform() < 0.9 {
                good += 1
            } else {
                bad += 1
            }
            let held = *known.entry((good, bad)).or_insert_with(|| {
                let range = interval(good, bad, ERROR).unwrap();
                (range.low..=range.high).contains(&0.9)
            });
            out |= !held;
        }
        missed += u32::from(out);
    }
    // 50 expected at most; three standard deviations above it.
    assert!(missed < 71, "{missed}");
}

#[test]
fn the_ends_of_the_running_interval_are_where_the_evidence_is_enough() {
    for (good, bad) in [(0, 0), (5, 0), (0, 5), (7, 3), (400, 100)] {
        let range = interval(good, bad, ERROR).unwrap();
        assert!(0.0 <= range.low && range.low <= range.high && range.high <= 1.0);
        let exact = proportion::clopper_pearson(good, good + bad, 1.0 - ERROR).unwrap();
        assert!(range.low <= exact.low + 1e-12 && range.high >= exact.high - 1e-12);
    }
}

#[test]
fn what_is_no_share_or_error_has_no_verdict() {
    for (share, error) in
        [(0.0, 0.05), (1.0, 0.05), (f64::NAN, 0.05), (0.8, 0.0), (0.8, 1.0), (0.8, f64::NAN)]
    {
        assert!(standing(3, 1, share, error).is_none());
        assert!(sequential::more_good(3, 1, share, error).is_none());
    }
    // A million trials and no overflow.
    assert_eq!(standing(900_000, 100_000, 0.8, 0.05), Some(Standing::Proven));
    assert_eq!(standing(700_000, 300_000, 0.8, 0.05), Some(Standing::Refuted));
}
