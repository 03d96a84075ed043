//! Limits from counts against printed tables and other libraries; source and status stand
//! beside each case in `tests/reference/counts.json`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod common;

use common::{Case, cases};
use secondmelt_quality::{poisson_rate, proportion};
use serde_json::{Value, json};

const CASES: &str = include_str!("../../../tests/reference/counts.json");

fn each(case: &Case, value: impl Fn(u64, u64) -> Option<f64>) -> Value {
    case.rows().iter().map(|r| json!(value(r[0] as u64, r[1] as u64).unwrap())).collect()
}

/// Low and high limits over the rows of a case, by name of the method.
fn shares(case: &Case) -> Value {
    let conf = case.number("conf");
    let cp = |x, n| proportion::clopper_pearson(x, n, conf);
    let wilson = |x, n| proportion::wilson(x, n, conf);
    let mut found = json!({});
    for name in case.expected.as_object().unwrap().keys() {
        found[name] = match (name.as_str(), case.id) {
            ("low", "newcombe-wilson") | ("wilson_low", _) => {
                each(case, |x, n| Some(wilson(x, n)?.low))
            }
            ("high", "newcombe-wilson") | ("wilson_high", _) => {
                each(case, |x, n| Some(wilson(x, n)?.high))
            }
            ("low", _) => each(case, |x, n| Some(cp(x, n)?.low)),
            ("high", _) => each(case, |x, n| Some(cp(x, n)?.high)),
            _ => panic!("{}: unknown {name}", case.id),
        };
    }
    found
}

fn trials(case: &Case) -> Value {
    let conf = case.number("conf");
    json!({
        "success_low": each(case, |x, n| proportion::lower(x, n, conf)),
        "failure_high": each(case, |x, n| proportion::upper(n - x, n, conf)),
    })
}

fn poisson(case: &Case) -> Value {
    let limit = |high: bool| -> Value {
        let limits = |x: &f64| poisson_rate::garwood(*x as u64, case.number("conf")).unwrap();
        case.list("x").iter().map(limits).map(|(l, h)| json!(if high { h } else { l })).collect()
    };
    json!({ "low": limit(false), "high": limit(true) })
}

fn inclusions(case: &Case) -> Value {
    let (count, length, conf) = (case.whole("count"), case.number("length_m"), case.number("conf"));
    let rate = poisson_rate::rate(count, length, conf).unwrap();
    json!({
        "rate": rate.rate,
        "low": rate.low,
        "high": rate.high,
        "upper_one_sided": poisson_rate::rate_upper(count, length, conf),
    })
}

fn rule_of_three(case: &Case) -> Value {
    let conf = case.number("conf");
    let exact = |n: &f64| json!(proportion::upper(0, *n as u64, conf).unwrap());
    json!({
        "three_over_n": case.list("n").iter().map(|n| json!(3.0 / n)).collect::<Value>(),
        "exact": case.list("n").iter().map(exact).collect::<Value>(),
        "poisson": poisson_rate::count_upper(0, conf),
    })
}

fn rates(case: &Case) -> Value {
    let first = (case.whole("x1"), case.number("length1"));
    let second = (case.whole("x2"), case.number("length2"));
    let found = poisson_rate::compare(first, second, case.number("conf")).unwrap();
    json!({
        "ratio": found.ratio,
        "p_minimum_likelihood": found.p_minimum_likelihood,
        "p_doubled": found.p_doubled,
        "ratio_low": found.ratio_low,
        "ratio_high": found.ratio_high,
    })
}

fn dispersion(case: &Case) -> Value {
    let counts: Vec<u64> = case.list("counts").iter().map(|x| *x as u64).collect();
    let found = poisson_rate::dispersion(&counts).unwrap();
    json!({
        "mean": found.mean,
        "statistic": found.statistic,
        "df": found.freedom,
        "p_upper": found.p_upper,
    })
}

/// Fewest trials over rows of share, confidence and, where failures are allowed, their number.
fn trials_needed(case: &Case) -> Value {
    let needed = |r: &Vec<f64>| {
        proportion::trials_needed(r[0], r[1], r.get(2).map_or(0, |failures| *failures as u64))
    };
    json!({ "n": case.rows().iter().map(|r| json!(needed(r))).collect::<Value>() })
}

fn found(case: &Case) -> Value {
    match case.id {
        "success-run" | "success-run-failures" => trials_needed(case),
        "trial-lower" => trials(case),
        "rule-of-three" => rule_of_three(case),
        "rates-compared" => rates(case),
        "dispersion" => dispersion(case),
        id if id.starts_with("garwood-") => poisson(case),
        id if id.starts_with("inclusions-") => inclusions(case),
        id if id.starts_with("cp-") || id.starts_with("newcombe-") => shares(case),
        id => panic!("unknown case {id}"),
    }
}

#[test]
fn printed_and_computed_values_are_reached() {
    let file: Value = serde_json::from_str(CASES).unwrap();
    let cases = cases(&file);
    assert_eq!(cases.len(), 16);
    for case in cases {
        case.check(&found(&case));
    }
}
