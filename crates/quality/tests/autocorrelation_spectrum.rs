//! Autocorrelation, effective numbers and periodograms against the cases in
//! `tests/reference/autocorrelation_spectrum.json`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod cases;

use cases::{begins, check, number, numbers, rows};
use secondmelt_quality::autocorrelation::{
    Lags, band_95, effective_of_many, effective_readings, expected_variance_ratio, ljung_box,
    runs_about_median, variance_of_mean_ratio,
};
use secondmelt_quality::spectrum::{
    LombScargle, apparent_frequency, fisher_critical, fisher_p, fisher_test,
};
use serde_json::{Value, json};
use std::f64::consts::TAU;

const CASES: &str = include_str!("../../../tests/reference/autocorrelation_spectrum.json");

fn computed(id: &str, inputs: &Value) -> Option<Value> {
    let columns = inputs["columns"]
        .as_array()
        .map(|names| names.iter().map(|name| name.as_str().unwrap()).collect::<Vec<_>>().join(" "));
    Some(match (columns.as_deref(), inputs) {
        (Some("n rho"), _) => autoregression(inputs),
        (Some("m g"), _) => json!({"p": by_row(inputs, |m, g| fisher_p(m as u32, g))}),
        (Some("f fs"), _) => json!({"apparent": by_row(inputs, apparent_frequency)}),
        (None, i) if !i["alpha"].is_null() => critical(inputs),
        (None, i) if !i["maximum_frequency"].is_null() => lomb(id, inputs),
        (None, i) if !i["lags"].is_null() => lags(id, inputs),
        (None, _) if id.starts_with("fisher") => fisher(id, inputs),
        (None, _) if id.starts_with("runs") => runs(inputs),
        _ => return None,
    })
}

#[test]
fn correlations_and_periodograms_agree_with_the_reference_cases() {
    check(CASES, computed);
}

fn by_row(inputs: &Value, f: fn(f64, f64) -> Option<f64>) -> Vec<f64> {
    rows(inputs).iter().map(|row| f(row[0], row[1]).unwrap()).collect()
}

fn autoregression(inputs: &Value) -> Value {
    json!({"var_mean_ratio": by_row(inputs, variance_of_mean_ratio),
        "n_eff": by_row(inputs, effective_readings),
        "n_eff_asymptotic": by_row(inputs, effective_of_many),
        "expected_s2_ratio": by_row(inputs, expected_variance_ratio)})
}

fn critical(inputs: &Value) -> Value {
    let alpha = number(inputs, "alpha");
    let g = |m: &f64| fisher_critical(*m as u32, alpha).unwrap();
    json!({"g": numbers(&inputs["m"]).iter().map(g).collect::<Vec<_>>()})
}

/// The data of a case: as listed, or made by the rule that is listed.
fn data(id: &str, inputs: &Value) -> Vec<f64> {
    if !inputs["data"].is_null() {
        return numbers(&inputs["data"]);
    }
    let rule: fn(f64) -> f64 = match id {
        "acf-wave" => |i| 1.75 + 0.01 * (TAU * i / 12.0).sin() + 0.004 * (1.7 * i * i).cos(),
        "fisher-strong" => {
            |i| 1.75 + 0.006 * (TAU * 8.0 * i / 128.0).sin() + 0.01 * (1.3 * i * i).cos()
        }
        "fisher-weak" => |i| (1.1 * i * i).cos() + (0.37 * i * i + 0.5).sin(),
        other => panic!("no rule for {other}"),
    };
    let data: Vec<f64> = (0..number(inputs, "n") as u32).map(|i| rule(f64::from(i))).collect();
    assert!(begins(&data, &inputs["first"]), "{id}: other data");
    data
}

fn lags(id: &str, inputs: &Value) -> Value {
    let data = data(id, inputs);
    let mut lags = Lags::new(number(inputs, "lags") as usize).unwrap();
    data.iter().for_each(|x| lags.push(*x));
    let r = lags.autocorrelations().unwrap();
    let (q, p) = ljung_box(&r, data.len() as f64).unwrap();
    json!({"r": r, "ljung_box": q, "ljung_box_p": p,
        "von_neumann_ratio": lags.von_neumann_ratio(), "bound_95": band_95(data.len() as f64)})
}

fn fisher(id: &str, inputs: &Value) -> Value {
    let found = fisher_test(&data(id, inputs)).unwrap();
    json!({"ordinates": found.ordinates.len(), "peak_index": found.peak,
        "frequency": found.frequency, "period": 1.0 / found.frequency,
        "amplitude": found.amplitude, "g": found.g, "p_value": found.p,
        "first_ordinates": found.ordinates[..6]})
}

fn runs(inputs: &Value) -> Value {
    let found = runs_about_median(&numbers(&inputs["data"])).unwrap();
    json!({"n_above": found.above, "n_below": found.below, "runs": found.runs,
        "expected": found.expected, "variance": found.variance, "z": found.z,
        "p_two_sided": found.p})
}

fn lomb(id: &str, inputs: &Value) -> Value {
    let rule: fn(f64) -> (f64, f64) = match id {
        "lomb-uneven" => |i| {
            let t = i + 0.3 * i.sin();
            (t, 1.75 + 0.02 * (TAU * t / 7.3).sin() + 0.012 * (1.9 * i * i).cos())
        },
        "lomb-weak" => |i| {
            let t = 1.1 * i + 0.25 * (2.0 * i).cos();
            (t, 1.75 + 0.004 * (TAU * t / 11.0).sin() + 0.01 * (0.83 * i * i).sin())
        },
        other => panic!("no rule for {other}"),
    };
    let readings: Vec<_> = (0..number(inputs, "n") as u32).map(|i| rule(f64::from(i))).collect();
    let (t, y): (Vec<f64>, Vec<f64>) = readings.iter().copied().unzip();
    assert!(begins(&t, &inputs["t_first"]) && begins(&y, &inputs["y_first"]), "{id}: other data");
    let found = LombScargle::new(&readings).unwrap();
    let at = numbers(&inputs["frequencies"]);
    let peak = found.peak(0.0, number(inputs, "maximum_frequency")).unwrap();
    json!({"power_fitted_mean": at.iter().map(|f| found.power(*f)).collect::<Vec<_>>(),
        "power_classic": at.iter().map(|f| found.power_classic(*f)).collect::<Vec<_>>(),
        "peak_frequency": peak.frequency, "peak_power": peak.power,
        "peak_amplitude": peak.amplitude, "fap_single": peak.single,
        "fap_baluev": peak.false_alarm})
}
