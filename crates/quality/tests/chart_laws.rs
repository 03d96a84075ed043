//! Laws of control charts, and how they bear readings that follow one another closely.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod noise;

use noise::Noise;
use proptest::prelude::*;
use secondmelt_quality::chart::{
    Baseline, Basis, Individuals, Monitor, Subgroup, SubgroupLimits, Subgrouper, Whitener,
    beyond_three_sigma,
};
use secondmelt_quality::run_rules::{Rule, WESTERN_ELECTRIC};

const BEYOND: [Rule; 1] = [Rule::Beyond { sigmas: 3.0 }];

fn subgroups(readings: &[f64], size: u32) -> Vec<Subgroup> {
    let mut subgrouper = Subgrouper::new(size).unwrap();
    readings.iter().filter_map(|x| subgrouper.push(*x)).collect()
}

fn baseline(subgroups: &[Subgroup]) -> Baseline {
    let mut baseline = Baseline::default();
    assert!(subgroups.iter().all(|subgroup| baseline.push(subgroup)));
    baseline
}

/// Share of later subgroups whose mean signals, and whose spread does.
fn signals(basis: Basis, rules: &[Rule], whitened: bool, r: f64) -> (f64, f64) {
    let (mut means, mut spreads, mut all) = (0, 0, 0);
    for seed in 0..10 {
        let readings: Vec<f64> =
            Noise::of(seed).following(10_000, r).iter().map(|z| 1.75 + 0.008 * z).collect();
        let groups = subgroups(&readings, 5);
        let (first, later) = groups.split_at(1000);
        let learned = baseline(first);
        let whitener = if whitened { learned.whitener() } else { None };
        let mut monitor = Monitor::new(learned.limits(basis).unwrap(), rules, whitener);
        for group in later {
            let signals = monitor.push(group).unwrap();
            means += usize::from(!signals.mean.is_empty());
            spreads += usize::from(signals.spread);
            all += 1;
        }
    }
    (means as f64 / all as f64, spreads as f64 / all as f64)
}

#[test]
fn limits_from_within_subgroups_drown_a_healthy_spool_and_the_others_do_not() {
    let (drowned, _) = signals(Basis::Ranges, &BEYOND, false, 0.9);
    assert!(drowned > 0.3, "{drowned}");
    for basis in [Basis::MovingRangeCorrected, Basis::Components] {
        let (means, spreads) = signals(basis, &BEYOND, false, 0.9);
        assert!(means < 0.01 && spreads < 0.02, "{basis:?}: {means} {spreads}");
    }
}

#[test]
fn independent_readings_signal_as_rarely_as_three_sigma_promise() {
    for basis in [Basis::Ranges, Basis::Deviations, Basis::MovingRange, Basis::MovingRangeCorrected]
    {
        let (means, _) = signals(basis, &BEYOND, false, 0.0);
        assert!((0.0005..0.008).contains(&means), "{basis:?}: {means}");
    }
}

#[test]
fn run_rules_bear_a_healthy_spool_once_it_is_whitened() {
    // The four zone tests on independent points signal once in 91.75 points (Champ and
    // Woodall 1987, Technometrics 29:393), counted afresh after each signal.
    let (raw, _) = signals(Basis::Components, &WESTERN_ELECTRIC, false, 0.95);
    let (white, _) = signals(Basis::Components, &WESTERN_ELECTRIC, true, 0.95);
    assert!(raw > 0.06 && white < 0.03, "{raw} {white}");
}

#[test]
fn a_lasting_step_of_two_sigma_of_the_mean_is_seen() {
    let mut noise = Noise::of(5);
    let readings: Vec<f64> = (0..1000).map(|_| 1.75 + 0.01 * noise.normal()).collect();
    let learned = baseline(&subgroups(&readings, 5));
    let mut monitor =
        Monitor::new(learned.limits(Basis::Components).unwrap(), &WESTERN_ELECTRIC, None);
    let moved: Vec<f64> = (0..50).map(|_| 1.759 + 0.01 * noise.normal()).collect();
    let seen = subgroups(&moved, 5).iter().any(|g| !monitor.push(g).unwrap().mean.is_empty());
    assert!(seen);
}

#[test]
fn what_does_not_vary_or_is_too_little_has_no_limits() {
    let mut chart = Individuals::default();
    assert!(chart.limits(1.128).is_none());
    chart.push(1.75);
    assert!(chart.limits(1.128).is_none());
    chart.push(1.75);
    assert!(chart.limits(1.128).is_none());
    assert!(Subgrouper::new(1).is_none());
    assert!(baseline(&subgroups(&[1.75; 50], 5)).limits(Basis::Components).is_none());
    assert!(baseline(&subgroups(&[1.0, 2.0], 2)).limits(Basis::Ranges).is_none());
    assert!(Whitener::new(1.0, 1.0, 1.0).is_none());
}

/// Limits with standards given: mean + A sigma, B5, B6, D1 and D2 of ASTM E2587 for n = 5,
/// printed to three decimals (2.326 + 3 x 0.864 = 4.918); from memory.
#[test]
fn limits_from_a_known_sigma_are_those_of_the_factors() {
    let near = |found: f64, printed: f64| assert!((found - printed).abs() < 6e-4, "{found}");
    let sds = SubgroupLimits::known(10.0, 1.0, 5, false).unwrap();
    near(sds.mean.upper, 10.0 + 1.342);
    near(sds.spread.upper, 1.964);
    near(sds.spread.lower, 0.0);
    let ranges = SubgroupLimits::known(10.0, 1.0, 5, true).unwrap();
    near(ranges.spread.upper, 4.918);
    near(ranges.spread.lower, 0.0);
    assert!(SubgroupLimits::known(10.0, 0.0, 5, true).is_none());
}

#[test]
fn subgroups_of_another_size_are_not_mixed_in() {
    let mut learned = baseline(&subgroups(&[1.0, 2.0, 3.0, 5.0], 2));
    let three = subgroups(&[1.0, 2.0, 3.0], 3);
    assert!(!learned.push(&three[0]));
    assert_eq!(learned.count(), 2);
    let mut monitor = Monitor::new(learned.limits(Basis::Ranges).unwrap(), &BEYOND, None);
    assert_eq!(monitor.push(&three[0]), None);
}

fn near(a: f64, b: f64, scale: f64) -> bool {
    (a - b).abs() <= 1e-9 * scale.abs().max(1e-12)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn limits_move_and_stretch_with_the_readings(
        xs in prop::collection::vec(-1.0_f64..1.0, 20..80), shift in -10.0_f64..10.0, scale in 0.1_f64..10.0,
    ) {
        for basis in [Basis::Ranges, Basis::Deviations, Basis::MovingRange, Basis::Components] {
            let moved: Vec<f64> = xs.iter().map(|x| shift + scale * x).collect();
            let limits = |xs: &[f64]| baseline(&subgroups(xs, 4)).limits(basis);
            if let (Some(a), Some(b)) = (limits(&xs), limits(&moved)) {
                prop_assert!(near(b.mean.upper, shift + scale * a.mean.upper, 20.0));
                prop_assert!(near(b.spread.upper, scale * a.spread.upper, 20.0));
                prop_assert!(a.mean.lower < a.mean.centre && a.mean.centre < a.mean.upper);
            }
        }
    }

    #[test]
    fn subgroups_do_not_hang_on_how_readings_come(xs in prop::collection::vec(-1.0_f64..1.0, 0..80), at in 0_usize..80) {
        let (head, tail) = xs.split_at(at.min(xs.len()));
        let mut subgrouper = Subgrouper::new(3).unwrap();
        let mut found: Vec<_> = head.iter().filter_map(|x| subgrouper.push(*x)).collect();
        found.extend(tail.iter().filter_map(|x| subgrouper.push(*x)));
        prop_assert_eq!(found, subgroups(&xs, 3));
    }
}

#[test]
fn baselines_merged_are_one_baseline_with_a_break() {
    let of = |seed: u32| -> Vec<Subgroup> {
        (0..25_u32)
            .map(|i| {
                let x = f64::from((i * 7919 + seed) % 101) / 1000.0;
                Subgroup { n: 20, mean: 1.75 + x, range: x, sd: 0.01 + x / 10.0 }
            })
            .collect()
    };
    let (first, second) = (of(3), of(50));
    let mut merged = baseline(&first);
    assert!(merged.merge(&baseline(&second)));
    let mut whole = baseline(&first);
    whole.restart();
    second.iter().for_each(|subgroup| assert!(whole.push(subgroup)));
    assert_eq!(merged.count(), whole.count());
    let near =
        |a: Option<f64>, b: Option<f64>| assert!((a.unwrap() / b.unwrap() - 1.0).abs() < 1e-12);
    near(merged.grand_mean(), whole.grand_mean());
    near(merged.mean_sd(), whole.mean_sd());
    near(merged.sigma_pooled(), whole.sigma_pooled());
    near(merged.sigma_between(), whole.sigma_between());
    near(merged.lag1_of_means(), whole.lag1_of_means());
    let other = baseline(&[Subgroup { n: 5, mean: 1.75, range: 0.0, sd: 0.01 }]);
    assert!(!merged.merge(&other));
}

#[test]
fn spreads_of_readings_that_follow_one_another_are_beyond_their_limits_as_often_as_is_said() {
    for (r, seed) in [(0.0, 1), (0.5, 2), (0.8, 3), (0.95, 4)] {
        let groups = subgroups(&Noise::of(seed).following(800_000, r), 20);
        let sds: Vec<f64> = groups.iter().map(|group| group.sd).collect();
        let n = sds.len() as f64;
        let mean = sds.iter().sum::<f64>() / n;
        let sd = (sds.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n).sqrt();
        let seen = sds.iter().filter(|x| (*x - mean).abs() > 3.0 * sd).count() as f64 / n;
        let said = beyond_three_sigma(20, sd / mean).unwrap();
        assert!((said / seen - 1.0).abs() < 0.25, "r {r}: {said}, seen {seen}");
    }
}
