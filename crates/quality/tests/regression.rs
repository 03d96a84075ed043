//! Straight lines against certified and worked values in
//! `tests/reference/regression.json`, and the error of a drift along a spool.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod cases;
mod noise;

use cases::{check, number, numbers};
use noise::Noise;
use secondmelt_quality::regression::{DriftSums, Line, LineSums};
use serde_json::{Value, json};

const CASES: &str = include_str!("../../../tests/reference/regression.json");

fn computed(_id: &str, inputs: &Value) -> Option<Value> {
    if inputs["dataset"].is_string() {
        return Some(inverse(inputs));
    }
    let (x, y) = (inputs["x"].as_array()?, inputs["y"].as_array()?);
    if x.first()?.is_array() {
        return Some(several(x, y));
    }
    let line = fitted(&inputs["x"], &inputs["y"], inputs["intercept"] != json!(false));
    Some(told(&line, inputs))
}

#[test]
fn lines_agree_with_the_reference_cases() {
    check(CASES, computed);
}

fn fitted(x: &Value, y: &Value, intercept: bool) -> Line {
    let mut sums = if intercept { LineSums::with_intercept() } else { LineSums::through_origin() };
    numbers(x).into_iter().zip(numbers(y)).for_each(|(x, y)| sums.push(x, y));
    sums.line().unwrap()
}

fn told(line: &Line, inputs: &Value) -> Value {
    let at = if inputs["x0"].is_null() { vec![] } else { numbers(&inputs["x0"]) };
    let confidence = inputs["conf"].as_f64().unwrap_or(0.95);
    let each = |f: &dyn Fn(f64) -> (f64, f64)| at.iter().map(|x| f(*x)).collect::<Vec<_>>();
    json!({"b0": line.intercept, "b1": line.slope, "se_b0": line.intercept_se(),
        "se_b1": line.slope_se(), "residual_sd": line.residual_sd(),
        "r_squared": line.r_squared(), "ss_regression": line.regression_squares,
        "ss_residual": line.residual_squares, "f": line.f(), "df": line.freedom,
        "fitted": at.iter().map(|x| line.at(*x)).collect::<Vec<_>>(),
        "mean_interval": each(&|x| line.mean_interval(x, confidence).unwrap()),
        "prediction_interval": each(&|x| line.prediction_interval(x, 1.0, confidence).unwrap()),
        "p_slope": line.slope_p()})
}

/// Several sets in one case: a list for each value.
fn several(x: &[Value], y: &[Value]) -> Value {
    let lines: Vec<Line> = x.iter().zip(y).map(|(x, y)| fitted(x, y, true)).collect();
    let each = |f: &dyn Fn(&Line) -> f64| lines.iter().map(f).collect::<Vec<_>>();
    json!({"b0": each(&|l| l.intercept.unwrap()), "b1": each(&|l| l.slope),
        "se_b1": each(&Line::slope_se), "r_squared": each(&|l| l.r_squared().unwrap()),
        "residual_sd": each(&Line::residual_sd)})
}

/// A case that names the data of another.
fn inverse(inputs: &Value) -> Value {
    let file: Value = serde_json::from_str(CASES).unwrap();
    let cases = file["cases"].as_array().unwrap();
    let other = cases.iter().find(|case| case["id"] == inputs["dataset"]).unwrap();
    let line = fitted(&other["inputs"]["x"], &other["inputs"]["y"], true);
    let x = |name| number(inputs, name);
    let found = line.inverse(x("y0"), x("m"), x("conf")).unwrap();
    json!({"x0": found.x, "low": found.low, "high": found.high, "g": found.g})
}

/// Share of steady spools of which a drift is told at 5 %, with and without allowing for
/// close readings.
fn false_drifts(r: f64, n: usize) -> (f64, f64) {
    let (mut honest, mut naive) = (0, 0);
    let runs = 400;
    for seed in 0..runs {
        let mut sums = DriftSums::default();
        for (i, z) in Noise::of(seed).following(n, r).iter().enumerate() {
            sums.push(0.1 * i as f64, 1.75 + 0.01 * z);
        }
        let drift = sums.drift();
        honest += usize::from(drift.is_some_and(|drift| drift.p < 0.05));
        naive += usize::from(drift.is_some_and(|drift| drift.line.slope_p().unwrap() < 0.05));
    }
    (honest as f64 / runs as f64, naive as f64 / runs as f64)
}

#[test]
fn a_steady_spool_of_close_readings_shows_no_drift_more_often_than_stated() {
    // 5 % and three standard errors of 400 runs.
    for (r, n) in [(0.0, 200), (0.6, 500), (0.9, 2000), (0.97, 4000)] {
        let (honest, naive) = false_drifts(r, n);
        assert!(honest < 0.05 + 0.033, "{r} {n}: {honest}");
        assert!(r == 0.0 || naive > 0.2, "{r} {n}: {naive}");
    }
}

#[test]
fn a_real_drift_is_found_and_its_interval_holds_it() {
    let (mut found, mut held) = (0, 0);
    for seed in 0..100 {
        let mut sums = DriftSums::default();
        for (i, z) in Noise::of(seed).following(2000, 0.8).iter().enumerate() {
            let x = 0.1 * i as f64;
            sums.push(x, 1.75 + 1e-4 * x + 0.01 * z);
        }
        let drift = sums.drift().unwrap();
        let (low, high) = drift.slope_interval(0.95).unwrap();
        found += usize::from(drift.p < 0.05);
        held += usize::from(low <= 1e-4 && 1e-4 <= high);
    }
    assert!(found > 95 && held >= 89, "{found} {held}");
}
