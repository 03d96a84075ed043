//! `check-feed` through its program. Values are from `tests/reference`, where source and
//! status stand beside them; the example lab is invented.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod common;

#[path = "check_feed/bad_input.rs"]
mod bad_input;
#[path = "check_feed/drying.rs"]
mod drying;
#[path = "check_feed/identity.rs"]
mod identity;
#[path = "check_feed/sizes.rs"]
mod sizes;
#[path = "check_feed/units.rs"]
mod units;

use common::{reference, run, top};
use serde_json::{Value, json};

/// The findings and problems for some records.
fn findings(records: &[Value]) -> Vec<Value> {
    let input: String = records.iter().map(|r| format!("{r}\n")).collect();
    let ran = run("check-feed", &[], input.as_bytes());
    assert_eq!(ran.status, 0, "{}", ran.stderr);
    let text = String::from_utf8(ran.stdout).unwrap();
    let all = text.lines().map(|line| serde_json::from_str::<Value>(line).unwrap());
    all.filter(|r| !records.contains(r)).collect()
}

fn verdict<'a>(findings: &'a [Value], check: &str) -> &'a Value {
    findings
        .iter()
        .find(|r| r["kind"] == "verdict" && r["check"] == check)
        .unwrap_or_else(|| panic!("no verdict {check} in {findings:#?}"))
}

fn said(record: &Value, what: &str) {
    let text = record["why"].as_str().unwrap();
    assert!(text.contains(what), "{text:?} lacks {what:?}");
}

fn lot(material: &str) -> Value {
    json!({"kind": "lot", "lot": "a", "material": material})
}

fn mark(mark: &str) -> Value {
    json!({"kind": "marking", "lot": "a", "mark": mark})
}

/// A specimen of a lot that has a density in water at 23 °C.
fn immersed(air_g: f64, liquid_g: f64) -> Value {
    json!({"kind": "immersion", "lot": "a", "air_g": air_g, "liquid_g": liquid_g, "temp_c": 23})
}

fn moist(dried_h: f64, pct: f64) -> Value {
    json!({"kind": "moisture", "lot": "a", "moisture_pct": pct, "dried_h": dried_h, "dry_c": 65})
}

#[test]
fn density_by_immersion_agrees_with_the_reference() {
    for id in ["immersion-sinker-polystyrene", "immersion-pet", "immersion-floater-with-sinker"] {
        let case = reference("density_immersion.json", id);
        let i = &case["inputs"];
        let mut weighed = json!({"kind": "immersion", "lot": "a", "air_g": i["mass_in_air_g"],
            "liquid_g": i["apparent_mass_in_liquid_g"], "temp_c": i["temperature_C"]});
        if id.contains("sinker_apparent") || !i["sinker_apparent_mass_in_liquid_g"].is_null() {
            weighed["liquid_g"] = i["piece_and_sinker_apparent_mass_in_liquid_g"].clone();
            weighed["sinker_g"] = i["sinker_apparent_mass_in_liquid_g"].clone();
        }
        let found = findings(&[weighed]);
        let value = verdict(&found, "candidates")["value"].as_f64().unwrap();
        let expected = case["expected"]["density_g_cm3"].as_f64().unwrap();
        assert!((value - expected).abs() <= case["abs_tol"].as_f64().unwrap(), "{id}: {value}");
    }
}

#[test]
fn overlapping_densities_are_said_to_overlap() {
    let found = findings(&[immersed(1.25, 0.063)]);
    let candidates = verdict(&found, "candidates");
    assert_eq!(candidates["result"], "undecided");
    for name in ["PS", "PS-HI", "ABS", "overlap"] {
        said(candidates, name);
    }
}

#[test]
fn a_mark_that_the_density_contradicts_fails_and_is_told_how_to_part() {
    let found = findings(&[lot("PETG"), mark(">PETG<"), immersed(3.107, -0.331)]);
    let against = verdict(&found, "mark-and-density");
    assert_eq!(against["result"], "fails");
    said(against, "PP");
    said(against, "water parts the two");
    let agreed = findings(&[mark("06"), immersed(1.25, 0.063)]);
    assert_eq!(verdict(&agreed, "mark-and-density")["result"], "conforms");
    let filled = findings(&[mark(">PP-TD20<"), immersed(1.25, 0.063)]);
    assert_eq!(verdict(&filled, "mark-and-density")["result"], "undecided");
}

#[test]
fn what_is_never_melted_fails_with_a_caution() {
    for records in [
        vec![lot("PVC")],
        vec![lot("PTFE")],
        vec![mark("3")],
        vec![mark(">PC+ABS-FR(40)<")],
        vec![lot("unknown")],
    ] {
        let found = findings(&records);
        assert_eq!(verdict(&found, "never-melted")["result"], "fails", "{records:?}");
        assert!(found.iter().any(|r| r["kind"] == "caution"), "{records:?}");
    }
    assert!(!findings(&[lot("PP"), mark(">PP<")]).iter().any(|r| r["check"] == "never-melted"));
}

#[test]
fn mixtures_that_do_not_go_together_fail() {
    let found = findings(&[mark(">PET<"), mark(">PVC<")]);
    let mixture = verdict(&found, "mixture");
    assert_eq!(mixture["result"], "fails");
    said(mixture, "sort by hand");
    said(
        verdict(&findings(&[mark(">PET<"), mark(">PP<")]), "mixture"),
        "water parts the two: unfilled PP floats",
    );
}

#[test]
fn moisture_is_held_against_the_best_known_limit() {
    let limit = json!({"kind": "limit", "what": "moisture_pct", "material": "PETG", "max": 0.05, "unit": "%"});
    let card = json!({"kind": "material", "material": "PETG", "moisture_max_pct": 0.03});
    let of = |records: &[Value]| {
        let found = findings(records);
        let drying = verdict(&found, "drying");
        (drying["limit"].as_f64().unwrap(), drying["result"].as_str().unwrap().to_owned())
    };
    assert_eq!(of(&[lot("PETG"), moist(4.0, 0.045)]), (0.04, "fails".into()));
    assert_eq!(of(&[lot("PETG"), card.clone(), moist(4.0, 0.035)]), (0.03, "fails".into()));
    assert_eq!(of(&[card, limit, lot("PETG"), moist(4.0, 0.045)]), (0.05, "conforms".into()));
}

#[test]
fn one_reading_gives_the_usual_time_only_and_a_curve_the_time_left() {
    let found = findings(&[lot("PETG"), moist(4.0, 0.047)]);
    said(verdict(&found, "drying"), "usual only");
    said(verdict(&found, "drying"), "hydrolysis");
    assert!(!found.iter().any(|r| r["kind"] == "adjustment"));
    // Shares left by the plate of the reference, at 0.05 an hour.
    let table = reference("drying.json", "plate-table");
    let times = table["inputs"]["Dt_over_h2"].as_array().unwrap();
    let shares = table["expected"]["fraction_remaining"].as_array().unwrap();
    let mut records = vec![lot("PETG"), moist(0.0, 0.3)];
    for at in [3, 4, 5, 6, 8] {
        let hours = times[at].as_f64().unwrap() / 0.05;
        records.push(moist(hours, 0.3 * shares[at].as_f64().unwrap()));
    }
    let found = findings(&records);
    let proposed = found.iter().find(|r| r["kind"] == "adjustment").unwrap();
    // 0.04 of 0.3 is left between 0.15 and 0.2 of the table: 3 to 4 h at this rate.
    let to = proposed["to"].as_f64().unwrap();
    assert!((3.0..4.0).contains(&to), "{to}");
    assert!(proposed["low"].as_f64().unwrap() <= to && to <= proposed["high"].as_f64().unwrap());
}

#[test]
fn a_card_is_shown_with_its_sources() {
    let ran = run("check-feed", &["--card", "PET-G"], b"");
    assert_eq!(ran.status, 0);
    let card: Value = serde_json::from_slice(&ran.stdout).unwrap();
    assert_eq!(card["abbreviation"], "PETG");
    assert!(card["density_g_cm3"]["source"].is_string());
    let ran = run("check-feed", &["--card", "PETQ"], b"");
    assert_eq!(ran.status, 2);
    assert!(ran.stderr.contains("PETG"));
}

#[test]
fn the_example_lab_gives_up_what_is_hidden_in_it() {
    let lab = top().join("examples/lab");
    let mut facts = std::fs::read(lab.join("workshop.jsonl")).unwrap();
    for (kind, file) in
        [("lot", "lots.csv"), ("marking", "markings.csv"), ("immersion", "immersion.csv")]
    {
        let path = lab.join(file);
        facts.extend(run("ingest", &[kind, path.to_str().unwrap()], b"").stdout);
    }
    let ran = run("check-feed", &[], &facts);
    let text = String::from_utf8(ran.stdout).unwrap();
    let failed: Vec<String> = text
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).unwrap())
        .filter(|r| r["check"] == "mark-and-density" && r["result"] == "fails")
        .map(|r| r["lot"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(failed, ["housings-1", "odd-lid"]);
}

#[test]
fn what_a_dryer_takes_in_is_undecided_before_it_and_fails_after_it() {
    let dryer = [
        json!({"kind": "step", "step": "d1", "does": "dry"}),
        json!({"kind": "weighing", "step": "d1", "lot": "L", "role": "in", "mass_g": 500}),
    ];
    let name = |mut record: Value| {
        record["lot"] = json!("L");
        record
    };
    let result = |reading: Value| {
        let mut records = dryer.to_vec();
        records.extend([name(lot("PETG")), name(reading)]);
        let found = findings(&records);
        let drying = verdict(&found, "drying").clone();
        (drying["result"].as_str().unwrap().to_owned(), drying["why"].as_str().unwrap().to_owned())
    };
    let (before, why) = result(moist(0.0, 0.2));
    assert!(before == "undecided" && why.contains("step d1 took it in"), "{why}");
    assert_eq!(result(moist(4.0, 0.2)).0, "fails");
}

#[test]
fn two_cards_of_one_material_that_differ_are_a_problem() {
    let card = |max: f64| json!({"kind": "material", "material": "PETG", "moisture_max_pct": max});
    let found = findings(&[card(0.03), card(0.05)]);
    let problem = found.iter().find(|r| r["kind"] == "problem").unwrap();
    assert_eq!(problem["code"], "contradiction", "{problem}");
}
