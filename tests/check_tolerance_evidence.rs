//! `check-tolerance`: what readings show of a spool and what they do not, logs by time, and what a person at
//! the line is told.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use common::{Ran, run};
use serde_json::{Value, json};

const PRINTER: &str = "{\"kind\":\"machine\",\"machine\":\"P\",\"does\":\"print\",\"nominal_mm\":1.75,\"tolerance_mm\":0.05}\n";

fn check(args: &[&str], records: &[Value]) -> Ran {
    let lines: String = records.iter().map(|record| format!("{record}\n")).collect();
    let ran = run("check-tolerance", args, (PRINTER.to_owned() + &lines).as_bytes());
    assert_eq!(ran.status, 0, "{}", ran.stderr);
    ran
}

fn reading(at_m: f64, dx_mm: f64) -> Value {
    json!({"kind":"diameter","lot":"S","position_m":at_m,"dx_mm":dx_mm})
}

fn timed(at_s: f64, dx_mm: f64) -> Value {
    json!({"kind":"diameter","lot":"S","time_s":at_s,"dx_mm":dx_mm})
}

/// A small spread that does not follow itself.
fn apart(i: u32) -> f64 {
    1.75 + 0.002 * f64::from(i * 7 % 11) - 0.01
}

fn verdict(ran: &Ran, check: &str) -> Value {
    ran.of("verdict").into_iter().find(|verdict| verdict["check"] == check).unwrap()
}

fn near(value: &Value, expected: f64) {
    assert!((value.as_f64().unwrap() - expected).abs() < 1e-6, "{value}, expected {expected}");
}

#[test]
fn readings_that_follow_one_another_count_for_fewer() {
    let slow = |i: u32| 1.75 + 0.02 * (f64::from(i) / 40.0).sin();
    let close: Vec<_> = (0..200).map(|i| reading(f64::from(i) * 0.05, slow(i))).collect();
    let said = verdict(&check(&[], &close), "diameter-tolerance");
    assert_eq!(said["result"], "undecided", "{said}");
    assert!(said["why"].as_str().unwrap().contains("follow one another"), "{said}");
    let far: Vec<_> = (0..200).map(|i| reading(f64::from(i) * 0.05, apart(i))).collect();
    assert_eq!(verdict(&check(&[], &far), "diameter-tolerance")["result"], "conforms");
}

#[test]
fn a_spool_of_which_most_was_not_read_is_undecided_and_the_rest_is_named() {
    let mut readings: Vec<_> = (0..80).map(|i| reading(f64::from(i) * 0.05, apart(i))).collect();
    readings.push(reading(300.0, 1.75));
    let ran = check(&[], &readings);
    let said = verdict(&ran, "diameter-tolerance");
    assert_eq!(said["result"], "undecided", "{said}");
    assert!(said["why"].as_str().unwrap().contains("296.05 m in 1 gap"), "{said}");
    near(&ran.only("diameter_summary")["unread_m"], 296.05);
    readings.pop();
    readings.extend((0..80).map(|i| reading(7.0 + f64::from(i) * 0.05, apart(i))));
    let said = verdict(&check(&[], &readings), "diameter-tolerance");
    assert_eq!(said["result"], "conforms", "{said}");
    assert!(
        said["why"].as_str().unwrap().contains("3.05 m in 1 gap of the log were not read"),
        "{said}"
    );
}

#[test]
fn the_step_of_a_display_is_an_uncertainty() {
    let gauge = json!({"kind":"gauge","gauge":"G","resolution_mm":0.05});
    let mut records = vec![gauge];
    // A step of 0.05 mm makes 0.05 / sqrt(12) = 0.0144 mm, and a guard band of 1.65 times that, 0.0238 mm.
    let with = |at: f64, mm: f64| {
        let mut record = reading(at, mm);
        record["gauge"] = json!("G");
        record
    };
    records.extend((0..80).map(|i| with(f64::from(i) * 0.1, if i % 2 == 0 { 1.78 } else { 1.77 })));
    let said = verdict(&check(&[], &records), "diameter-tolerance");
    assert_eq!(said["result"], "undecided", "{said}");
    near(&said["limit"], 0.05 - 1.65 * 0.05 / 12.0_f64.sqrt());
}

#[test]
fn a_guard_band_wider_than_the_tolerance_is_said() {
    let mut records = vec![json!({"kind":"gauge","gauge":"G","u_mm":0.2})];
    for i in 0..80 {
        let mut record = reading(f64::from(i) * 0.1, apart(i));
        record["gauge"] = json!("G");
        records.push(record);
    }
    let said = verdict(&check(&[], &records), "diameter-tolerance");
    assert_eq!(said["result"], "undecided");
    assert!(said["why"].as_str().unwrap().contains("no spool can be shown to conform"), "{said}");
    assert_eq!(said["limit"], 0.0, "{said}");
}

#[test]
fn capability_is_that_of_the_worst_axis() {
    // Their mean is nominal, and each is out everywhere.
    let line = |i: u32| {
        let mut record = reading(f64::from(i) * 0.1, apart(i) + 0.07);
        record["dy_mm"] = json!(apart(i) - 0.08);
        record
    };
    let ran = check(&[], &(0..100).map(line).collect::<Vec<_>>());
    let found = ran.only("capability");
    assert_eq!(found["axis"], "y", "{found}");
    assert!(found["ppk"].as_f64().unwrap() < 0.0, "{found}");
    assert!(found["estimated_out_pct"].as_f64().unwrap() > 99.0, "{found}");
    // Far inside, no share is made up.
    let ran = check(
        &[],
        &(0..100)
            .map(|i| reading(f64::from(i) * 0.1, 1.75 + (apart(i) - 1.75) / 5.0))
            .collect::<Vec<_>>(),
    );
    let found = ran.only("capability");
    assert!(found.get("estimated_out_pct").is_none(), "{found}");
    near(&found["estimated_out_high_pct"], 1e-4);
}

#[test]
fn what_a_log_passes_twice_is_kept_and_cut_once() {
    let mut records: Vec<_> = (0..100).map(|i| reading(f64::from(i) * 0.1, apart(i))).collect();
    records.extend(
        (50..150).map(|i| reading(f64::from(i) * 0.1, if i == 120 { 1.9 } else { apart(i) })),
    );
    let ran = check(&["--margin-m", "0"], &records);
    let share = ran.only("out_share");
    near(&share["length_m"], 14.9);
    near(&share["out_m"], 0.1);
    near(&share["kept_m"], 14.8);
    let kept: f64 = ran.of("piece").iter().filter_map(|piece| piece["length_m"].as_f64()).sum();
    assert!((kept - 14.9).abs() < 1e-6, "{}", ran.text());
}

#[test]
fn a_gap_and_a_step_back_in_a_log_by_time_are_told() {
    let mut records: Vec<_> = (0..100).map(|i| timed(f64::from(i), apart(i))).collect();
    records.push(timed(100_000.0, 1.9));
    records.extend((1..50).map(|i| timed(100_000.0 + f64::from(i), apart(i))));
    records.push(timed(50.0, 1.9));
    let ran = check(&[], &records);
    let gap = ran.only("log_gap");
    near(&gap["from_s"], 99.0);
    near(&gap["to_s"], 100_000.0);
    near(&gap["duration_s"], 99_901.0);
    assert!(gap.get("from_m").is_none());
    assert_eq!(ran.of("excursion").len(), 2);
    let back = ran.only("problem");
    assert_eq!(back["code"], "out-of-order");
    assert!(back["found"].as_str().unwrap().contains("50 s"), "{back}");
}

#[test]
fn a_log_by_time_has_positions_where_the_speed_of_the_line_is_known() {
    let made = [
        json!({"kind":"step","step":"x","does":"extrude","settings":{"line_speed_m_min":6.0}}),
        json!({"kind":"weighing","step":"x","lot":"S","role":"out","mass_g":100.0}),
    ];
    let by_time: Vec<_> =
        (0..200).map(|i| timed(f64::from(i), if i == 100 { 1.9 } else { apart(i) })).collect();
    let ran = check(&[], &[made.to_vec(), by_time.clone()].concat());
    let summary = ran.only("diameter_summary");
    near(&summary["line_speed_m_min"], 6.0);
    near(&summary["length_m"], 19.9);
    let out = ran.only("excursion");
    near(&out["from_m"], 10.0);
    near(&out["from_s"], 100.0);
    near(&out["length_m"], 0.1);
    let pieces = ran.of("piece");
    assert_eq!(pieces.len(), 3, "{}", ran.text());
    // Without the speed there are readings out, and no lengths.
    let ran = check(&[], &by_time);
    assert!(ran.of("piece").is_empty() && ran.only("excursion").get("from_m").is_none());
}

#[test]
fn an_alarm_comes_again_without_charts_too() {
    let readings: Vec<_> = (0..400)
        .map(|i| reading(f64::from(i) * 0.05, if i % 100 == 50 { 1.9 } else { apart(i) }))
        .collect();
    for args in [&["--no-charts"][..], &[]] {
        let alarms = check(args, &readings).of("alarm");
        let outside = alarms.iter().filter(|alarm| alarm["what"] == "above-tolerance").count();
        assert_eq!(outside, 4, "{args:?}");
    }
}

#[test]
fn filament_far_from_what_every_printer_takes_is_judged_by_the_nearest() {
    let far: Vec<_> = (0..100).map(|i| reading(f64::from(i) * 0.1, apart(i) - 0.6)).collect();
    let ran = check(&[], &far);
    assert_eq!(verdict(&ran, "diameter-tolerance")["result"], "fails");
    assert_eq!(ran.only("out_share")["readings_out"], 100);
    assert!(!ran.of("alarm").is_empty());
    let asked = check(&["--nominal-mm", "1.75", "--tolerance-mm", "0.05"], &far[..1]);
    assert_eq!(asked.of("alarm")[0]["machine"], "(as asked)");
}

#[test]
fn every_bad_reading_before_the_first_plausible_one_counts_with_its_length() {
    let records: Vec<_> = (0..3000)
        .map(|i| reading(f64::from(i) * 0.1, if i < 1500 { 0.9 } else { apart(i) }))
        .collect();
    let share = check(&[], &records).only("out_share");
    assert_eq!(share["readings_out"], 1500);
    near(&share["out_m"], 149.95);
}

#[test]
fn an_alarm_after_early_readings_is_not_lost() {
    let mut records: Vec<_> = (0..10).map(|i| reading(f64::from(i) * 0.1, 0.9)).collect();
    records.extend((10..60).map(|i| reading(f64::from(i) * 0.1, apart(i))));
    records.push(reading(6.0, 1.9));
    let alarms = check(&[], &records).of("alarm");
    let what: Vec<_> = alarms.iter().map(|alarm| alarm["what"].as_str().unwrap()).collect();
    assert_eq!(what, ["below-tolerance", "above-tolerance"]);
}

#[test]
fn a_diameter_smaller_than_anything_is_a_problem() {
    let ran = check(&[], &[reading(0.0, 1e-300)]);
    assert_eq!(ran.only("problem")["field"], "dx_mm", "{}", ran.text());
}

#[test]
fn a_machine_that_comes_late_is_told_how_to_come_in_time() {
    let late = json!({"kind":"machine","machine":"Q","does":"print","nominal_mm":1.75,"tolerance_mm":0.03});
    let problem = check(&[], &[reading(0.0, 1.75), late]).only("problem");
    assert_eq!(problem["code"], "too-late");
    assert!(problem["expected"].as_str().unwrap().contains("put them first"), "{problem}");
}

#[test]
fn a_spool_read_as_far_as_its_mass_makes_is_known_from_end_to_end() {
    // 1.75 mm at 1.27 g/cm3 is 3.055 g to the metre (area times density).
    let made = |mass_g: f64| {
        vec![
            json!({"kind":"material","material":"PETG","density_g_cm3":1.27}),
            json!({"kind":"lot","lot":"S","material":"PETG","form":"filament"}),
            json!({"kind":"weighing","step":"x","lot":"S","role":"out","mass_g":mass_g}),
        ]
    };
    let slow = |i: u32| 1.75 + 0.02 * (f64::from(i) / 40.0).sin();
    let close: Vec<_> = (0..200).map(|i| reading(f64::from(i) * 0.05, slow(i))).collect();
    let of = |mass_g| {
        verdict(&check(&[], &[made(mass_g), close.clone()].concat()), "diameter-tolerance")
    };
    assert_eq!(of(30.0)["result"], "conforms");
    let half = of(100.0);
    assert_eq!(half["result"], "undecided", "{half}");
    let apart: Vec<_> = (0..200).map(|i| reading(f64::from(i) * 0.05, apart(i))).collect();
    let said = verdict(&check(&[], &[made(100.0), apart].concat()), "diameter-tolerance");
    assert_eq!(said["result"], "undecided", "{said}");
    assert!(said["why"].as_str().unwrap().contains("of the 32.7 m that its mass makes"), "{said}");
}

#[test]
fn few_readings_close_together_say_nothing_of_the_whole_spool() {
    let mm = [1.751, 1.752, 1.751, 1.750, 1.751];
    let at = |step: f64| -> Vec<_> {
        mm.iter().enumerate().map(|(i, mm)| reading(i as f64 * step, *mm)).collect()
    };
    let said = verdict(&check(&[], &at(0.001)), "diameter-tolerance");
    assert_eq!(said["result"], "undecided", "{said}");
    assert_eq!(verdict(&check(&[], &at(2.0)), "diameter-tolerance")["result"], "conforms");
}

#[test]
fn an_oval_that_turns_slowly_is_seen_in_its_axes() {
    // The mean of the axes does not move at all.
    let line = |i: u32| {
        let w = 0.02 * (f64::from(i) / 30.0).sin();
        let mut record = reading(f64::from(i) * 0.05, apart(i) + w);
        record["dy_mm"] = json!(apart(i) - w);
        record
    };
    let said = verdict(&check(&[], &(0..100).map(line).collect::<Vec<_>>()), "diameter-tolerance");
    assert_eq!(said["result"], "undecided", "{said}");
}

#[test]
fn a_gap_among_the_first_readings_is_a_gap() {
    for first in [2_u32, 10] {
        let mut records: Vec<_> =
            (0..first).map(|i| reading(f64::from(i) * 0.05, apart(i))).collect();
        records.extend((0..70).map(|i| reading(300.0 + f64::from(i) * 0.05, apart(i))));
        let ran = check(&[], &records);
        assert_eq!(ran.of("log_gap").len(), 1, "{first}");
        let share = ran.only("out_share");
        assert!(share["length_m"].as_f64().unwrap() < 4.0, "{share}");
        assert!(share["kept_m"].as_f64().unwrap() < 4.0, "{share}");
        assert_eq!(verdict(&ran, "diameter-tolerance")["result"], "undecided", "{first}");
    }
}

#[test]
fn one_position_far_off_is_no_length_and_no_end() {
    for place in [1_usize, 5, 200] {
        let mut records: Vec<_> =
            (0..400).map(|i| reading(f64::from(i) * 0.05, apart(i))).collect();
        records[place]["position_m"] = json!(9999.0);
        let ran = check(&[], &records);
        let summary = ran.only("diameter_summary");
        assert!((summary["length_m"].as_f64().unwrap() - 19.95).abs() < 0.3, "{place}: {summary}");
        let share = ran.only("out_share");
        assert!(share["kept_m"].as_f64().unwrap() > 18.0, "{place}: {share}");
        assert!(!ran.of("problem").is_empty(), "{place}");
    }
}

#[test]
fn a_jitter_of_the_counter_of_length_neither_turns_nor_breaks_a_log() {
    let mut records: Vec<_> = (0..400).map(|i| reading(f64::from(i) * 0.05, apart(i))).collect();
    for i in (10..400_u32).step_by(10) {
        records[i as usize]["position_m"] = json!(f64::from(i - 1) * 0.05 - 0.01);
    }
    let share = check(&[], &records).only("out_share");
    assert_eq!(share["pieces"], 1, "{share}");
    assert!(share["kept_m"].as_f64().unwrap() > 19.0, "{share}");
    let mut first: Vec<_> =
        (0..200).map(|i| reading(0.05 + f64::from(i) * 0.05, apart(i))).collect();
    first[1]["position_m"] = json!(0.049);
    let summary = check(&[], &first).only("diameter_summary");
    assert!((summary["length_m"].as_f64().unwrap() - 9.95).abs() < 0.2, "{summary}");
}

#[test]
fn the_worst_of_several_gauges_guards_and_one_without_a_name_does_not_take_the_guard_away() {
    let gauge = |name: &str, u: f64| json!({"kind":"gauge","gauge":name,"u_mm":u});
    let of = |names: [Option<&str>; 2]| {
        let mut records = vec![gauge("A", 0.02), gauge("B", 0.0001)];
        for i in 0..400 {
            let mut record = reading(f64::from(i) * 0.1, if i == 200 { 1.799 } else { apart(i) });
            if let Some(name) = names[i as usize % 2] {
                record["gauge"] = json!(name);
            }
            records.push(record);
        }
        verdict(&check(&[], &records), "diameter-tolerance")
    };
    for names in [[Some("A"), Some("A")], [Some("A"), Some("B")], [Some("A"), None]] {
        assert_eq!(of(names)["result"], "undecided", "{names:?}");
    }
    assert_eq!(of([Some("B"), Some("B")])["result"], "conforms");
    let twice = check(&[], &[gauge("A", 0.04), gauge("A", 0.001), reading(0.0, 1.75)]);
    assert_eq!(twice.only("problem")["code"], "contradiction");
}

#[test]
fn a_log_by_time_that_comes_twice_counts_once_and_its_pauses_are_named() {
    let once: Vec<_> = (0..40).map(|i| timed(f64::from(i), apart(i))).collect();
    let twice = verdict(&check(&[], &[once.clone(), once].concat()), "diameter-tolerance");
    assert_eq!(twice["result"], "undecided", "{twice}");
    let mut paused: Vec<_> = (0..50).map(|i| timed(f64::from(i), apart(i))).collect();
    paused.extend((0..50).map(|i| timed(10_000.0 + f64::from(i), apart(i))));
    let said = verdict(&check(&[], &paused), "diameter-tolerance");
    assert_eq!(said["result"], "undecided", "{said}");
    assert!(said["why"].as_str().unwrap().contains("9951 s in 1 gap"), "{said}");
}

#[test]
fn capability_is_that_of_the_axis_that_differs() {
    let line = |i: u32| {
        let mut record = reading(f64::from(i) * 0.1, apart(i) + 0.03);
        record["dy_mm"] = json!(1.75);
        record
    };
    let found = check(&[], &(0..100).map(line).collect::<Vec<_>>()).only("capability");
    assert_eq!(found["axis"], "x", "{found}");
    assert!(found["ppk"].as_f64().unwrap() < 1.5, "{found}");
}

#[test]
fn the_middle_of_some_readings_tells_for_which_printers_a_spool_is_meant() {
    let thick = json!({"kind":"machine","machine":"T","does":"print","nominal_mm":2.85,"tolerance_mm":0.05});
    let mut records = vec![thick, reading(0.0, 2.05)];
    records.extend((1..100).map(|i| reading(f64::from(i) * 0.1, apart(i) + 1.1)));
    let ran = check(&[], &records);
    let share = ran.only("out_share");
    assert_eq!((&share["machine"], &share["readings_out"]), (&json!("T"), &json!(1)));
    assert_eq!(ran.of("alarm").len(), 1);
}
