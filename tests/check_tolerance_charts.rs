//! `check-tolerance`: control charts, alarms, running figures, gauge studies and sampling plans.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use common::{Ran, command, reference, run};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Write};
use std::process::Stdio;

/// Normal values that follow one another with a lag-1 autocorrelation.
fn following(seed: u64, n: usize, r: f64) -> Vec<f64> {
    let mut source = ChaCha8Rng::seed_from_u64(seed);
    let mut even = || (source.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
    let mut normal = || {
        let (u, v) = (1.0 - even(), even());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    };
    let mut x = normal();
    (0..n)
        .map(|_| {
            let now = x;
            x = r * x + (1.0 - r * r).sqrt() * normal();
            now
        })
        .collect()
}

/// Readings every 5 cm, to a micrometre.
fn spool(lot: &str, mm: impl IntoIterator<Item = f64>) -> String {
    let line = |(i, mm): (usize, f64)| {
        let at = i as f64 / 20.0;
        format!(r#"{{"kind":"diameter","lot":"{lot}","position_m":{at},"dx_mm":{mm:.3}}}"#) + "\n"
    };
    mm.into_iter().enumerate().map(line).collect()
}

/// A steady spool of 0.008 mm whose readings follow one another, `shift` higher from the middle on.
fn steady(lot: &str, seed: u64, metres: usize, shift: f64) -> String {
    let n = metres * 20;
    let noise = following(seed, n, 0.8).into_iter().enumerate();
    spool(lot, noise.map(|(i, z)| 1.75 + 0.008 * z + if i > n / 2 { shift } else { 0.0 }))
}

const PRINTER: &str = "{\"kind\":\"machine\",\"machine\":\"P\",\"does\":\"print\",\"nominal_mm\":1.75,\"tolerance_mm\":0.05}\n";

fn check(args: &[&str], stream: &str) -> Ran {
    let ran = run("check-tolerance", args, stream.as_bytes());
    assert_eq!(ran.status, 0, "{}", ran.stderr);
    ran
}

fn verdict(ran: &Ran, check: &str) -> Value {
    ran.of("verdict").into_iter().find(|verdict| verdict["check"] == check).unwrap()
}

#[test]
fn a_healthy_spool_whose_readings_follow_one_another_does_not_drown_in_signals() {
    let (mut far, mut runs, mut subgroups) = (0.0, 0.0, 0.0);
    for seed in 0..20 {
        let chart = check(&[], &steady("S", seed, 200, 0.0)).only("chart");
        subgroups += chart["subgroups"].as_f64().unwrap();
        let signals = |name: &str| chart["signals"][name].as_f64().unwrap();
        far += signals("mean") + signals("residual");
        runs += signals("one-side");
    }
    // Chance alone gives 0.27 % for each of two charts, and one in 64 for runs of seven.
    assert!(subgroups > 3900.0, "{subgroups}");
    assert!(far / subgroups < 0.012, "{far} of {subgroups}");
    assert!(runs / subgroups < 0.03, "{runs} of {subgroups}");
}

#[test]
fn every_signal_can_be_left_out() {
    let stream = steady("S", 1, 60, 0.03);
    let all = "mean,spread,residual,one-side,trend,two-of-three,four-of-five,alternating,hugging,avoiding,ewma,cusum";
    let chart = check(&["--signals", all], &stream).only("chart");
    assert_eq!(chart["signals"].as_object().unwrap().len(), 12, "{chart}");
    for name in all.split(',') {
        let one = check(&["--signals", name], &stream).only("chart");
        let signals = one["signals"].as_object().unwrap();
        assert_eq!(signals.keys().collect::<Vec<_>>(), [name]);
        assert_eq!(signals[name], chart["signals"][name]);
    }
    let none = check(&["--no-charts"], &stream);
    assert!(none.of("chart").is_empty() && none.of("chart_point").is_empty());
}

#[test]
fn limits_of_a_baseline_can_be_kept_and_fed_to_a_later_run() {
    let learned = check(&["--baseline", "A"], &steady("A", 3, 200, 0.0));
    let limits = learned.only("chart_limits");
    assert_eq!(limits["learned_from"], "A");
    // The mean of 20 readings with r = 0.8 scatters by 0.008 sqrt(9/20) about, less the ends.
    let sd = limits["mean_sd_mm"].as_f64().unwrap();
    assert!((0.004..0.0058).contains(&sd), "{limits}");
    let kept = format!("{limits}\n");

    let like = check(&[], &(kept.clone() + &steady("B", 4, 100, 0.0)));
    assert_eq!(like.only("chart")["limits_of"], "A");
    assert_eq!(verdict(&like, "like-baseline")["result"], "conforms", "{}", like.text());

    let shifted = check(&[], &(kept.clone() + &steady("C", 5, 100, 0.012)));
    let said = verdict(&shifted, "like-baseline");
    // A warning, and no refusal: how healthy lots differ is not known from one.
    assert_eq!(said["result"], "undecided", "{said}");
    assert!(said["why"].as_str().unwrap().contains("mm thicker"), "{said}");
    assert!(said["probability"].as_f64().unwrap() < 0.01, "{said}");
    // The shift begins at 50 m, and an alarm of the charts comes soon after it.
    let alarms = shifted.of("alarm").into_iter().filter(|alarm| alarm["what"] == "chart");
    let soon =
        alarms.filter_map(|alarm| alarm["at_m"].as_f64()).any(|at| (50.0..60.0).contains(&at));
    assert!(soon, "{}", shifted.text());

    // Another filament than that of the baseline is judged by its own limits.
    let thick = spool("D", following(6, 800, 0.5).into_iter().map(|z| 2.85 + 0.008 * z));
    assert!(check(&[], &(kept + &thick)).only("chart").get("limits_of").is_none());
}

#[test]
fn limits_that_cannot_be_learned_are_told_and_nothing_is_made_up() {
    let short = check(&["--baseline", "A"], &steady("A", 3, 5, 0.0));
    assert!(short.of("chart_limits").is_empty() && short.stderr.contains("20 subgroups"));
    let missing = check(&["--baseline", "X"], &steady("A", 3, 50, 0.0));
    assert!(missing.of("chart_limits").is_empty() && missing.stderr.contains("X has no readings"));
    let even = check(&["--baseline", "A"], &spool("A", vec![1.75; 2000]));
    assert!(even.of("chart_limits").is_empty() && even.of("chart").is_empty());
}

#[test]
fn an_alarm_is_out_while_the_stream_is_still_open_with_the_correction_of_the_puller() {
    let mut child = command("check-tolerance", &[])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let mut next = |what: &str| {
        lines
            .by_ref()
            .map(|line| serde_json::from_str::<Value>(&line.unwrap()).unwrap())
            .find(|record| record["kind"] == what)
            .unwrap()
    };
    let facts = r#"{"kind":"step","step":"e1","does":"extrude","settings":{"line_speed_m_min":5}}
{"kind":"weighing","step":"e1","lot":"S","role":"out"}
"#;
    stdin.write_all((PRINTER.to_owned() + facts).as_bytes()).unwrap();
    let steps = |n: usize, mm: f64| vec![mm; n];
    let mut all = steps(100, 1.75);
    all.extend(steps(41, 1.78));
    all.push(1.81);
    stdin.write_all(spool("S", all).as_bytes()).unwrap();
    stdin.flush().unwrap();
    // Nothing but this wait says that it is out: the input is not at its end.
    let mean = next("alarm");
    assert_eq!((&mean["what"], &mean["machine"]), (&json!("mean-off"), &json!("P")));
    let adjustment = next("adjustment");
    assert_eq!(
        (&adjustment["what"], &adjustment["from"]),
        (&json!("line_speed_m_min"), &json!(5.0))
    );
    // Mass continuity: 5 m/min times (1.78 / 1.75)^2.
    let to = adjustment["to"].as_f64().unwrap();
    assert!((to - 5.0 * (1.78_f64 / 1.75).powi(2)).abs() < 1e-6, "{adjustment}");
    let above = next("alarm");
    assert_eq!(above["what"], "above-tolerance");
    assert_eq!((&above["value_mm"], &above["limit_mm"]), (&json!(1.81), &json!(1.8)));
    assert_eq!(above["reading"], 142);
    drop(stdin);
    assert!(child.wait().unwrap().success());
}

#[test]
fn an_alarm_is_not_repeated_while_it_lasts() {
    let noise = following(9, 2000, 0.0);
    let stream = PRINTER.to_owned() + &spool("S", noise.iter().map(|z| 1.80 + 0.01 * z));
    let ran = check(&[], &stream);
    assert!(ran.of("excursion").len() > 100);
    assert_eq!(ran.of("alarm").len(), 2, "{}", ran.text());
    assert!(check(&["--no-alarms"], &stream).of("alarm").is_empty());
}

#[test]
fn running_figures_come_at_an_interval_of_length_or_readings() {
    let stream = steady("S", 2, 100, 0.0);
    let by_length: Vec<_> = check(&["--every", "25m"], &stream).of("diameter_so_far");
    assert_eq!(
        by_length.iter().map(|r| r["at_m"].as_f64().unwrap()).collect::<Vec<_>>(),
        [25.0, 50.0, 75.0]
    );
    let by_number = check(&["--every", "500"], &stream).of("diameter_so_far");
    assert_eq!(
        by_number.iter().map(|r| r["readings"].as_u64().unwrap()).collect::<Vec<_>>(),
        [500, 1000, 1500, 2000]
    );
    let wrong = run("check-tolerance", &["--every", "soon"], b"");
    assert_eq!(wrong.status, 2);
    assert!(wrong.stderr.contains("10s"), "{}", wrong.stderr);
}

/// Readings of a study in a reference file, by person, repeat and piece.
fn study(gauge: &str, readings: &Value) -> String {
    let mut stream = String::new();
    for (person, trials) in readings.as_array().unwrap().iter().enumerate() {
        for (trial, parts) in trials.as_array().unwrap().iter().enumerate() {
            for (part, mm) in parts.as_array().unwrap().iter().enumerate() {
                let reading = json!({"kind":"diameter","lot":"study","dx_mm":mm,"gauge":gauge,
                    "part":format!("p{part}"),"operator":format!("o{person}"),"trial":trial + 1});
                stream += &format!("{reading}\n");
            }
        }
    }
    stream
}

#[test]
fn a_gauge_study_gives_the_components_and_feeds_the_uncertainty() {
    // Computed with statsmodels; see the reference file.
    let case = reference("measurement_system.json", "diameter-study");
    let stream = PRINTER.to_owned() + &study("G", &case["inputs"]["readings"]);
    let steady: String = steady("S", 1, 60, 0.0).replace("\"dx_mm\"", "\"gauge\":\"G\",\"dx_mm\"");
    let ran = check(&[], &(stream + &steady));
    let found = ran.only("gauge_study");
    let expected = &case["expected"];
    let p = expected["table"]["p_interaction"].as_f64();
    let components =
        if p.is_some_and(|p| p <= 0.05) { &expected["unpooled"] } else { &expected["pooled"] };
    let near = |field: &str, key: &str| {
        let (found, expected) = (found[field].as_f64().unwrap(), components[key].as_f64().unwrap());
        assert!((found - expected).abs() < 2e-9, "{field}: {found}, expected {expected}");
    };
    near("repeatability_mm", "ev");
    near("reproducibility_mm", "av");
    near("parts_mm", "pv");
    near("gauge_mm", "grr");
    // The readings of the study are no spool; those of the spool are judged with its uncertainty.
    assert_eq!(ran.of("diameter_summary").len(), 1);
    assert!(verdict(&ran, "diameter-tolerance")["rule"].as_str().unwrap().contains("guarded"));
    assert!(!verdict(&ran, "gauge-fit")["why"].as_str().unwrap().is_empty());
}

#[test]
fn a_study_by_one_person_is_analysed_by_pieces_and_a_broken_one_is_told() {
    let reading = |part: &str, mm: f64| {
        format!("{}\n", json!({"kind":"diameter","lot":"s","dx_mm":mm,"gauge":"G","part":part}))
    };
    // Two pieces, two repeats 0.002 mm apart each: the variance of repeats is 2e-6.
    let one: String = [("a", 1.750), ("a", 1.752), ("b", 1.760), ("b", 1.762)]
        .map(|(p, d)| reading(p, d))
        .concat();
    let found = check(&[], &one).only("gauge_study");
    assert_eq!(
        (&found["operators"], &found["parts"], &found["trials"]),
        (&json!(1), &json!(2), &json!(2))
    );
    assert!((found["repeatability_mm"].as_f64().unwrap() - 2e-6_f64.sqrt()).abs() < 1e-9);
    assert!(found.get("reproducibility_mm").is_none());
    let once = check(&[], &[("a", 1.75), ("b", 1.76)].map(|(p, d)| reading(p, d)).concat());
    assert_eq!(verdict(&once, "gauge-study")["result"], "undecided");
}

#[test]
fn sampling_plans_say_how_many_readings_and_judge_them() {
    // n = 52, Ac = 2 and by variables n = 21 for 1 % and 10 %, 5 % and 10 %: computed with scipy 1.17.
    let by_hand = |n: usize, mm: &dyn Fn(usize) -> f64| {
        let line = |i| {
            format!("{}\n", json!({"kind":"diameter","lot":"S","position_m":i * 3,"dx_mm":mm(i)}))
        };
        PRINTER.to_owned() + &(0..n).map(line).collect::<String>()
    };
    let wobble = |i: usize| 1.745 + 0.005 * ((i * 7) % 3) as f64;
    let plans = ["--good-pct", "1", "--bad-pct", "10"];
    let few = check(&plans, &by_hand(10, &wobble));
    let [attributes, variables] = few.of("sampling_plan").try_into().unwrap();
    assert_eq!((&attributes["readings"], &attributes["allowed"]), (&json!(52), &json!(2)));
    assert_eq!(variables["readings"], 21);
    assert_eq!(verdict(&few, "sample-attributes")["result"], "undecided");
    assert!(verdict(&few, "sample-variables")["why"].as_str().unwrap().contains("11 more"));
    let enough = check(&plans, &by_hand(52, &wobble));
    assert_eq!(verdict(&enough, "sample-attributes")["result"], "conforms", "{}", enough.text());
    assert_eq!(verdict(&enough, "sample-variables")["result"], "conforms");
    let bad = check(&plans, &by_hand(20, &|i| if i % 5 == 0 { 1.85 } else { wobble(i) }));
    assert_eq!(verdict(&bad, "sample-attributes")["result"], "fails");
    assert_eq!(run("check-tolerance", &["--good-pct", "10", "--bad-pct", "1"], b"").status, 2);
    assert_eq!(run("check-tolerance", &["--good-pct", "1"], b"").status, 2);
}

#[test]
fn a_drift_and_a_wave_are_named_as_causes() {
    let n = 4000;
    let noise = following(11, n, 0.5);
    let drifting =
        noise.iter().enumerate().map(|(i, z)| 1.74 + 0.02 * i as f64 / n as f64 + 0.005 * z);
    let cause = check(&[], &spool("S", drifting)).only("cause");
    assert_eq!(cause["cause"], "drift");
    assert!(cause["why"].as_str().unwrap().contains("thicker by 0.02"), "{cause}");
    let wave = |(i, z): (usize, &f64)| {
        1.75 + 0.01 * z + 0.008 * (std::f64::consts::TAU * i as f64 / 20.0 / 0.7).sin()
    };
    let cause = check(&[], &spool("S", noise.iter().enumerate().map(wave))).only("cause");
    assert_eq!(cause["cause"], "unexplained-wave");
    // 0.008^2 / 2 over that and 0.01^2.
    let share = cause["share_pct"].as_f64().unwrap();
    assert!((share - 100.0 * 0.32 / 1.32).abs() < 5.0, "{cause}");
}

/// Ten readings made by hand, computed; see the reference file.
#[test]
fn a_spool_of_ten_readings_has_the_figures_of_the_reference() {
    let case = reference("filament_section.json", "spool-summary");
    let (inputs, expected) = (&case["inputs"], &case["expected"]);
    let mm = inputs["readings_mm"].as_array().unwrap().iter().map(|x| x.as_f64().unwrap());
    let ran = check(&["--no-charts"], &(PRINTER.to_owned() + &spool("S", mm)));
    let near = |found: &Value, name: &str, reach: f64| {
        let (found, expected) = (found.as_f64().unwrap(), expected[name].as_f64().unwrap());
        assert!((found / expected - 1.0).abs() < reach, "{name}: {found}, expected {expected}");
    };
    let (summary, capability) = (ran.only("diameter_summary"), ran.only("capability"));
    let reach = case["rel_tol"].as_f64().unwrap();
    near(&summary["mean_mm"], "mean_mm", reach);
    near(&summary["sd_mm"], "sd_mm", reach);
    near(&summary["area_mm"], "mean_square_diameter_mm", reach);
    near(&summary["min_mm"], "min_mm", reach);
    near(&summary["max_mm"], "max_mm", reach);
    // Its indices are those of the overall standard deviation.
    near(&capability["pp"], "cp", reach);
    near(&capability["ppk"], "cpk", reach);
    let error = ran.only("flow_fit")["error_pct"].as_f64().unwrap();
    assert!((1.0 + error / 100.0 - expected["flow_ratio"].as_f64().unwrap()).abs() < 1e-8);
}

#[test]
fn limits_that_make_no_sense_are_a_problem_and_judge_nothing() {
    let limits = check(&["--baseline", "A"], &steady("A", 3, 60, 0.0)).only("chart_limits");
    let with = |field: &str, value: f64| {
        let mut limits = limits.clone();
        limits[field] = json!(value);
        check(&[], &(format!("{limits}\n") + &steady("B", 4, 60, 0.0)))
    };
    for (field, value) in [("mean_low_mm", 1.9), ("mean_high_mm", 1.0), ("spread_high_mm", 0.0)] {
        let ran = with(field, value);
        assert_eq!(ran.only("problem")["code"], "contradiction", "{field}");
        assert!(ran.only("chart").get("limits_of").is_none(), "{field}");
    }
    for (field, value) in [
        ("lag1", 1.0),
        ("mean_sd_mm", 1e-6),
        ("mean_sd_mm", 1e-12),
        ("spread_sd_mm", 1.0),
        ("subgroups", 2.0),
    ] {
        assert_eq!(with(field, value).only("problem")["code"], "contradiction", "{field}");
    }
    // Limits of subgroups of another length do not judge these, and that is said.
    let other = with("subgroup_m", 5.0);
    assert!(other.only("chart").get("limits_of").is_none());
    let said = verdict(&other, "like-baseline");
    assert_eq!(said["result"], "undecided");
    assert!(said["why"].as_str().unwrap().contains("5.00 m"), "{said}");
}

#[test]
fn a_first_subgroup_that_is_not_like_the_others_does_not_keep_limits_from_judging() {
    let limits = check(&["--baseline", "A"], &steady("A", 3, 200, 0.0)).only("chart_limits");
    // The log begins with five readings a metre; then there are twenty, as in the baseline.
    let few = |i: usize| {
        let at = i as f64 / 5.0 - 4.0;
        format!(r#"{{"kind":"diameter","lot":"B","position_m":{at},"dx_mm":1.751}}"#) + "\n"
    };
    let stream = (0..20).map(few).collect::<String>() + &steady("B", 4, 100, 0.0);
    let ran = check(&["--gap-m", "10"], &(format!("{limits}\n") + &stream));
    let chart = ran.only("chart");
    assert_eq!(chart["limits_of"], "A");
    assert!((90..=100).contains(&chart["subgroups"].as_u64().unwrap()), "{chart}");
    assert_eq!(verdict(&ran, "like-baseline")["result"], "conforms", "{}", ran.text());
}

#[test]
fn a_long_baseline_teaches_subgroups_of_the_length_that_was_asked_for() {
    let limits =
        check(&["--baseline", "A", "--no-waves"], &steady("A", 3, 2500, 0.0)).only("chart_limits");
    assert!((limits["subgroup_m"].as_f64().unwrap() - 1.0).abs() < 1e-6, "{limits}");
    assert_eq!(limits["subgroups"], 2499);
    let long = check(&["--no-waves"], &(format!("{limits}\n") + &steady("B", 4, 1500, 0.0)));
    let chart = long.only("chart");
    assert_eq!((&chart["limits_of"], &chart["subgroups"]), (&json!("A"), &json!(1499)));
    assert!(long.of("chart_point").len() <= 1024);
}

#[test]
fn lots_that_do_not_go_together_are_no_baseline() {
    let thick = spool("D", following(6, 800, 0.5).into_iter().map(|z| 2.85 + 0.008 * z));
    let both = steady("A", 3, 40, 0.0) + &thick;
    let ran = check(&["--baseline", "A", "--baseline", "D"], &both);
    assert!(ran.of("chart_limits").is_empty());
    assert!(ran.stderr.contains("D is filament of another diameter"), "{}", ran.stderr);
    let two = steady("A", 3, 40, 0.0) + &steady("B", 4, 40, 0.0);
    let limits = check(&["--baseline", "A", "--baseline", "B"], &two).only("chart_limits");
    assert_eq!(limits["learned_from"], "A, B");
    assert!(limits["subgroups"].as_u64().unwrap() >= 76, "{limits}");
}

#[test]
fn points_without_positions_have_none() {
    let line = |(i, z): (usize, f64)| {
        format!("{}\n", json!({"kind":"diameter","lot":"S","time_s":i,"dx_mm":1.75 + 0.008 * z}))
    };
    let stream: String = following(1, 600, 0.3).into_iter().enumerate().map(line).collect();
    let points = check(&[], &stream).of("chart_point");
    assert!(!points.is_empty() && points.iter().all(|point| point.get("at_m").is_none()));
}

#[test]
fn a_gauge_whose_repeats_never_differ_is_not_taken_for_a_perfect_one() {
    let reading = |part: &str, mm: f64| {
        format!("{}\n", json!({"kind":"diameter","lot":"s","dx_mm":mm,"gauge":"G","part":part}))
    };
    let study =
        [("a", 1.75), ("a", 1.75), ("b", 1.76), ("b", 1.76)].map(|(p, d)| reading(p, d)).concat();
    let ran = check(&[], &(PRINTER.to_owned() + &study));
    let fit = verdict(&ran, "gauge-fit");
    assert_eq!(fit["result"], "undecided", "{fit}");
    assert!(fit["why"].as_str().unwrap().contains("never differ"));
}

#[test]
fn an_axis_that_never_differs_is_not_accepted_by_variables() {
    let line = |i: usize| {
        let dx = 1.745 + 0.005 * ((i * 7) % 3) as f64;
        format!(
            "{}\n",
            json!({"kind":"diameter","lot":"S","position_m":i * 3,"dx_mm":dx,"dy_mm":1.9})
        )
    };
    let stream = PRINTER.to_owned() + &(0..60).map(line).collect::<String>();
    let ran = check(&["--good-pct", "1", "--bad-pct", "10"], &stream);
    assert_eq!(verdict(&ran, "sample-attributes")["result"], "fails");
    assert_eq!(verdict(&ran, "sample-variables")["result"], "fails");
    let inside = stream.replace("\"dy_mm\":1.9,", "\"dy_mm\":1.75,");
    let ran = check(&["--good-pct", "1", "--bad-pct", "10"], &inside);
    assert_eq!(verdict(&ran, "sample-attributes")["result"], "conforms", "{}", ran.text());
    assert_eq!(verdict(&ran, "sample-variables")["result"], "undecided");
}

#[test]
fn plans_that_nobody_would_sample_by_are_refused() {
    for (good, bad) in [("10", "60"), ("1", "1.001"), ("5", "2")] {
        let ran = run("check-tolerance", &["--good-pct", good, "--bad-pct", bad], b"");
        assert_eq!(ran.status, 2, "{good} {bad}: {}", ran.stderr);
    }
}

#[test]
fn a_small_study_does_not_settle_whether_a_gauge_is_fine_enough() {
    let reading = |part: &str, mm: f64| {
        format!("{}\n", json!({"kind":"diameter","lot":"s","dx_mm":mm,"gauge":"G","part":part}))
    };
    // 0.001 mm of spread over a tenth of a millimetre is 6 %, and two degrees of freedom bear four times that.
    let small = [("a", 1.750), ("a", 1.7515), ("b", 1.760), ("b", 1.7612)];
    let ran = check(&[], &(PRINTER.to_owned() + &small.map(|(p, d)| reading(p, d)).concat()));
    let fit = verdict(&ran, "gauge-fit");
    assert!(fit["value"].as_f64().unwrap() < 10.0, "{fit}");
    assert_eq!(fit["result"], "undecided", "{fit}");
    let study = ran.only("gauge_study");
    let (sd, high) =
        (study["gauge_mm"].as_f64().unwrap(), study["gauge_high_mm"].as_f64().unwrap());
    // chi square with 2 degrees of freedom has 0.1026 below it with 5 % (-2 ln 0.95, exact).
    assert!((high / sd - (2.0 / (-2.0 * 0.95_f64.ln())).sqrt()).abs() < 1e-4, "{study}");
    let many: String = (0..25)
        .flat_map(|i| {
            let at = 1.74 + 0.0005 * f64::from(i);
            [at, at + 0.0008 * f64::from(i % 3 - 1)].map(|mm| reading(&format!("p{i}"), mm))
        })
        .collect();
    let fit = verdict(&check(&[], &(PRINTER.to_owned() + &many)), "gauge-fit");
    assert_eq!(fit["result"], "conforms", "{fit}");
}

#[test]
fn a_study_that_comes_twice_counts_once() {
    let case = reference("measurement_system.json", "diameter-study");
    let once = study("G", &case["inputs"]["readings"]);
    let twice = check(&[], &(once.clone() + &once));
    assert_eq!(twice.of("problem").len(), once.lines().count());
    assert!(twice.of("problem").iter().all(|problem| problem["code"] == "duplicate"));
    let (mut a, mut b) = (check(&[], &once).only("gauge_study"), twice.only("gauge_study"));
    (a["by"], b["by"]) = (json!(""), json!(""));
    assert_eq!(a, b);
}

#[test]
fn a_wave_that_averages_out_within_subgroups_does_not_set_a_lot_apart_from_itself() {
    let wavy = |lot: &str, seed| {
        let noise = following(seed, 4000, 0.0).into_iter().enumerate();
        let wave = |i: usize| 0.01 * (std::f64::consts::TAU * i as f64 / 20.0 / 0.37).sin();
        spool(lot, noise.map(|(i, z)| 1.75 + 0.005 * z + wave(i)))
    };
    let limits = check(&["--baseline", "A"], &wavy("A", 3)).only("chart_limits");
    for (lot, seed) in [("A", 3), ("B", 4), ("C", 5), ("D", 6)] {
        let ran = check(&["--no-waves"], &(format!("{limits}\n") + &wavy(lot, seed)));
        let said = verdict(&ran, "like-baseline");
        assert_eq!(said["result"], "conforms", "{lot}: {said}");
    }
}

#[test]
fn shares_beyond_both_limits_count_together() {
    // Centred, 4 % beyond either limit: 1.751 standard deviations (NIST handbook, 1.3.6.7.1).
    let sd = 0.05 / 1.7507;
    let mut accepted = 0;
    for seed in 0..60 {
        let noise = following(seed, 200, 0.0).into_iter();
        let stream = PRINTER.to_owned() + &spool("S", noise.map(|z| 1.75 + sd * z));
        let args = ["--good-pct", "1", "--bad-pct", "8", "--no-charts", "--no-alarms"];
        accepted +=
            u32::from(verdict(&check(&args, &stream), "sample-variables")["result"] == "conforms");
    }
    // At most 10 % were it one limit; both together are judged a little harder.
    assert!(accepted <= 12, "{accepted} of 60");
}
