//! `check-tolerance` on small streams whose answers are worked out by hand.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use common::{Ran, run};
use serde_json::{Value, json};

fn stream(records: &[Value]) -> Vec<u8> {
    records.iter().flat_map(|r| format!("{r}\n").into_bytes()).collect()
}

fn printer(name: &str, nominal: f64, tolerance: f64) -> Value {
    json!({"kind":"machine","machine":name,"does":"print","nominal_mm":nominal,"tolerance_mm":tolerance})
}

/// Readings ten to the metre.
fn readings(lot: &str, diameters: impl IntoIterator<Item = f64>) -> Vec<Value> {
    let reading = |(i, d): (usize, f64)| {
        let tenths = f64::from(u32::try_from(i).unwrap());
        json!({"kind":"diameter","lot":lot,"position_m":tenths / 10.0,"dx_mm":d})
    };
    diameters.into_iter().enumerate().map(reading).collect()
}

fn check(records: &[Value]) -> Ran {
    let ran = run("check-tolerance", &[], &stream(records));
    assert_eq!(ran.status, 0, "{}", ran.stderr);
    ran
}

#[test]
fn the_limits_themselves_are_inside() {
    // 2.85 + 0.05 is 2.9000000000000004 in doubles; the reading 2.9 is at the limit.
    let mut records = vec![printer("P", 2.85, 0.05)];
    records.extend(readings("S", (0..60).map(|i| if i % 2 == 0 { 2.9 } else { 2.8 })));
    let verdict = check(&records).only("verdict");
    assert_eq!(verdict["result"], "conforms", "{verdict}");
    assert_eq!(verdict["value"], 0.05);
}

#[test]
fn an_excursion_has_its_place_length_side_and_worst_reading() {
    let mut diameters = vec![1.75; 100];
    diameters[40..44].copy_from_slice(&[1.81, 1.84, 1.83, 1.81]);
    diameters[70] = 1.68;
    let mut records = vec![printer("P", 1.75, 0.05)];
    records.extend(readings("S", diameters));
    let ran = check(&records);
    let [above, below] = ran.of("excursion").try_into().unwrap();
    // Four readings at 4.0 to 4.3 m stand for 3.95 to 4.35 m.
    assert_eq!(above["side"], "above");
    assert_eq!(
        (&above["from_m"], &above["to_m"], &above["length_m"]),
        (&json!(4.0), &json!(4.3), &json!(0.4))
    );
    assert_eq!(
        (&above["worst_mm"], &above["worst_at_m"], &above["beyond_mm"]),
        (&json!(1.84), &json!(4.1), &json!(0.04))
    );
    assert_eq!((&above["readings"], &above["first_reading"]), (&json!(4), &json!(41)));
    assert_eq!(
        (&below["side"], &below["length_m"], &below["beyond_mm"]),
        (&json!("below"), &json!(0.1), &json!(0.02))
    );
    let share = ran.only("out_share");
    assert_eq!(
        (&share["readings_out"], &share["excursions"], &share["out_m"]),
        (&json!(5), &json!(2), &json!(0.5))
    );
    // 0.5 m of 9.9 m.
    assert!((share["out_pct"].as_f64().unwrap() - 50.0 / 9.9).abs() < 1e-9);
    let verdict = ran.only("verdict");
    assert_eq!(verdict["result"], "fails");
    assert_eq!(
        verdict["why"],
        "Outside 1.75 ± 0.05 mm over 0.50 m (5.05 %) in 2 places; the worst reading is 1.84 mm at 4.1 m; 9.20 m can be kept in 3 pieces."
    );
}

#[test]
fn an_excursion_at_the_end_is_written_too() {
    let mut records = vec![printer("P", 1.75, 0.05)];
    records.extend(readings("S", [1.75, 1.75, 1.9, 1.9]));
    let excursion = check(&records).only("excursion");
    assert_eq!(
        (&excursion["from_m"], &excursion["to_m"], &excursion["length_m"]),
        (&json!(0.2), &json!(0.3), &json!(0.15))
    );
}

#[test]
fn each_machine_has_its_own_verdict_and_only_those_of_its_diameter() {
    let mut records = vec![
        printer("tight", 1.75, 0.02),
        printer("wide", 1.75, 0.06),
        printer("thick", 2.85, 0.05),
    ];
    records.extend(readings("S", (0..60).map(|i| if i == 30 { 1.79 } else { 1.75 })));
    let verdicts = check(&records).of("verdict");
    let results: Vec<_> = verdicts
        .iter()
        .map(|v| (v["machine"].as_str().unwrap(), v["result"].as_str().unwrap()))
        .collect();
    assert_eq!(results, [("tight", "fails"), ("wide", "conforms")]);
}

#[test]
fn a_few_good_readings_settle_nothing() {
    let mut records = vec![printer("P", 1.75, 0.05)];
    records.extend(readings("S", [1.75; 10]));
    let verdict = check(&records).only("verdict");
    assert_eq!(verdict["result"], "undecided");
    assert_eq!(
        verdict["why"],
        "All 10 readings over 0.90 m are within 1.75 ± 0.05 mm, but it takes 49 more readings to speak for the whole spool, or as many places 1 m apart and more."
    );
}

#[test]
fn the_summary_names_the_gauge_only_where_all_readings_do() {
    let read = |gauges: [Option<&str>; 3]| {
        let mut records = readings("S", [1.75; 3]);
        for (record, gauge) in records.iter_mut().zip(gauges) {
            if let Some(gauge) = gauge {
                record["gauge"] = json!(gauge);
            }
        }
        check(&records).only("diameter_summary")["gauge"].clone()
    };
    assert_eq!(read([Some("G"), Some("G"), Some("G")]), "G");
    assert_eq!(read([Some("G"), None, Some("G")]), Value::Null);
    assert_eq!(read([Some("G"), Some("H"), Some("G")]), Value::Null);
}

#[test]
fn a_few_readings_of_which_one_is_out_settle_it() {
    let mut records = vec![printer("P", 1.75, 0.05)];
    records.extend(readings("S", [1.75, 1.75, 1.85]));
    assert_eq!(check(&records).only("verdict")["result"], "fails");
}

#[test]
fn ovality_is_held_against_its_own_limit() {
    let mut records = vec![
        json!({"kind":"machine","machine":"P","does":"print","nominal_mm":1.75,"tolerance_mm":0.06,"ovality_mm":0.05}),
    ];
    records.extend((0..60).map(|i| json!({"kind":"diameter","lot":"S","position_m":i,"dx_mm":1.78,"dy_mm":if i == 7 { 1.72 } else { 1.74 }})));
    let ran = check(&records);
    let summary = ran.only("diameter_summary");
    assert_eq!(
        (&summary["ovality_max_mm"], &summary["ovality_max_at_m"], &summary["axes"]),
        (&json!(0.06), &json!(7.0), &json!(2))
    );
    let ovality = ran.of("verdict").into_iter().find(|v| v["check"] == "ovality").unwrap();
    assert_eq!(
        (&ovality["result"], &ovality["value"], &ovality["limit"]),
        (&json!("fails"), &json!(0.06), &json!(0.05))
    );
}

#[test]
fn one_axis_leaves_ovality_undecided() {
    let mut records = vec![
        json!({"kind":"machine","machine":"P","does":"print","nominal_mm":1.75,"tolerance_mm":0.06,"ovality_mm":0.05}),
    ];
    records.extend(readings("S", [1.75; 60]));
    let verdicts = check(&records).of("verdict");
    let ovality = verdicts.iter().find(|v| v["check"] == "ovality").unwrap();
    assert_eq!(ovality["result"], "undecided");
}

#[test]
fn without_a_machine_the_verdict_is_undecided_and_says_why() {
    let verdict = check(&readings("S", [1.75; 60])).only("verdict");
    assert_eq!(verdict["result"], "undecided");
    assert!(verdict["why"].as_str().unwrap().starts_with("No printer"), "{verdict}");
}

#[test]
fn a_machine_that_comes_after_the_readings_is_a_problem() {
    let mut records = readings("S", [1.75; 60]);
    records.push(printer("P", 1.75, 0.05));
    let ran = check(&records);
    let problem = ran.only("problem");
    assert_eq!(problem["code"], "too-late");
    assert_eq!(problem["line"], 61);
    assert!(problem["raw"].as_str().unwrap().contains("\"machine\":\"P\""));
    assert!(
        ran.stderr.contains("line 61: too-late: found machine P after the first reading"),
        "{}",
        ran.stderr
    );
    assert_eq!(ran.only("verdict")["result"], "undecided");
}

#[test]
fn two_descriptions_of_one_machine_are_a_problem_and_the_first_counts() {
    let mut records =
        vec![printer("P", 1.75, 0.05), printer("P", 1.75, 0.05), printer("P", 1.75, 0.01)];
    records.extend(readings("S", (0..60).map(|i| if i == 5 { 1.78 } else { 1.75 })));
    let ran = check(&records);
    assert_eq!(ran.only("problem")["code"], "contradiction");
    assert_eq!(ran.only("verdict")["result"], "conforms");
}

#[test]
fn a_cut_stream_never_conforms() {
    let mut records = vec![
        json!({"kind":"begin","id":"x","program":"p","version":"1","contract":1,"options":[],"after":[]}),
        printer("P", 1.75, 0.05),
    ];
    records.extend(readings("S", [1.75; 60]));
    let ran = run("check-tolerance", &[], &stream(&records));
    assert_eq!(ran.status, 3);
    assert_eq!(ran.only("verdict")["result"], "undecided");
}

#[test]
fn lots_interleaved_or_split_over_files_give_the_same_findings() {
    let a = readings("A", (0..90).map(|i| 1.75 + f64::from(i % 7) / 100.0));
    let b = readings("B", (0..90).map(|i| 1.74 - f64::from(i % 5) / 100.0));
    let printer = vec![printer("P", 1.75, 0.05)];
    let apart = [printer.clone(), a.clone(), b.clone()].concat();
    let woven: Vec<_> = printer
        .iter()
        .cloned()
        .chain(a.iter().zip(&b).flat_map(|(a, b)| [a.clone(), b.clone()]))
        .collect();
    let findings = |ran: Ran| {
        let mut found: Vec<_> =
            ran.records().into_iter().filter(|r| r.get("by").is_some()).collect();
        found.iter_mut().for_each(|r| drop(r.as_object_mut().unwrap().remove("by")));
        found.sort_by_key(ToString::to_string);
        found
    };
    let expected = findings(check(&apart));
    assert!(expected.len() > 10);
    assert_eq!(findings(check(&woven)), expected);
    let folder = tempfile::tempdir().unwrap();
    let (one, two) = (folder.path().join("1.jsonl"), folder.path().join("2.jsonl"));
    std::fs::write(&one, stream(&apart[..50])).unwrap();
    std::fs::write(&two, stream(&apart[50..])).unwrap();
    let split = run("check-tolerance", &[one.to_str().unwrap(), two.to_str().unwrap()], b"");
    assert_eq!(findings(split), expected);
}

#[test]
fn tolerance_and_nominal_can_be_given_without_a_machine() {
    let input = stream(&readings("S", (0..60).map(|i| if i == 9 { 1.82 } else { 1.75 })));
    let ran = run("check-tolerance", &["--nominal-mm", "1.75", "--tolerance-mm", "0.06"], &input);
    assert_eq!(ran.only("verdict")["result"], "fails");
    let wrong = run("check-tolerance", &["--nominal-mm", "-1", "--tolerance-mm", "0.06"], b"");
    assert_eq!(wrong.status, 2, "{}", wrong.stderr);
}

#[test]
fn excursions_come_out_as_they_end() {
    let mut records = vec![printer("P", 1.75, 0.05)];
    records.extend(readings("S", [1.75, 1.85, 1.75, 1.75]));
    let kinds: Vec<_> =
        check(&records).records().iter().map(|r| r["kind"].as_str().unwrap().to_owned()).collect();
    let at = kinds.iter().position(|k| k == "excursion").unwrap();
    assert_eq!(kinds[at - 1..=at + 1], ["diameter", "excursion", "diameter"]);
}

#[test]
fn the_cut_list_covers_the_spool_from_end_to_end() {
    let mut diameters = vec![1.75; 100];
    diameters[40..44].copy_from_slice(&[1.81, 1.84, 1.83, 1.81]);
    diameters[70] = 1.68;
    // Between 7.0 and 7.6 m nothing is long enough.
    diameters[76] = 1.85;
    let mut records = vec![printer("P", 1.75, 0.05)];
    records.extend(readings("S", diameters));
    let ran = check(&records);
    let pieces = ran.of("piece");
    let listed: Vec<_> = pieces
        .iter()
        .map(|p| {
            (
                p["keep"].as_bool().unwrap(),
                p["from_m"].as_f64().unwrap(),
                p["to_m"].as_f64().unwrap(),
            )
        })
        .collect();
    // Excursions from 3.95 to 4.35, 6.95 to 7.05 and 7.55 to 7.65 m, and a margin of 0.05 m.
    let expected = [
        (true, 0.0, 3.9),
        (false, 3.9, 4.4),
        (true, 4.4, 6.9),
        (false, 6.9, 7.7),
        (true, 7.7, 9.9),
    ];
    assert_eq!(listed, expected);
    let share = ran.only("out_share");
    assert_eq!((&share["pieces"], &share["kept_m"]), (&json!(3), &json!(8.6)));
}

#[test]
fn a_spool_that_is_out_everywhere_is_one_cut() {
    let mut records = vec![printer("P", 1.75, 0.05)];
    records.extend(readings("S", [1.85; 60]));
    let ran = check(&records);
    let piece = ran.only("piece");
    assert_eq!(
        (&piece["keep"], &piece["from_m"], &piece["to_m"]),
        (&json!(false), &json!(0.0), &json!(5.9))
    );
    assert!(
        ran.only("verdict")["why"].as_str().unwrap().ends_with("no piece of it is worth keeping.")
    );
}

#[test]
fn excursions_close_together_count_as_one_where_that_is_asked_for() {
    let mut diameters = vec![1.75; 100];
    for i in [40, 42, 44, 60] {
        diameters[i] = 1.85;
    }
    let mut records = vec![printer("P", 1.75, 0.05)];
    records.extend(readings("S", diameters));
    assert_eq!(check(&records).of("excursion").len(), 4);
    let merged = run("check-tolerance", &["--merge-m", "0.15"], &stream(&records));
    let [first, second] = merged.of("excursion").try_into().unwrap();
    assert_eq!(
        (&first["from_m"], &first["to_m"], &first["readings"], &first["length_m"]),
        (&json!(4.0), &json!(4.4), &json!(3), &json!(0.5))
    );
    assert_eq!(second["from_m"], 6.0);
    // What is out is counted by its readings all the same.
    assert_eq!(merged.only("out_share")["out_m"], 0.4);
}

#[test]
fn a_gap_in_the_log_is_said_and_not_bridged() {
    let mut records = vec![printer("P", 1.75, 0.05)];
    let at = |m: f64, d: f64| json!({"kind":"diameter","lot":"S","position_m":m,"dx_mm":d});
    records.extend((0..50).map(|i| at(f64::from(i) / 10.0, if i > 47 { 1.85 } else { 1.75 })));
    records
        .extend((0..50).map(|i| at(50.0 + f64::from(i) / 10.0, if i < 2 { 1.85 } else { 1.75 })));
    let ran = check(&records);
    let gap = ran.only("log_gap");
    assert_eq!(
        (&gap["from_m"], &gap["to_m"], &gap["length_m"]),
        (&json!(4.9), &json!(50.0), &json!(45.1))
    );
    let summary = ran.only("diameter_summary");
    assert_eq!((&summary["gaps"], &summary["length_m"]), (&json!(1), &json!(9.8)));
    // An excursion on either side, none across.
    let lengths: Vec<_> =
        ran.of("excursion").iter().map(|e| e["length_m"].as_f64().unwrap()).collect();
    assert_eq!(lengths, [0.15, 0.15]);
    let pieces = ran.of("piece");
    assert!(
        pieces
            .iter()
            .all(|p| p["to_m"].as_f64() <= Some(4.9) || p["from_m"].as_f64() >= Some(50.0)),
        "{pieces:?}"
    );
}

#[test]
fn steps_back_and_repeated_positions_are_told_and_add_no_length() {
    let at = |m: f64| json!({"kind":"diameter","lot":"S","position_m":m,"dx_mm":1.75});
    let records: Vec<_> = [0.0, 1.0, 1.0, 2.0, 1.5, 2.5].map(at).into();
    let summary = check(&records).only("diameter_summary");
    assert_eq!((&summary["out_of_order"], &summary["length_m"]), (&json!(2), &json!(2.5)));
}

/// Flow ratios of tests/reference/diameter_flow.json, case flow-at-tolerance-1.75.
#[test]
fn flow_follows_the_area() {
    let case = common::reference("diameter_flow.json", "flow-at-tolerance-1.75");
    let tolerances = case["inputs"]["tolerance_mm"].as_array().unwrap();
    for (i, tolerance) in tolerances.iter().enumerate() {
        let diameter = ((1.75 + tolerance.as_f64().unwrap()) * 1e3).round() / 1e3;
        let mut records = vec![printer("P", 1.75, 0.1)];
        records.extend(readings("S", [diameter; 60]));
        let flow = check(&records).only("flow_fit");
        let expected = case["expected"]["percent_high"][i].as_f64().unwrap();
        assert!((flow["error_pct"].as_f64().unwrap() - expected).abs() < 1e-8, "{flow}");
        let factor = 1.0 / case["expected"]["ratio_high"][i].as_f64().unwrap();
        assert!((flow["factor"].as_f64().unwrap() / factor - 1.0).abs() < 1e-9, "{flow}");
    }
}

#[test]
fn the_spread_of_flow_is_that_of_windows_of_a_stated_length() {
    // Two metres of each diameter in turn; windows of one metre see both.
    let thick = |i: u32| (i / 20).is_multiple_of(2);
    let mut records = vec![printer("P", 1.75, 0.1)];
    records.extend(readings("S", (0..401).map(|i| if thick(i) { 1.76 } else { 1.74 })));
    let ran = run("check-tolerance", &["--smoothing-m", "1"], &stream(&records));
    let flow = ran.only("flow_fit");
    assert_eq!((&flow["smoothing_m"], &flow["windows"]), (&json!(1.0), &json!(40)));
    let spread = flow["spread_pct"].as_f64().unwrap();
    let most = flow["most_pct"].as_f64().unwrap();
    // 1.76 and 1.74 mm give +1.146 and -1.139 per cent.
    assert!((1.0..1.2).contains(&spread) && (1.1..1.147).contains(&most), "{flow}");
}

#[test]
fn the_thickest_reading_must_pass_the_bore() {
    let machine = |bore: f64| json!({"kind":"machine","machine":"P","does":"print","nominal_mm":1.75,"tolerance_mm":0.2,"bore_mm":bore});
    for (bore, result) in [(1.9, "conforms"), (1.85, "fails")] {
        let mut records = vec![machine(bore)];
        records.extend(readings("S", (0..60).map(|i| if i == 30 { 1.85 } else { 1.75 })));
        let verdicts = check(&records).of("verdict");
        let verdict = verdicts.iter().find(|v| v["check"] == "bore").unwrap();
        assert_eq!((&verdict["result"], &verdict["value"]), (&json!(result), &json!(1.85)));
    }
}

/// Length per kilogram of tests/reference/diameter_flow.json, case length-per-kg.
#[test]
fn mass_follows_from_length_and_the_density_of_the_material() {
    let case = common::reference("diameter_flow.json", "length-per-kg");
    let per_kg = case["expected"]["metres_per_kg_1.75"]["PETG"].as_f64().unwrap();
    let mut records = vec![
        printer("P", 1.75, 0.05),
        json!({"kind":"lot","lot":"S","material":"PETG"}),
        json!({"kind":"material","material":"PETG","density_g_cm3":1.27}),
    ];
    records.extend(readings("S", [1.75; 101]));
    let ran = check(&records);
    let expected = 10.0 / per_kg * 1e3;
    for (kind, field) in [("diameter_summary", "mass_g"), ("out_share", "kept_g")] {
        let mass = ran.only(kind)[field].as_f64().unwrap();
        assert!((mass - expected).abs() < 1e-3, "{kind}: {mass}, expected {expected}");
    }
}

#[test]
fn quantiles_are_exact_at_the_resolution_of_the_gauge() {
    let mut records = vec![printer("P", 1.75, 0.2)];
    // 1.700 to 1.799 in a mixed order.
    records.extend(readings("S", (0..100).map(|i| f64::from(1700 + i * 37 % 100) / 1e3)));
    let summary = check(&records).only("diameter_summary");
    let found = ["p01_mm", "p05_mm", "median_mm", "p95_mm", "p99_mm"]
        .map(|name| summary[name].as_f64().unwrap());
    assert_eq!(found, [1.7, 1.704, 1.749, 1.794, 1.798]);
}

/// Effective number of readings and interval of the mean: case ar1-neff's formula, and
/// Student t 1.984 for 100 degrees of freedom (NIST/SEMATECH e-Handbook, 1.3.6.7.2).
#[test]
fn the_interval_of_the_mean_allows_for_autocorrelation() {
    let mut records = vec![printer("P", 1.75, 0.2)];
    records.extend(readings("S", (0..101).map(|i| if i % 2 == 0 { 1.74 } else { 1.76 })));
    let summary = check(&records).only("diameter_summary");
    assert_eq!(summary["effective_readings"], 101.0);
    let number = |name: &str| summary[name].as_f64().unwrap();
    let half = (number("mean_high_mm") - number("mean_low_mm")) / 2.0;
    assert!((half / (1.984 * number("sd_mm") / 101.0_f64.sqrt()) - 1.0).abs() < 1e-4, "{summary}");
}

#[test]
fn an_unfit_length_is_refused() {
    for args in [["--piece-m", "-1"], ["--gap-m", "0"], ["--smoothing-m", "nan"]] {
        let ran = run("check-tolerance", &args, b"");
        assert_eq!(ran.status, 2, "{args:?}: {}", ran.stderr);
    }
}

#[test]
fn bad_readings_before_the_first_plausible_one_are_judged_too() {
    let mut records = vec![printer("P", 1.75, 0.05)];
    records.extend(readings("S", [0.5, 9.0].into_iter().chain([1.75; 60])));
    let ran = check(&records);
    let excursion = ran.only("excursion");
    assert_eq!(
        (&excursion["side"], &excursion["first_reading"], &excursion["readings"]),
        (&json!("both"), &json!(1), &json!(2))
    );
    assert_eq!(
        (&excursion["from_m"], &excursion["length_m"], &excursion["worst_mm"]),
        (&json!(0.0), &json!(0.15), &json!(9.0))
    );
    assert_eq!(ran.only("out_share")["readings_out"], 2);
    assert_eq!(ran.only("verdict")["result"], "fails");
}

#[test]
fn one_reading_with_one_axis_does_not_hide_an_oval_spool() {
    let mut records = vec![
        json!({"kind":"machine","machine":"P","does":"print","nominal_mm":1.75,"tolerance_mm":0.06,"ovality_mm":0.05}),
    ];
    records
        .extend((0..60).map(
            |i| json!({"kind":"diameter","lot":"S","position_m":i,"dx_mm":1.70,"dy_mm":1.80}),
        ));
    records.push(json!({"kind":"diameter","lot":"S","position_m":60,"dx_mm":1.75}));
    let verdicts = check(&records).of("verdict");
    let ovality = verdicts.iter().find(|v| v["check"] == "ovality").unwrap();
    assert_eq!((&ovality["result"], &ovality["value"]), (&json!("fails"), &json!(0.1)));
}

#[test]
fn the_same_log_twice_is_told_and_shows_no_more_than_once() {
    let once = readings("S", [1.75; 40]);
    let records = [vec![printer("P", 1.75, 0.05)], once.clone(), once].concat();
    let ran = check(&records);
    let problem = ran.only("problem");
    assert_eq!(
        (&problem["code"], &problem["lot"], &problem["line"]),
        (&json!("out-of-order"), &json!("S"), &json!(42))
    );
    assert_eq!(ran.only("diameter_summary")["length_m"], 3.9);
    let verdict = ran.only("verdict");
    assert_eq!(verdict["result"], "undecided");
    assert!(
        verdict["why"].as_str().unwrap().contains("only 40 of them stand where none stood before"),
        "{verdict}"
    );
}

#[test]
fn many_readings_at_one_place_say_nothing_of_the_spool() {
    let records: Vec<_> = std::iter::once(printer("P", 1.75, 0.05))
        .chain((0..100).map(|_| json!({"kind":"diameter","lot":"S","position_m":5,"dx_mm":1.75})))
        .collect();
    let ran = check(&records);
    assert_eq!(ran.only("verdict")["result"], "undecided");
    let share = ran.only("out_share");
    assert_eq!((&share["out_pct"], &share["length_m"]), (&Value::Null, &json!(0.0)));
}

#[test]
fn a_spool_read_from_its_far_end_is_read_all_the_same() {
    let mut diameters = vec![1.75; 100];
    diameters[40..44].fill(1.85);
    let mut there = vec![printer("P", 1.75, 0.05)];
    there.extend(readings("S", diameters));
    let mut back = vec![there[0].clone()];
    back.extend(there[1..].iter().rev().cloned());
    let (there, back) = (check(&there), check(&back));
    assert!(back.of("problem").is_empty());
    assert_eq!(
        back.only("diameter_summary")["length_m"],
        there.only("diameter_summary")["length_m"]
    );
    assert_eq!(back.only("excursion")["length_m"], there.only("excursion")["length_m"]);
    let ends = |ran: &Ran, from: &str, to: &str| -> Vec<_> {
        ran.of("piece")
            .iter()
            .map(|p| (p["keep"].clone(), p[from].clone(), p[to].clone(), p["length_m"].clone()))
            .collect()
    };
    let mut turned = ends(&back, "to_m", "from_m");
    turned.reverse();
    assert_eq!(turned, ends(&there, "from_m", "to_m"));
}

#[test]
fn one_reading_is_spoken_of_as_one() {
    let mut records = vec![printer("P", 1.75, 0.05)];
    records.extend(readings("S", [1.75]));
    let why = check(&records).only("verdict")["why"].clone();
    assert_eq!(
        why,
        "The only reading is within 1.75 ± 0.05 mm, but it takes 58 more readings to speak for the whole spool."
    );
}

#[test]
fn a_lot_of_two_materials_is_a_contradiction() {
    let lot = |material: &str| json!({"kind":"lot","lot":"S","material":material});
    let problem = check(&[lot("PETG"), lot("PETG"), lot("PVC")]).only("problem");
    assert_eq!((&problem["code"], &problem["line"]), (&json!("contradiction"), &json!(3)));
}

#[test]
fn readings_of_ever_new_lots_are_passed_on_and_told_once() {
    let line =
        |i: u32| format!("{{\"kind\":\"diameter\",\"lot\":\"serial-{i}\",\"dx_mm\":1.75}}\n");
    let input: String = (0..10_500).map(line).collect();
    let ran = run("check-tolerance", &[], input.as_bytes());
    assert_eq!(ran.of("diameter").len(), 10_500);
    assert_eq!(ran.of("diameter_summary").len(), 10_000);
    assert_eq!(ran.only("problem")["code"], "too-many");
}

/// Guard factor 1.65 for 95 % (ISO 14253-1:2017) with u = 0.004 mm: a band of 0.0066 mm.
#[test]
fn the_uncertainty_of_the_gauge_guards_the_limits() {
    for (worst, result) in
        [(1.79, "conforms"), (1.795, "undecided"), (1.805, "undecided"), (1.81, "fails")]
    {
        let mut records =
            vec![printer("P", 1.75, 0.05), json!({"kind":"gauge","gauge":"G","u_mm":0.004})];
        records.extend(readings("S", (0..60).map(|i| if i == 30 { worst } else { 1.75 })));
        records[2..].iter_mut().for_each(|r| r["gauge"] = json!("G"));
        let guarded = check(&records).only("verdict");
        assert_eq!(guarded["result"], result, "{guarded}");
        assert_eq!(guarded["limit"], 0.0434);
        let simple =
            run("check-tolerance", &["--rule", "simple"], &stream(&records)).only("verdict");
        assert_eq!(simple["result"], if worst > 1.8 { "fails" } else { "conforms" });
    }
}

#[test]
fn a_guarded_rule_needs_the_uncertainty_of_the_gauge() {
    let mut records = vec![printer("P", 1.75, 0.05)];
    records.extend(readings("S", [1.75; 60]));
    let verdict = run("check-tolerance", &["--rule", "guarded"], &stream(&records)).only("verdict");
    assert_eq!(verdict["result"], "undecided");
    assert!(
        verdict["why"].as_str().unwrap().contains("uncertainty of its gauge is not known"),
        "{verdict}"
    );
}

/// Standard normal distribution: 0.894350 below 1.25 (any handbook table).
#[test]
fn the_probability_of_conformance_is_that_of_the_furthest_reading() {
    let mut records =
        vec![printer("P", 1.75, 0.05), json!({"kind":"gauge","gauge":"G","u_mm":0.004})];
    records.extend(readings("S", (0..60).map(|i| if i == 30 { 1.795 } else { 1.75 })));
    records[2..].iter_mut().for_each(|r| r["gauge"] = json!("G"));
    let guarded = check(&records).only("verdict");
    assert!((guarded["probability"].as_f64().unwrap() - 0.894_350).abs() < 1e-6, "{guarded}");
    // By probability: neither 95 % within nor 95 % outside. 1.79 is 2.5 standard uncertainties
    // within, 1.81 as many outside.
    let mut by_probability = |mm: f64| {
        records[32]["dx_mm"] = json!(mm);
        run("check-tolerance", &["--rule", "probability"], &stream(&records)).only("verdict")
    };
    assert_eq!(by_probability(1.795)["result"], "undecided");
    assert_eq!(by_probability(1.79)["result"], "conforms");
    let outside = by_probability(1.81);
    assert_eq!(outside["result"], "fails");
    assert!((outside["probability"].as_f64().unwrap() - 0.006_210).abs() < 1e-6, "{outside}");
}

#[test]
fn capability_follows_from_mean_and_standard_deviation() {
    let mut records = vec![printer("P", 1.75, 0.06)];
    // Alternating about 1.76: mean 1.76, sd 0.01 sqrt(n / (n - 1)).
    records.extend(readings("S", (0..100).map(|i| if i % 2 == 0 { 1.75 } else { 1.77 })));
    let capability = check(&records).only("capability");
    let sd = 0.01 * (100.0_f64 / 99.0).sqrt();
    let number = |name: &str| capability[name].as_f64().unwrap();
    assert!((number("pp") - 0.12 / (6.0 * sd)).abs() < 1e-8, "{capability}");
    assert!((number("ppk") - 0.05 / (3.0 * sd)).abs() < 1e-8, "{capability}");
    assert!((number("cpm") - 0.12 / (6.0 * sd.hypot(0.01))).abs() < 1e-8, "{capability}");
    // Chi-square 0.05 quantile for 99 degrees of freedom: 77.046 (NIST/SEMATECH e-Handbook, 1.3.6.7.4).
    assert!(
        (number("pp_low") - number("pp") * (77.046_f64 / 99.0).sqrt()).abs() < 1e-4,
        "{capability}"
    );
    assert!(number("ppk_low") < number("ppk"));
    assert_eq!(number("observed_out_pct"), 0.0);
}

#[test]
fn the_within_index_is_left_out_where_readings_follow_one_another() {
    let indices = |diameters: Vec<f64>| {
        let mut records = vec![printer("P", 1.75, 0.06)];
        records.extend(readings("S", diameters));
        check(&records).only("capability")
    };
    let wave = indices(
        (0..200).map(|i| 1.75 + ((f64::from(i) / 10.0).sin() * 20.0).round() / 1000.0).collect(),
    );
    assert_eq!(wave["cpk"], Value::Null);
    assert!(wave["warning"].as_str().unwrap().contains("follow one another"));
    // A linear congruential generator (Knuth, MMIX): readings that owe nothing to one another.
    let mut state = 1_u64;
    let mut next = || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        f64::from(u32::try_from(1740 + (state >> 33) % 21).unwrap()) / 1000.0
    };
    let jumpy = indices((0..200).map(|_| next()).collect());
    assert!(jumpy["cpk"].is_number(), "{jumpy}");
    assert!(jumpy["cpk_low"].as_f64().unwrap() < jumpy["cpk"].as_f64().unwrap());
    assert!(jumpy.get("warning").is_none());
}

#[test]
fn a_drift_is_found_with_its_interval() {
    let mut records = vec![printer("P", 1.75, 0.06)];
    let noise = |i: i32| f64::from((i * 7919 + 13) % 21 - 10) / 10_000.0;
    records.extend(readings(
        "S",
        (0..2000).map(|i| ((1.74 + f64::from(i) * 1e-5 + noise(i)) * 1e4).round() / 1e4),
    ));
    let drift = check(&records).only("drift");
    // 0.01 mm in a thousand readings, ten to the metre.
    assert!(
        drift["low_mm_per_m"].as_f64().unwrap() <= 1e-4
            && drift["high_mm_per_m"].as_f64().unwrap() >= 1e-4,
        "{drift}"
    );
    assert!((drift["over_length_mm"].as_f64().unwrap() - 0.02).abs() < 1e-3, "{drift}");
    assert!(drift["probability"].as_f64().unwrap() < 0.001);
}

/// Upper limit with none found: -ln 0.05 = 2.995732 (rule of three). For two found: 6.295794,
/// and the lower one 0.355362 (Garwood 1936; printed in tables of Poisson limits as 6.296, 0.355).
#[test]
fn cleanliness_is_judged_by_exact_limits() {
    let lab = |inclusions: usize, length: f64| {
        let mut records = vec![
            json!({"kind":"limit","what":"inclusions_per_m","max":0.1,"unit":"1/m"}),
            json!({"kind":"inspection","lot":"S","length_m":length}),
        ];
        records
            .extend((0..inclusions).map(|i| json!({"kind":"inclusion","lot":"S","position_m":i})));
        let ran = check(&records);
        (ran.only("cleanliness"), ran.only("verdict")["result"].clone())
    };
    let (none, result) = lab(0, 20.0);
    assert!((none["high_per_m"].as_f64().unwrap() * 20.0 - 2.995_732).abs() < 1e-5, "{none}");
    assert_eq!(
        (&none["per_m"], &none["low_per_m"], result),
        (&json!(0.0), &json!(0.0), json!("undecided"))
    );
    assert_eq!(lab(0, 40.0).1, "conforms");
    let (two, result) = lab(2, 63.0);
    assert!((two["high_per_m"].as_f64().unwrap() * 63.0 - 6.295_794).abs() < 1e-5, "{two}");
    assert!((two["low_per_m"].as_f64().unwrap() * 63.0 - 0.355_362).abs() < 1e-5, "{two}");
    assert_eq!(result, "conforms");
    assert_eq!(lab(9, 20.0).1, "fails");
}

#[test]
fn a_wave_is_found_with_the_part_that_makes_it_unless_that_is_not_wanted() {
    let part = |part: &str, more: Value| {
        let mut record = json!({"kind":"turning_part","machine":"X","part":part});
        record.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        record
    };
    let mut records = vec![
        json!({"kind":"step","step":"E","does":"extrude","settings":{"line_speed_m_min":6,"screw_rpm":20}}),
        json!({"kind":"weighing","step":"E","lot":"S","role":"out","mass_g":100}),
        part("screw", json!({})),
        part("puller roller", json!({"diameter_mm":60})),
    ];
    // Line speed over screw frequency: 6 m/min over 20 a minute, as in the case pulsation-period.
    let period =
        common::reference("diameter_waves.json", "pulsation-period")["expected"]["period_m"][1]
            .as_f64()
            .unwrap();
    assert_eq!(period, 0.3);
    let mut state = 7_u64;
    let mut noise = || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        f64::from(u32::try_from((state >> 33) % 21).unwrap()) / 1000.0 - 0.01
    };
    records.extend((0..2000).map(|i| {
        let at = f64::from(i) / 20.0;
        let d = 1.75 + 0.012 * (std::f64::consts::TAU * at / period).sin() + noise();
        json!({"kind":"diameter","lot":"S","position_m":at,"dx_mm":(d * 1e4).round() / 1e4})
    }));
    let wave = check(&records).only("wave");
    assert_eq!(
        (&wave["part"], &wave["machine"], &wave["waves_a_turn"]),
        (&json!("screw"), &json!("X"), &json!(1))
    );
    assert!((wave["period_m"].as_f64().unwrap() - period).abs() < 0.001, "{wave}");
    assert!((wave["amplitude_mm"].as_f64().unwrap() - 0.012).abs() < 0.001, "{wave}");
    let without = run("check-tolerance", &["--no-waves"], &stream(&records));
    assert!(without.of("wave").is_empty() && without.status == 0);
}

/// Exact two-sided factor for n = 10, 95 % of the values at 95 % confidence: 3.39343 (case
/// k2-exact-conf95 of tests/reference/tolerance_intervals.json).
#[test]
fn ten_caliper_readings_can_settle_it_by_a_tolerance_interval() {
    let values = [1.748, 1.752, 1.755, 1.751, 1.746, 1.743, 1.747, 1.753, 1.758, 1.747];
    let judge = |tolerance: f64| {
        let mut records = vec![printer("P", 1.75, tolerance)];
        // By hand, two metres apart.
        let place = |(i, mm): (usize, f64)| json!({"kind":"diameter","lot":"S","position_m":2 * i,"dx_mm":mm});
        records.extend(values.into_iter().enumerate().map(place));
        check(&records).only("verdict")
    };
    let n = 10.0;
    let mean = values.iter().sum::<f64>() / n;
    let sd = (values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    let reach = 3.393_43 * sd;
    let wide = judge(0.05);
    assert_eq!(wide["result"], "conforms", "{wide}");
    let interval = format!("{:.3} to {:.3} mm", mean - reach, mean + reach);
    assert!(wide["why"].as_str().unwrap().contains(&interval), "{wide}, expected {interval}");
    let tight = judge(0.012);
    assert_eq!(tight["result"], "undecided", "{tight}");
    let why = tight["why"].as_str().unwrap();
    assert!(why.contains("readings in all of the same mean and spread would settle it"), "{why}");
}
