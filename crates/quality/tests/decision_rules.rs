//! Decision rules against guides and other libraries; source and status stand beside each
//! case in `tests/reference/decision_rules.json`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod common;

use common::{Case, cases};
use secondmelt_quality::decision_rule::risk::{self, Prior};
use secondmelt_quality::decision_rule::{self as rule, Guarded, Zone};
use secondmelt_quality::limits::Limits;
use serde_json::{Value, json};

const CASES: &str = include_str!("../../../tests/reference/decision_rules.json");

fn limits(case: &Case) -> Limits {
    Limits::new(case.optional("lower"), case.optional("upper")).unwrap()
}

fn both(lower: f64, upper: f64) -> Limits {
    Limits::new(Some(lower), Some(upper)).unwrap()
}

fn column(values: impl Iterator<Item = f64>) -> Value {
    json!(values.collect::<Vec<_>>())
}

fn words(zone: Zone) -> (&'static str, &'static str) {
    match zone {
        Zone::Pass => ("pass", "pass"),
        Zone::ConditionalPass => ("fail", "conditional pass"),
        Zone::ConditionalFail => ("fail", "conditional fail"),
        Zone::Fail => ("fail", "fail"),
    }
}

/// Rows of y, lower, upper and U = 2 u; the guard band is U.
fn statements(case: &Case) -> Value {
    let rows = case.rows();
    let rule = |r: &Vec<f64>| Guarded::new(both(r[1], r[2]), r[3]).unwrap();
    let zones: Vec<Zone> = rows.iter().map(|r| rule(r).zone(r[0]).unwrap()).collect();
    let u = |r: &Vec<f64>| r[3] / case.number("coverage_factor");
    let p = |r: &Vec<f64>| rule::conformance(r[0], u(r), both(r[1], r[2])).unwrap().within;
    let interval = |r: &Vec<f64>| rule(r).acceptance();
    json!({
        "binary": zones.iter().map(|z| words(*z).0).collect::<Vec<_>>(),
        "four_way": zones.iter().map(|z| words(*z).1).collect::<Vec<_>>(),
        "acceptance_interval": rows.iter().map(interval).collect::<Vec<_>>(),
        "p_conform": column(rows.iter().map(p)),
    })
}

fn guard_of_165(case: &Case) -> Value {
    let (u, factor) = (case.number("u"), case.number("factor"));
    assert_eq!(factor, rule::GUARD_FACTOR);
    let guard = factor * u;
    let guarded = Guarded::new(limits(case), guard).unwrap();
    let ((from, to), (below, above)) = (guarded.acceptance(), guarded.rejection());
    let at_edge =
        rule::conformance(to.unwrap(), u, Limits::new(None, case.optional("upper")).unwrap());
    json!({
        "guard": guard,
        "accept_from": from, "accept_to": to, "reject_below": below, "reject_above": above,
        "coverage_of_1.65": 1.0 - rule::risk_at_edge(factor, 1.0).unwrap(),
        "p_at_acceptance_limit": at_edge.unwrap().within,
    })
}

/// Rows of y, u, lower and upper.
fn grid(case: &Case) -> Value {
    let rows = case.rows();
    let all: Vec<_> =
        rows.iter().map(|r| rule::conformance(r[0], r[1], both(r[2], r[3])).unwrap()).collect();
    json!({
        "p": column(all.iter().map(|c| c.within)),
        "p_above": column(all.iter().map(|c| c.above)),
        "p_below": column(all.iter().map(|c| c.below)),
    })
}

fn risks(case: &Case) -> Value {
    let prior = Prior::Normal { mean: case.number("mu"), sd: case.number("sigma_process") };
    let u = case.number("u_m");
    let found = risk::global(prior, limits(case), case.number("guard"), u).unwrap();
    json!({
        "p_nonconforming": found.nonconforming,
        "p_accept": found.accepted,
        "consumer_risk": found.consumer,
        "producer_risk": found.producer,
        "consumer_risk_given_accepted": found.consumer_given_accepted,
    })
}

fn bearing(case: &Case) -> Value {
    assert_eq!(case.inputs["prior"], "gamma shape 4 rate 4");
    let prior = Prior::Gamma { shape: 4.0, rate: 4.0 };
    let u = case.number("u_m");
    let plain = risk::global(prior, limits(case), 0.0, u).unwrap();
    let guard =
        risk::guard_for_consumer(prior, limits(case), u, case.number("target_risk")).unwrap();
    json!({
        "p_nonconforming": plain.nonconforming,
        "consumer_risk": plain.consumer,
        "acceptance_limit": case.number("upper") - guard,
        "guard": guard,
    })
}

fn found(case: &Case) -> Value {
    match case.id {
        "jcgm-oil" | "jcgm-zener" => {
            let found = rule::conformance(case.number("y"), case.number("u"), limits(case));
            json!({ "p_conform": found.unwrap().within })
        }
        "jcgm-table1" => json!({
            "distance": column(case.list("p_conform").iter().map(|p| rule::guard_band(1.0, *p).unwrap())),
        }),
        "ilac-table1" => json!({
            "exact": column(case.list("r").iter().map(|r| rule::risk_at_edge(2.0 * r, 1.0).unwrap())),
        }),
        "ilac-w-u" => statements(case),
        "guard-165" => guard_of_165(case),
        "guard-two-sided" => json!({
            "a": column(case.rows().iter().map(|r| rule::reach_from_middle(r[0], r[1], r[2]).unwrap())),
        }),
        "p-conform-grid" => grid(case),
        "p-conform-t" => {
            let p = |r: &Vec<f64>| rule::conformance_few(r[0], r[1], r[2], both(r[3], r[4]));
            json!({ "p": column(case.rows().iter().map(|r| p(r).unwrap().within)) })
        }
        "jcgm-bearing" => bearing(case),
        "capability-cm" => json!({
            "c_m": column(case.list("u").iter().map(|u| rule::measurement_capability(limits(case), *u).unwrap())),
        }),
        id if id.starts_with("jcgm-resistor-") || id.starts_with("risk-") => risks(case),
        id => panic!("unknown case {id}"),
    }
}

#[test]
fn printed_and_computed_values_are_reached() {
    let file: Value = serde_json::from_str(CASES).unwrap();
    let cases = cases(&file);
    assert_eq!(cases.len(), 14);
    for case in cases {
        case.check(&found(&case));
    }
}
