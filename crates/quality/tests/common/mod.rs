//! Reading cases of reference data and holding found values against them.

#![allow(dead_code, reason = "each test uses a part")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use serde_json::{Map, Value};

/// One case of a file of reference data.
pub struct Case<'a> {
    pub id: &'a str,
    pub inputs: &'a Value,
    pub expected: &'a Value,
    whole: &'a Value,
}

/// All cases of a file.
pub fn cases(file: &Value) -> Vec<Case<'_>> {
    let cases = file["cases"].as_array().unwrap();
    cases
        .iter()
        .map(|case| Case {
            id: case["id"].as_str().unwrap(),
            inputs: &case["inputs"],
            expected: &case["expected"],
            whole: case,
        })
        .collect()
}

impl Case<'_> {
    /// A number among the inputs.
    pub fn number(&self, name: &str) -> f64 {
        self.inputs[name].as_f64().unwrap_or_else(|| panic!("{}: no number {name}", self.id))
    }

    /// A whole number among the inputs.
    pub fn whole(&self, name: &str) -> u64 {
        self.inputs[name].as_u64().unwrap_or_else(|| panic!("{}: no whole {name}", self.id))
    }

    /// A number among the inputs, or none where it is left out or null.
    pub fn optional(&self, name: &str) -> Option<f64> {
        self.inputs[name].as_f64()
    }

    /// The numbers of a list among the inputs.
    pub fn list(&self, name: &str) -> Vec<f64> {
        numbers(&self.inputs[name])
    }

    /// The rows of a table among the inputs.
    pub fn rows(&self) -> Vec<Vec<f64>> {
        self.inputs["rows"].as_array().unwrap().iter().map(numbers).collect()
    }

    /// Holds everything that was found against everything that is expected: the same names,
    /// the same shape, each number within the tolerance of the case.
    pub fn check(&self, found: &Value) {
        let names = |v: &Value| -> Vec<String> { v.as_object().unwrap().keys().cloned().collect() };
        assert_eq!(names(found), names(self.expected), "{}: other names", self.id);
        self.compare("expected", found, self.expected);
    }

    fn compare(&self, path: &str, found: &Value, expected: &Value) {
        match (found, expected) {
            (Value::Object(a), Value::Object(b)) => self.objects(path, a, b),
            (Value::Array(a), Value::Array(b)) => {
                assert_eq!(a.len(), b.len(), "{}: {path}", self.id);
                for (i, (a, b)) in a.iter().zip(b).enumerate() {
                    self.compare(&format!("{path}[{i}]"), a, b);
                }
            }
            (Value::Number(a), Value::Number(b)) => {
                self.close(path, a.as_f64().unwrap(), b.as_f64().unwrap());
            }
            _ => assert_eq!(found, expected, "{}: {path}", self.id),
        }
    }

    fn objects(&self, path: &str, found: &Map<String, Value>, expected: &Map<String, Value>) {
        for (name, expected) in expected {
            let found = found.get(name).unwrap_or(&Value::Null);
            self.compare(&format!("{path}.{name}"), found, expected);
        }
    }

    fn close(&self, path: &str, found: f64, expected: f64) {
        let name = path.split(['.', '[']).nth(1).unwrap_or_default();
        let tolerance = |kind: &str| {
            let value = &self.whole[kind];
            value.as_f64().or_else(|| value.get(name).and_then(Value::as_f64))
        };
        let allowed = match (tolerance("abs_tol"), tolerance("rel_tol")) {
            (Some(absolute), _) => absolute,
            (None, Some(relative)) if expected != 0.0 => relative * expected.abs(),
            (None, Some(_)) => 1e-9,
            (None, None) => panic!("{}: no tolerance for {path}", self.id),
        };
        let error = (found - expected).abs();
        assert!(
            error <= allowed,
            "{}: {path} is {found}, expected {expected}: off by {error:e}, allowed {allowed:e}",
            self.id
        );
    }
}

/// The numbers of a list.
pub fn numbers(list: &Value) -> Vec<f64> {
    list.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}
