//! `cycle-adjust` on melt flow by pass: drift, passes left, blend and temperature.

#![expect(clippy::expect_used, clippy::panic, reason = "a test says what is wrong by failing")]

use assert_cmd::cargo::cargo_bin_cmd;
use serde_json::{Value, json};

/// What the program wrote for some records, line by line.
fn adjust(records: &[Value]) -> Vec<Value> {
    let input: String = records.iter().map(|record| format!("{record}\n")).collect();
    adjust_text(&input)
}

fn adjust_text(input: &str) -> Vec<Value> {
    let output = cargo_bin_cmd!("cycle-adjust").write_stdin(input).assert().success();
    let text = String::from_utf8(output.get_output().stdout.clone()).expect("UTF-8");
    text.lines().map(|line| serde_json::from_str(line).expect(line)).collect()
}

fn of_kind<'a>(lines: &'a [Value], kind: &str) -> Vec<&'a Value> {
    lines.iter().filter(|line| line["kind"] == kind).collect()
}

fn one<'a>(lines: &'a [Value], kind: &str) -> &'a Value {
    match of_kind(lines, kind).as_slice() {
        [line] => line,
        other => panic!("{} {kind} in {lines:#?}", other.len()),
    }
}

/// The one verdict of a check.
fn verdict<'a>(lines: &'a [Value], check: &str) -> &'a Value {
    let found: Vec<_> =
        of_kind(lines, "verdict").into_iter().filter(|v| v["check"] == check).collect();
    match found.as_slice() {
        [line] => line,
        other => panic!("{} {check} in {lines:#?}", other.len()),
    }
}

fn number(record: &Value, field: &str) -> f64 {
    record[field].as_f64().unwrap_or_else(|| panic!("no {field} in {record}"))
}

fn near(found: f64, expected: f64, tolerance: f64, what: &str) {
    assert!((found - expected).abs() <= tolerance * expected.abs(), "{what}: {found}, {expected}");
}

fn says(record: &Value, field: &str, part: &str) {
    let text = record[field].as_str().unwrap_or_else(|| panic!("no {field} in {record}"));
    assert!(text.contains(part), "{text}");
}

fn lot(name: &str, material: &str, passes: u64) -> Value {
    json!({"kind": "lot", "lot": name, "material": material, "passes": passes})
}

/// A cut-off of 60 s that gives a flow rate.
fn cut_at(name: &str, temp_c: f64, run: &str, mfr: f64) -> Value {
    json!({"kind": "melt_flow", "lot": name, "temp_c": temp_c, "load_kg": 2.16,
        "cut_g": mfr / 10.0, "cut_s": 60, "run": run})
}

fn cut(name: &str, mfr: f64) -> Value {
    cut_at(name, 230.0, "1", mfr)
}

fn max(limit: f64) -> Value {
    json!({"kind": "limit", "what": "mfr_g_10min", "material": "PP", "max": limit,
        "unit": "g/10 min"})
}

/// The flow rates of case `drift-fit`, a lot for each pass.
fn passes() -> (Value, Vec<Value>) {
    let file: Value =
        serde_json::from_str(include_str!("reference/reprocessing.json")).expect("JSON");
    let cases = file["cases"].as_array().expect("cases");
    let case = cases.iter().find(|case| case["id"] == "drift-fit").expect("drift-fit").clone();
    let rates = case["inputs"]["mfr"].as_array().expect("rates").clone();
    let mut records = Vec::new();
    for (passes, mfr) in (0..).zip(rates) {
        let name = format!("pass-{passes}");
        records.push(lot(&name, "PP", passes));
        records.push(cut(&name, mfr.as_f64().expect("a rate")));
    }
    (case, records)
}

/// What case `one-family` of the lines by pass expects: the same rates, as logarithms.
fn line_case() -> Value {
    let file: Value =
        serde_json::from_str(include_str!("reference/drift_by_pass.json")).expect("JSON");
    file["cases"].as_array().expect("cases")[0]["expected"].clone()
}

#[test]
fn the_factor_and_the_next_pass_are_those_of_the_reference_cases() {
    let (case, mut records) = passes();
    records.push(max(10.0));
    let lines = adjust(&records);
    let drift = one(&lines, "melt_flow_drift");
    near(number(drift, "factor_per_pass"), number(&case["expected"], "factor_per_pass"), 1e-8, "f");
    let expected = line_case();
    let interval = &expected["prediction_interval"];
    near(number(drift, "next_g_10min"), number(&expected, "at").exp(), 1e-8, "next");
    for (field, i) in [("next_low_g_10min", 0), ("next_high_g_10min", 1)] {
        near(number(drift, field), interval[i].as_f64().expect("an end").exp(), 1e-8, field);
    }
    assert_eq!((&drift["lots"], &drift["next_pass"]), (&json!(6), &json!(6)));
    let held = verdict(&lines, "melt-flow-next-pass");
    assert_eq!(held["result"], "conforms");
    near(number(held, "probability"), number(&expected, "probability_below"), 1e-8, "p");
    let left = one(&lines, "passes_left");
    for (field, name) in [("at_pass", "x"), ("low", "low"), ("high", "high")] {
        near(number(left, field), number(&expected["crossing"], name), 1e-8, field);
    }
    assert_eq!((&left["passes"], &left["left"]), (&json!(5), &json!(1)));
}

#[test]
fn the_order_of_the_records_changes_nothing() {
    let (_, mut records) = passes();
    records.push(max(9.0));
    let own = |lines: &[Value]| -> Vec<Value> {
        lines
            .iter()
            .filter(|line| line.get("by").is_some())
            .cloned()
            .map(|mut line| {
                line["by"].take();
                line
            })
            .collect()
    };
    let forward = own(&adjust(&records));
    records.reverse();
    assert_eq!(forward, own(&adjust(&records)));
}

#[test]
fn a_limit_that_the_next_pass_may_pass_is_undecided_and_one_it_passes_fails() {
    let (_, records) = passes();
    for (limit, result) in [(9.2, "undecided"), (8.0, "fails"), (20.0, "conforms")] {
        let mut records = records.clone();
        records.push(max(limit));
        assert_eq!(verdict(&adjust(&records), "melt-flow-next-pass")["result"], result, "{limit}");
    }
    // Without a limit the drift is told, and that nothing says how far it may go.
    let lines = adjust(&records);
    says(verdict(&lines, "melt-flow-next-pass"), "why", "no `limit` of `mfr_g_10min`");
}

#[test]
fn thin_evidence_is_undecided_and_says_which_test_would_help_most() {
    let two = [lot("a", "PP", 0), cut("a", 4.0), lot("b", "PP", 1), cut("b", 4.6)];
    let one_pass = [lot("a", "PP", 1), cut("a", 4.0), lot("b", "PP", 1), cut("b", 4.6)];
    let unknown = [json!({"kind": "lot", "lot": "a", "material": "PP"}), cut("a", 4.0)];
    for (records, part) in [
        (two.as_slice(), "one more lot tested"),
        (one_pass.as_slice(), "test a lot before or after another pass"),
        (unknown.as_slice(), "the number of `passes` in the records of a"),
    ] {
        let lines = adjust(records);
        let thin = verdict(&lines, "melt-flow-drift");
        assert_eq!(thin["result"], "undecided");
        says(thin, "why", part);
        assert!(of_kind(&lines, "adjustment").is_empty());
        assert!(of_kind(&lines, "melt_flow_drift").is_empty());
    }
}

#[test]
fn a_drift_that_bends_is_not_trusted() {
    let rates = [5.0, 5.05, 5.2, 5.5, 6.1, 7.2, 9.0];
    let mut records = vec![max(100.0)];
    for (passes, mfr) in (0..).zip(rates) {
        let name = format!("pass-{passes}");
        records.extend([lot(&name, "PP", passes), cut(&name, mfr)]);
    }
    let lines = adjust(&records);
    says(verdict(&lines, "melt-flow-straight"), "why", "stabiliser");
    assert_eq!(verdict(&lines, "melt-flow-next-pass")["result"], "undecided");
}

#[test]
fn a_filling_that_is_to_be_discarded_is_not_on_the_line() {
    let (_, mut records) = passes();
    let clean = adjust(&records);
    let bad = |grams: f64| {
        json!({"kind": "melt_flow", "lot": "pass-3", "temp_c": 230,
        "load_kg": 2.16, "cut_g": grams, "cut_s": 60, "run": "bubbles"})
    };
    records.extend([bad(0.3), bad(0.6), bad(0.9)]);
    let lines = adjust(&records);
    let factor = |lines: &[Value]| number(one(lines, "melt_flow_drift"), "factor_per_pass");
    assert_eq!(factor(&lines), factor(&clean));
}

/// Three passes of one family, its weighings, and virgin pellets beside it.
fn with_virgin() -> Vec<Value> {
    let (_, mut records) = passes();
    let weighing = |step: &str, lot: &str, role: &str| json!({"kind": "weighing", "step": step, "lot": lot, "role": role});
    for pass in 1..6 {
        let step = format!("extrude-{pass}");
        records.push(json!({"kind": "step", "step": step, "does": "extrude", "machine": "line",
            "settings": {"melt_c": 220}}));
        records.push(weighing(&step, &format!("pass-{}", pass - 1), "in"));
        records.push(weighing(&step, &format!("pass-{pass}"), "out"));
    }
    records.push(
        json!({"kind": "lot", "lot": "virgin", "material": "PP", "passes": 0, "origin": "virgin"}),
    );
    records.push(cut("virgin", 4.0));
    records
        .push(json!({"kind": "machine", "machine": "line", "does": "extrude", "melt_min_c": 150,
        "melt_max_c": 280}));
    records
}

fn card(melt_min_c: f64, melt_max_c: f64) -> Value {
    json!({"kind": "material", "material": "PP", "melt_min_c": melt_min_c, "melt_max_c": melt_max_c,
        "activation_min_kj_mol": 35, "activation_max_kj_mol": 45})
}

#[test]
fn the_share_of_a_younger_lot_brings_the_feed_to_its_target_by_both_rules() {
    let mut records = with_virgin();
    records.push(json!({"kind": "limit", "what": "mfr_g_10min", "material": "PP", "target": 6,
        "unit": "g/10 min"}));
    let lines = adjust(&records);
    let share = one(&lines, "blend_share");
    assert_eq!((&share["lot"], &share["added"]), (&json!("pass-5"), &json!("virgin")));
    // ln 6 = (1 - w) ln 8.05 + w ln 4, and the same of rates to the power -1/3.4.
    let logarithmic = (8.05_f64 / 6.0).ln() / (8.05_f64 / 4.0).ln();
    near(number(share, "share_pct"), 100.0 * logarithmic, 1e-9, "share");
    let power = |x: f64| x.powf(-1.0 / 3.4);
    let by_power = (power(6.0) - power(8.05)) / (power(4.0) - power(8.05));
    near(number(share, "share_power_pct"), 100.0 * by_power, 1e-9, "power share");
    let changes = of_kind(&lines, "adjustment");
    let change = changes.iter().find(|c| c["what"] == "younger_share_pct").expect("a share");
    let (low, to, high) = (number(change, "low"), number(change, "to"), number(change, "high"));
    assert!(0.0 <= low && low < to && to < high && high <= 100.0, "{change}");
    assert!(low <= 100.0 * by_power && 100.0 * by_power <= high, "{change}");
}

#[test]
fn a_target_that_no_blend_reaches_or_no_younger_lot_is_undecided() {
    let target = |mfr: f64| {
        json!({"kind": "limit", "what": "mfr_g_10min", "material": "PP",
        "target": mfr, "unit": "g/10 min"})
    };
    let mut records = with_virgin();
    records.push(target(2.0));
    says(verdict(&adjust(&records), "blend-share"), "why", "no blend of it with lot virgin");
    let alike = [
        lot("a", "PP", 1),
        cut("a", 4.0),
        lot("b", "PP", 2),
        cut("b", 4.4),
        lot("c", "PP", 2),
        cut("c", 4.6),
        lot("d", "PP", 2),
        cut("d", 4.5),
        target(3.0),
    ];
    assert_eq!(verdict(&adjust(&alike), "blend-share")["result"], "undecided");
}

#[test]
fn the_melt_temperature_follows_the_drift_within_the_window() {
    let mut records = with_virgin();
    records.push(card(200.0, 250.0));
    let lines = adjust(&records);
    let change = one(&lines, "adjustment");
    assert_eq!((&change["what"], &change["from"]), (&json!("melt_c"), &json!(220.0)));
    // 1/T2 = 1/T1 + R/E ln(factor) with E = 40 kJ/mol.
    let factor = number(one(&lines, "melt_flow_drift"), "factor_per_pass");
    let to = 1.0 / (1.0 / 493.15 + 8.314_462_618 / 40_000.0 * factor.ln()) - 273.15;
    near(number(change, "to"), to, 1e-9, "temperature");
    assert!(number(change, "low") < to && to < number(change, "high") && to < 220.0);
    // The range of a card is no interval of a known confidence, and claims none.
    assert_eq!(change["confidence"], 0.0);
    says(one(&lines, "caution"), "defer_to", "safety data sheet");
}

#[test]
fn a_melt_temperature_outside_the_window_is_not_proposed() {
    let mut records = with_virgin();
    records.push(card(218.0, 250.0));
    let lines = adjust(&records);
    assert!(of_kind(&lines, "adjustment").is_empty());
    let beyond = verdict(&lines, "melt-temperature");
    assert_eq!((&beyond["result"], &beyond["limit"]), (&json!("undecided"), &json!(218.0)));
    says(beyond, "why", "blend with a younger lot instead");
    assert_eq!(of_kind(&lines, "caution").len(), 1);
}

#[test]
fn an_activation_energy_that_the_lab_measured_wins_over_its_card() {
    let mut records = with_virgin();
    records.push(card(150.0, 280.0));
    // 60 kJ/mol between 210 and 230 C, with a little scatter.
    let ratio = (60_000.0 / 8.314_462_618 * (1.0 / 483.15 - 1.0 / 503.15_f64)).exp();
    for (run, off) in [("2", 1.004), ("3", 0.996)] {
        records.push(cut_at("pass-2", 230.0, run, 5.2 * off));
        records.push(cut_at("pass-2", 210.0, run, 5.2 / ratio * off));
    }
    let lines = adjust(&records);
    let energy = one(&lines, "flow_activation");
    near(number(energy, "energy_kj_mol"), 60.0, 0.01, "energy");
    assert!(number(energy, "low_kj_mol") < 60.0 && 60.0 < number(energy, "high_kj_mol"));
    let change = one(&lines, "adjustment");
    says(change, "basis", "measured by the lab");
    assert_eq!(change["confidence"], 0.95);
    // Another energy, at a load at which no drift was seen, changes nothing.
    let to = number(change, "to");
    for (temp_c, mfr) in [(230.0, 2.0), (230.0, 2.02), (210.0, 1.5), (210.0, 1.52)] {
        let mut light = cut_at("pass-3", temp_c, &mfr.to_string(), mfr);
        light["load_kg"] = json!(1.2);
        records.push(light);
    }
    let lines = adjust(&records);
    assert_eq!(of_kind(&lines, "flow_activation").len(), 2);
    near(number(one(&lines, "adjustment"), "to"), to, 1e-12, "temperature");
}

#[test]
fn what_is_missing_for_a_temperature_is_named() {
    let records = with_virgin();
    let of_no_card: Vec<Value> = records
        .iter()
        .map(|record| serde_json::from_str(&record.to_string().replace("PP", "XX")).expect("JSON"))
        .collect();
    says(
        verdict(&adjust(&of_no_card), "melt-temperature"),
        "why",
        "no activation energy of XX is known",
    );
    // The card of PP has one, and a window.
    let lines = adjust(&records);
    let change = of_kind(&lines, "adjustment").into_iter().find(|a| a["what"] == "melt_c");
    assert!(
        change.is_some_and(|change| number(change, "low") < number(change, "high")),
        "{lines:?}"
    );
    let mut cold = records.clone();
    cold.push(card(200.0, 250.0));
    for record in cold.iter_mut().filter(|record| record["kind"] == "step") {
        record["settings"] = json!({});
    }
    says(verdict(&adjust(&cold), "melt-temperature"), "why", "its setting `melt_c`");
}

#[test]
fn what_comes_out_of_a_blend_is_a_family_of_its_own() {
    let mut records = with_virgin();
    records.push(json!({"kind": "step", "step": "mix", "does": "blend"}));
    for (lot, role) in [("pass-5", "in"), ("virgin", "in"), ("mixed", "out")] {
        records.push(json!({"kind": "weighing", "step": "mix", "lot": lot, "role": role}));
    }
    let clean = number(one(&adjust(&records), "melt_flow_drift"), "factor_per_pass");
    records.extend([lot("mixed", "PP", 6), cut("mixed", 5.0)]);
    let lines = adjust(&records);
    let drifts = of_kind(&lines, "melt_flow_drift");
    assert_eq!(drifts.len(), 2);
    // The blend starts anew at its own rate, and drifts as the others do.
    for drift in drifts {
        near(number(drift, "factor_per_pass"), clean, 1e-12, "factor");
    }
}

#[test]
fn stress_rate_and_viscosity_are_those_of_the_reference_case() {
    let file: Value = serde_json::from_str(include_str!("reference/melt_flow.json")).expect("JSON");
    let cases = file["cases"].as_array().expect("cases");
    let case = cases.iter().find(|case| case["id"] == "apparent-viscosity").expect("the case");
    let (mfr, mvr) =
        (number(&case["inputs"], "mfr_g_10min"), number(&case["expected"], "mvr_cm3_10min"));
    let mut record = cut("caps", mfr);
    record["stroke_mm"] = json!(mvr * 60.0 / 427.0 * 10.0);
    let lines = adjust(&[record]);
    let found = one(&lines, "melt_viscosity");
    for (field, name) in [
        ("stress_pa", "stress_Pa"),
        ("shear_rate_per_s", "shear_rate_per_s"),
        ("viscosity_pa_s", "viscosity_Pa_s"),
    ] {
        near(number(found, field), number(&case["expected"], name), 1e-6, field);
    }
}

#[test]
fn two_fillings_of_a_lot_show_how_well_a_test_repeats() {
    let cuts = [("a", "1", 5.0), ("a", "2", 5.1), ("b", "1", 6.0), ("b", "2", 6.0)]
        .map(|(lot, run, mfr)| cut_at(lot, 230.0, run, mfr));
    let mut records = cuts.to_vec();
    records.extend([lot("a", "PP", 0), lot("b", "PP", 1)]);
    let lines = adjust(&records);
    let found = one(&lines, "melt_flow_repeatability");
    // Half the squared difference of logarithms, over two lots.
    let sd = ((5.1_f64 / 5.0).ln().powi(2) / 4.0).sqrt();
    near(number(found, "sd_pct"), 100.0 * sd, 1e-9, "sd");
    // Student t for 2 degrees of freedom, 0.975: 4.303 (NIST/SEMATECH e-Handbook, 1.3.6.7.2).
    near(number(found, "limit_pct"), 4.303 * std::f64::consts::SQRT_2 * 100.0 * sd, 1e-3, "r");
}

#[test]
fn bad_figures_get_a_clear_answer() {
    let kelvin = cut_at("a", 503.15, "1", 5.0);
    let lines = adjust(&[kelvin]);
    let problem = one(&lines, "problem");
    assert_eq!((&problem["code"], &problem["field"]), (&json!("out-of-range"), &json!("temp_c")));
    says(problem, "advice", "230.00 C");
    assert!(of_kind(&lines, "melt_flow_result").is_empty());
    for field in ["cut_g", "cut_s"] {
        let mut zero = cut("a", 5.0);
        zero[field] = json!(0);
        let lines = adjust(&[zero]);
        let problem = one(&lines, "problem");
        assert_eq!((&problem["code"], &problem["field"]), (&json!("out-of-range"), &json!(field)));
    }
}

/// One lab in two tables: in the units of the records, and in others.
#[test]
fn the_same_facts_in_other_units_give_the_same_findings() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).to_str().expect("UTF-8").to_owned();
    let (_, records) = passes();
    let (mut metric, mut other) = (
        "lot,temp (°C),load (kg),cut-off mass (g),cut-off time (s),stroke (mm)\n".to_owned(),
        "lot,temp (°F),load (lb),cut-off mass (oz),cut-off time (min),stroke (in)\n".to_owned(),
    );
    for record in of_kind(&records, "melt_flow") {
        let (name, grams) = (record["lot"].as_str().expect("a lot"), number(record, "cut_g"));
        metric += &format!("{name},230,2.16,{grams},60,{}\n", grams * 20.0);
        let (load, mass) = (2.16 / 0.453_592_37, grams / 28.349_523_125);
        other += &format!("{name},446,{load},{mass},1,{}\n", grams * 20.0 / 25.4);
    }
    std::fs::write(path("metric.csv"), metric).expect("written");
    std::fs::write(path("other.csv"), other).expect("written");
    let findings = |file: &str| -> Vec<Value> {
        let output = cargo_bin_cmd!("ingest").args(["melt_flow", &path(file)]).assert().success();
        let mut input: String =
            of_kind(&records, "lot").iter().map(|lot| format!("{lot}\n")).collect();
        input += &format!("{}\n", max(10.0));
        input += &String::from_utf8(output.get_output().stdout.clone()).expect("UTF-8");
        let lines = adjust_text(&input);
        assert!(of_kind(&lines, "problem").is_empty(), "{lines:#?}");
        lines.into_iter().filter(|line| line.get("by").is_some()).collect()
    };
    let (metric, other) = (findings("metric.csv"), findings("other.csv"));
    assert!(metric.len() > 20 && metric.len() == other.len());
    metric.iter().zip(&other).for_each(|(a, b)| alike(a, b));
}

/// Two findings that say the same, numbers to a part in 10^9.
fn alike(a: &Value, b: &Value) {
    let fields = |record: &Value| record.as_object().expect("an object").clone();
    assert_eq!(fields(a).len(), fields(b).len());
    for (name, value) in fields(a).iter().filter(|(name, _)| *name != "by") {
        match value.as_f64() {
            Some(x) => near(number(b, name), x, 1e-9, name),
            None => assert_eq!(value, &b[name], "{name}"),
        }
    }
}
