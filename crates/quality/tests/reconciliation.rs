//! Reconciliation of networks against published examples; source and status stand beside each
//! case in `tests/reference/reconciliation.json`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod common;

use common::{Case, cases};
use proptest::prelude::*;
use secondmelt_quality::network::{
    Class, Flow, Measured, OUTSIDE, Reconciled, bonferroni_critical, chi_square_critical,
    reconcile, sidak_critical,
};
use serde_json::{Map, Value, json};

const CASES: &str = include_str!("../../../tests/reference/reconciliation.json");
const ALPHA: f64 = 0.05;

fn of_stream(list: &Value, stream: usize) -> Option<f64> {
    match list {
        Value::Array(all) => all[stream].as_f64(),
        Value::Object(named) => named.get(&(stream + 1).to_string())?.as_f64(),
        one => one.as_f64(),
    }
}

/// Rows are nodes, +1 into the node; what no node gives or takes comes from outside.
fn network(inputs: &Value) -> (usize, Vec<Flow>) {
    let rows = inputs["incidence"].as_array().unwrap();
    let end = |stream: usize, sign: f64| {
        rows.iter().position(|row| row[stream].as_f64() == Some(sign)).map_or(OUTSIDE, |n| n + 1)
    };
    let unmeasured = inputs["unmeasured"].as_array().cloned().unwrap_or_default();
    let flow = |stream: usize| {
        let left_out = unmeasured.contains(&json!(stream + 1));
        let measured = inputs.get("measured").map_or(Some(1.0), |list| of_stream(list, stream));
        let sigma = inputs.get("sigma").map_or(Some(1.0), |list| of_stream(list, stream));
        let measured = measured.zip(sigma).filter(|_| !left_out);
        Flow {
            from: end(stream, -1.0),
            to: end(stream, 1.0),
            measured: measured.map(|(value, sigma)| Measured { value, sigma }),
        }
    };
    (rows.len() + 1, (0..rows[0].as_array().unwrap().len()).map(flow).collect())
}

fn streams(found: &Reconciled, class: Class) -> Vec<usize> {
    let all = found.flows.iter().enumerate();
    all.filter(|(_, flow)| flow.class == class).map(|(n, _)| n + 1).collect()
}

/// The first of the streams with the largest value, counted from 1.
fn largest(values: &[f64]) -> usize {
    let top = values.iter().fold(0.0_f64, |top, z| top.max(z.abs()));
    values.iter().position(|z| z.abs() >= top * (1.0 - 1e-9)).unwrap() + 1
}

fn everything(case: &Case, with_bias: &[f64]) -> Map<String, Value> {
    let (nodes, flows) = network(case.inputs);
    let found = reconcile(nodes, &flows).unwrap();
    let z: Vec<_> = found.flows.iter().map(|flow| flow.z.unwrap_or(0.0)).collect();
    let bias: Vec<_> = found.flows.iter().map(|flow| flow.bias).collect();
    let leaks: Vec<_> = found.leaks[1..].iter().map(|l| l.map_or(0.0, |l| l.statistic())).collect();
    let biases: Vec<_> = z.iter().map(|z| z * z).collect();
    let moved = |n: usize| Some(flows[n].measured?.value - found.flows[n].value?);
    let moved: Vec<_> = (0..flows.len()).map(moved).collect();
    let mut residuals = vec![0.0; nodes];
    for flow in &flows {
        let value = flow.measured.map_or(0.0, |m| m.value);
        residuals[flow.to] += value;
        residuals[flow.from] -= value;
    }
    let chi2 = chi_square_critical(found.freedom, ALPHA);
    let overall =
        if leaks.iter().cloned().fold(0.0, f64::max) > biases.iter().cloned().fold(0.0, f64::max) {
            format!("leak at node {}", largest(&leaks))
        } else {
            format!("bias in stream {}", largest(&biases))
        };
    let hypotheses = flows.len() + nodes - 1;
    let biased = case.inputs["unmeasured"][0].as_u64().map(|n| n as usize - 1);
    let found_at = biased.and_then(|n| found.flows[n].value);
    let all = json!({
        "reconciled": found.flows.iter().map(|flow| flow.value).collect::<Vec<_>>(),
        "standard_deviation": found.flows.iter().map(|flow| flow.sd).collect::<Vec<_>>(),
        "residuals": residuals[1..],
        "adjustments_measured_minus_reconciled": moved,
        "objective": found.objective,
        "degrees_of_freedom": found.freedom,
        "chi2_critical_0.95": chi2,
        "global_test_rejects": chi2.is_some_and(|limit| found.objective > limit),
        "measurement_test_z": z,
        "measurement_test_critical_sidak_0.05": sidak_critical(streams(&found, Class::Redundant).len(), ALPHA),
        "largest_z_stream": largest(&z),
        "observable": streams(&found, Class::Observable),
        "unobservable": streams(&found, Class::NotObservable),
        "redundant": streams(&found, Class::Redundant),
        "nonredundant": streams(&found, Class::JustMeasured),
        "bias_statistic": biases,
        "bias_estimate": bias,
        "leak_statistic": leaks,
        "largest_among_biases_stream": largest(&biases),
        "largest_among_leaks_node": largest(&leaks),
        "largest_overall": overall,
        "critical_0.05_for_10_hypotheses": sidak_critical(hypotheses, ALPHA).map(|z| z * z),
        "estimated_bias_stream_2": found_at.map(|value| with_bias[1] - value),
    });
    all.as_object().unwrap().clone()
}

/// Named streams as a list without gaps, so that both forms can be compared.
fn same_form(found: &Value, expected: &Value) -> Value {
    match expected {
        Value::Object(named) => named
            .keys()
            .map(|n| (n.clone(), found[n.parse::<usize>().unwrap() - 1].clone()))
            .collect(),
        _ => found.clone(),
    }
}

#[test]
fn published_networks_reconcile_as_published() {
    let data: Value = serde_json::from_str(CASES).unwrap();
    let with_bias =
        cases(&data).iter().find(|c| c.id == "six-stream-bias").unwrap().list("measured");
    let mut seen = 0;
    for case in cases(&data).iter().filter(|case| case.inputs["incidence"].is_array()) {
        let all = everything(case, &with_bias);
        let mut found = json!({});
        for (name, expected) in case.expected.as_object().unwrap() {
            let value = all.get(name).unwrap_or_else(|| panic!("{}: {name}", case.id));
            found[name] = same_form(value, expected);
        }
        if case.id == "twelve-stream-classify" {
            assert_eq!(&found, case.expected);
        } else {
            case.check(&found);
        }
        seen += 1;
    }
    assert_eq!(seen, 16);
}

#[test]
fn two_scales_agree_on_the_weighted_mean() {
    let data: Value = serde_json::from_str(CASES).unwrap();
    let all = cases(&data);
    let case = all.iter().find(|case| case.id == "two-scales").unwrap();
    let measured =
        |n: usize| Some(Measured { value: case.list("measured")[n], sigma: case.list("sigma")[n] });
    let into = Flow { from: OUTSIDE, to: 1, measured: measured(0) };
    let found =
        reconcile(2, &[into, Flow { from: 1, to: OUTSIDE, measured: measured(1) }]).unwrap();
    let flow = found.flows[1];
    case.check(&json!({
        "reconciled": flow.value, "standard_deviation": flow.sd, "objective": found.objective,
    }));
}

#[test]
fn critical_values_are_those_of_the_tables() {
    let data: Value = serde_json::from_str(CASES).unwrap();
    for case in cases(&data) {
        if case.id == "chi2-critical" {
            let freedom = case.list("degrees_of_freedom");
            let found = freedom.iter().map(|n| chi_square_critical(*n as usize, ALPHA));
            case.check(&json!({"chi2": found.collect::<Vec<_>>()}));
        } else if case.id == "measurement-test-critical" {
            let of = |f: fn(usize, f64) -> Option<f64>| {
                case.list("n").iter().map(|n| f(*n as usize, ALPHA)).collect::<Vec<_>>()
            };
            case.check(
                &json!({"sidak": of(sidak_critical), "bonferroni": of(bonferroni_critical)}),
            );
        }
    }
}

fn flow() -> impl Strategy<Value = Flow> {
    let measured = (0.1..1000.0_f64, 0.01..10.0_f64, 0..4_u8);
    (0..12_usize, 0..12_usize, measured).prop_map(|(from, to, (value, sigma, some))| Flow {
        from,
        to,
        measured: (some > 0).then_some(Measured { value, sigma }),
    })
}

proptest! {
    #[test]
    fn reconciled_flows_balance(flows in prop::collection::vec(flow(), 0..60)) {
        let found = reconcile(12, &flows).unwrap();
        let through: f64 = flows.iter().filter_map(|f| f.measured).map(|m| m.value).sum();
        for node in 1..12 {
            let (mut balance, mut known) = (0.0, true);
            for (flow, estimate) in flows.iter().zip(&found.flows) {
                if flow.from == flow.to || ![flow.from, flow.to].contains(&node) {
                    continue;
                }
                let value = estimate.value.unwrap_or(f64::NAN);
                known &= value.is_finite();
                balance += if flow.to == node { value } else { -value };
            }
            prop_assert!(!known || balance.abs() <= 1e-9 * through, "{node}: {balance} of {through}");
        }
    }

    #[test]
    fn a_flow_left_out_is_what_its_bias_says(flows in prop::collection::vec(flow(), 1..40)) {
        let found = reconcile(12, &flows).unwrap();
        for (n, estimate) in found.flows.iter().enumerate() {
            let (Some(bias), Some(m)) = (estimate.bias, flows[n].measured) else { continue };
            let mut without = flows.clone();
            without[n].measured = None;
            let again = reconcile(12, &without).unwrap();
            prop_assert_eq!(again.flows[n].class, Class::Observable);
            let value = again.flows[n].value.unwrap();
            let scale = 1.0 + flows.iter().filter_map(|f| f.measured).map(|m| m.value).sum::<f64>();
            prop_assert!((m.value - bias - value).abs() <= 1e-7 * scale, "{} {} {}", m.value, bias, value);
            let z2 = estimate.z.unwrap().powi(2);
            prop_assert!((found.objective - z2 - again.objective).abs() <= 1e-6 * (1.0 + found.objective));
        }
    }
}
