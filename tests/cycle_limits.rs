//! `cycle-adjust`: limits of the melt flow by test condition, blends against either limit and held
//! against the lab's own, and figures that cannot be.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod common;

use common::{Ran, run};
use serde_json::{Value, json};

fn adjusted(records: &[Value]) -> Ran {
    let stream: String = records.iter().map(|record| format!("{record}\n")).collect();
    let ran = run("cycle-adjust", &[], stream.as_bytes());
    assert_eq!(ran.status, 0, "{}", ran.stderr);
    ran
}

fn lot(name: &str, passes: u64) -> Value {
    json!({"kind":"lot","lot":name,"material":"PE-HD","passes":passes})
}

fn cut(name: &str, load_kg: f64, run: &str, mfr: f64) -> Value {
    json!({"kind":"melt_flow","lot":name,"temp_c":190,"load_kg":load_kg,"cut_g":mfr / 10.0,"cut_s":60,"run":run})
}

/// A limit of the melt flow, at a load where one is named.
fn limit(side: &str, x: f64, load_kg: Option<f64>) -> Value {
    let mut limit =
        json!({"kind":"limit","what":"mfr_g_10min","material":"PE-HD","unit":"g/10 min"});
    limit[side] = json!(x);
    if let Some(load_kg) = load_kg {
        limit["temp_c"] = json!(190);
        limit["load_kg"] = json!(load_kg);
    }
    limit
}

/// Four passes whose flow falls by about a tenth each, at a load.
fn falling(load_kg: f64, at_0: f64) -> Vec<Value> {
    let off = [1.003, 0.996, 1.004, 0.998];
    (0..4_u32)
        .zip(off)
        .map(|(pass, off)| {
            cut(&format!("p{pass}"), load_kg, "1", at_0 * 0.9_f64.powf(f64::from(pass)) * off)
        })
        .collect()
}

fn lots() -> Vec<Value> {
    (0..4).map(|pass| lot(&format!("p{pass}"), pass)).collect()
}

fn verdicts(ran: &Ran, check: &str) -> Vec<Value> {
    ran.of("verdict").into_iter().filter(|v| v["check"] == check).collect()
}

fn number(record: &Value, name: &str) -> f64 {
    record[name].as_f64().unwrap_or_else(|| panic!("no {name} in {record}"))
}

#[test]
fn a_limit_of_one_test_condition_judges_no_other() {
    let mut records = lots();
    records.extend(falling(2.16, 8.0));
    records.extend(falling(5.0, 25.0));
    // 20 g/10 min at 5 kg would condemn every lot at 2.16 kg.
    records.extend([limit("min", 12.0, Some(5.0)), limit("min", 4.0, Some(2.16))]);
    let ran = adjusted(&records);
    let mut held: Vec<_> = verdicts(&ran, "melt-flow-next-pass")
        .into_iter()
        .map(|v| (number(&v, "limit"), v["result"].clone()))
        .collect();
    held.sort_by(|a, b| a.0.total_cmp(&b.0));
    assert_eq!(held, [(4.0, json!("conforms")), (12.0, json!("conforms"))], "{}", ran.text());
    let left = ran.of("passes_left");
    assert_eq!(left.len(), 2);
    // Only one of them: the other condition is not judged, and says so.
    let only: Vec<_> = records.iter().filter(|r| r["min"] != json!(4.0)).cloned().collect();
    let ran = adjusted(&only);
    let told = verdicts(&ran, "melt-flow-next-pass");
    assert!(
        told.iter()
            .any(|v| v["why"].as_str().unwrap().contains("at 190 C and 2.16 kg says how far")),
        "{told:?}"
    );
    assert_eq!(ran.of("passes_left").len(), 1);
}

#[test]
fn a_limit_of_no_condition_judges_none_where_two_drift() {
    let mut records = lots();
    records.extend(falling(2.16, 8.0));
    records.push(limit("min", 12.0, None));
    // One condition: it is that one's.
    assert_eq!(verdicts(&adjusted(&records), "melt-flow-next-pass")[0]["result"], "fails");
    records.extend(falling(5.0, 25.0));
    let told = verdicts(&adjusted(&records), "melt-flow-next-pass");
    assert_eq!(told.len(), 2);
    for verdict in told {
        assert_eq!(verdict["result"], "undecided");
        assert!(verdict["why"].as_str().unwrap().contains("`temp_c` and `load_kg`"), "{verdict}");
    }
}

#[test]
fn a_blend_holds_a_lower_limit_too() {
    let mut records = lots();
    records.extend(falling(2.16, 8.0));
    records.extend([limit("min", 5.5, None), cut("v", 2.16, "1", 8.1)]);
    records.push(json!({"kind":"lot","lot":"v","material":"PE-HD","passes":0,"origin":"virgin"}));
    let ran = adjusted(&records);
    let drift = ran.only("melt_flow_drift");
    let share = ran.only("blend_share");
    assert_eq!((&share["lot"], &share["added"]), (&json!("p3"), &json!("v")));
    // The feed is to be so far above the limit that the lower end of the next pass just keeps it.
    let half = (number(&drift, "next_g_10min") / number(&drift, "next_low_g_10min")).ln();
    let feed = 5.5 / number(&drift, "factor_per_pass") * half.exp();
    assert!((number(&share, "target_g_10min") / feed - 1.0).abs() < 1e-9, "{share}");
    let (own, added) = (number(&share, "lot_g_10min"), number(&share, "added_g_10min"));
    let expected = 100.0 * (feed / own).ln() / (added / own).ln();
    assert!((number(&share, "share_pct") - expected).abs() < 1e-9, "{share}");
    assert!((0.0..=100.0).contains(&expected) && own < feed && feed < added);
    assert!(ran.of("adjustment").iter().any(|a| a["what"] == "younger_share_pct"));
    assert!(ran.of("caution").iter().any(|c| c["danger"].as_str().unwrap().contains("strength")));
    assert!(share.get("blends").is_none());
    // A limit that the next pass keeps asks for no blend.
    records.retain(|r| r["kind"] != "limit");
    records.push(limit("min", 3.0, None));
    assert!(adjusted(&records).of("blend_share").is_empty());
}

/// A lab that has blended: 300 g of the third pass with 700 g of virgin, tested at a rate.
fn blended(mfr: f64) -> Vec<Value> {
    let mut records = lots();
    records.extend(falling(2.16, 8.0));
    records.extend([
        limit("target", 7.0, None),
        cut("v", 2.16, "1", 8.1),
        cut("v", 2.16, "2", 8.05),
    ]);
    records.push(json!({"kind":"lot","lot":"v","material":"PE-HD","passes":0,"origin":"virgin"}));
    records.push(json!({"kind":"step","step":"mix","does":"blend"}));
    for (lot, role, mass_g) in [("p3", "in", 300.0), ("v", "in", 700.0), ("b", "out", 1000.0)] {
        records.push(json!({"kind":"weighing","step":"mix","lot":lot,"role":role,"mass_g":mass_g}));
    }
    records.extend([json!({"kind":"lot","lot":"b","material":"PE-HD"}), cut("b", 2.16, "1", mfr)]);
    records
}

#[test]
fn the_rule_is_held_against_the_labs_own_blends_and_widens_the_share() {
    let ran = adjusted(&blended(7.0));
    let said = verdicts(&ran, "blend-rule");
    assert_eq!(said.len(), 1);
    // ln of the rates by mass: 0.7 of the mean of two fillings, 0.3 of the third pass.
    let parts = 0.7 * 0.5 * (8.1_f64.ln() + 8.05_f64.ln()) + 0.3 * (8.0 * 0.729 * 0.998_f64).ln();
    assert!((number(&said[0], "limit") - parts.exp()).abs() < 1e-9, "{said:?}");
    assert!((number(&said[0], "value") - 7.0).abs() < 1e-12 && said[0]["lot"] == "b", "{said:?}");
    let share = ran.only("blend_share");
    let off = 100.0 * ((7.0_f64.ln() - parts).abs().exp() - 1.0);
    assert!((number(&share, "off_pct") - off).abs() < 1e-9, "{share}");
    assert_eq!((&share["blends"], number(&share, "checked_from_pct").round()), (&json!(1), 70.0));
    // The further off, the wider.
    let width = |share: &Value| number(share, "high_pct") - number(share, "low_pct");
    let far = adjusted(&blended(6.0));
    assert!(width(&far.only("blend_share")) > width(&share) + 5.0, "{share}");
    assert_eq!(verdicts(&far, "blend-rule")[0]["result"], "fails");
    let change =
        far.of("adjustment").into_iter().find(|a| a["what"] == "younger_share_pct").unwrap();
    let because = change["because"].as_str().unwrap();
    assert!(because.contains("in 1 blend of the lab's own with 70 to 70 %"), "{because}");
    assert!(because.contains("lies outside that range"), "{because}");
}

#[test]
fn a_blend_that_cannot_be_held_against_the_rule_says_what_would_help() {
    let mut unweighed = blended(7.0);
    unweighed.iter_mut().filter(|r| r["kind"] == "weighing" && r["lot"] == "v").for_each(|r| {
        r.as_object_mut().unwrap().remove("mass_g");
    });
    let untested: Vec<_> =
        blended(7.0).into_iter().filter(|r| r["kind"] != "melt_flow" || r["lot"] != "v").collect();
    for (records, part) in
        [(unweighed, "the mass of its part v"), (untested, "test of its part v at 190 C")]
    {
        let ran = adjusted(&records);
        let said = verdicts(&ran, "blend-rule");
        assert_eq!(said[0]["result"], "undecided");
        assert!(said[0]["why"].as_str().unwrap().contains(part), "{said:?}");
    }
}

#[test]
fn a_temperature_in_kelvin_is_refused_whatever_the_field() {
    let step = |name: &str, x: f64| json!({"kind":"step","step":"e","does":"extrude","settings":{name:x,"screw_rpm":20}});
    for (record, field, celsius) in [
        (step("melt_c", 493.15), "settings.melt_c", "220.00 C"),
        (step("die_c", 503.15), "settings.die_c", "230.00 C"),
        (step("zone_1_c", 453.15), "settings.zone_1_c", "180.00 C"),
        (step("bed_c", 333.15), "settings.bed_c", "60.00 C"),
        (step("dry_c", 338.15), "settings.dry_c", "65.00 C"),
        (step("bath_c", 293.15), "settings.bath_c", "20.00 C"),
        (
            json!({"kind":"machine","machine":"X","does":"extrude","melt_min_c":453.15,"melt_max_c":553.15}),
            "melt_min_c",
            "180.00 C",
        ),
        (
            json!({"kind":"machine","machine":"X","does":"extrude","melt_max_c":553.15}),
            "melt_max_c",
            "280.00 C",
        ),
        (json!({"kind":"material","material":"PP","melt_min_c":473.15}), "melt_min_c", "200.00 C"),
        (json!({"kind":"material","material":"PP","dry_c":353.15}), "dry_c", "80.00 C"),
        (
            json!({"kind":"melt_flow","lot":"a","temp_c":463.15,"load_kg":2.16,"cut_g":1,"cut_s":60}),
            "temp_c",
            "190.00 C",
        ),
    ] {
        let ran = adjusted(std::slice::from_ref(&record));
        let problem = ran.only("problem");
        assert_eq!(
            (&problem["code"], &problem["field"]),
            (&json!("out-of-range"), &json!(field)),
            "{problem}"
        );
        assert!(problem["advice"].as_str().unwrap().contains(celsius), "{problem}");
        // It is passed on as it is all the same.
        assert!(ran.records().contains(&record));
    }
    for (name, x) in
        [("melt_c", 400.0), ("die_c", 230.0), ("bed_c", 110.0), ("arc", 500.0), ("room_c", -5.0)]
    {
        assert!(adjusted(&[step(name, x)]).of("problem").is_empty(), "{name}");
    }
}

#[test]
fn a_step_in_kelvin_moves_no_setting_by_it() {
    // Three passes at 240, 235 and 230 C; the third is written in kelvin.
    let mut records =
        vec![json!({"kind":"material","material":"PE-HD","melt_min_c":180,"melt_max_c":260})];
    for (pass, melt_c) in [240.0, 235.0, 230.0, 498.15].into_iter().enumerate() {
        let step = format!("e{pass}");
        records.extend([
            json!({"kind":"lot","lot":format!("p{pass}"),"material":"PE-HD","passes":pass}),
            json!({"kind":"step","step":step,"does":"extrude","machine":"X","settings":{"melt_c":melt_c}}),
            json!({"kind":"weighing","step":step,"lot":format!("p{pass}"),"role":"out"}),
        ]);
    }
    let ran = adjusted(&records);
    assert_eq!(ran.of("problem").len(), 1);
    for change in ran.of("adjustment") {
        assert!(number(&change, "to") < 260.0, "{change}");
    }
}

#[test]
fn figures_of_zero_are_answered() {
    for (field, value) in [("cut_g", 0.0), ("cut_s", 0.0), ("load_kg", 0.0), ("stroke_mm", 0.0)] {
        let mut record = cut("a", 2.16, "1", 5.0);
        record[field] = json!(value);
        let ran = adjusted(&[record]);
        let problem = ran.only("problem");
        assert_eq!((&problem["code"], &problem["field"]), (&json!("out-of-range"), &json!(field)));
        assert!(problem["expected"].as_str().unwrap().contains("above 0"), "{problem}");
        assert!(ran.of("melt_flow_result").is_empty());
    }
    // A limit of no flow at all is a slip, and so is one whose ends are the wrong way about.
    let ran = adjusted(&[limit("max", 0.0, None)]);
    assert!(ran.only("problem")["found"].as_str().unwrap().contains("a limit of mfr_g_10min of 0"));
    let mut crossed = limit("max", 4.0, None);
    crossed["min"] = json!(5.0);
    assert_eq!(adjusted(&[crossed]).only("problem")["code"], "out-of-range");
    let twice = adjusted(&[limit("max", 4.0, None), limit("max", 5.0, None)]);
    assert_eq!(twice.only("problem")["code"], "contradiction");
}

#[test]
fn nothing_is_proposed_for_what_is_never_melted() {
    let mut records: Vec<Value> = lots();
    records.extend(falling(2.16, 8.0));
    records.push(
        json!({"kind":"machine","machine":"X","does":"extrude","melt_min_c":100,"melt_max_c":300}),
    );
    let records: Vec<Value> = records
        .iter()
        .map(|record| serde_json::from_str(&record.to_string().replace("PE-HD", "PVC")).unwrap())
        .collect();
    let ran = adjusted(&records);
    assert!(ran.of("adjustment").is_empty(), "{}", ran.text());
    assert_eq!(verdicts(&ran, "never-melted")[0]["result"], "fails");
    assert!(ran.of("caution")[0]["danger"].as_str().unwrap().contains("hydrogen chloride"));
}

#[test]
fn nothing_is_proposed_for_a_lot_that_check_feed_refuses() {
    // An electronics housing: the name of its plastic is harmless, the flame retardant is not.
    let facts = [
        json!({"kind":"lot","lot":"L","material":"ABS","form":"regrind"}),
        json!({"kind":"machine","machine":"X","does":"extrude"}),
        json!({"kind":"machine","machine":"oven","does":"dry"}),
    ];
    assert!(adjusted(&facts).of("adjustment").len() > 2);
    let mut refused = facts.to_vec();
    refused.push(json!({"kind":"marking","lot":"L","mark":">ABS-FR(17)<"}));
    let stream: String = refused.iter().map(|record| format!("{record}\n")).collect();
    let fed = run("check-feed", &[], stream.as_bytes());
    assert!(
        verdicts(&fed, "never-melted").iter().any(|v| v["result"] == "fails"),
        "{}",
        fed.text()
    );
    let ran = run("cycle-adjust", &[], &fed.stdout);
    assert!(ran.of("adjustment").is_empty(), "{}", ran.text());
    assert_eq!(verdicts(&ran, "never-melted").len(), 1);
}
