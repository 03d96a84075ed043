//! `cycle-adjust`: how long a lot is still to be dried.
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

fn lot(material: &str, form: &str) -> Value {
    json!({"kind":"lot","lot":"L","material":material,"form":form})
}

fn reading(lot: &str, hours: f64, pct: f64, dry_c: f64) -> Value {
    json!({"kind":"moisture","lot":lot,"moisture_pct":pct,"dried_h":hours,"dry_c":dry_c})
}

fn limit(pct: f64) -> Value {
    json!({"kind":"limit","what":"moisture_pct","material":"PETG","max":pct,"unit":"%"})
}

/// Share of the removable water left in a plate at each D t / h2 of the reference table
/// `plate-table` (Crank).
fn plate() -> Vec<(f64, f64)> {
    let file: Value = serde_json::from_str(include_str!("reference/drying.json")).unwrap();
    let case = file["cases"].as_array().unwrap().iter().find(|c| c["id"] == "plate-table").unwrap();
    let list = |x: &Value| -> Vec<f64> {
        x.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
    };
    let shares = list(&case["expected"]["fraction_remaining"]);
    list(&case["inputs"]["Dt_over_h2"]).into_iter().zip(shares).collect()
}

/// A flake of D/h2 = 0.05 an hour that starts at 0.3 %: its readings by the table, each off by a
/// little, either way.
fn flakes(until: f64) -> Vec<Value> {
    let mut records = vec![lot("PETG", "regrind")];
    for (i, (f, share)) in plate().into_iter().enumerate() {
        let off = [1.01, 0.99, 1.005, 0.995][i % 4];
        if f / 0.05 <= until {
            records.push(reading("L", f * 20.0, 0.3 * share * off, 65.0));
        }
    }
    records
}

fn verdict(ran: &Ran) -> Value {
    ran.of("verdict").into_iter().find(|v| v["check"] == "drying-time").unwrap()
}

fn says(record: &Value, part: &str) {
    let why = record["why"].as_str().unwrap();
    assert!(why.contains(part), "{why}");
}

#[test]
fn the_time_is_that_of_the_table_of_diffusion_within_its_interval() {
    // 0.3 % times 0.112597, the share left at 0.2, which is 4 h.
    let mut records = flakes(3.2);
    records.push(limit(0.3 * 0.112_597));
    let ran = adjusted(&records);
    let change = ran.only("adjustment");
    assert_eq!((&change["what"], &change["unit"]), (&json!("dry_h"), &json!("h")));
    let number = |name: &str| change[name].as_f64().unwrap();
    assert!((number("to") - 4.0).abs() < 0.1, "{change}");
    assert!(number("low") < 4.0 && 4.0 < number("high") && number("low") >= 3.0, "{change}");
    assert_eq!((number("from"), number("confidence")), (3.0, 0.9));
    assert!(!ran.of("caution").is_empty());
}

#[test]
fn the_dryer_and_its_setting_are_named_and_what_came_out_belongs_to_what_went_in() {
    let mut records = flakes(2.5);
    records.push(limit(0.3 * 0.112_597));
    records.push(json!({"kind":"lot","lot":"D","material":"PETG","form":"regrind"}));
    records.push(json!({"kind":"machine","machine":"oven","does":"dry"}));
    records.push(json!({"kind":"step","step":"dry-1","does":"dry","machine":"oven","settings":{"dry_h":3,"dry_c":65}}));
    for (lot, role) in [("L", "in"), ("D", "out")] {
        records.push(json!({"kind":"weighing","step":"dry-1","lot":lot,"role":role}));
    }
    // The share left at 0.15 is 0.184 435, which is 3 h.
    records.push(reading("D", 3.0, 0.3 * 0.184_435, 65.0));
    let change = adjusted(&records).only("adjustment");
    assert_eq!(
        (&change["lot"], &change["step"], &change["machine"], &change["from"]),
        (&json!("D"), &json!("dry-1"), &json!("oven"), &json!(3.0))
    );
    assert!((change["to"].as_f64().unwrap() - 4.0).abs() < 0.1, "{change}");
}

#[test]
fn thin_evidence_is_undecided_and_says_which_reading_would_help_most() {
    let few = [lot("PETG", "regrind"), reading("L", 0.0, 0.3, 65.0), reading("L", 2.0, 0.12, 65.0)];
    let ran = adjusted(&few);
    assert_eq!(verdict(&ran)["result"], "undecided");
    says(&verdict(&ran), "4 readings along one drying would help most");
    says(&verdict(&ran), "4 to 6 h at 60 to 70 C are usual");
    assert!(ran.of("adjustment").is_empty());
    // 6 h of drying show less than the first part of the way to a hundredth of it.
    let mut far = flakes(1.0);
    far.push(limit(0.003));
    let ran = adjusted(&far);
    says(&verdict(&ran), "would help most");
    assert!(ran.of("adjustment").is_empty());
    // Water that rises.
    let mut wetter = vec![lot("PETG", "regrind")];
    wetter.extend(
        [0.2, 0.21, 0.24, 0.26]
            .iter()
            .zip(0..)
            .map(|(pct, h)| reading("L", f64::from(h), *pct, 65.0)),
    );
    says(&verdict(&adjusted(&wetter)), "do not fall");
}

#[test]
fn a_dryer_that_does_not_get_there_is_told_apart() {
    // It ends at 0.06 %, where 0.04 % is wanted.
    let mut records = vec![lot("PETG", "regrind"), limit(0.04)];
    for (i, (f, share)) in plate().into_iter().enumerate().skip(2) {
        let off = [1.002, 0.998][i % 2];
        records.push(reading("L", f / 0.05, (0.06 + 0.24 * share) * off, 65.0));
    }
    let ran = adjusted(&records);
    says(&verdict(&ran), "does not get there");
    assert_eq!(
        (&verdict(&ran)["result"], &verdict(&ran)["limit"]),
        (&json!("undecided"), &json!(0.04))
    );
    assert!(ran.of("adjustment").is_empty());
}

#[test]
fn a_dryer_outside_the_window_of_the_card_is_refused_with_a_caution() {
    for (dry_c, side) in [(95.0, "above the 60 to 70 C"), (40.0, "below the 60 to 70 C")] {
        let mut records = flakes(3.2);
        records
            .iter_mut()
            .filter(|r| r["kind"] == "moisture")
            .for_each(|r| r["dry_c"] = json!(dry_c));
        let ran = adjusted(&records);
        let said = verdict(&ran);
        says(&said, side);
        assert_eq!((&said["result"], &said["value"]), (&json!("undecided"), &json!(dry_c)));
        assert!(ran.of("adjustment").is_empty() && !ran.of("caution").is_empty());
    }
}

#[test]
fn what_needs_no_drying_or_is_dry_is_told() {
    let pp = [lot("PP", "regrind"), reading("L", 0.0, 0.3, 75.0)];
    let said = verdict(&adjusted(&pp));
    assert_eq!(said["result"], "conforms");
    says(&said, "needs no drying");
    let dry = [lot("PETG", "regrind"), reading("L", 5.0, 0.03, 65.0)];
    assert_eq!(verdict(&adjusted(&dry))["result"], "conforms");
    // The lab's own card wins: this PP is filled with something that takes up water.
    let own = [
        json!({"kind":"material","material":"PP","hygroscopic":true,"moisture_max_pct":0.2}),
        lot("PP", "regrind"),
        reading("L", 0.0, 0.3, 75.0),
    ];
    assert_eq!(verdict(&adjusted(&own))["result"], "undecided");
    let unknown = [lot("XX", "regrind"), reading("L", 0.0, 0.3, 75.0)];
    says(&verdict(&adjusted(&unknown)), "nothing says how dry XX must be");
}

#[test]
fn what_check_feed_has_found_stands_and_is_not_said_twice() {
    let mut records = flakes(3.2);
    records.push(limit(0.3 * 0.112_597));
    let stream: String = records.iter().map(|record| format!("{record}\n")).collect();
    let fed = run("check-feed", &[], stream.as_bytes()).text();
    let of_lot = |text: &str| {
        text.lines().filter(|l| l.contains("\"dry_h\"") && l.contains("\"adjustment\"")).count()
    };
    assert_eq!(of_lot(&fed), 1, "{fed}");
    let ran = run("cycle-adjust", &[], fed.as_bytes());
    assert_eq!(of_lot(&ran.text()), 1, "{}", ran.text());
    // With a dryer that was set to a time, that setting is what changes.
    let step =
        json!({"kind":"step","step":"dry-1","does":"dry","machine":"oven","settings":{"dry_h":2}});
    let into = json!({"kind":"weighing","step":"dry-1","lot":"L","role":"in"});
    let told = json!({"kind":"adjustment","what":"dry_h","lot":"L","from":3.0,"to":4.1,"low":3.8,"high":4.5,"unit":"h","because":"b","basis":"b","confidence":0.95});
    let mut records = flakes(3.2);
    records.extend([limit(0.02), step, into, told]);
    let ran = adjusted(&records);
    let own: Vec<_> = ran.of("adjustment").into_iter().filter(|a| a.get("by").is_some()).collect();
    assert_eq!(own.len(), 1);
    assert_eq!(
        (&own[0]["from"], &own[0]["to"], &own[0]["machine"]),
        (&json!(2.0), &json!(4.1), &json!("oven"))
    );
}

#[test]
fn drying_temperatures_in_kelvin_are_refused() {
    let ran = adjusted(&[lot("PETG", "regrind"), reading("L", 0.0, 0.3, 338.15)]);
    let problem = ran.only("problem");
    assert_eq!((&problem["code"], &problem["field"]), (&json!("out-of-range"), &json!("dry_c")));
    assert!(problem["advice"].as_str().unwrap().contains("65.00 C"), "{problem}");
}
