//! Tolerance intervals against printed tables and other libraries; source and status stand
//! beside each case in `tests/reference/tolerance_intervals.json`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod common;

use common::{Case, cases};
use secondmelt_quality::tolerance_interval::{self as interval, order_statistics as ranks};
use serde_json::{Value, json};

const CASES: &str = include_str!("../../../tests/reference/tolerance_intervals.json");

type Factor = fn(u64, f64, f64) -> Option<f64>;

/// The factor that a case is about: by its method, or by the side in its name.
fn factor_of(case: &Case) -> Factor {
    match (case.inputs["method"].as_str(), case.id) {
        (Some("howe"), _) => interval::two_sided_factor_howe,
        (Some("exact"), _) => interval::two_sided_factor,
        (Some("noncentral t"), _) => interval::one_sided_factor,
        (Some("natrella"), _) => interval::one_sided_factor_natrella,
        (None, id) if id.starts_with("k1-") => interval::one_sided_factor,
        (None, id) if id.starts_with("k2-") => interval::two_sided_factor,
        _ => panic!("{}: unknown factor", case.id),
    }
}

/// Factors over n, a number or a list, and p, a number or a list.
fn factors(case: &Case) -> Value {
    let factor = factor_of(case);
    let conf = case.number("conf");
    let over_p = |n: f64| match &case.inputs["p"] {
        Value::Array(shares) => {
            shares.iter().map(|p| factor(n as u64, p.as_f64().unwrap(), conf).unwrap()).collect()
        }
        p => json!(factor(n as u64, p.as_f64().unwrap(), conf).unwrap()),
    };
    match &case.inputs["n"] {
        Value::Array(sizes) => sizes.iter().map(|n| over_p(n.as_f64().unwrap())).collect(),
        n => over_p(n.as_f64().unwrap()),
    }
}

fn worked(case: &Case) -> Value {
    let (n, mean, sd) = (case.whole("n"), case.number("mean"), case.number("sd"));
    let (p, conf) = (case.number("p"), case.number("conf"));
    let both = interval::two_sided(n, mean, sd, p, conf).unwrap();
    json!({
        "k1": interval::one_sided_factor(n, p, conf),
        "k2": interval::two_sided_factor(n, p, conf),
        "two_sided": [both.low, both.high],
        "upper_only": interval::upper(n, mean, sd, p, conf),
        "lower_only": interval::lower(n, mean, sd, p, conf),
        "k2_howe": interval::two_sided_factor_howe(n, p, conf),
    })
}

fn rank_table(case: &Case) -> Value {
    let columns: Vec<Vec<f64>> =
        case.inputs["columns"].as_array().unwrap().iter().map(common::numbers).collect();
    let row = |n: &f64| -> Value {
        columns.iter().map(|c| json!(ranks::blocks_left_out(*n as u64, c[0], c[1]))).collect()
    };
    case.list("n").iter().map(row).collect()
}

fn found(case: &Case) -> Value {
    let wilks = |blocks: u64| -> Value {
        case.rows().iter().map(|r| json!(ranks::values_needed(blocks, r[0], r[1]))).collect()
    };
    let reached = |blocks: u64| -> Value {
        case.rows().iter().map(|r| json!(ranks::confidence(r[0] as u64, blocks, r[1]))).collect()
    };
    match case.id {
        "nist-k1-nct" => json!({
            "k": factors(case),
            "delta": interval::noncentrality(case.number("n"), case.number("p")),
        }),
        "k2-iso-table" => {
            let rows = case.rows();
            let k = rows.iter().map(|r| json!(factor_of(case)(r[0] as u64, r[1], r[2])));
            json!({ "k": k.collect::<Value>() })
        }
        "interval-worked" => worked(case),
        "wilks-one-sided" => json!({ "n": wilks(ranks::ONE_SIDED) }),
        "wilks-two-sided" => json!({ "n": wilks(ranks::TWO_SIDED) }),
        "order-ranks" => json!({ "rank": rank_table(case) }),
        "achieved-confidence" => json!({
            "one_sided": reached(ranks::ONE_SIDED),
            "two_sided": reached(ranks::TWO_SIDED),
        }),
        _ => json!({ "k": factors(case) }),
    }
}

#[test]
fn printed_and_computed_values_are_reached() {
    let file: Value = serde_json::from_str(CASES).unwrap();
    let cases = cases(&file);
    assert_eq!(cases.len(), 20);
    for case in cases {
        case.check(&found(&case));
    }
}

/// The printed table is rounded; beside it stand exact values.
#[test]
fn the_iso_table_is_reached_before_it_was_rounded() {
    let file: Value = serde_json::from_str(CASES).unwrap();
    let case = cases(&file).into_iter().find(|c| c.id == "k2-iso-table").unwrap();
    let all = file["cases"].as_array().unwrap();
    let exact = common::numbers(&all.iter().find(|c| c["id"] == case.id).unwrap()["exact"]);
    for (row, exact) in case.rows().iter().zip(exact) {
        let k = interval::two_sided_factor(row[0] as u64, row[1], row[2]).unwrap();
        assert!((k / exact - 1.0).abs() < 1e-8, "{row:?}: {k}, exact {exact}");
    }
}
