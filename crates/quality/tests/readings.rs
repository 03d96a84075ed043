//! Laws that the readings of a spool keep.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use proptest::prelude::*;
use secondmelt_quality::readings::{Axes, Readings};

fn axes(dx_mm: f64, dy_mm: Option<f64>, dz_mm: Option<f64>) -> Axes {
    Axes { dx_mm, dy_mm, dz_mm }
}

fn summary(all: &[Axes]) -> Readings {
    let mut readings = Readings::default();
    for axes in all {
        readings.push(axes);
    }
    readings
}

fn close(a: Option<f64>, b: f64, tolerance: f64) -> bool {
    a.is_some_and(|a| (a - b).abs() <= tolerance * b.abs().max(1e-9))
}

#[test]
fn nothing_read_is_no_number() {
    let none = Readings::default();
    assert_eq!((none.mean_mm(), none.sd_mm(), none.lag1()), (None, None, None));
    assert_eq!((none.area_mm(), none.min_mm(), none.ovality_mean_mm()), (None, None, None));
}

#[test]
fn one_reading_has_a_mean_and_no_spread() {
    let one = summary(&[axes(1.75, Some(1.73), None)]);
    assert_eq!(one.mean_mm(), Some(1.74));
    assert_eq!((one.sd_mm(), one.lag1()), (None, None));
}

#[test]
fn equal_readings_have_no_spread_and_no_autocorrelation() {
    let flat = summary(&[axes(0.1, None, None); 1000]);
    assert_eq!(flat.sd_mm(), Some(0.0));
    assert_eq!(flat.lag1(), None);
}

#[test]
fn a_scale_that_grows_finer_loses_nothing() {
    let all = [1.8, 1.75, 1.749, 1.7501].map(|x| axes(x, None, None));
    // Sum 7.0491; squared deviations worked out by hand in exact decimals.
    let readings = summary(&all);
    assert_eq!(readings.mean_mm(), Some(1.762_275));
    assert!(close(readings.sd_mm(), (0.001_898_307_5_f64 / 3.0).sqrt(), 1e-13));
}

#[test]
fn a_third_axis_and_missing_axes_keep_the_mean_right() {
    let readings = summary(&[
        axes(1.7, Some(1.8), Some(1.9)),
        axes(1.7, Some(1.8), None),
        axes(1.6, None, None),
    ]);
    assert_eq!(readings.common_axes(), 1);
    assert!(close(readings.mean_mm(), (1.8 + 1.75 + 1.6) / 3.0, 1e-15));
}

proptest! {
    #[test]
    fn decimals_and_doubles_agree(values in prop::collection::vec((1500_i32..2000, 1500_i32..2000), 2..200)) {
        let decimal: Vec<_> = values.iter().map(|(x, y)| axes(f64::from(*x) / 1e3, Some(f64::from(*y) / 1e3), None)).collect();
        let exact = summary(&decimal);
        // A value without a short decimal form makes the sums go over to doubles.
        let mut mixed = Readings::default();
        let third = axes(5.25 / 3.0 + 1e-13, Some(1.75), None);
        mixed.push(&third);
        decimal.iter().for_each(|axes| { mixed.push(axes); });
        let means: Vec<f64> = decimal.iter().map(|a| f64::midpoint(a.dx_mm, a.dy_mm.unwrap())).collect();
        let all: Vec<f64> = std::iter::once(f64::midpoint(third.dx_mm, 1.75)).chain(means.iter().copied()).collect();
        for (readings, values) in [(&exact, &means), (&mixed, &all)] {
            let n = values.len() as f64;
            let mean = values.iter().sum::<f64>() / n;
            let scatter = values.iter().map(|x| (x - mean).powi(2)).sum::<f64>();
            prop_assert!(close(readings.mean_mm(), mean, 1e-12));
            prop_assert!(close(readings.sd_mm(), (scatter / (n - 1.0)).sqrt(), 1e-7));
            let steps: f64 = values.windows(2).map(|w| (w[1] - w[0]).powi(2)).sum();
            prop_assert!(close(readings.successive_sd_mm(), (steps / 2.0 / (n - 1.0)).sqrt(), 1e-7));
            if let Some(lag1) = readings.lag1() {
                let products: f64 = values.windows(2).map(|w| (w[0] - mean) * (w[1] - mean)).sum();
                prop_assert!((lag1 - products / scatter).abs() < 1e-6);
                prop_assert!((-1.0..=1.0).contains(&lag1));
            }
        }
    }

    #[test]
    fn bounds_hold(values in prop::collection::vec((1e-3_f64..1e6, 1e-3_f64..1e6), 1..50)) {
        let all: Vec<_> = values.iter().map(|(x, y)| axes(*x, Some(*y), None)).collect();
        let readings = summary(&all);
        let (min, max) = (readings.min_mm().unwrap(), readings.max_mm().unwrap());
        let slack = 1e-9 * max;
        prop_assert!(min - slack <= readings.mean_mm().unwrap() && readings.mean_mm().unwrap() <= max + slack);
        prop_assert!(min - slack <= readings.area_mm().unwrap() && readings.area_mm().unwrap() <= max + slack);
        prop_assert!(readings.ovality_mean_mm().unwrap() <= readings.ovality_max_mm().unwrap() + slack);
        prop_assert!(readings.sd_mm().is_none_or(f64::is_finite));
    }
}
