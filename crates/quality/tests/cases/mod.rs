//! Checks values against a file of reference cases, whose source and status stand beside
//! each case.

#![allow(dead_code, clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use serde_json::Value;

/// The values computed for a case, under the names the case expects; none where the case
/// is not known.
pub type Compute = fn(&str, &Value) -> Option<Value>;

/// Holds every case of a file against what is computed for it.
pub fn check(text: &str, compute: Compute) {
    let file: Value = serde_json::from_str(text).unwrap();
    let cases = file["cases"].as_array().unwrap();
    assert!(!cases.is_empty());
    for case in cases {
        let id = case["id"].as_str().unwrap();
        let found = compute(id, &case["inputs"]).unwrap_or_else(|| panic!("{id} is not known"));
        let (tolerance, relative) = match (&case["rel_tol"], &case["abs_tol"]) {
            (Value::Null, absolute) => (absolute, false),
            (relative, _) => (relative, true),
        };
        let expected = case["expected"].as_object().unwrap();
        for (name, expected) in expected {
            let mut allowed = tolerance.get(name).unwrap_or(tolerance).as_f64().unwrap();
            let mut relative = relative;
            // The note of the case: rounding error is absolute here.
            if name == "first_ordinates" {
                (allowed, relative) = (1e-12, false);
            }
            alike(&format!("{id} {name}"), &found[name], expected, allowed, relative);
        }
    }
}

/// Checks that every expected value is met within the tolerance.
fn alike(at: &str, found: &Value, expected: &Value, allowed: f64, relative: bool) {
    match expected {
        Value::Array(values) => {
            let length = found.as_array().map(Vec::len);
            assert_eq!(length, Some(values.len()), "{at}: {found}, expected {expected}");
            for (i, value) in values.iter().enumerate() {
                alike(&format!("{at} [{i}]"), &found[i], value, allowed, relative);
            }
        }
        Value::Object(fields) => {
            for (name, value) in fields {
                alike(&format!("{at} {name}"), &found[name], value, allowed, relative);
            }
        }
        Value::Number(number) => {
            let want = number.as_f64().unwrap();
            let x = found.as_f64().unwrap_or_else(|| panic!("{at}: nothing computed"));
            let allowed = match relative {
                true if want == 0.0 => 1e-9,
                true => allowed * want.abs(),
                false => allowed,
            };
            assert!((x - want).abs() <= allowed, "{at}: computed {x:e}, expected {want:e}");
        }
        other => assert_eq!(found, other, "{at}"),
    }
}

pub fn number(inputs: &Value, name: &str) -> f64 {
    inputs[name].as_f64().unwrap_or_else(|| panic!("input {name}"))
}

pub fn numbers(list: &Value) -> Vec<f64> {
    let list = list.as_array().unwrap_or_else(|| panic!("a list"));
    list.iter().map(|x| x.as_f64().unwrap()).collect()
}

pub fn rows(inputs: &Value) -> Vec<Vec<f64>> {
    inputs["rows"].as_array().unwrap().iter().map(numbers).collect()
}

/// Whether data made by a rule begin as the case says, to the digits printed there.
pub fn begins(data: &[f64], first: &Value) -> bool {
    numbers(first).iter().zip(data).all(|(a, b)| (a - b).abs() <= 1e-10 * a.abs())
}
