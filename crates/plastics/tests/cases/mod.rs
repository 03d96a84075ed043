//! Holds what this crate computes against cases of the reference data. Source and status
//! stand beside each case in `tests/reference/` at the top of the repository.

#![allow(dead_code, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use serde_json::Value;

/// The values this crate computes for a case, under the names the case expects; none
/// where the case is not known.
pub type Compute = fn(&str, &Value) -> Option<Value>;

/// The cases of a file.
pub fn cases(file: &str) -> Vec<Value> {
    let path = format!("{}/../../tests/reference/{file}.json", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).expect(&path);
    let mut data: Value = serde_json::from_str(&text).expect(&path);
    let Value::Array(cases) = data["cases"].take() else { panic!("{file}: no cases") };
    assert!(!cases.is_empty());
    cases
}

/// Holds cases against what is computed for them.
pub fn hold(cases: &[Value], compute: Compute) {
    for case in cases {
        let id = case["id"].as_str().expect("id");
        let found = compute(id, &case["inputs"]).unwrap_or_else(|| panic!("{id} is not covered"));
        alike(id, &found, &case["expected"], Allowed::of(case));
    }
}

/// Holds every case of a file against what is computed for it.
pub fn check(file: &str, compute: Compute) {
    hold(&cases(file), compute);
}

/// How far a value may be off.
#[derive(Clone, Copy)]
pub struct Allowed {
    tolerance: f64,
    relative: bool,
}

impl Allowed {
    /// The tolerance of a case; none at all where it gives none, as of words and counts.
    fn of(case: &Value) -> Self {
        let absolute =
            || Self { tolerance: case["abs_tol"].as_f64().unwrap_or(0.0), relative: false };
        let relative = |tolerance| Self { tolerance, relative: true };
        case["rel_tol"].as_f64().map_or_else(absolute, relative)
    }

    fn around(self, want: f64) -> f64 {
        match self.relative {
            true if want == 0.0 => 1e-9,
            true => self.tolerance * want.abs(),
            false => self.tolerance,
        }
    }
}

/// Checks that every expected value is met.
fn alike(at: &str, found: &Value, expected: &Value, allowed: Allowed) {
    match expected {
        Value::Object(fields) => {
            for (name, value) in fields {
                alike(&format!("{at} {name}"), &found[name], value, allowed);
            }
        }
        Value::Array(values) => {
            assert_eq!(found.as_array().map(Vec::len), Some(values.len()), "{at}");
            for (n, value) in values.iter().enumerate() {
                alike(&format!("{at} [{n}]"), &found[n], value, allowed);
            }
        }
        Value::Number(number) => {
            let (x, want) = (found.as_f64(), number.as_f64().expect("a number"));
            let x = x.unwrap_or_else(|| panic!("{at}: nothing computed"));
            assert!(
                (x - want).abs() <= allowed.around(want),
                "{at}: computed {x}, expected {want}"
            );
        }
        other => assert_eq!(found, other, "{at}"),
    }
}

pub fn number(inputs: &Value, name: &str) -> f64 {
    inputs[name].as_f64().unwrap_or_else(|| panic!("input {name}"))
}

pub fn numbers(inputs: &Value, name: &str) -> Vec<f64> {
    let list = inputs[name].as_array().unwrap_or_else(|| panic!("input {name}"));
    list.iter().map(|x| x.as_f64().expect("a number")).collect()
}

pub fn each(inputs: &Value, name: &str, f: impl Fn(f64) -> f64) -> Vec<f64> {
    numbers(inputs, name).into_iter().map(f).collect()
}
