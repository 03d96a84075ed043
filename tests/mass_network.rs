//! `mass-balance` over whole networks, run as a person runs it; sources stand beside the cases
//! in `tests/reference/`.

#![allow(
    clippy::expect_used,
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test fails by panicking"
)]

use assert_cmd::cargo::cargo_bin_cmd;
use serde_json::{Value, json};

fn run(records: &[Value]) -> Vec<Value> {
    let input: String = records.iter().map(|record| format!("{record}\n")).collect();
    let output = cargo_bin_cmd!("mass-balance").write_stdin(input).assert().success();
    let text = String::from_utf8(output.get_output().stdout.clone()).unwrap();
    text.lines().map(|line| serde_json::from_str(line).expect(line)).collect()
}

fn of<'a>(lines: &'a [Value], kind: &str, lot: &str) -> &'a Value {
    let found = lines.iter().find(|line| line["kind"] == kind && line["lot"] == lot);
    found.unwrap_or_else(|| panic!("no {kind} of {lot}"))
}

fn case(text: &str, id: &str) -> Value {
    let data: Value = serde_json::from_str(text).unwrap();
    let cases = data["cases"].as_array().unwrap().clone();
    cases.into_iter().find(|case| case["id"] == id).unwrap()
}

const CONTENT: &str = include_str!("reference/recycled_content.json");
const PASSES: &str = include_str!("reference/reprocessing.json");
const NETWORKS: &str = include_str!("reference/reconciliation.json");

fn near(found: &Value, expected: &Value, tolerance: f64) {
    let (found, expected) = (found.as_f64().unwrap(), expected.as_f64().unwrap());
    assert!((found - expected).abs() <= tolerance, "{found} for {expected}");
}

fn lot(name: &str, origin: &str) -> Value {
    json!({"kind": "lot", "lot": name, "material": "PETG", "origin": origin, "passes": 0})
}

fn weighing(step: &str, lot: &str, role: &str, mass_g: f64, u_g: f64) -> Value {
    json!({"kind": "weighing", "step": step, "lot": lot, "role": role, "mass_g": mass_g, "u_g": u_g})
}

/// One blend of lots of the given origins and masses in kg.
fn blend(parts: &[(&str, f64, f64)]) -> Vec<Value> {
    let mut records = Vec::new();
    for (n, (origin, kg, u)) in parts.iter().enumerate() {
        let name = format!("feed-{n}");
        records.push(lot(&name, origin));
        records.push(weighing("blend", &name, "in", 1000.0 * kg, 1000.0 * u));
    }
    records.push(json!({"kind": "weighing", "step": "blend", "lot": "blend", "role": "out"}));
    records
}

fn kg(case: &Value, name: &str) -> f64 {
    case["inputs"]["kg"][name].as_f64().unwrap()
}

#[test]
fn recycled_content_counts_post_and_pre_consumer_apart() {
    let case = case(CONTENT, "simple-mix");
    let lines = run(&blend(&[
        ("post-consumer", kg(&case, "post_consumer"), 0.0),
        ("pre-consumer", kg(&case, "pre_consumer"), 0.0),
        ("virgin", kg(&case, "virgin"), 0.0),
    ]));
    let found = of(&lines, "recycled_content", "blend");
    near(&found["strict_pct"], &case["expected"]["recycled_content_pct"], 2e-8);
    near(&found["post_consumer_pct"], &case["expected"]["post_consumer_pct"], 2e-8);
    near(&found["pre_consumer_pct"], &case["expected"]["pre_consumer_pct"], 2e-8);
}

#[test]
fn own_regrind_is_excluded_and_both_readings_are_named() {
    let case = case(CONTENT, "own-regrind-excluded");
    let lines = run(&blend(&[
        ("virgin", kg(&case, "virgin"), 0.0),
        ("post-consumer", kg(&case, "post_consumer"), 0.0),
        ("in-process", kg(&case, "own_process_regrind"), 0.0),
    ]));
    let found = of(&lines, "recycled_content", "blend");
    near(&found["strict_pct"], &case["expected"]["strict_pct"], 2e-8);
    near(&found["boundary_pct"], &case["expected"]["boundary_pct"], 2e-8);
}

#[test]
fn content_is_carried_through_two_blends() {
    let case = case(CONTENT, "lot-tree");
    let mut records = vec![
        lot("a1", "post-consumer"),
        lot("a2", "virgin"),
        lot("b", "virgin"),
        lot("c", "pre-consumer"),
    ];
    let blends: [(&str, &[(&str, f64)]); 3] = [
        ("A", &[("a1", 60.0), ("a2", 40.0)]),
        ("D", &[("A", 25.0), ("b", 75.0)]),
        ("E", &[("D", 50.0), ("c", 30.0), ("b", 20.0)]),
    ];
    for (name, parts) in blends {
        for (part, kg) in parts {
            records.push(weighing(&format!("blend-{name}"), part, "in", *kg, 0.01));
        }
        let total = parts.iter().map(|(_, kg)| kg).sum();
        records.push(weighing(&format!("blend-{name}"), name, "out", total, 0.01));
    }
    let lines = run(&records);
    for (lot, post, pre) in [("D", "D_post_pct", "D_pre_pct"), ("E", "E_post_pct", "E_pre_pct")] {
        near(
            &of(&lines, "recycled_content", lot)["post_consumer_pct"],
            &case["expected"][post],
            1e-9,
        );
        near(
            &of(&lines, "recycled_content", lot)["pre_consumer_pct"],
            &case["expected"][pre],
            1e-9,
        );
    }
    near(
        &of(&lines, "recycled_content", "E")["strict_pct"],
        &case["expected"]["E_total_pct"],
        1e-9,
    );
}

#[test]
fn water_is_not_recycled_material() {
    let case = case(CONTENT, "drying-loss");
    let input = |name: &str| case["inputs"][name].as_f64().unwrap();
    let mut records = blend(&[
        ("post-consumer", input("wet_post_consumer_kg"), 0.0),
        ("virgin", input("virgin_kg"), 0.0),
    ]);
    records
        .push(json!({"kind": "moisture", "lot": "feed-0", "moisture_pct": input("moisture_pct")}));
    let lines = run(&records);
    let found = &of(&lines, "recycled_content", "blend")["strict_pct"];
    near(found, &case["expected"]["recycled_content_pct"], 4e-8);
}

#[test]
fn the_content_carries_the_uncertainty_of_the_weighings() {
    let case = case(CONTENT, "uncertainty");
    let input = |name: &str| case["inputs"][name].as_f64().unwrap();
    let lines = run(&blend(&[
        ("post-consumer", input("post_kg"), input("u_post")),
        ("virgin", input("virgin_kg"), input("u_virgin")),
    ]));
    let found = of(&lines, "recycled_content", "blend");
    near(&found["strict_pct"], &case["expected"]["content_pct"], 3e-5);
    near(&found["u_strict_pct"], &case["expected"]["u_pct"], 1.6e-7);
}

/// Rounds of a line in which each batch is a share of the batch before and the rest virgin.
fn regrind_rounds(share: f64, rounds: usize) -> Vec<Value> {
    let mut records = vec![lot("virgin", "virgin")];
    for round in 0..=rounds {
        let (step, spool) = (format!("extrude-{round}"), format!("spool-{round}"));
        records.push(json!({"kind": "step", "step": step, "does": "extrude"}));
        let fresh = if round == 0 { 1.0 } else { 1.0 - share };
        records.push(weighing(&step, "virgin", "in", 1000.0 * fresh, 0.1));
        if round > 0 {
            let before = format!("spool-{}", round - 1);
            records.push(weighing(&step, &before, "in", 1000.0 * share, 0.1));
        }
        records.push(weighing(&step, &spool, "out", 1000.0, 0.1));
    }
    records
}

#[test]
fn a_closed_loop_reaches_its_published_limit() {
    let case = case(PASSES, "regrind-steady-30");
    let lines = run(&regrind_rounds(0.3, 40));
    let found = of(&lines, "composition", "spool-40");
    for (n, share) in case["expected"]["fraction"].as_array().unwrap().iter().enumerate() {
        let pct = found["passes"][format!("passes_{}_pct", n + 1)].as_f64().unwrap();
        near(&json!(pct / 100.0), share, 1e-9);
    }
    let mean = found["mean_passes"].as_f64().unwrap() - 1.0;
    near(&json!(mean), &case["expected"]["mean_earlier_passes"], 1e-9);
}

#[test]
fn a_loop_that_is_not_yet_steady_is_followed_round_by_round() {
    let case = case(PASSES, "regrind-transient");
    let lines = run(&regrind_rounds(0.4, 4));
    let found = of(&lines, "composition", "spool-4");
    let expected = case["expected"]["fraction_by_earlier_passes"].as_array().unwrap();
    for (n, share) in expected.iter().enumerate() {
        let pct = found["passes"][format!("passes_{}_pct", n + 1)].as_f64().unwrap();
        near(&json!(pct / 100.0), share, 1e-9);
    }
}

#[test]
fn a_virgin_line_that_feeds_back_its_scrap_has_no_recycled_content() {
    let lines = run(&regrind_rounds(0.3, 20));
    near(&of(&lines, "recycled_content", "spool-20")["strict_pct"], &json!(0.0), 1e-9);
    near(&of(&lines, "recycled_content", "spool-20")["boundary_pct"], &json!(0.0), 1e-9);
}

/// A network in which each stream is weighed once, where it leaves a step, or else where it
/// comes in; the other end is not weighed.
fn network(inputs: &Value) -> Vec<Value> {
    let mut records = Vec::new();
    for (stream, measured) in inputs["measured"].as_array().unwrap().iter().enumerate() {
        let mut weighed = false;
        for (sign, role) in [(-1, "out"), (1, "in")] {
            let rows = inputs["incidence"].as_array().unwrap();
            let Some(node) = rows.iter().position(|row| row[stream] == json!(sign)) else {
                continue;
            };
            let mut record = json!({"kind": "weighing", "step": format!("n{}", node + 1),
                "lot": format!("s{}", stream + 1), "role": role});
            if !weighed {
                record["mass_g"] = measured.clone();
                record["u_g"] = inputs["sigma"][stream].clone();
                weighed = true;
            }
            records.push(record);
        }
    }
    records
}

#[test]
fn published_networks_reconcile_through_the_program() {
    for id in [
        "six-stream-bypass",
        "six-stream-bias",
        "cooling-water",
        "serth-heenan-28",
        "seven-stream-recycle",
        "twelve-stream",
        "six-stream-three-node",
    ] {
        let case = case(NETWORKS, id);
        let lines = run(&network(&case["inputs"]));
        for (n, expected) in case["expected"]["reconciled"].as_array().unwrap().iter().enumerate() {
            let lot = format!("s{}", n + 1);
            near(&of(&lines, "reconciled", &lot)["mass_g"], expected, 1e-6);
        }
        let verdict = lines.iter().find(|line| line["check"] == "reconciliation").unwrap();
        near(&verdict["value"], &case["expected"]["objective"], 1e-6);
        let rejects = case["expected"]["global_test_rejects"] == true;
        assert_eq!(verdict["result"] == "fails", rejects, "{id}");
    }
}

#[test]
fn a_biased_weighing_is_named_and_a_leak_that_explains_as_much_is_told() {
    let lines = run(&network(&case(NETWORKS, "six-stream-bias")["inputs"]));
    let suspect = lines.iter().find(|line| line["kind"] == "suspect").unwrap();
    assert_eq!(suspect["lot"], "s2");
    near(&suspect["suggested_g"], &json!(64.525), 1e-6);
    assert!(suspect["or_else"].to_string().contains("in step n2 and not weighed"), "{suspect}");
}

#[test]
fn two_weighings_that_only_check_each_other_are_a_tie() {
    let lines = run(&[
        weighing("shred", "caps", "in", 412.0, 0.1),
        weighing("shred", "flakes", "out", 142.0, 0.1),
    ]);
    let suspect = lines.iter().find(|line| line["kind"] == "suspect").unwrap();
    assert!(suspect["or_else"].to_string().contains("of lot"), "{suspect}");
}

#[test]
fn kilograms_written_as_grams_are_a_slip_of_a_power_of_ten() {
    let lines = run(&[
        weighing("shred", "caps", "in", 500.0, 0.1),
        weighing("shred", "flakes", "out", 0.495, 0.1),
        weighing("shred", "caps", "dust", 5.1, 0.1),
        weighing("dry", "flakes", "in", 495.0, 0.1),
        weighing("dry", "dry-flakes", "out", 494.0, 0.1),
        weighing("dry", "flakes", "water", 1.0, 0.1),
        weighing("count", "flakes", "stock", 0.0, 0.1),
    ]);
    let suspect = lines.iter().find(|line| line["kind"] == "suspect").unwrap();
    assert_eq!(suspect["lot"], "flakes");
    assert_eq!(suspect["slip"], "power of ten");
    near(&suspect["meant_g"], &json!(495.0), 1e-9);
}

#[test]
fn a_lot_fed_back_into_itself_is_explained() {
    let lines = run(&[
        lot("mix", "virgin"),
        weighing("extrude", "mix", "in", 100.0, 0.1),
        weighing("extrude", "mix", "out", 90.0, 0.1),
        weighing("extrude", "purge", "purge", 10.0, 0.1),
    ]);
    let verdict = lines.iter().find(|line| line["check"] == "genealogy").unwrap();
    assert!(verdict["why"].as_str().unwrap().contains("among its own ancestors"));
}

#[test]
fn two_materials_in_one_lot_are_a_problem() {
    let other =
        json!({"kind": "lot", "lot": "mix", "material": "PLA", "origin": "virgin", "passes": 0});
    let lines = run(&[lot("mix", "virgin"), other]);
    let problem = lines.iter().find(|line| line["kind"] == "problem").unwrap();
    assert_eq!(problem["code"], "contradiction", "{problem}");
}

#[test]
fn which_parts_hold_plastic_of_a_sack_is_told() {
    let lines = run(&regrind_rounds(0.3, 3));
    let found = lines.iter().find(|line| {
        line["kind"] == "descent" && line["lot"] == "spool-3" && line["from"] == "spool-0"
    });
    near(&found.unwrap()["share_pct"], &json!(2.7), 1e-9);
}
