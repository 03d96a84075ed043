//! Mean, standard deviation and lag-1 autocorrelation against the certified values of
//! the NIST Statistical Reference Datasets and exact fractions; source and status stand
//! beside each case in `tests/reference/univariate.json`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use num_bigint::BigInt;
use secondmelt_quality::readings::{Axes, Readings};
use secondmelt_quality::sums::Sums;
use serde_json::Value;

const CASES: &str = include_str!("../../../tests/reference/univariate.json");

/// The first digits of pi by Machin's formula (1706), pi = 16 arctan 1/5 - 4 arctan 1/239.
fn pi_digits(n: usize) -> Vec<f64> {
    let one = BigInt::from(10).pow(u32::try_from(n + 10).unwrap());
    let arctan = |x: u32| {
        let mut term = &one / x;
        let mut sum: BigInt = term.clone();
        for k in 1_u32.. {
            term /= x * x;
            if term == BigInt::ZERO {
                break;
            }
            let part = &term / (2 * k + 1);
            if k % 2 == 1 { sum -= part } else { sum += part }
        }
        sum
    };
    let pi: BigInt = arctan(5) * 16 - arctan(239) * 4;
    pi.to_string().bytes().take(n).map(|b| f64::from(b - b'0')).collect()
}

fn alternating(first: &str, low: &str, high: &str) -> Vec<f64> {
    let number = |text: &str| text.parse::<f64>().unwrap();
    let rest = (0..1000).map(|i| number(if i % 2 == 0 { low } else { high }));
    std::iter::once(number(first)).chain(rest).collect()
}

/// The data of a case: as listed, or made by the rule that is listed.
fn data(case: &Value) -> Vec<f64> {
    if let Some(data) = case["inputs"]["data"].as_array() {
        return data.iter().map(|x| x.as_f64().unwrap()).collect();
    }
    match case["id"].as_str().unwrap() {
        "strd-pidigits" => {
            let mut digits = pi_digits(5000);
            digits[956] = 3.0;
            digits
        }
        "pi-true-5000" => pi_digits(5000),
        "strd-numacc2" => alternating("1.2", "1.1", "1.3"),
        "strd-numacc3" => alternating("1000000.2", "1000000.1", "1000000.3"),
        "strd-numacc4" => alternating("10000000.2", "10000000.1", "10000000.3"),
        "ramp-1e9" => (1..=101).map(|i| 1e9 + f64::from(i)).collect(),
        id => panic!("no rule for {id}"),
    }
}

fn close(id: &str, what: &str, found: f64, case: &Value) {
    let expected = case["expected"][what].as_f64().unwrap();
    let tolerance = case["rel_tol"][what].as_f64().unwrap();
    let error = (found / expected - 1.0).abs();
    assert!(
        error <= tolerance,
        "{id}: {what} {found}, expected {expected}, relative error {error:e}"
    );
}

#[test]
fn certified_values_are_reached() {
    let cases: Value = serde_json::from_str(CASES).unwrap();
    let cases = cases["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 12);
    for case in cases {
        let id = case["id"].as_str().unwrap();
        let data = data(case);
        let first = case["inputs"]["first"].as_array().into_iter().flatten();
        assert!(first.zip(&data).all(|(a, b)| a.as_f64() == Some(*b)), "{id}: other data");
        let mut readings = Readings::default();
        for x in &data {
            readings.push(&Axes { dx_mm: *x, dy_mm: None, dz_mm: None });
        }
        assert_eq!(readings.n(), case["inputs"]["n"].as_u64().unwrap(), "{id}");
        close(id, "mean", readings.mean_mm().unwrap(), case);
        close(id, "sd", readings.sd_mm().unwrap(), case);
        close(id, "lag1_autocorrelation", readings.lag1().unwrap(), case);
    }
}

/// Doubles reach what doubles can: the certified sd of NumAcc4 to eight digits, since its
/// values are no binary fractions, and all others to ten.
#[test]
fn doubles_reach_the_tolerances_too() {
    let cases: Value = serde_json::from_str(CASES).unwrap();
    for case in cases["cases"].as_array().unwrap() {
        let id = case["id"].as_str().unwrap();
        let mut sums = Sums::default();
        data(case).iter().for_each(|x| sums.push(*x, 1.0));
        let expected = case["expected"]["sd"].as_f64().unwrap();
        let error = (sums.sd(1.0).unwrap() / expected - 1.0).abs();
        let allowed = case["rel_tol"]["sd"].as_f64().unwrap().max(1e-10);
        assert!(error <= allowed, "{id}: relative error {error:e}");
    }
}
