//! Waves of turning parts against the cases in `tests/reference/diameter_waves.json`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod cases;

use cases::{check, number, numbers};
use secondmelt_quality::period_match::{readings_per_s, roller_period_m, turning_period_m};
use secondmelt_quality::spectrum::{FewSettings, ScanSettings, WaveScan, waves_of_few};
use serde_json::{Value, json};

const CASES: &str = include_str!("../../../tests/reference/diameter_waves.json");

fn computed(_id: &str, inputs: &Value) -> Option<Value> {
    let has = |name: &str| !inputs[name].is_null();
    Some(match inputs {
        _ if has("screw_rpm") => pulsation(inputs),
        _ if has("roller_diameter_mm") => rollers(inputs),
        _ if has("readings_mm") => detected(inputs),
        _ if has("period_m") => sampling(inputs),
        _ => return None,
    })
}

#[test]
fn waves_agree_with_the_reference_cases() {
    check(CASES, computed);
}

fn pulsation(inputs: &Value) -> Value {
    let speeds = numbers(&inputs["line_speed_m_min"]);
    let periods: Vec<f64> = speeds
        .iter()
        .zip(numbers(&inputs["screw_rpm"]))
        .map(|(speed, rpm)| turning_period_m(*speed, rpm).unwrap())
        .collect();
    json!({"period_m": periods, "waves_per_m": periods.iter().map(|p| 1.0 / p).collect::<Vec<_>>()})
}

fn rollers(inputs: &Value) -> Value {
    let diameters = numbers(&inputs["roller_diameter_mm"]);
    let periods = diameters.iter().map(|d| 1000.0 * roller_period_m(*d).unwrap());
    json!({"period_mm": periods.collect::<Vec<_>>()})
}

fn sampling(inputs: &Value) -> Value {
    let rate = |readings| {
        readings_per_s(number(inputs, "line_speed_m_min"), number(inputs, "period_m"), readings)
    };
    json!({"readings_per_s_minimum": rate(2.0), "readings_per_s_wanted": rate(10.0)})
}

fn readings(inputs: &Value) -> Vec<(f64, f64)> {
    let spacing = number(inputs, "spacing_m");
    let place = |(i, x): (usize, f64)| (spacing * i as f64, x);
    numbers(&inputs["readings_mm"]).into_iter().enumerate().map(place).collect()
}

fn detected(inputs: &Value) -> Value {
    let spacing = number(inputs, "spacing_m");
    let settings = FewSettings { highest: 0.5 / spacing, alpha: 0.01, least_amplitude: 1e-4 };
    let waves = waves_of_few(&readings(inputs), &settings).unwrap();
    json!({"periods_m": waves.iter().map(|w| w.period()).collect::<Vec<_>>(),
        "amplitudes_mm": waves.iter().map(|w| w.amplitude).collect::<Vec<_>>()})
}

#[test]
fn the_search_along_a_spool_finds_the_waves_of_a_short_one_too() {
    let file: Value = serde_json::from_str(CASES).unwrap();
    let case = file["cases"].as_array().unwrap().iter().find(|c| c["id"] == "wave-detect").unwrap();
    let mut scan = WaveScan::new(ScanSettings::default()).unwrap();
    readings(&case["inputs"]).iter().for_each(|(x, y)| scan.push(*x, *y));
    let waves = scan.waves().unwrap();
    for (peak, (period, amplitude)) in waves.peaks.iter().zip([(1.25, 0.02), (0.5, 0.01)]) {
        assert!((peak.period() - period).abs() < 0.02 * period, "{peak:?}");
        assert!((peak.amplitude - amplitude).abs() < 0.02 * amplitude, "{peak:?}");
    }
    assert_eq!(waves.peaks.len(), 2, "{waves:?}");
}
