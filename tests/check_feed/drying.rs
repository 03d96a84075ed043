//! Moisture, dryers and the time that is left.

use super::*;
use secondmelt_plastics::drying::Granule;

fn of_dryer(end_pct: f64) -> Value {
    json!({"kind": "material", "material": "PETG", "dry_c": 65, "moisture_max_pct": 0.04, "dry_end_pct": end_pct})
}

fn pieces(shape: &str) -> Value {
    let mut record = lot("PETG");
    record["piece"] = json!(shape);
    record["piece_mm"] = json!(3.0);
    record["piece_length_mm"] = json!(4.5);
    record
}

/// Readings of a drying that runs as the curve says, at 0.05 an hour, from 0.4 %.
fn readings(granule: Granule, end: f64, hours: &[f64]) -> Vec<Value> {
    let at = |h: f64| end + (0.4 - end) * granule.left(0.05 * h);
    hours.iter().map(|&h| moist(h, at(h))).collect()
}

fn adjustment(found: &[Value]) -> Option<&Value> {
    found.iter().find(|r| r["kind"] == "adjustment")
}

#[test]
fn the_shape_and_the_end_that_the_lab_gives_are_used() {
    let slenderness = 4.5 / 3.0;
    for (name, granule) in [
        ("flake", Granule::Plate),
        ("bead", Granule::Sphere),
        ("strand", Granule::Cylinder),
        ("pellet", Granule::Pellet { slenderness }),
    ] {
        let mut records = vec![pieces(name), of_dryer(0.02)];
        records.extend(readings(granule, 0.02, &[0.0, 0.5, 1.0, 2.0]));
        let found = findings(&records);
        let truth = granule.when_left(0.02 / 0.38).unwrap() / 0.05;
        let to = adjustment(&found).unwrap()["to"].as_f64().unwrap();
        assert!((to / truth - 1.0).abs() < 0.01, "{name}: {to} against {truth}");
        let curve = found.iter().find(|r| r["kind"] == "drying_curve").unwrap();
        assert_eq!((&curve["piece"], &curve["piece_known"]), (&json!(name), &json!(true)));
        assert!((curve["rate_per_h"].as_f64().unwrap() / 0.05 - 1.0).abs() < 0.01, "{curve}");
        let size: f64 = if name == "flake" { 3.0 } else { 1.5 };
        let diffusion = curve["diffusion_mm2_h"].as_f64().unwrap();
        assert!((diffusion / (0.05 * size * size) - 1.0).abs() < 0.01, "{curve}");
    }
}

#[test]
fn readings_that_do_not_bound_the_time_are_undecided_and_say_what_would_help() {
    let mut records = vec![lot("PETG")];
    // Scattered by a few per cent, and far from the end.
    records
        .extend([(0.0, 0.41), (1.0, 0.262), (2.0, 0.222), (3.0, 0.178)].map(|(h, x)| moist(h, x)));
    let found = findings(&records);
    assert!(adjustment(&found).is_none(), "{found:#?}");
    let time = verdict(&found, "drying-time");
    assert_eq!(time["result"], "undecided");
    for what in ["dry_end_pct", "piece", "readings"] {
        said(time, what);
    }
    assert_eq!(verdict(&found, "drying")["result"], "fails");
}

#[test]
fn a_dryer_that_levels_off_above_the_limit_will_not_get_there() {
    let mut records = vec![pieces("flake")];
    for (h, factor) in [
        (0.0, 1.01),
        (1.0, 0.99),
        (2.0, 1.0),
        (4.0, 1.01),
        (8.0, 0.99),
        (12.0, 1.0),
        (20.0, 1.01),
        (30.0, 0.99),
    ] {
        let left = Granule::Plate.left(0.05 * h);
        records.push(moist(h, (0.08 + 0.3 * left) * factor));
    }
    let found = findings(&records);
    assert!(adjustment(&found).is_none());
    let time = verdict(&found, "drying-time");
    assert_eq!(time["result"], "fails");
    said(time, "will not get there");
    let plateau = time["value"].as_f64().unwrap();
    assert!((0.06..0.08).contains(&plateau), "{plateau}");
    let mut known = vec![pieces("flake"), of_dryer(0.06)];
    known.extend(readings(Granule::Plate, 0.06, &[0.0, 2.0, 4.0]));
    said(verdict(&findings(&known), "drying-time"), "will not get there");
}

#[test]
fn readings_that_no_curve_goes_through_are_undecided() {
    let mut records = vec![pieces("flake")];
    // It dries, takes up water over night, and dries again.
    for (h, pct) in [
        (0.0, 0.4),
        (1.0, 0.3),
        (2.0, 0.25),
        (3.0, 0.39),
        (4.0, 0.38),
        (5.0, 0.2),
        (6.0, 0.15),
        (7.0, 0.13),
    ] {
        records.push(moist(h, pct));
    }
    let found = findings(&records);
    let time = verdict(&found, "drying-time");
    assert_eq!(time["result"], "undecided");
    assert!(adjustment(&found).is_none());
}

#[test]
fn a_dryer_hotter_than_the_plastic_bears_is_refused() {
    let hot = |c: f64| {
        let readings = [(0.0, 0.3), (1.0, 0.2), (2.0, 0.15), (4.0, 0.1), (6.0, 0.07)];
        let mut records = vec![pieces("flake"), of_dryer(0.0)];
        records.extend(readings.map(|(h, x)| {
            let mut reading = moist(h, x);
            reading["dry_c"] = json!(c);
            reading
        }));
        findings(&records)
    };
    for (c, hint) in [(200.0, "softens"), (149.0, "in °F it would be 65 °C")] {
        let found = hot(c);
        let refused = verdict(&found, "drying-temperature");
        assert_eq!(refused["result"], "fails");
        said(refused, hint);
        assert!(adjustment(&found).is_none());
        assert!(found.iter().any(
            |r| r["kind"] == "caution" && r["danger"].as_str().unwrap().contains("thermostat")
        ));
    }
    assert!(!hot(65.0).iter().any(|r| r["check"] == "drying-temperature"));
    // The lab's own word comes first.
    let own = json!({"kind": "material", "material": "PETG", "dry_max_c": 80});
    let mut reading = moist(4.0, 0.03);
    reading["dry_c"] = json!(75);
    assert!(
        !findings(&[own, lot("PETG"), reading.clone()])
            .iter()
            .any(|r| r["check"] == "drying-temperature")
    );
    assert!(findings(&[lot("PETG"), reading]).iter().any(|r| r["check"] == "drying-temperature"));
}

#[test]
fn a_plastic_that_nothing_is_known_of_is_not_dried_hotter_than_any() {
    let mut reading = moist(4.0, 0.03);
    reading["dry_c"] = json!(200);
    let found = findings(&[lot("PETQ"), reading]);
    said(verdict(&found, "drying-temperature"), "hottest of all cards");
}

#[test]
fn glassy_polyester_is_warned_of_where_it_is_dried() {
    let fuses = |material: &str| {
        let found = findings(&[lot(material), moist(1.0, 0.3)]);
        found
            .iter()
            .any(|r| r["kind"] == "caution" && r["danger"].as_str().unwrap().contains("one lump"))
    };
    assert!(fuses("PET") && fuses("PLA") && !fuses("PETG"));
}

#[test]
fn a_plastic_that_takes_up_no_water_needs_no_drying_but_may_be_wet_outside() {
    let found = findings(&[lot("PP"), moist(0.0, 0.05)]);
    assert_eq!(verdict(&found, "drying")["result"], "conforms");
    said(verdict(&found, "drying"), "needs no drying");
    assert_eq!(verdict(&findings(&[lot("PP"), mark(">PP<")]), "drying")["result"], "conforms");
    let limit =
        json!({"kind": "limit", "what": "moisture_pct", "material": "PP", "max": 0.1, "unit": "%"});
    let found = findings(&[limit, lot("PP"), moist(0.0, 5.0)]);
    let drying = verdict(&found, "drying");
    assert_eq!((&drying["result"], &drying["limit"]), (&json!("fails"), &json!(0.1)));
    said(drying, "surface");
    // The card's ceiling is no limit of the lab.
    assert_eq!(verdict(&findings(&[lot("PP"), moist(0.0, 5.0)]), "drying")["result"], "undecided");
    // What a lab's own plastic takes up says the same.
    let own = json!({"kind": "material", "material": "LAB-1", "water_uptake_pct": 0.02});
    said(verdict(&findings(&[own, lot("LAB-1"), moist(0.0, 0.01)]), "drying"), "needs no drying");
}

#[test]
fn the_clock_says_whether_a_reading_was_taken_before_the_dryer() {
    let dryer = |at: &str| json!({"kind": "step", "step": "d1", "does": "dry", "at": at});
    let into = json!({"kind": "weighing", "step": "d1", "lot": "a", "role": "in", "mass_g": 500});
    let read = |at: &str, h: f64| {
        let mut reading = moist(h, 0.2);
        reading["at"] = json!(at);
        reading
    };
    let result = |records: &[Value]| verdict(&findings(records), "drying")["result"].clone();
    let (eight, noon) = ("2026-03-01T08:00:00+01:00", "2026-03-01T12:00:00+01:00");
    let base = [lot("PETG"), into];
    let with = |more: [Value; 2]| [base.as_slice(), more.as_slice()].concat();
    assert_eq!(result(&with([dryer(noon), read(eight, 0.0)])), "undecided");
    // Dried before, wet again, and then into the dryer.
    assert_eq!(result(&with([dryer(noon), read(eight, 3.0)])), "undecided");
    assert_eq!(result(&with([dryer(eight), read(noon, 4.0)])), "fails");
    assert_eq!(result(&with([dryer(eight), read(noon, 0.0)])), "fails");
    // The last reading by the clock is judged, whatever stands first or dried longer.
    let dry =
        json!({"kind": "moisture", "lot": "a", "moisture_pct": 0.02, "at": noon, "dried_h": 1});
    assert_eq!(result(&[lot("PETG"), dry.clone(), read(eight, 6.0)]), "conforms");
    // Another offset, the same order.
    let utc = json!({"kind": "moisture", "lot": "a", "moisture_pct": 0.2, "at": "2026-03-01T11:30:00Z", "dried_h": 0});
    assert_eq!(result(&[lot("PETG"), utc, dry]), "fails");
}

#[test]
fn what_came_out_of_a_dryer_under_another_name_is_judged_in_place_of_what_went_in() {
    let weighing = |lot: &str, role: &str, at: &str| json!({"kind": "weighing", "step": "d1", "lot": lot, "role": role, "mass_g": 500, "at": at});
    let out = json!({"kind": "lot", "lot": "b", "material": "PETG"});
    let dry = json!({"kind": "moisture", "lot": "b", "moisture_pct": 0.02, "dried_h": 6});
    let records = [
        json!({"kind": "step", "step": "d1", "does": "dry"}),
        lot("PETG"),
        out,
        weighing("a", "in", "2026-03-01T08:00:00Z"),
        weighing("b", "out", "2026-03-01T15:00:00Z"),
        moist(4.0, 0.06),
        dry.clone(),
    ];
    let of = |found: &[Value], lot: &str| {
        let drying = found.iter().find(|r| r["check"] == "drying" && r["lot"] == lot).unwrap();
        (drying["result"].clone(), drying["why"].to_string())
    };
    let found = findings(&records);
    let (result, why) = of(&found, "a");
    assert!(result == "undecided" && why.contains("what came out, b, was read"), "{why}");
    assert_eq!(of(&found, "b").0, "conforms");
    // Without a reading of what came out, what was read last stands.
    let unread: Vec<Value> = records.iter().filter(|r| **r != dry).cloned().collect();
    assert_eq!(of(&findings(&unread), "a").0, "fails");
    // A dryer without a time began when the lot was weighed for it.
    let mut early = moist(4.0, 0.06);
    early["at"] = json!("2026-03-01T07:00:00Z");
    let before: Vec<Value> = unread
        .iter()
        .map(|r| if r["kind"] == "moisture" { early.clone() } else { r.clone() })
        .collect();
    assert_eq!(of(&findings(&before), "a").0, "undecided");
}

#[test]
fn more_water_than_the_plastic_takes_up_is_asked_about() {
    said(verdict(&findings(&[lot("PETG"), moist(0.0, 3.0)]), "drying"), "on its surface");
    let found = findings(&[lot("PETG"), moist(0.0, 0.3)]);
    assert!(!verdict(&found, "drying")["why"].as_str().unwrap().contains("on its surface"));
}
