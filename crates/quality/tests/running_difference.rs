//! Running evidence that two groups differ: a case worked by hand, and how often it is wrong, by
//! simulation; the tables stand in the documentation of `running_difference`.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use secondmelt_quality::contingency::Table;
use secondmelt_quality::random::Random;
use secondmelt_quality::running_difference::running_difference;

const LABS: usize = 2000;
const TRIALS: u64 = 200;
const ENOUGH: f64 = 20.0;
const NONE: Table = Table { good1: 0, bad1: 0, good2: 0, bad2: 0 };

/// Worked by hand: five trials of one kind have the mixed chance 1/2 3/4 5/6 7/8 9/10 = 252/1024
/// in each group, and the best common chance is 1/2 for each of the ten: 1024 (252/1024)^2.
#[test]
fn five_failed_and_five_good_ones() {
    let whole = 252.0_f64.powi(2) / 1024.0;
    let found = running_difference(Table { bad1: 5, good2: 5, ..NONE }).unwrap();
    assert!((found - whole.ln()).abs() < 1e-12 && (whole - 62.015_625).abs() < 1e-12, "{found}");
    // Four of each: 256 (35/128)^2 = 19.14, just short of 20.
    let found = running_difference(Table { bad1: 4, good2: 4, ..NONE }).unwrap();
    assert!((found - (35.0_f64.powi(2) / 64.0).ln()).abs() < 1e-12, "{found}");
    // One good trial: 1/2 over 1.
    let found = running_difference(Table { good1: 1, ..NONE }).unwrap();
    assert!((found - 0.5_f64.ln()).abs() < 1e-12, "{found}");
}

#[test]
fn neither_the_order_of_groups_nor_what_is_called_good_matters() {
    let of =
        |good1, bad1, good2, bad2| running_difference(Table { good1, bad1, good2, bad2 }).unwrap();
    for (a, b, c, d) in [(3, 1, 7, 12), (0, 9, 2, 0), (100, 40, 900, 17), (5, 0, 0, 0)] {
        let here = of(a, b, c, d);
        for other in [of(c, d, a, b), of(b, a, d, c)] {
            assert!((here - other).abs() < 1e-9, "{here} {other}");
        }
    }
    assert!(running_difference(NONE).unwrap().abs() < 1e-12);
    // Alike groups speak against a difference; huge ones have a number, and too huge ones none.
    assert!(of(50, 50, 50, 50) < 0.0);
    assert!(of(900_000_000, 100_000_000, 700_000_000, 300_000_000) > 1e7);
    assert!(running_difference(Table { good1: u64::MAX, ..NONE }).unwrap().is_finite());
    assert!(running_difference(Table { good1: u64::MAX, bad2: 1, ..NONE }).is_none());
}

/// What makes a lab take the other group.
#[derive(Clone, Copy)]
enum Change {
    EachFailure,
    TwoFailures,
    Alternate,
    AtRandom,
}

/// Trials after which they first are enough, where it is within `TRIALS`.
fn shown(
    random: &mut Random,
    change: Change,
    chances: [f64; 2],
    enough: fn(Table) -> bool,
) -> Option<u64> {
    let (mut table, mut group, mut failures) = (NONE, 0, 0);
    for trial in 1..=TRIALS {
        let good = random.uniform() < chances[group];
        let count = match (group, good) {
            (0, true) => &mut table.good1,
            (0, false) => &mut table.bad1,
            (_, true) => &mut table.good2,
            (_, false) => &mut table.bad2,
        };
        *count += 1;
        if enough(table) {
            return Some(trial);
        }
        failures += u64::from(!good);
        let other = match change {
            Change::EachFailure => failures == 1,
            Change::TwoFailures => failures == 2,
            Change::Alternate => true,
            Change::AtRandom => random.uniform() < 0.5,
        };
        if other {
            (group, failures) = (1 - group, 0);
        }
    }
    None
}

fn evidence(table: Table) -> bool {
    running_difference(table).unwrap() >= ENOUGH.ln()
}

fn fisher(table: Table) -> bool {
    table.fisher_two_sided().unwrap() <= 1.0 / ENOUGH
}

fn pct(n: usize) -> f64 {
    100.0 * n as f64 / LABS as f64
}

#[test]
fn a_common_chance_is_seldom_called_two() {
    let rows = [
        ("after each failure", Change::EachFailure),
        ("after two failures", Change::TwoFailures),
        ("after each trial", Change::Alternate),
        ("at random", Change::AtRandom),
    ];
    for (seed, (name, change)) in rows.into_iter().enumerate() {
        let mut random = Random::new(seed as u64);
        let mut wrong = |chance: f64, enough| {
            let labs = 0..LABS;
            pct(labs.filter(|_| shown(&mut random, change, [chance; 2], enough).is_some()).count())
        };
        let rates = [0.2, 0.5, 0.8].map(|chance| wrong(chance, evidence));
        let fixed = wrong(0.5, fisher);
        println!(
            "//! | {name} | {:.1} | {:.1} | {:.1} | {fixed:.1} |",
            rates[0], rates[1], rates[2]
        );
        assert!(rates.iter().all(|rate| *rate <= 5.0), "{name}: {rates:?}");
        // What it is there for.
        assert!(fixed > 10.0, "{name}: {fixed}");
    }
}

#[test]
fn a_difference_is_soon_shown() {
    for (seed, (chances, least)) in
        [([0.1, 0.9], [30.0, 75.0, 95.0]), ([0.3, 0.9], [10.0, 35.0, 75.0])].into_iter().enumerate()
    {
        let mut random = Random::new(10 + seed as u64);
        let first: Vec<u64> = (0..LABS)
            .filter_map(|_| shown(&mut random, Change::Alternate, chances, evidence))
            .collect();
        let within = [10, 20, 40].map(|most| pct(first.iter().filter(|n| **n <= most).count()));
        let [low, high] = chances.map(|chance| 100.0 * chance);
        println!(
            "//! | {low:.0} and {high:.0} | {:.1} | {:.1} | {:.1} |",
            within[0], within[1], within[2]
        );
        assert!(within.iter().zip(least).all(|(rate, least)| *rate > least), "{within:?}");
    }
}
