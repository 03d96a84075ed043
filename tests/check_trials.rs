//! `check-trials`, run as a person runs it.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use common::{Ran, reference, run, top};
use serde_json::{Value, json};

fn lab() -> Vec<Value> {
    vec![
        json!({"kind":"machine","machine":"P","does":"print","melt_min_c":180,"melt_max_c":260}),
        json!({"kind":"material","material":"PETG","melt_min_c":220,"melt_max_c":250}),
        json!({"kind":"lot","lot":"S1","material":"PETG","form":"filament"}),
    ]
}

/// A trial at the minute of its number.
fn trial(minute: usize, good: bool, settings: &Value) -> Value {
    json!({"kind":"trial","lot":"S1","machine":"P","part":"clip","outcome":if good {"good"} else {"failed"},
        "at":format!("2026-05-04T{:02}:{:02}:00Z", minute / 60, minute % 60),"settings":settings,"complexity":1})
}

fn checked_with(args: &[&str], records: &[Value]) -> Ran {
    let stream: String = records.iter().map(|record| format!("{record}\n")).collect();
    let ran = run("check-trials", args, stream.as_bytes());
    assert_eq!(ran.status, 0, "{}", ran.stderr);
    ran
}

fn checked(records: &[Value]) -> Ran {
    checked_with(&[], &[lab(), records.to_vec()].concat())
}

fn verdicts(ran: &Ran, check: &str) -> Vec<Value> {
    ran.of("verdict").into_iter().filter(|verdict| verdict["check"] == check).collect()
}

fn verdict(ran: &Ran, check: &str) -> Value {
    let found = verdicts(ran, check);
    assert_eq!(found.len(), 1, "{check} in {}", ran.text());
    found[0].clone()
}

fn good_ones(n: usize) -> Vec<Value> {
    (0..n).map(|i| trial(i, true, &json!({"bed_c":75,"melt_c":240}))).collect()
}

/// Limits and numbers of trials against the recorded values.
#[test]
fn limits_are_those_of_the_reference_and_the_series_that_of_the_success_run_theorem() {
    let case = reference("counts.json", "cp-95");
    let rows = case["inputs"]["rows"].as_array().unwrap();
    let mut met = 0;
    for (i, row) in rows.iter().enumerate() {
        let [good, n] = [0, 1].map(|at| usize::try_from(row[at].as_u64().unwrap()).unwrap());
        if n > 30 {
            continue;
        }
        let trials: Vec<Value> =
            (0..n).map(|at| trial(at, at >= n - good, &json!({"bed_c":75}))).collect();
        let found = checked(&trials).only("trial_evidence");
        let close = |name: &str, end: &str| {
            let expected = 100.0 * case["expected"][end][i].as_f64().unwrap();
            (found[name].as_f64().unwrap() - expected).abs() < 1e-6
        };
        assert!(close("low_pct", "low") && close("high_pct", "high"), "{found}");
        met += 1;
    }
    assert!(met > 10);
    let runs = reference("counts.json", "success-run");
    let rows = runs["inputs"]["rows"].as_array().unwrap();
    for (row, n) in rows.iter().zip(runs["expected"]["n"].as_array().unwrap()) {
        let [share, confidence] = [0, 1].map(|at| format!("{}", 100.0 * row[at].as_f64().unwrap()));
        let args = ["--asked-pct", &share, "--confidence-pct", &confidence];
        let found = checked_with(&args, &good_ones(1)).only("trial_evidence");
        assert_eq!(&found["series"], n, "{row}");
    }
    let failed = reference("counts.json", "success-run-failures");
    let rows = failed["inputs"]["rows"].as_array().unwrap();
    for (row, n) in rows.iter().zip(failed["expected"]["n"].as_array().unwrap()) {
        if row[2] == 1 {
            let [share, confidence] =
                [0, 1].map(|at| format!("{}", 100.0 * row[at].as_f64().unwrap()));
            let args = ["--asked-pct", &share, "--confidence-pct", &confidence];
            let found = checked_with(&args, &good_ones(1)).only("trial_evidence");
            assert_eq!(&found["series_one_failed"], n, "{row}");
        }
    }
}

/// 17 good ones in a row prove 80 % (the case `sequential-more-good`), 16 do not.
#[test]
fn a_step_is_proven_by_enough_good_trials_and_the_way_there_is_counted_down() {
    let needed =
        reference("trials.json", "sequential-more-good")["expected"]["more"][0].as_u64().unwrap();
    let needed = usize::try_from(needed).unwrap();
    let nearly = checked(&good_ones(needed - 1));
    assert_eq!(nearly.only("trial_evidence")["more_good"], 1);
    assert_eq!(verdict(&nearly, "trials-proven")["result"], "undecided");
    assert_eq!(verdict(&nearly, "next-difficulty")["result"], "undecided");
    let proven = checked(&good_ones(needed));
    assert_eq!(proven.only("trial_evidence")["standing"], "proven");
    assert_eq!(verdict(&proven, "trials-proven")["result"], "conforms");
    let step = verdict(&proven, "next-difficulty");
    assert_eq!((&step["result"], &step["value"]), (&json!("conforms"), &json!(1.0)));
    assert!(step["why"].as_str().unwrap().contains("step up to 2"), "{step}");
}

#[test]
fn two_good_ones_of_three_are_no_evidence() {
    let trials = [
        trial(0, false, &json!({"bed_c":65})),
        trial(1, true, &json!({"bed_c":75})),
        trial(2, true, &json!({"bed_c":75})),
    ];
    let ran = checked(&trials);
    let evidence = ran.only("trial_evidence");
    assert_eq!(evidence["standing"], "not yet");
    // What was tried before the change is no evidence of the step as it is now.
    assert_eq!(
        (&evidence["trials"], &evidence["now_trials"], &evidence["now_good"]),
        (&json!(3), &json!(2), &json!(2))
    );
    assert!(verdict(&ran, "what-helped")["why"].as_str().unwrap().contains("bed_c (65 to 75)"));
}

#[test]
fn many_failures_are_refuted_and_whatever_the_settings_it_is_said_to_stop() {
    let same: Vec<Value> = (0..8).map(|i| trial(i, false, &json!({"bed_c":75}))).collect();
    assert_eq!(verdict(&checked(&same), "trials-proven")["result"], "fails");
    // Another setting each time: nothing is known of the last one, but it is not worth going on.
    let other: Vec<Value> = (0..8).map(|i| trial(i, false, &json!({"bed_c":60 + i}))).collect();
    let ran = checked(&other);
    assert_eq!(verdict(&ran, "trials-proven")["result"], "undecided");
    let stop = verdict(&ran, "trials-worth-going-on");
    assert_eq!(stop["result"], "fails");
    assert!(stop["why"].as_str().unwrap().contains("do not go on"), "{stop}");
    assert_eq!(verdict(&checked(&same), "next-difficulty")["result"], "fails");
}

#[test]
fn harder_parts_do_not_stand_in_for_easier_ones() {
    let mut trials = good_ones(17);
    for record in &mut trials {
        record["complexity"] = json!(2);
    }
    let step = verdict(&checked(&trials), "next-difficulty");
    assert_eq!((&step["result"], &step["value"]), (&json!("undecided"), &json!(0.0)));
    assert!(step["why"].as_str().unwrap().contains("no trial of difficulty 1"), "{step}");
}

#[test]
fn a_limit_of_the_lab_asks_for_another_share() {
    let mut records = good_ones(17);
    records.push(json!({"kind":"limit","what":"good_pct","machine":"P","min":90,"unit":"%"}));
    let found = checked(&records).only("trial_evidence");
    assert_eq!(
        (&found["asked_pct"], &found["standing"], &found["series"]),
        (&json!(90.0), &json!("not yet"), &json!(29))
    );
}

/// The story of a first try that failed and a second that went well after several changes.
#[test]
fn settings_that_changed_at_once_are_confounded_and_one_trial_is_named_that_parts_them() {
    let trials = [
        trial(0, false, &json!({"bed_c":60,"melt_c":230,"fan_pct":100,"print_speed_mm_s":50})),
        trial(1, true, &json!({"bed_c":75,"melt_c":240,"fan_pct":100,"print_speed_mm_s":30})),
    ];
    let ran = checked(&trials);
    let said = verdict(&ran, "what-helped");
    assert_eq!(said["result"], "undecided");
    let why = said["why"].as_str().unwrap();
    assert!(
        why.contains("confounded") && why.contains("3 settings") && !why.contains("fan_pct"),
        "{why}"
    );
    let next = ran.only("next_trial");
    assert_eq!(next["put_back"].as_array().unwrap().len(), 1, "{next}");
    // By hand: one of six of none, a quarter of every other explanation; a quarter beforehand of none and of
    // every number of settings. Half of the others hold a setting but for a sixth.
    let chance = |name: &str| next["chances"][name].as_f64().unwrap();
    assert!((chance("none") - 2.0 / 11.0).abs() < 1e-6, "{next}");
    assert!((chance("bed_c") - 6.0 / 11.0).abs() < 1e-6, "{next}");
    let back = next["put_back"][0].as_str().unwrap();
    let before = &trials[0]["settings"][back];
    assert_eq!(next["settings"][back].as_f64(), before.as_f64(), "{next}");
    assert_eq!(next["settings"]["fan_pct"], 100.0);
    assert!(next["why"].as_str().unwrap().contains("a failure points to"), "{next}");
    // Each effect says with what it is mixed.
    for effect in ran.of("setting_effect") {
        assert_eq!(effect["mixed_with"].as_array().unwrap().len(), 2, "{effect}");
        assert_eq!(effect["probability"], 1.0);
    }
    // Three settings are worth a design of four runs.
    let design = ran.only("screening_design");
    assert_eq!((&design["runs"], &design["resolution"]), (&json!(4), &json!(3)));
    assert_eq!(design["aliases"], json!(["A = BC", "B = AC", "C = AB"]));
    assert_eq!(ran.of("screening_run").len(), 4);
}

/// All four combinations tried: the colder bed fails whatever the melt, so that what changed at once is
/// parted, and no trial is asked for any more.
#[test]
fn trials_that_part_confounded_settings_settle_what_helped() {
    let mut trials = Vec::new();
    for (bed_c, melt_c, good) in
        [(60, 230, false), (60, 240, false), (75, 230, true), (75, 240, true)]
    {
        let settings = json!({"bed_c":bed_c,"melt_c":melt_c});
        for _ in 0..4 {
            trials.push(trial(trials.len(), good, &settings));
        }
    }
    let ran = checked(&trials);
    let said = verdict(&ran, "what-helped");
    assert_eq!(said["result"], "conforms");
    assert!(
        said["why"].as_str().unwrap().contains("leave bed_c (60 to 75) (probability"),
        "{said}"
    );
    assert!(ran.of("next_trial").is_empty());
    // Of the mirror image the bed is cleared, and the melt named.
    for record in &mut trials {
        let settings = &record["settings"];
        record["settings"] = json!({"bed_c":settings["melt_c"],"melt_c":settings["bed_c"]});
    }
    let said = verdict(&checked(&trials), "what-helped");
    assert!(said["why"].as_str().unwrap().contains("leave melt_c"), "{said}");
}

/// The verdict on what helped in trials of one part.
fn helped(trials: &[Value]) -> (Value, String) {
    let said = verdict(&checked(trials), "what-helped");
    (said["result"].clone(), said["why"].as_str().unwrap().to_owned())
}

/// Trials in a row, each with how it came out and its settings.
fn row(sets: &[(usize, bool, Value)]) -> Vec<Value> {
    let each = sets.iter().flat_map(|(n, good, set)| (0..*n).map(move |_| (*good, set)));
    each.enumerate().map(|(minute, (good, set))| trial(minute, good, set)).collect()
}

#[test]
fn only_the_two_values_of_the_pair_tell_whether_the_change_helped() {
    // 60 is bad and 75 is good; the last change, from 75 to 80 after one slip, has shown nothing.
    let trials = row(&[
        (8, false, json!({"bed_c":60})),
        (7, true, json!({"bed_c":75})),
        (1, false, json!({"bed_c":75})),
        (1, true, json!({"bed_c":80})),
    ]);
    let (result, why) = helped(&trials);
    assert_eq!(result, "undecided", "{why}");
    assert!(why.contains("bed_c (75 to 80)") && why.contains("7 of 8"), "{why}");
}

#[test]
fn what_went_with_a_change_takes_its_credit() {
    let base = row(&[(6, false, json!({"bed_c":60})), (6, true, json!({"bed_c":75}))]);
    assert_eq!(helped(&base).0, "conforms");
    // Another lot, another difficulty, another setting, one that nobody can read: each alone takes it away.
    for (field, value, named) in [
        ("lot", json!("S2"), "the lot (S1 to S2)"),
        ("complexity", json!(2), "the difficulty (1 to 2)"),
        ("settings", json!({"bed_c":75,"fan_pct":50}), "fan_pct (recorded for one of both only)"),
        ("settings", json!({"bed_c":75,"bed":1}), "bed (which cannot be read)"),
    ] {
        let mut trials = base.clone();
        trials[6..].iter_mut().for_each(|trial| trial[field] = value.clone());
        let mut records = vec![json!({"kind":"lot","lot":"S2","material":"PETG"})];
        records.extend(trials);
        let (result, why) = helped(&records);
        assert_eq!(result, "undecided", "{why}");
        assert!(why.contains(named) && why.contains("2 things"), "{why}");
    }
    // A setting that differed among the trials, though not between the last two, is no ground for it.
    let trials = row(&[
        (6, false, json!({"bed_c":60,"fan_pct":100})),
        (1, false, json!({"bed_c":60,"fan_pct":0})),
        (6, true, json!({"bed_c":75,"fan_pct":0})),
    ]);
    let (result, why) = helped(&trials);
    assert_eq!(result, "undecided", "{why}");
    assert!(why.contains("6 other trials of the part differ in something else"), "{why}");
    // Nor is what another part showed.
    let mut trials = base.clone();
    for at in (0..5).chain(7..12) {
        trials[at]["part"] = json!("lid");
    }
    let ran = checked(&trials);
    assert!(verdicts(&ran, "what-helped").iter().any(
        |said| said["result"] == "undecided" && said["why"].as_str().unwrap().contains("clip")
    ));
}

#[test]
fn two_settings_that_are_needed_together_are_both_named() {
    let set = |bed_c: i32, melt_c: i32| json!({"bed_c":bed_c,"melt_c":melt_c});
    let trials = row(&[
        (6, false, set(60, 240)),
        (6, false, set(75, 230)),
        (6, false, set(60, 230)),
        (6, true, set(75, 240)),
    ]);
    let (result, why) = helped(&trials);
    assert_eq!(result, "conforms", "{why}");
    assert!(
        why.contains("leave bed_c (60 to 75)") && why.contains("and melt_c (230 to 240)"),
        "{why}"
    );
}

#[test]
fn a_value_outside_its_window_stays_an_explanation_and_is_not_put_back() {
    // The melt of the failed trials was beyond the card's 250.
    let set = |bed_c: i32, melt_c: i32| json!({"bed_c":bed_c,"melt_c":melt_c});
    let trials = row(&[(2, false, set(60, 255)), (1, true, set(75, 245))]);
    let ran = checked(&trials);
    let next = ran.only("next_trial");
    assert!(next["chances"]["melt_c"].as_f64().unwrap() > 0.3, "{next}");
    assert_eq!(next["settings"]["melt_c"], 245.0);
    assert_eq!(next["put_back"], json!(["bed_c"]));
    // A setting that did not change and is outside: no trial with it is proposed.
    let set = |bed_c: i32, fan_pct: i32| json!({"bed_c":bed_c,"fan_pct":fan_pct,"melt_c":255});
    let ran = checked(&row(&[(1, false, set(60, 100)), (1, true, set(75, 50))]));
    assert!(ran.of("next_trial").is_empty());
    let said = verdict(&ran, "what-helped");
    assert!(
        said["why"].as_str().unwrap().contains("melt_c of the good trial, 255, is outside"),
        "{said}"
    );
}

#[test]
fn a_setting_that_cannot_be_read_still_tells_trials_apart() {
    // Seventeen good ones would prove it, were they of one bed temperature.
    let mut trials = good_ones(17);
    trials.iter_mut().take(8).for_each(|trial| trial["settings"] = json!({"bed":75}));
    trials.iter_mut().skip(8).for_each(|trial| trial["settings"] = json!({"bed":80}));
    let ran = checked(&trials);
    let said = verdict(&ran, "trials-proven");
    assert_eq!(said["result"], "undecided", "{said}");
    assert_eq!(ran.of("problem").len(), 1);
    // Colder than nothing can be.
    let ran = checked(&[trial(0, true, &json!({"bed_c":-300}))]);
    let problem = ran.only("problem");
    assert_eq!(
        (&problem["code"], &problem["field"]),
        (&json!("out-of-range"), &json!("settings.bed_c"))
    );
    assert!(problem["expected"].as_str().unwrap().contains("-273.15 C or more"), "{problem}");
}

/// Fisher's exact test against scipy: 5 of 5 failed, 5 of 5 good (the case `fisher`).
#[test]
fn one_setting_that_parts_good_from_failed_is_shown_to_help() {
    let mut trials: Vec<Value> =
        (0..5).map(|i| trial(i, false, &json!({"bed_c":60,"melt_c":240}))).collect();
    trials.extend((5..10).map(|i| trial(i, true, &json!({"bed_c":75,"melt_c":240}))));
    let ran = checked(&trials);
    let effect = ran.only("setting_effect");
    let p = reference("trials.json", "fisher")["expected"]["two_sided"][2].as_f64().unwrap();
    assert!((effect["probability"].as_f64().unwrap() - p).abs() < 1e-12, "{effect}");
    // (5.5 / 0.5) / (0.5 / 5.5), and by the joint model the same.
    assert!((effect["odds_ratio"].as_f64().unwrap() - 121.0).abs() < 1e-9, "{effect}");
    assert!((effect["joint_odds_ratio"].as_f64().unwrap() - 121.0).abs() < 1e-3, "{effect}");
    assert_eq!(verdict(&ran, "what-helped")["result"], "conforms");
    // A trial less on either side, and there is no joint model.
    let few = checked(&trials[1..9]).only("setting_effect");
    assert!(few.get("joint_odds_ratio").is_none(), "{few}");
}

#[test]
fn the_usual_remedy_is_one_step_of_one_setting_within_every_window() {
    let failed = |minute, fault: &str, melt_c: f64| {
        let mut record = trial(minute, false, &json!({"melt_c":melt_c,"print_speed_mm_s":45}));
        record["fault"] = json!(fault);
        record
    };
    let change = checked(&[failed(0, "under-extrusion", 240.0)]).only("adjustment");
    assert_eq!(
        (&change["what"], &change["from"], &change["to"]),
        (&json!("melt_c"), &json!(240.0), &json!(245.0))
    );
    assert_eq!((&change["low"], &change["high"]), (&json!(220.0), &json!(250.0)));
    assert!(change["basis"].as_str().unwrap().contains("common practice, no source"));
    // At the end of the card's window the next remedy has its turn.
    let ran = checked(&[failed(0, "under-extrusion", 250.0)]);
    let change = ran.only("adjustment");
    assert_eq!((&change["what"], &change["to"]), (&json!("print_speed_mm_s"), &json!(35.0)));
    assert_eq!(ran.of("caution").len(), 1);
    // So has it where the step was tried and failed.
    let tried = [failed(0, "under-extrusion", 245.0), failed(1, "under-extrusion", 240.0)];
    assert_eq!(checked(&tried).only("adjustment")["what"], "print_speed_mm_s");
    // A setting that nobody wrote down is to be written down.
    let mut bare = failed(0, "warping", 240.0);
    bare["settings"] = json!({});
    let change = checked(&[bare]).only("adjustment");
    assert!(change["what"] == "bed_c" && change.get("to").is_none(), "{change}");
    let share = checked(&[failed(0, "jam", 240.0), trial(1, true, &json!({}))]).only("fault_share");
    assert_eq!(
        (&share["fault"], &share["failed"], &share["trials"]),
        (&json!("jam"), &json!(1), &json!(2))
    );
}

#[test]
fn what_is_wrong_with_a_trial_is_told_and_nothing_is_lost() {
    let base = trial(0, true, &json!({"bed_c":75}));
    let mut without = base.clone();
    without.as_object_mut().unwrap().remove("outcome");
    let ran = checked(&[without]);
    let problem = ran.only("problem");
    assert_eq!((&problem["code"], &problem["field"]), (&json!("missing-field"), &json!("outcome")));
    assert!(ran.of("trial_evidence").is_empty());
    // Two outcomes of one trial: neither counts.
    let mut other = base.clone();
    other["outcome"] = json!("failed");
    let ran = checked(&[base.clone(), other, trial(1, true, &json!({"bed_c":75}))]);
    assert_eq!(ran.only("problem")["code"], "contradiction");
    assert_eq!(ran.only("trial_evidence")["trials"], 1);
    // The same once more is counted once.
    let ran = checked(&[base.clone(), base.clone()]);
    assert_eq!(ran.only("problem")["code"], "duplicate");
    assert_eq!(ran.only("trial_evidence")["trials"], 1);
    // A good trial with a fault.
    let mut both = base.clone();
    both["fault"] = json!("jam");
    let ran = checked(&[both]);
    assert_eq!(ran.only("problem")["code"], "contradiction");
    // No unit: told once, and the trials count.
    let bare = [trial(0, true, &json!({"bed":75})), trial(1, true, &json!({"bed":80}))];
    let ran = checked(&bare);
    let problem = ran.only("problem");
    assert_eq!(
        (&problem["code"], &problem["field"]),
        (&json!("unknown-unit"), &json!("settings.bed"))
    );
    assert_eq!(ran.only("trial_evidence")["trials"], 2);
    // Outside its window.
    let hot = checked(&[trial(0, true, &json!({"melt_c":255}))]);
    let said = verdict(&hot, "trial-settings-window");
    assert_eq!(
        (&said["result"], &said["value"], &said["limit"]),
        (&json!("fails"), &json!(255.0), &json!(250.0))
    );
}

#[test]
fn an_extrusion_is_a_trial_once_its_spools_were_judged() {
    let mut records = lab();
    records.push(json!({"kind":"machine","machine":"X","does":"extrude"}));
    for (n, result) in ["conforms", "fails", "undecided"].iter().enumerate() {
        let (step, lot) = (format!("e{n}"), format!("R{n}"));
        records.extend([
            json!({"kind":"lot","lot":lot,"material":"PETG"}),
            json!({"kind":"step","step":step,"does":"extrude","machine":"X","settings":{"melt_c":235}}),
            json!({"kind":"weighing","step":step,"lot":lot,"role":"out","mass_g":500}),
            json!({"kind":"verdict","check":"diameter-tolerance","result":result,"lot":lot,"machine":"P","rule":"r","why":"w"}),
        ]);
    }
    let found = checked(&records[3..]).only("trial_evidence");
    assert_eq!((&found["does"], &found["machine"]), (&json!("extrude"), &json!("X")));
    assert_eq!((&found["trials"], &found["good"]), (&json!(2), &json!(1)), "{found}");
}

#[test]
fn a_design_that_is_asked_for_keeps_the_windows_and_its_order_follows_the_seed() {
    let args = [
        "--factor",
        "bed_c=65:80",
        "--factor",
        "melt_c=230:245",
        "--factor",
        "fan_pct=20:100",
        "--runs",
        "8",
        "--machine",
        "P",
        "--material",
        "PETG",
    ];
    let ran = checked_with(&args, &lab());
    let design = ran.only("screening_design");
    assert_eq!((&design["runs"], &design["aliases"]), (&json!(8), &json!([])));
    let runs = ran.of("screening_run");
    let order: Vec<u64> = runs.iter().map(|run| run["standard"].as_u64().unwrap()).collect();
    let mut sorted = order.clone();
    sorted.sort_unstable();
    assert!(sorted == (1..=8).collect::<Vec<u64>>() && order != sorted, "{order:?}");
    for name in ["bed_c", "melt_c", "fan_pct"] {
        let sum: f64 = runs.iter().map(|run| run["settings"][name].as_f64().unwrap()).sum();
        let levels = json!({"bed_c":145.0,"melt_c":475.0,"fan_pct":120.0});
        assert_eq!(sum, 4.0 * levels[name].as_f64().unwrap());
    }
    assert_eq!(checked_with(&args, &lab()).of("screening_run"), runs);
    let other = checked_with(&[&args[..], &["--seed", "2"]].concat(), &lab()).of("screening_run");
    assert_ne!(other, runs);
    // Beyond the card's 250: no design, and the reason.
    let hot = checked_with(
        &["--factor", "bed_c=65:80", "--factor", "melt_c=240:255", "--material", "PETG"],
        &lab(),
    );
    assert!(hot.of("screening_design").is_empty());
    assert_eq!(verdict(&hot, "design-window")["result"], "fails");
    // Nobody knows how hot the bed may be, unless a limit says so; nor what a machine bears that no record
    // describes, or a plastic without a card.
    let said = verdict(&ran, "design-window");
    assert_eq!(said["result"], "undecided");
    assert!(
        said["why"].as_str().unwrap().contains("no window of bed_c and fan_pct is known"),
        "{said}"
    );
    let limits = ["bed_c", "fan_pct"].map(|what| {
        json!({"kind":"limit","what":what,"min":0,"max":100,"unit":if what == "bed_c" {"C"} else {"%"}})
    });
    let known = [lab(), limits.to_vec()].concat();
    assert_eq!(verdict(&checked_with(&args, &known), "design-window")["result"], "conforms");
    let other = [
        "--factor",
        "bed_c=65:80",
        "--factor",
        "fan_pct=0:90",
        "--machine",
        "Q",
        "--material",
        "PETTG",
    ];
    let why = verdict(&checked_with(&other, &known), "design-window");
    let words = why["why"].as_str().unwrap();
    assert_eq!(why["result"], "undecided");
    assert!(words.contains("the machine Q") && words.contains("the material PETTG"), "{words}");
}

#[test]
fn wrong_options_say_what_is_expected() {
    for (args, expected) in [
        (&["--asked-pct", "100"][..], "expected above 0 and below 100"),
        (&["--confidence-pct", "nan"], "expected above 0 and below 100"),
        (&["--factor", "bed_c=65:80"], "expected 2 to 19 settings"),
        (&["--factor", "bed=65:80", "--factor", "melt_c=1:2"], "does not say its unit"),
        (&["--factor", "bed_c=-300:65", "--factor", "melt_c=1:2"], "expected -273.15 C or more"),
        (&["--factor", "bed_c=80:65", "--factor", "melt_c=1:2"], "the lower level first"),
        (&["--factor", "bed_c=6:8", "--factor", "bed_c=1:2"], "stands twice"),
        (&["--factor", "bed_c=6:8", "--factor", "melt_c=1:2", "--runs", "5"], "expected 4"),
    ] {
        let ran = run("check-trials", args, b"");
        assert!(ran.status == 2 && ran.stderr.contains(expected), "{args:?}: {}", ran.stderr);
    }
}

/// On the example lab: nothing is proven by so few trials, the faults hidden in it are found, and the
/// same comes out whatever the order of the records.
#[test]
fn the_example_lab_is_not_proven_yet_and_its_faults_are_found() {
    let lab = top().join("examples/lab");
    let ingest = |args: &[&str]| {
        let mut command = common::command("ingest", args);
        let output = command.current_dir(&lab).output().unwrap();
        assert!(output.status.success());
        String::from_utf8(output.stdout).unwrap()
    };
    let facts = [
        std::fs::read_to_string(lab.join("workshop.jsonl")).unwrap(),
        ingest(&["machine", "machines.jsonl"]),
        ingest(&["lot", "lots.csv"]),
        ingest(&["trial", "--map", "maps/trials.toml", "trials.csv"]),
    ];
    let ran = run("check-trials", &[], facts.concat().as_bytes());
    assert_eq!(ran.status, 0, "{}", ran.stderr);
    assert!(ran.of("problem").is_empty());
    assert!(
        ran.of("trial_evidence")
            .iter()
            .all(|e| e["standing"] == "not yet" && e["material"] == "PETG")
    );
    let faults: Vec<String> =
        ran.of("fault_share").iter().map(|f| f["fault"].as_str().unwrap().to_owned()).collect();
    for fault in ["poor bed adhesion", "warping", "under-extrusion", "jam", "stringing"] {
        assert!(faults.iter().any(|found| found == fault), "{fault}");
    }
    // Lines without the signatures, the trials first and turned about.
    let lines = |text: &str| -> Vec<String> {
        text.lines()
            .filter(|l| !l.contains(r#""kind":"begin""#) && !l.contains(r#""kind":"end""#))
            .map(str::to_owned)
            .collect()
    };
    let plain = lines(&facts.concat());
    let turned: Vec<String> = plain.iter().rev().cloned().collect();
    let findings = |lines: &[String]| {
        let ran = run("check-trials", &[], format!("{}\n", lines.join("\n")).as_bytes());
        let mut found = ran.of("trial_evidence");
        found.extend(ran.of("setting_effect"));
        found.extend(ran.of("adjustment"));
        found
    };
    assert_eq!(findings(&plain), findings(&turned));
}

#[test]
fn going_back_to_settings_brings_back_what_they_showed() {
    let (old, new) = (json!({"bed_c":75}), json!({"bed_c":80}));
    let mut records: Vec<_> = (0..40).map(|i| trial(i, i % 2 == 0, &old)).collect();
    records.push(trial(40, true, &new));
    records.extend((41..58).map(|i| trial(i, true, &old)));
    let said = verdict(&checked(&records), "trials-proven");
    assert_eq!(said["result"], "undecided", "{said}");
    assert!(said["why"].as_str().unwrap().contains("37 of 57"), "{said}");
}

#[test]
fn a_lab_that_changes_a_setting_after_every_failure_proves_nothing_by_that() {
    // Seventeen good ones in a row prove 80 % with the first settings, and not with the tenth.
    let first: Vec<_> = (0..17).map(|i| trial(i, true, &json!({"bed_c":75}))).collect();
    assert_eq!(verdict(&checked(&first), "trials-proven")["result"], "conforms");
    let mut records: Vec<_> =
        (0..9).map(|i| trial(i, false, &json!({"bed_c":60.0 + i as f64}))).collect();
    records.extend((9..26).map(|i| trial(i, true, &json!({"bed_c":75}))));
    let said = verdict(&checked(&records), "trials-proven");
    assert_eq!(said["result"], "undecided", "{said}");
    assert!(said["why"].as_str().unwrap().contains("series 10 of settings"), "{said}");
}

#[test]
fn difficulties_proven_with_other_settings_are_not_proven_together() {
    let level = |from: usize, level: u32, bed_c: u32| -> Vec<Value> {
        let mut trials: Vec<Value> =
            (from..from + 17).map(|at| trial(at, true, &json!({"bed_c":bed_c}))).collect();
        trials.iter_mut().for_each(|trial| trial["complexity"] = json!(level));
        trials
    };
    let same = [level(0, 1, 60), level(17, 2, 60)].concat();
    let said = verdict(&checked(&same), "next-difficulty");
    assert_eq!((&said["result"], &said["value"]), (&json!("conforms"), &json!(2.0)), "{said}");
    let other = [level(0, 1, 60), level(17, 2, 75)].concat();
    let said = verdict(&checked(&other), "next-difficulty");
    assert_eq!((&said["result"], &said["value"]), (&json!("undecided"), &json!(1.0)), "{said}");
    assert!(said["why"].as_str().unwrap().contains("bed_c 75, not 60"), "{said}");
}

#[test]
fn a_refuted_difficulty_of_nought_opens_nothing() {
    let mut records: Vec<_> = (0..12).map(|i| trial(i, false, &json!({"bed_c":75}))).collect();
    records.iter_mut().for_each(|trial| trial["complexity"] = json!(0));
    assert_ne!(verdict(&checked(&records), "next-difficulty")["result"], "conforms");
}

#[test]
fn a_share_that_nobody_can_ask_for_is_a_problem() {
    for limit in [
        json!({"kind":"limit","what":"good_pct","unit":"%","min":100}),
        json!({"kind":"limit","what":"good_pct","unit":"%","target":95}),
        json!({"kind":"limit","what":"good_pct","unit":"%","min":0.95}),
        json!({"kind":"limit","what":"good_pct","unit":"ppm","min":90}),
    ] {
        assert_eq!(checked(&[limit]).of("problem").len(), 1);
    }
}

/// Extrusions in a row, each with one spool that is judged so; `scrap` gave scrap alone.
fn extrusions(results: &[(usize, &str)]) -> Vec<Value> {
    let mut records = vec![json!({"kind":"machine","machine":"X","does":"extrude"})];
    let each = results.iter().flat_map(|(n, result)| (0..*n).map(move |_| *result));
    for (n, result) in each.enumerate() {
        let (step, lot) = (format!("e{n}"), format!("R{n}"));
        let role = if result == "scrap" { "scrap" } else { "out" };
        records.extend([
            json!({"kind":"lot","lot":lot,"material":"PETG"}),
            json!({"kind":"step","step":step,"does":"extrude","machine":"X","settings":{"melt_c":235},
                "at":format!("2026-05-04T{:02}:{:02}:00Z", n / 60, n % 60)}),
            json!({"kind":"weighing","step":step,"lot":"feed","role":"in","mass_g":500}),
            json!({"kind":"weighing","step":step,"lot":lot,"role":role,"mass_g":450}),
        ]);
        if result != "scrap" {
            records.push(json!({"kind":"verdict","check":"diameter-tolerance","result":result,"lot":lot,"machine":"P","rule":"r","why":"w"}));
        }
    }
    records
}

#[test]
fn extrusions_that_are_undecided_may_be_either_and_scrap_alone_is_a_failure() {
    let of = |results: &[(usize, &str)]| {
        let ran = checked(&extrusions(results));
        (ran.only("trial_evidence"), verdict(&ran, "trials-proven"))
    };
    assert_eq!(of(&[(17, "conforms")]).0["standing"], "proven");
    let (evidence, said) = of(&[(17, "conforms"), (10, "undecided")]);
    assert_eq!((&evidence["standing"], &evidence["open"]), (&json!("not yet"), &json!(10)));
    assert!(said["why"].as_str().unwrap().contains("10 more are undecided"), "{said}");
    let (evidence, _) = of(&[(17, "conforms"), (4, "scrap")]);
    assert_eq!((&evidence["trials"], &evidence["good"]), (&json!(21), &json!(17)), "{evidence}");
    // What was decided last of a spool holds.
    let mut records = extrusions(&[(17, "conforms")]);
    for n in 0..17 {
        records.push(json!({"kind":"verdict","check":"diameter-tolerance","result":"fails","lot":format!("R{n}"),"machine":"P","rule":"r","why":"w"}));
    }
    assert_eq!(checked(&records).only("trial_evidence")["good"], 0);
    // A trial record of its own tells of the same extrusion: one of them counts.
    let mut records = extrusions(&[(9, "conforms")]);
    for n in 0..9 {
        records.push(json!({"kind":"trial","lot":format!("R{n}"),"machine":"X","part":"spool","outcome":"good",
            "at":format!("2026-05-04T00:{n:02}:00Z")}));
    }
    assert_eq!(checked(&records).only("trial_evidence")["trials"], 9);
}

#[test]
fn what_is_said_to_have_changed_starts_anew_and_takes_its_credit() {
    let mut trials = good_ones(17);
    assert_eq!(verdict(&checked(&trials), "trials-proven")["result"], "conforms");
    trials[16]["changed"] = json!("new 0.6 mm nozzle");
    let evidence = checked(&trials).only("trial_evidence");
    assert_eq!((&evidence["now_trials"], &evidence["standing"]), (&json!(1), &json!("not yet")));
    trials[16]["changed"] = json!("none");
    assert_eq!(checked(&trials).only("trial_evidence")["now_trials"], 17);
    let mut trials = row(&[(6, false, json!({"bed_c":60})), (6, true, json!({"bed_c":75}))]);
    trials[6]["changed"] = json!("bed hotter");
    assert_eq!(helped(&trials).0, "conforms");
    // More than the setting, though its name is among the words.
    trials[6]["changed"] = json!("bed 75, and new nozzle");
    assert_eq!(helped(&trials).0, "undecided");
    trials[6]["changed"] = json!("new nozzle");
    let (result, why) = helped(&trials);
    assert!(result == "undecided" && why.contains("what was noted (\"new nozzle\")"), "{why}");
}

#[test]
fn settings_of_now_are_not_guessed_where_times_are_missing() {
    let mut trials = row(&[(16, true, json!({"bed_c":75})), (1, false, json!({"bed_c":60}))]);
    trials[16].as_object_mut().unwrap().remove("at");
    let said = verdict(&checked(&trials), "trials-proven");
    assert!(said["why"].as_str().unwrap().contains("say when each was"), "{said}");
    // At one time with two settings.
    let mut trials = row(&[(17, true, json!({"bed_c":75})), (1, true, json!({"bed_c":60}))]);
    (trials[17]["at"], trials[17]["lot"]) = (trials[16]["at"].clone(), json!("S2"));
    trials.insert(0, json!({"kind":"lot","lot":"S2","material":"PETG"}));
    assert_eq!(verdict(&checked(&trials), "trials-proven")["result"], "undecided");
    // Without any time they come in the order of their lines, and a line told twice counts twice.
    let mut trials = good_ones(17);
    trials.iter_mut().for_each(|trial| drop(trial.as_object_mut().unwrap().remove("at")));
    let said = verdict(&checked(&trials), "trials-proven");
    assert!(said["why"].as_str().unwrap().contains("17 trials have no time"), "{said}");
}

#[test]
fn lots_of_unknown_material_are_not_taken_together() {
    let mut trials = good_ones(18);
    trials
        .iter_mut()
        .enumerate()
        .for_each(|(n, trial)| trial["lot"] = json!(format!("unknown-{}", n % 2)));
    let ran = checked(&trials);
    assert_eq!(ran.of("trial_evidence").len(), 2);
    assert!(ran.of("trial_evidence").iter().all(|found| found["standing"] == "not yet"));
}

#[test]
fn a_proof_that_was_lost_is_told() {
    let trials = row(&[(20, true, json!({"bed_c":75})), (12, false, json!({"bed_c":75}))]);
    let said = verdict(&checked(&trials), "trials-proven");
    assert!(
        said["why"]
            .as_str()
            .unwrap()
            .contains("it had been proven by trial 17, and is no longer by the 15 since"),
        "{said}"
    );
    // Where it is not worth going on, no single step of a setting is proposed.
    let mut failed = row(&[(9, false, json!({"melt_c":240}))]);
    failed.iter_mut().for_each(|trial| trial["fault"] = json!("under-extrusion"));
    let ran = checked(&failed);
    assert_eq!(verdict(&ran, "trials-worth-going-on")["result"], "fails");
    assert!(ran.of("adjustment").is_empty());
}

#[test]
fn difficulties_proven_outside_a_window_or_across_a_noted_change_open_nothing() {
    let hot: Vec<Value> = (0..18).map(|at| trial(at, true, &json!({"melt_c":255}))).collect();
    let said = verdict(&checked(&hot), "next-difficulty");
    assert!(
        said["result"] == "undecided"
            && said["why"].as_str().unwrap().contains("outside its window"),
        "{said}"
    );
    let mut trials: Vec<Value> = (0..38).map(|at| trial(at, true, &json!({}))).collect();
    trials.iter_mut().skip(18).for_each(|trial| trial["complexity"] = json!(2));
    let same = verdict(&checked(&trials), "next-difficulty");
    assert_eq!(same["result"], "conforms", "{same}");
    trials[18]["changed"] = json!("new nozzle, slower");
    let said = verdict(&checked(&trials), "next-difficulty");
    assert!(
        said["result"] == "undecided"
            && said["why"].as_str().unwrap().contains("something else was noted"),
        "{said}"
    );
}

#[test]
fn a_card_for_extruding_says_nothing_of_a_printer() {
    let mut records = lab();
    records.remove(1);
    records.push(trial(0, true, &json!({"melt_c":255})));
    let ran = checked_with(&[], &records);
    assert_eq!(verdict(&ran, "trial-settings-window")["result"], "conforms", "{}", ran.text());
}

/// The lot decides alone: 10 failed at 60 and 1 at 75 of one lot, 10 good at 75 and 1 at 60 of the other.
#[test]
fn an_effect_is_looked_for_within_each_lot_part_and_difficulty() {
    let mut trials = row(&[
        (10, false, json!({"bed_c":60})),
        (1, false, json!({"bed_c":75})),
        (10, true, json!({"bed_c":75})),
        (1, true, json!({"bed_c":60})),
    ]);
    trials[11..].iter_mut().for_each(|trial| trial["lot"] = json!("S2"));
    trials.push(json!({"kind":"lot","lot":"S2","material":"PETG"}));
    let effect = checked(&trials).only("setting_effect");
    assert_eq!(effect["probability"], 1.0, "{effect}");
    assert!(effect.get("joint_odds_ratio").is_none(), "{effect}");
}

#[test]
fn a_change_that_is_looked_at_every_night_is_seldom_called_a_help_by_chance() {
    // A setting without effect: good and failed by turns, changed after each failure. Fisher's test would call it
    // one of these nights; the running evidence does not.
    let trials: Vec<Value> = (0..60)
        .map(|n| trial(n, n % 2 == 1, &json!({"bed_c": if n / 2 % 2 == 0 {60} else {75}})))
        .collect();
    for night in [20, 40, 60] {
        assert_eq!(helped(&trials[..night]).0, "undecided");
    }
    // Where one value came before the other, that is said.
    let (_, why) = helped(&row(&[(6, false, json!({"bed_c":60})), (6, true, json!({"bed_c":75}))]));
    assert!(why.contains("whatever else changed in that time goes with it"), "{why}");
    let mixed = row(&[
        (3, false, json!({"bed_c":60})),
        (3, true, json!({"bed_c":75})),
        (3, false, json!({"bed_c":60})),
        (3, true, json!({"bed_c":75})),
    ]);
    let (result, why) = helped(&mixed);
    assert!(result == "conforms" && !why.contains("goes with it"), "{why}");
}

#[test]
fn where_the_cure_was_found_nobody_is_told_to_stop() {
    let trials = row(&[(12, false, json!({"bed_c":60})), (8, true, json!({"bed_c":75}))]);
    let ran = checked(&trials);
    assert!(verdicts(&ran, "trials-worth-going-on").is_empty());
    assert_eq!(verdict(&ran, "what-helped")["result"], "conforms");
}

#[test]
fn scrap_without_a_lot_record_is_of_its_feed_and_an_undecided_last_run_is_the_one_of_now() {
    let mut records = extrusions(&[(17, "conforms"), (8, "scrap")]);
    records.retain(|record| record["kind"] != "lot");
    records.push(json!({"kind":"lot","lot":"feed","material":"PETG"}));
    let evidence = checked(&records).only("trial_evidence");
    assert_eq!((&evidence["trials"], &evidence["good"]), (&json!(25), &json!(17)), "{evidence}");
    let mut records = extrusions(&[(18, "conforms"), (2, "undecided")]);
    for record in &mut records {
        if record["kind"] == "step" && (record["step"] == "e18" || record["step"] == "e19") {
            record["settings"] = json!({"melt_c":225});
        }
    }
    let said = verdict(&checked(&records), "trials-proven");
    assert!(
        said["result"] == "undecided"
            && said["why"].as_str().unwrap().contains("a later extrusion"),
        "{said}"
    );
}
