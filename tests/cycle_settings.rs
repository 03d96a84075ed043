//! `cycle-adjust`: settings from pass to pass, and where to start with a new material.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use common::{Ran, run};
use serde_json::{Value, json};

/// A lot of each pass, extruded at a melt temperature; of lots named in `refused` no printer wants any.
fn passes(melt_c: &[f64], refused: &[usize]) -> Vec<Value> {
    let mut records = vec![
        json!({"kind":"machine","machine":"X","does":"extrude","melt_min_c":180,"melt_max_c":270}),
        json!({"kind":"material","material":"PETG","melt_min_c":210,"melt_max_c":250}),
    ];
    for (pass, melt_c) in melt_c.iter().enumerate() {
        let (lot, step) = (format!("L{pass}"), format!("e{pass}"));
        let result = if refused.contains(&pass) { "fails" } else { "conforms" };
        records.extend([
            json!({"kind":"lot","lot":lot,"material":"PETG","form":"filament","passes":pass}),
            json!({"kind":"step","step":step,"does":"extrude","machine":"X","settings":{"melt_c":melt_c,"screw_rpm":20}}),
            json!({"kind":"weighing","step":step,"lot":lot,"role":"out","mass_g":500}),
            json!({"kind":"verdict","check":"diameter-tolerance","result":result,"lot":lot,"machine":"P","rule":"r","why":"w"}),
        ]);
    }
    records
}

fn adjusted(records: &[Value]) -> Ran {
    let stream: String = records.iter().map(|record| format!("{record}\n")).collect();
    let ran = run("cycle-adjust", &[], stream.as_bytes());
    assert_eq!(ran.status, 0, "{}", ran.stderr);
    ran
}

fn verdict(ran: &Ran) -> Option<Value> {
    ran.of("verdict").into_iter().find(|verdict| verdict["check"] == "next-pass-settings")
}

/// Worked by hand: slope -3.8 a pass, 221.0 at pass 5; residual variance 0.8 / 3, t of three degrees
/// of freedom 3.182 (any handbook table), half width 3.182 sqrt(0.8 / 3 (1 + 1/5 + 9/10)).
#[test]
fn the_line_through_the_passes_that_worked_gives_the_next_setting_with_its_interval() {
    let ran = adjusted(&passes(&[240.0, 236.0, 233.0, 228.0, 225.0], &[]));
    let change = ran.only("adjustment");
    assert_eq!((&change["what"], &change["machine"]), (&json!("melt_c"), &json!("X")));
    assert_eq!((&change["from"], &change["unit"]), (&json!(225.0), &json!("C")));
    let number = |name: &str| change[name].as_f64().unwrap();
    assert!((number("to") - 221.0).abs() < 1e-9, "{change}");
    let half = 3.182_446 * (0.8_f64 / 3.0 * 2.1).sqrt();
    assert!(
        (number("high") - 221.0 - half).abs() < 1e-5 && (221.0 - number("low") - half).abs() < 1e-5
    );
    assert!(!ran.of("caution").is_empty());
}

#[test]
fn a_pass_that_no_printer_can_use_is_no_guide() {
    // The second pass is off the line, and was refused.
    let ran = adjusted(&passes(&[240.0, 200.0, 233.0, 228.0, 225.0], &[1]));
    let change = ran.only("adjustment");
    assert!((change["to"].as_f64().unwrap() - 221.0).abs() < 1.0, "{change}");
    assert!(!change["because"].as_str().unwrap().contains("200"));
}

#[test]
fn thin_evidence_no_trend_and_the_end_of_the_window_are_told() {
    let thin = adjusted(&passes(&[240.0, 236.0], &[]));
    assert_eq!(verdict(&thin).unwrap()["result"], "undecided");
    assert!(thin.of("adjustment").is_empty());
    let flat = adjusted(&passes(&[240.0, 239.0, 241.0, 240.0], &[]));
    assert_eq!(verdict(&flat).unwrap()["result"], "conforms");
    // The line goes to 209.5, below the 210 of the material.
    let cold = adjusted(&passes(&[226.0, 221.0, 216.0, 213.0], &[]));
    let said = verdict(&cold).unwrap();
    assert_eq!((&said["result"], &said["limit"]), (&json!("undecided"), &json!(210.0)), "{said}");
    assert!(cold.of("adjustment").is_empty() && !cold.of("caution").is_empty());
}

#[test]
fn a_material_that_was_never_extruded_gets_a_start_within_both_windows() {
    let records = [
        json!({"kind":"machine","machine":"X","does":"extrude","melt_min_c":180,"melt_max_c":240}),
        json!({"kind":"material","material":"PETG","melt_min_c":210,"melt_max_c":250}),
        json!({"kind":"lot","lot":"sack","material":"PETG","form":"waste"}),
    ];
    let ran = adjusted(&records);
    let start = ran.only("adjustment");
    assert_eq!(
        (&start["to"], &start["low"], &start["high"]),
        (&json!(225.0), &json!(210.0), &json!(240.0))
    );
    assert!(
        start["basis"].as_str().unwrap().contains("a start only") && start.get("from").is_none()
    );
}

#[test]
fn a_dryer_starts_in_the_usual_range_of_the_card_where_the_plastic_takes_up_water() {
    let records = |material: &str| {
        [
            json!({"kind":"machine","machine":"oven","does":"dry"}),
            json!({"kind":"lot","lot":"sack","material":material,"form":"waste"}),
        ]
    };
    let ran = adjusted(&records("PETG"));
    let starts = ran.of("adjustment");
    let of = |n: usize| {
        let start = &starts[n];
        assert!(start["basis"].as_str().unwrap().contains("a start only"), "{start}");
        [&start["what"], &start["low"], &start["to"], &start["high"]].map(Clone::clone)
    };
    assert_eq!(of(0), [json!("dry_c"), json!(60.0), json!(65.0), json!(70.0)]);
    assert_eq!(of(1), [json!("dry_h"), json!(4.0), json!(5.0), json!(6.0)]);
    assert_eq!(ran.of("caution").len(), 1);
    // PP takes up next to no water; PVC is not melted, so not dried for it either.
    for material in ["PP", "PVC"] {
        assert!(adjusted(&records(material)).of("adjustment").is_empty(), "{material}");
    }
}

/// 1.82 mm where 1.75 mm is wanted, at the end of the puller: the screw slows by (1.75 / 1.82)^2
/// (mass continuity).
#[test]
fn where_the_puller_is_at_its_end_the_screw_makes_up_for_it() {
    let records = |rpm_min: f64| {
        [
            json!({"kind":"machine","machine":"X","does":"extrude","nominal_mm":1.75,"tolerance_mm":0.05,
                "line_speed_max_m_min":5.0,"screw_min_rpm":rpm_min}),
            json!({"kind":"step","step":"e","does":"extrude","machine":"X","settings":{"line_speed_m_min":5.0,"screw_rpm":20}}),
            json!({"kind":"weighing","step":"e","lot":"S","role":"out"}),
            json!({"kind":"diameter_summary","lot":"S","readings":1000,"axes":1,"mean_mm":1.82,"sd_mm":0.005,"min_mm":1.8,
                "max_mm":1.84,"area_mm":1.82,"lag1":0.0,"out_of_order":0}),
        ]
    };
    let change = adjusted(&records(5.0)).only("adjustment");
    assert_eq!((&change["what"], &change["from"]), (&json!("screw_rpm"), &json!(20.0)));
    let to = change["to"].as_f64().unwrap();
    assert!((to - 20.0 * (1.75_f64 / 1.82).powi(2)).abs() < 1e-9, "{change}");
    assert!(change["low"].as_f64().unwrap() < to && to < change["high"].as_f64().unwrap());
    // A screw that cannot turn so slowly is not asked to.
    assert!(adjusted(&records(19.0)).of("adjustment").is_empty());
}
