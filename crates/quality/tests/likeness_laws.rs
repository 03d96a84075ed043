//! How often a lot is told apart from a baseline, when it was made like it and when it was not.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod noise;

use noise::Noise;
use secondmelt_quality::chart::{
    BASELINE_LEAST, Baseline, Basis, Known, Likeness, Question, Subgroup,
};

const READINGS: usize = 20;

/// What remembers: each reading the one before, or each subgroup.
#[derive(Debug, Clone, Copy)]
enum Memory {
    OfReadings,
    OfSubgroups,
}

fn subgroups(noise: &mut Noise, k: usize, r: f64, memory: Memory) -> Vec<Subgroup> {
    let readings: Vec<f64> = match memory {
        Memory::OfReadings => noise.following(k * READINGS, r),
        Memory::OfSubgroups => {
            let base = noise.following(k, r);
            base.iter().flat_map(|x| [*x; READINGS]).map(|x| x + noise.normal()).collect()
        }
    };
    let of = |readings: &[f64]| {
        let mean = readings.iter().sum::<f64>() / READINGS as f64;
        let squares: f64 = readings.iter().map(|x| (x - mean).powi(2)).sum();
        let sd = (squares / (READINGS - 1) as f64).sqrt();
        Subgroup { n: READINGS as u32, mean, range: 0.0, sd }
    };
    readings.chunks(READINGS).map(of).collect()
}

fn known(subgroups: &[Subgroup]) -> Known {
    let mut baseline = Baseline::default();
    subgroups.iter().for_each(|subgroup| assert!(baseline.push(subgroup)));
    let limits = baseline.limits(Basis::Components).unwrap();
    Known {
        subgroups: subgroups.len() as f64,
        centre: limits.mean.centre,
        sd: limits.mean.sigma,
        lag1: baseline.lag1_of_means().unwrap().clamp(0.0, 0.99),
        spread: limits.spread.centre,
        spread_sd: limits.spread.sigma,
    }
}

/// What lots of `k` subgroups are told apart by, at 1 %, from baselines of `m`; the mean of the lots is
/// shifted and their spread multiplied.
fn told_apart(
    runs: u64,
    (m, k): (usize, usize),
    (r, memory): (f64, Memory),
    (shift, times): (f64, f64),
) -> Vec<Question> {
    let apart = |seed| {
        let mut noise = Noise::of(seed);
        let mut likeness = Likeness::new(known(&subgroups(&mut noise, m, r, memory))).unwrap();
        for subgroup in subgroups(&mut noise, k, r, memory) {
            likeness.push(subgroup.mean + shift, subgroup.sd * times);
        }
        let answer = likeness.answer(0.01).unwrap();
        let sure = likeness.baseline_counts_for() >= BASELINE_LEAST && !likeness.remembers_long();
        (sure && answer.p < 0.01).then_some(answer.question)
    };
    (0..runs).filter_map(apart).collect()
}

#[test]
fn healthy_lots_are_seldom_told_apart_and_changed_ones_mostly() {
    let share = |r, change| {
        told_apart(300, (50, 100), (r, Memory::OfSubgroups), change).len() as f64 / 300.0
    };
    assert!(share(0.0, (0.0, 1.0)) < 0.03);
    assert!(share(0.5, (0.0, 1.0)) < 0.03);
    assert!(share(0.0, (1.5, 1.0)) > 0.9);
    assert!(share(0.0, (0.0, 1.4)) > 0.9);
}

#[test]
#[ignore = "half a minute of an optimised build: the table in the docs of quality::chart"]
fn the_table_of_the_docs() {
    println!("//! | memory | r | 20 subgroups | 50 | 200 |\n//! |---|---|---|---|---|");
    for memory in [Memory::OfReadings, Memory::OfSubgroups] {
        for r in [0.0, 0.5, 0.8, 0.95] {
            let share = |m| {
                let told = told_apart(4000, (m, 200), (r, memory), (0.0, 1.0));
                told.len() as f64 / 40.0
            };
            let [a, b, c] = [20, 50, 200].map(share);
            let word = match memory {
                Memory::OfReadings => "of readings",
                Memory::OfSubgroups => "of subgroups",
            };
            println!("//! | {word} | {r} | {a:.1} % | {b:.1} % | {c:.1} % |");
        }
    }
    println!("//!\n//! | change | 20 subgroups | 50 | 200 |\n//! |---|---|---|---|");
    let changes = [
        ("mean by one standard deviation of a mean", (1.0, 1.0)),
        ("mean by two", (2.0, 1.0)),
        ("spread by 1.2", (0.0, 1.2)),
        ("spread by 1.4", (0.0, 1.4)),
    ];
    for (word, change) in changes {
        let share =
            |m| told_apart(500, (m, 200), (0.3, Memory::OfSubgroups), change).len() as f64 / 5.0;
        let [a, b, c] = [20, 50, 200].map(share);
        println!("//! | {word} | {a:.0} % | {b:.0} % | {c:.0} % |");
    }
}
