//! Distributions and exact limits against values of other libraries, over the range in
//! which this crate uses them. `tests/reference/cross_check.json` is made by
//! `scripts/cross-check`; what made a value stands in its `status`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use secondmelt_quality::distributions::{
    Split, beta, fisher_f, gamma, hypergeometric, noncentral_t, normal, student_t,
};
use secondmelt_quality::{poisson_rate, proportion, tolerance_interval};
use serde_json::Value;

const CASES: &str = include_str!("../../../tests/reference/cross_check.json");

struct Inputs<'a>(&'a Value);

impl Inputs<'_> {
    fn x(&self, name: &str) -> f64 {
        self.0[name].as_f64().unwrap()
    }

    fn n(&self, name: &str) -> u64 {
        self.0[name].as_u64().unwrap()
    }

    fn split(&self) -> Split {
        match self.0["below"].as_f64() {
            Some(p) => Split::with_below(p).unwrap(),
            None => Split::with_above(self.x("above")).unwrap(),
        }
    }
}

/// The value that this crate finds; none for a function it does not know.
fn found(function: &str, i: &Inputs) -> Option<f64> {
    let gamma_at = || gamma::tails(i.x("shape"), i.x("x"));
    let beta_at = || beta::tails(i.x("a"), i.x("b"), beta::Point::new(i.x("x"))?);
    let beta_point = || beta::quantile(i.x("a"), i.x("b"), i.split());
    let lot = || hypergeometric::tails(i.n("lot"), i.n("bad"), i.n("n"), i.n("k"));
    let nct = || noncentral_t::tails(i.x("freedom"), i.x("delta"), i.x("t"));
    let clopper_pearson = || proportion::clopper_pearson(i.n("good"), i.n("n"), i.x("confidence"));
    let garwood = || poisson_rate::garwood(i.n("count"), i.x("confidence"));
    match function {
        "normal below" => normal::tails(i.x("z")).map(|s| s.below),
        "normal quantile" => normal::quantile(i.split()),
        "gamma below" => gamma_at().map(|s| s.below),
        "gamma above" => gamma_at().map(|s| s.above),
        "gamma quantile" => gamma::quantile(i.x("shape"), i.split()),
        "beta below" => beta_at().map(|s| s.below),
        "beta above" => beta_at().map(|s| s.above),
        "beta quantile" => beta_point().map(|p| p.x),
        "beta rest" => beta_point().map(|p| p.rest),
        "student t quantile" => student_t::quantile(i.x("freedom"), i.split()),
        "student t above" => student_t::tails(i.x("freedom"), i.x("t")).map(|s| s.above),
        "f quantile" => fisher_f::quantile(i.x("numerator"), i.x("denominator"), i.split()),
        "hypergeometric below" => lot().map(|s| s.below),
        "hypergeometric above" => lot().map(|s| s.above),
        "noncentral t below" => nct().map(|s| s.below),
        "noncentral t above" => nct().map(|s| s.above),
        "one-sided factor" => {
            tolerance_interval::one_sided_factor(i.n("n"), i.x("share"), i.x("confidence"))
        }
        "two-sided factor" => {
            tolerance_interval::two_sided_factor(i.n("n"), i.x("share"), i.x("confidence"))
        }
        "clopper-pearson low" => clopper_pearson().map(|limits| limits.low),
        "clopper-pearson high" => clopper_pearson().map(|limits| limits.high),
        "garwood low" => garwood().map(|(low, _)| low),
        "garwood high" => garwood().map(|(_, high)| high),
        _ => panic!("no function {function}"),
    }
}

#[test]
fn other_libraries_find_the_same() {
    let table: Value = serde_json::from_str(CASES).unwrap();
    let cases = table["cases"].as_array().unwrap();
    let mut wrong = Vec::new();
    for case in cases {
        let function = case["function"].as_str().unwrap();
        let expected = case["expected"].as_f64().unwrap();
        let value = found(function, &Inputs(&case["inputs"]));
        let error = value.map_or(f64::INFINITY, |value| match expected {
            0.0 => value.abs(),
            _ => (value / expected - 1.0).abs(),
        });
        // What is not a number is not within.
        let within = error <= case["rel_tol"].as_f64().unwrap();
        if !within {
            wrong.push(format!("{function} {}: {value:?}, {expected}: {error:e}", case["inputs"]));
        }
    }
    assert!(cases.len() > 1000, "the table is whole");
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), cases.len(), wrong.join("\n"));
}
