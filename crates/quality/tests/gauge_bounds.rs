//! Whether the bounds of a gauge hold its true standard deviation as often as they promise.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod noise;

use noise::Noise;
use secondmelt_quality::gauge_study::{Study, crossed, one_way};

const CONFIDENCE: f64 = 0.95;
const RUNS: u64 = 1000;

/// Shares of simulated studies whose lower bound is not above, and upper bound not below, the truth.
fn held(bounds: impl Fn(&mut Noise) -> (f64, f64), truth: f64) -> (f64, f64) {
    let (mut low, mut high) = (0, 0);
    for seed in 0..RUNS {
        let (below, above) = bounds(&mut Noise::of(seed));
        low += u64::from(below <= truth);
        high += u64::from(above >= truth);
    }
    (low as f64 / RUNS as f64, high as f64 / RUNS as f64)
}

#[test]
fn one_person_s_bounds_are_those_of_chi_square() {
    let groups = vec![vec![1.0, 1.2], vec![2.0, 2.4], vec![3.1, 3.0], vec![4.0, 4.3]];
    let found = one_way::analyse(&groups).unwrap();
    let (low, high) = found.residual_bounds(CONFIDENCE).unwrap();
    // NIST/SEMATECH e-Handbook 1.3.6.7.4: chi square with 4 degrees of freedom has 0.711 and 9.488
    // below it with 5 and 95 %.
    assert!((high / found.residual_sd - (4.0_f64 / 0.711).sqrt()).abs() < 2e-3);
    assert!((low / found.residual_sd - (4.0_f64 / 9.488).sqrt()).abs() < 1e-4);
    let (low, high) = held(
        |noise| {
            let parts: Vec<Vec<f64>> = (0..5)
                .map(|_| {
                    let part = 10.0 * noise.normal();
                    (0..2).map(|_| part + noise.normal()).collect()
                })
                .collect();
            one_way::analyse(&parts).unwrap().residual_bounds(CONFIDENCE).unwrap()
        },
        1.0,
    );
    assert!((0.93..=0.97).contains(&low) && (0.93..=0.97).contains(&high), "{low} {high}");
}

/// Spreads between people, of their interaction with pieces, and of repeats.
fn crossed_bounds(noise: &mut Noise, (people, together, repeats): (f64, f64, f64)) -> (f64, f64) {
    let parts: Vec<f64> = (0..10).map(|_| 5.0 * noise.normal()).collect();
    let readings: Vec<Vec<Vec<f64>>> = (0..3)
        .map(|_| {
            let person = people * noise.normal();
            let own: Vec<f64> =
                parts.iter().map(|part| part + person + together * noise.normal()).collect();
            (0..2).map(|_| own.iter().map(|x| x + repeats * noise.normal()).collect()).collect()
        })
        .collect();
    crossed::analyse(&Study::new(&readings).unwrap()).gauge_bounds(CONFIDENCE).unwrap()
}

#[test]
fn bounds_of_a_crossed_study_hold_the_gauge_as_often_as_they_promise() {
    for spreads in [(1.0, 0.0, 1.0), (0.5, 0.0, 1.0), (2.0, 1.0, 1.0), (0.0, 0.0, 1.0)] {
        let (people, together, repeats): (f64, f64, f64) = spreads;
        let truth = people.hypot(together).hypot(repeats);
        let (low, high) = held(|noise| crossed_bounds(noise, spreads), truth);
        assert!(low >= 0.93 && high >= 0.93, "{spreads:?}: {low} {high}");
    }
}
