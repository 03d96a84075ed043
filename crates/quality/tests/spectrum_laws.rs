//! What the search for waves along a spool finds, and what it must not find. The full
//! study is `examples/periodicity_study.rs`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod noise;

use noise::Noise;
use proptest::prelude::*;
use secondmelt_quality::spectrum::{
    FewSettings, ScanSettings, WaveScan, Waves, apparent_frequency, fisher_test, waves_of_few,
};
use std::f64::consts::TAU;

const SPACING_M: f64 = 0.1;

fn searched(readings: impl IntoIterator<Item = (f64, f64)>) -> Waves {
    let mut scan = WaveScan::new(ScanSettings::default()).unwrap();
    readings.into_iter().for_each(|(x, y)| scan.push(x, y));
    scan.waves().unwrap()
}

/// Noise of 0.01 mm along `n` readings, with waves of (amplitude, period).
fn spool(seed: u64, n: usize, lag1: f64, waves: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let noise = Noise::of(seed).following(n, lag1);
    let reading = |(i, z): (usize, &f64)| {
        let x = SPACING_M * i as f64;
        let wave = |(amplitude, period): &(f64, f64)| amplitude * (TAU * x / period + 1.0).sin();
        (x, 1.75 + 0.01 * z + waves.iter().map(wave).sum::<f64>())
    };
    noise.iter().enumerate().map(reading).collect()
}

#[test]
fn a_wave_smaller_than_the_noise_is_found_with_its_period() {
    let mut found = 0;
    let runs = 40;
    for seed in 0..runs {
        let period = [0.26, 0.7, 2.3, 6.1][seed as usize % 4];
        let waves = searched(spool(seed, 2000, 0.5, &[(0.008, period)]));
        let off = waves.peaks.first().map_or(1.0, |peak| (peak.period() / period - 1.0).abs());
        found += u64::from(off < 0.015);
    }
    assert!(found * 100 >= runs * 95, "{found} of {runs}");
}

#[test]
fn noise_that_hangs_together_shows_no_wave() {
    let (mut shown, mut runs) = (0, 0);
    for (seed, lag1) in (0..20).flat_map(|seed| [0.0, 0.9, 0.97].map(|lag1| (seed, lag1))) {
        runs += 1;
        shown += usize::from(!searched(spool(seed, 2000, lag1, &[])).peaks.is_empty());
    }
    assert!(shown * 20 <= runs, "{shown} of {runs}");
}

#[test]
fn a_wave_far_above_the_noise_throws_no_shadows() {
    for (seed, period) in [(1, 0.77), (2, 1.31), (3, 4.0)] {
        let waves = searched(spool(seed, 4000, 0.8, &[(0.3, period)]));
        assert_eq!(waves.peaks.len(), 1, "{waves:?}");
        let peak = waves.peaks[0];
        assert!((peak.period() - period).abs() < 1e-4 * period, "{peak:?}");
        assert!((peak.amplitude - 0.3).abs() < 0.003, "{peak:?}");
    }
}

#[test]
fn overtones_are_told_from_waves_of_their_own() {
    let waves = searched(spool(
        7,
        4000,
        0.3,
        &[(0.02, 2.0), (0.01, 1.0), (0.008, 2.0 / 3.0), (0.012, 0.37)],
    ));
    let told: Vec<_> = waves.peaks.iter().map(|peak| peak.harmonic_of).collect();
    assert_eq!(told, [None, None, Some((0, 2)), Some((0, 3))], "{waves:?}");
}

#[test]
fn two_waves_further_apart_than_the_resolution_are_two() {
    let near = searched(spool(3, 4000, 0.5, &[(0.02, 1.0)]));
    let apart = 1.0 + 1.5 * near.resolution;
    let waves = searched(spool(3, 4000, 0.5, &[(0.02, 1.0), (0.02, 1.0 / apart)]));
    assert_eq!(waves.peaks.len(), 2, "{waves:?}");
}

#[test]
fn a_long_spool_is_searched_in_little_memory_and_can_be_asked_midway() {
    let readings = spool(11, 40_000, 0.8, &[(0.004, 0.9)]);
    let mut scan = WaveScan::new(ScanSettings::default()).unwrap();
    for (i, (x, y)) in readings.iter().enumerate() {
        scan.push(*x, *y);
        if i == 5000 {
            assert!(scan.waves().is_some());
        }
    }
    let waves = scan.waves().unwrap();
    assert_eq!(waves, searched(readings));
    assert_eq!(waves.peaks.len(), 1, "{waves:?}");
    assert!((waves.peaks[0].period() - 0.9).abs() < 1e-4, "{waves:?}");
}

#[test]
fn waves_keep_their_place_when_unit_and_origin_change() {
    let readings = spool(5, 3000, 0.6, &[(0.01, 1.7)]);
    let plain = searched(readings.iter().copied());
    let moved = searched(readings.iter().map(|(x, y)| (x + 12.5, 3.0 + 8.0 * y)));
    let (a, b) = (plain.peaks[0], moved.peaks[0]);
    assert!((a.frequency - b.frequency).abs() < 1e-6);
    assert!((8.0 * a.amplitude - b.amplitude).abs() < 1e-6);
    assert_eq!(plain.peaks.len(), moved.peaks.len());
}

#[test]
fn gaps_and_uneven_spacing_do_not_hide_a_wave_or_make_one() {
    let thinned = |readings: Vec<(f64, f64)>| {
        let mut noise = Noise::of(99);
        let kept: Vec<_> = readings
            .into_iter()
            .filter(|(x, _)| !(60.0..75.0).contains(x))
            .map(|(x, y)| (x + 0.02 * (noise.even() - 0.5), y))
            .collect();
        searched(kept)
    };
    let waves = thinned(spool(21, 4000, 0.7, &[(0.01, 1.9)]));
    assert_eq!(waves.peaks.len(), 1, "{waves:?}");
    assert!((waves.peaks[0].period() - 1.9).abs() < 0.01, "{waves:?}");
    assert_eq!(thinned(spool(22, 4000, 0.7, &[])).peaks.len(), 0);
}

#[test]
fn a_wave_shorter_than_two_readings_shows_where_folding_puts_it() {
    let waves = searched(spool(31, 4000, 0.3, &[(0.01, 0.13)]));
    let expected = apparent_frequency(1.0 / 0.13, 1.0 / SPACING_M).unwrap();
    assert!((waves.peaks[0].frequency - expected).abs() < 1e-3, "{waves:?}");
}

#[test]
fn a_drift_is_no_wave() {
    let drifting = spool(41, 3000, 0.5, &[]).into_iter().map(|(x, y)| (x, y + 5e-4 * x));
    assert_eq!(searched(drifting).peaks.len(), 0);
}

#[test]
fn too_few_readings_or_still_ones_show_nothing_and_do_no_harm() {
    let scan = WaveScan::new(ScanSettings::default()).unwrap();
    assert!(scan.waves().is_none());
    for n in [1, 2, 5, 31, 32, 33, 64, 65, 255, 256, 257, 1024] {
        let mut scan = WaveScan::new(ScanSettings::default()).unwrap();
        (0..n).for_each(|i| scan.push(SPACING_M * f64::from(i), 1.75));
        assert!(scan.waves().is_none_or(|waves| waves.peaks.is_empty()), "{n}");
        scan.push(f64::NAN, 1.0);
        scan.push(1.0, f64::INFINITY);
    }
}

#[test]
fn few_readings_are_tested_as_often_wrong_as_stated() {
    let (mut by_fisher, mut by_few) = (0, 0);
    let runs = 200;
    for seed in 0..runs {
        let mut noise = Noise::of(seed);
        let readings: Vec<(f64, f64)> = (0..40).map(|i| (f64::from(i), noise.normal())).collect();
        let values: Vec<f64> = readings.iter().map(|r| r.1).collect();
        by_fisher += usize::from(fisher_test(&values).unwrap().p < 0.05);
        let settings = FewSettings { highest: 0.5, alpha: 0.05, least_amplitude: 0.0 };
        by_few += usize::from(!waves_of_few(&readings, &settings).unwrap().is_empty());
    }
    // 5 % and three standard errors of 200 runs.
    assert!(by_fisher <= 19 && by_few <= 19, "{by_fisher} {by_few}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever comes in, it ends, and what it tells is finite.
    #[test]
    fn wild_readings_do_no_harm(
        readings in prop::collection::vec((any::<f64>(), any::<f64>()), 0..300), tame in 0_usize..300,
    ) {
        let mut scan = WaveScan::new(ScanSettings::default()).unwrap();
        (0..tame).for_each(|i| scan.push(SPACING_M * i as f64, (1.7 * (i * i) as f64).sin()));
        readings.iter().for_each(|(x, y)| scan.push(*x, *y));
        for peak in scan.waves().into_iter().flat_map(|waves| waves.peaks) {
            prop_assert!(peak.amplitude.is_finite() && peak.frequency.is_finite());
            prop_assert!(peak.period_u().is_finite() && (0.0..=1.0).contains(&peak.p));
        }
    }
}
