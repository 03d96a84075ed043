//! Slips that must each get a clear answer.

use super::*;

fn problem(record: Value) -> Value {
    let found = findings(std::slice::from_ref(&record));
    let problem = found.iter().find(|r| r["kind"] == "problem");
    problem.unwrap_or_else(|| panic!("no problem with {record}: {found:#?}")).clone()
}

#[test]
fn each_slip_is_told_with_what_was_expected() {
    let with = |mut record: Value, field: &str, value: Value| {
        record[field] = value;
        record
    };
    let sieve = json!({"kind": "sieve", "lot": "a", "opening_mm": -1, "retained_g": 5});
    let bulk =
        |filled: f64| json!({"kind": "bulk", "lot": "a", "filled_g": filled, "vessel_cm3": 100});
    for (record, what) in [
        (with(immersed(1.0, 0.1), "temp_c", json!(296.15)), "kelvin"),
        (with(immersed(1.0, 0.1), "temp_c", json!(73)), "°F"),
        (with(immersed(1.0, 0.1), "liquid", json!("ethanol")), "liquid_g_cm3"),
        // Lighter than any solid plastic, heavier than any, and without volume.
        (immersed(1.0, -2.0), "solid plastics"),
        (immersed(1.0, 0.7), "solid plastics"),
        (immersed(1.0, 1.5), "apparent mass"),
        (moist(0.0, 120.0), "100"),
        (with(moist(2.0, 0.1), "dry_c", json!(338)), "kelvin"),
        (sieve, "0"),
        (bulk(412.0), "without the vessel"),
        (with(lot("PP"), "piece", json!("cube")), "flake"),
        (with(lot("PP"), "piece_mm", json!(0)), "above 0"),
    ] {
        let problem = problem(record);
        assert!(problem.to_string().contains(what), "{problem} lacks {what}");
        assert!(problem["raw"].is_string() && problem["line"] == 1, "{problem}");
    }
}

#[test]
fn an_unknown_abbreviation_is_undecided_and_says_what_to_write() {
    let found = findings(&[lot("PETQ")]);
    let known = verdict(&found, "known-plastic");
    assert_eq!(known["result"], "undecided");
    said(known, "PETQ");
    said(known, "ISO 1043-1");
}

#[test]
fn sieve_masses_that_do_not_add_up_fail_either_way() {
    let sieves = |charge: f64| {
        let one = |mm: f64, g: f64| json!({"kind": "sieve", "lot": "a", "opening_mm": mm, "retained_g": g, "charge_g": charge});
        findings(&[one(5.6, 10.0), one(2.8, 60.0), one(1.0, 25.0), one(0.0, 5.0)])
    };
    for charge in [110.0, 95.0] {
        let found = sieves(charge);
        let sizes = verdict(&found, "particle-size");
        assert_eq!(sizes["result"], "fails", "{charge}");
        said(sizes, "100 g found of");
    }
    assert_ne!(verdict(&sieves(100.0), "particle-size")["result"], "fails");
}

#[test]
fn two_charges_of_one_sieving_are_a_contradiction() {
    let one = |mm: f64, charge: f64| json!({"kind": "sieve", "lot": "a", "opening_mm": mm, "retained_g": 50, "charge_g": charge});
    let found = findings(&[one(2.8, 100.0), one(0.0, 200.0)]);
    let problem = found.iter().find(|r| r["kind"] == "problem").unwrap();
    assert_eq!(problem["code"], "contradiction", "{problem}");
}
