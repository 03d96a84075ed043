//! `cycle-adjust`, run as a person runs it.

#![expect(clippy::expect_used, clippy::panic, reason = "a test says what is wrong by failing")]

use assert_cmd::cargo::cargo_bin_cmd;
use serde_json::{Value, json};

/// What the program wrote for some records, line by line.
fn adjust(records: &[Value]) -> Vec<Value> {
    let input: String = records.iter().map(|record| format!("{record}\n")).collect();
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

fn text<'a>(record: &'a Value, field: &str) -> &'a str {
    record[field].as_str().unwrap_or_else(|| panic!("no {field} in {record}"))
}

fn near(found: &Value, expected: f64, tolerance: f64, what: &str) {
    let x = found.as_f64().unwrap_or_else(|| panic!("{what}: found {found}"));
    let allowed = tolerance * expected.abs();
    assert!((x - expected).abs() <= allowed, "{what}: found {x}, expected {expected}");
}

fn floats(list: &Value) -> Vec<f64> {
    list.as_array().expect("a list").iter().map(|x| x.as_f64().expect("a number")).collect()
}

/// A case of the reference data.
fn case(file: &str, id: &str) -> Value {
    let data: Value = serde_json::from_str(file).expect("JSON");
    let cases = data["cases"].as_array().expect("cases");
    cases.iter().find(|case| case["id"] == id).unwrap_or_else(|| panic!("{id}")).clone()
}

const DIAMETER_FLOW: &str = include_str!("reference/diameter_flow.json");
const MELT_FLOW: &str = include_str!("reference/melt_flow.json");

fn extruder(nominal_mm: f64) -> Value {
    json!({"kind": "machine", "machine": "line", "does": "extrude", "nominal_mm": nominal_mm})
}

fn printer(name: &str, nominal_mm: f64) -> Value {
    json!({"kind": "machine", "machine": name, "does": "print", "nominal_mm": nominal_mm})
}

fn extrude(step: &str, speed: f64) -> Value {
    json!({"kind": "step", "step": step, "does": "extrude", "machine": "line",
        "settings": {"line_speed_m_min": speed}})
}

fn weighing(step: &str, lot: &str, role: &str) -> Value {
    json!({"kind": "weighing", "step": step, "lot": lot, "role": role})
}

fn diameter(lot: &str, mm: f64, sd_mm: f64, readings: u64, lag1: f64) -> Value {
    json!({"kind": "diameter_summary", "lot": lot, "readings": readings, "axes": 2,
        "mean_mm": mm, "sd_mm": sd_mm, "min_mm": mm, "max_mm": mm, "area_mm": mm, "lag1": lag1,
        "out_of_order": 0})
}

fn with(mut record: Value, field: &str, value: Value) -> Value {
    record[field] = value;
    record
}

/// A spool of a diameter that was drawn at 4 m/min, and what the line is to give.
fn spool(mm: f64, sd_mm: f64, readings: u64, lag1: f64) -> Vec<Value> {
    vec![
        extruder(1.75),
        extrude("extrude-1", 4.0),
        weighing("extrude-1", "spool", "out"),
        diameter("spool", mm, sd_mm, readings, lag1),
    ]
}

#[test]
fn the_puller_speed_is_that_of_mass_continuity() {
    let case = case(DIAMETER_FLOW, "puller-correction");
    let diameters = floats(&case["inputs"]["diameter_mm"]);
    let speeds = floats(&case["expected"]["speed_m_min"]);
    assert_eq!(
        (&case["inputs"]["target_mm"], &case["inputs"]["speed_m_min"]),
        (&json!(1.75), &json!(4.0))
    );
    for (mm, speed) in diameters.into_iter().zip(speeds) {
        let lines = adjust(&spool(mm, 0.01, 1000, 0.0));
        let change = one(&lines, "adjustment");
        near(&change["to"], speed, case["rel_tol"].as_f64().expect("rel_tol"), "speed");
        assert_eq!((&change["what"], &change["from"]), (&json!("line_speed_m_min"), &json!(4.0)));
        assert_eq!((&change["machine"], &change["lot"]), (&json!("line"), &json!("spool")));
        assert!(of_kind(&lines, "verdict").is_empty());
    }
}

#[test]
fn the_interval_of_the_speed_is_that_of_the_mean_diameter() {
    // Student t for 100 degrees of freedom, 0.975: 1.984 in the NIST/SEMATECH e-Handbook,
    // 1.3.6.7.2. 101 readings, no autocorrelation.
    let lines = adjust(&spool(1.80, 0.01, 101, 0.0));
    let change = one(&lines, "adjustment");
    let half = 1.984 * 0.01 / 101.0_f64.sqrt();
    for (name, mm) in [("low", 1.80 - half), ("high", 1.80 + half)] {
        near(&change[name], 4.0 * (mm / 1.75_f64).powi(2), 1e-6, name);
    }
    assert_eq!(change["confidence"], 0.95);
    let because = text(change, "because");
    assert!(because.contains("1.8000 mm, where 1.75 mm is wanted"), "{because}");
    assert!(because.contains("a bias of the gauge is not included"), "{because}");
}

#[test]
fn the_uncertainty_of_the_gauge_widens_the_interval() {
    // Half widths of 0.003 92 mm (1.959 964 times 0.002 mm) and of the mean add up as root sum
    // of squares (JCGM 100:2008, 5.1.2).
    let mut records = spool(1.80, 0.01, 101, 0.0);
    for record in records.iter_mut().filter(|r| r["kind"] == "diameter_summary") {
        record["gauge"] = json!("G");
    }
    records.push(json!({"kind":"gauge","gauge":"G","u_mm":0.002}));
    let lines = adjust(&records);
    let change = one(&lines, "adjustment");
    let half = (1.984 * 0.01 / 101.0_f64.sqrt()).hypot(1.959_964 * 0.002);
    for (name, mm) in [("low", 1.80 - half), ("high", 1.80 + half)] {
        near(&change[name], 4.0 * (mm / 1.75_f64).powi(2), 1e-6, name);
    }
    let because = text(change, "because");
    assert!(because.contains("standard uncertainty of 0.002 mm is included"), "{because}");
}

#[test]
fn readings_that_resemble_their_neighbours_count_for_less() {
    // 1000 readings with r = 0.7 count as 176.47 (AR(1), n (1 - r) / (1 + r)).
    let lines = adjust(&spool(1.80, 0.01, 1000, 0.7));
    let change = one(&lines, "adjustment");
    assert!(text(change, "because").contains("1000 readings count as 176 independent ones"));
    // t for 175.47 degrees of freedom, 0.975, computed with scipy 1.17: 1.973576.
    let half = 1.973_576 * 0.01 / 176.470_588_f64.sqrt();
    near(&change["low"], 4.0 * ((1.80 - half) / 1.75_f64).powi(2), 1e-6, "low");
}

/// A spool whose extruder has a tolerance.
fn tolerated(tolerance_mm: f64, mm: f64, sd_mm: f64, readings: u64, lag1: f64) -> Vec<Value> {
    let mut records = spool(mm, sd_mm, readings, lag1);
    records[0]["tolerance_mm"] = json!(tolerance_mm);
    records
}

#[test]
fn a_diameter_on_target_and_within_tolerance_asks_for_no_change() {
    // 1.76 mm with a half width of 1.984 times 0.06 / sqrt(101) = 0.0118 mm: 1.748 to 1.772 mm,
    // which holds 1.75 mm, reaches past a quarter of the tolerance and stays within all of it.
    let lines = adjust(&tolerated(0.05, 1.76, 0.06, 101, 0.0));
    let verdict = one(&lines, "verdict");
    assert_eq!(
        (&verdict["check"], &verdict["result"]),
        (&json!("puller-speed"), &json!("conforms"))
    );
    assert_eq!(
        (&verdict["value"], &verdict["limit"], &verdict["unit"]),
        (&json!(1.76), &json!(1.8), &json!("mm"))
    );
    // In binary, 2.85 - 0.05 is not 2.8.
    let mut wide = tolerated(0.05, 2.846, 0.06, 101, 0.0);
    wide[0]["nominal_mm"] = json!(2.85);
    assert_eq!(one(&adjust(&wide), "verdict")["limit"], 2.8);
    let why = text(verdict, "why");
    assert!(why.contains("between 1.7482 mm and 1.7718 mm"), "{why}");
    assert!(text(verdict, "rule").contains("within the tolerance"), "{verdict}");
    assert!(of_kind(&lines, "adjustment").is_empty() && of_kind(&lines, "caution").is_empty());
}

#[test]
fn an_interval_wider_than_the_tolerance_is_undecided_although_it_holds_the_target() {
    // 95 readings with r = 0.9 count as 5; t for 4 degrees of freedom, 0.975: 2.776 in the
    // NIST/SEMATECH e-Handbook, 1.3.6.7.2. Half width 2.776 * 0.08 / sqrt(5) = 0.0993 mm.
    let few = tolerated(0.05, 1.75, 0.08, 95, 0.9);
    // A gauge of u = 0.05 mm alone makes 1.96 * 0.05 = 0.098 mm.
    let mut coarse = tolerated(0.05, 1.751, 0.01, 1000, 0.0);
    coarse[3]["gauge"] = json!("G");
    coarse.push(json!({"kind": "gauge", "gauge": "G", "u_mm": 0.05}));
    for (records, part) in [(few, "between 1.6507 mm and 1.8493 mm"), (coarse, "0.05 mm of")] {
        let lines = adjust(&records);
        let verdict = one(&lines, "verdict");
        assert_eq!(verdict["result"], "undecided", "{verdict}");
        assert!(text(verdict, "why").contains(part), "{verdict}");
        assert_eq!(verdict["unit"], "mm");
        assert!(of_kind(&lines, "adjustment").is_empty());
    }
}

#[test]
fn without_a_tolerance_a_diameter_that_may_be_on_target_is_undecided() {
    let lines = adjust(&spool(1.751, 0.01, 100, 0.0));
    let verdict = one(&lines, "verdict");
    assert_eq!(verdict["result"], "undecided");
    assert!(text(verdict, "why").contains("`tolerance_mm`"), "{verdict}");
    assert_eq!((&verdict["value"], &verdict["limit"]), (&json!(1.751), &Value::Null));
}

#[test]
fn a_difference_within_a_quarter_of_the_tolerance_is_left_alone() {
    // 1000 readings of 0.01 mm: a half width of 0.0006 mm, so 1.755 mm is not 1.75 mm.
    for (tolerance_mm, changes) in [(0.05, 0), (0.02, 1)] {
        let lines = adjust(&tolerated(tolerance_mm, 1.755, 0.01, 1000, 0.0));
        assert_eq!(of_kind(&lines, "adjustment").len(), changes, "{tolerance_mm}");
        if changes == 0 {
            let verdict = one(&lines, "verdict");
            assert_eq!(verdict["result"], "conforms");
            assert!(text(verdict, "why").contains("a quarter of"), "{verdict}");
            assert!(text(verdict, "rule").contains("the lab's own, common practice"), "{verdict}");
        }
    }
}

#[test]
fn without_a_tolerance_of_its_own_the_line_keeps_that_of_the_tightest_printer_near() {
    let tolerant = |name: &str, nominal_mm: f64, tolerance_mm: f64| {
        with(printer(name, nominal_mm), "tolerance_mm", json!(tolerance_mm))
    };
    let mut records = spool(1.755, 0.01, 1000, 0.0);
    records.extend([tolerant("easy", 1.75, 0.08), tolerant("wide", 2.85, 0.001)]);
    let lines = adjust(&records);
    assert!(text(one(&lines, "verdict"), "why").contains("0.08 mm of machine easy"), "{lines:?}");
    records.push(tolerant("tight", 1.75, 0.01));
    assert_eq!(of_kind(&adjust(&records), "adjustment").len(), 1);
}

#[test]
fn too_few_or_equal_readings_leave_the_speed_undecided() {
    for (records, part) in [
        (spool(1.80, 0.01, 100, 0.99), "count as fewer than three"),
        (spool(1.80, 0.01, 2, 0.0), "there are 2 readings, and an interval takes at least three"),
        (spool(1.80, 0.0, 1, 0.0), "there is 1 reading, and an interval takes at least three"),
        (spool(1.80, 0.0, 100, 0.0), "gauge is too coarse"),
    ] {
        let lines = adjust(&records);
        let verdict = one(&lines, "verdict");
        assert_eq!(verdict["result"], "undecided");
        assert!(text(verdict, "why").contains(part), "{verdict}");
        assert!(of_kind(&lines, "adjustment").is_empty());
    }
}

#[test]
fn an_interval_that_reaches_past_the_machine_says_so() {
    // 1.80 mm asks for 4.232 m/min; 0.0197 mm more or less make 4.140 to 4.325 m/min.
    let mut records = spool(1.80, 0.1, 101, 0.0);
    records[0]["line_speed_max_m_min"] = json!(4.3);
    let lines = adjust(&records);
    let change = one(&lines, "adjustment");
    assert_eq!(change["high"], 4.3, "{change}");
    let because = text(change, "because");
    assert!(
        because.contains("of 4.140 to 4.325 m/min reaches above the 4.3 m/min of machine line"),
        "{because}"
    );
    let inside = adjust(&spool(1.80, 0.1, 101, 0.0));
    assert!(!text(one(&inside, "adjustment"), "because").contains("m/min"), "{inside:?}");
}

#[test]
fn a_wound_spool_is_traced_to_the_step_that_extruded_it() {
    let lines = adjust(&[
        diameter("spool", 1.80, 0.01, 1000, 0.0),
        weighing("wind-1", "spool", "out"),
        weighing("wind-1", "coil", "in"),
        json!({"kind": "step", "step": "wind-1", "does": "wind"}),
        weighing("extrude-1", "coil", "out"),
        extrude("extrude-1", 4.0),
        extruder(1.75),
    ]);
    assert_eq!(one(&lines, "adjustment")["step"], "extrude-1");
}

#[test]
fn without_a_nominal_of_its_own_the_line_aims_at_the_one_printer_near() {
    let with = |printers: &[Value]| {
        let mut records = spool(1.80, 0.01, 1000, 0.0);
        records.remove(0);
        records.extend_from_slice(printers);
        adjust(&records)
    };
    let lines = with(&[printer("a", 1.75), printer("b", 1.75), printer("c", 2.85)]);
    near(&one(&lines, "adjustment")["to"], 4.231_836_734_69, 1e-9, "speed");
    let lines = with(&[printer("a", 1.75), printer("b", 1.7)]);
    assert!(text(one(&lines, "verdict"), "why").contains("different diameters (1.7 mm, 1.75 mm)"));
    let lines = with(&[printer("c", 2.85)]);
    let verdict = one(&lines, "verdict");
    assert_eq!(verdict["result"], "undecided");
    assert!(text(verdict, "why").contains("no machine says which diameter"), "{verdict}");
}

#[test]
fn what_is_missing_is_named() {
    let mut unset = spool(1.80, 0.01, 1000, 0.0);
    unset[1] = json!({"kind": "step", "step": "extrude-1", "does": "extrude", "machine": "line"});
    assert!(text(one(&adjust(&unset), "verdict"), "why").contains("`line_speed_m_min`"));

    let mut two = spool(1.80, 0.01, 1000, 0.0);
    two.extend([extrude("extrude-2", 5.0), weighing("extrude-2", "spool", "out")]);
    assert!(text(one(&adjust(&two), "verdict"), "why").contains("(extrude-1, extrude-2)"));

    let mut unknown = spool(1.80, 0.01, 1000, 0.0);
    unknown.remove(1);
    assert!(text(one(&adjust(&unknown), "verdict"), "why").contains("no step that extrudes"));
}

#[test]
fn a_spool_that_no_step_made_has_no_puller_to_correct() {
    let lines = adjust(&[extruder(1.75), diameter("bought", 1.80, 0.01, 1000, 0.0)]);
    assert!(of_kind(&lines, "verdict").is_empty() && of_kind(&lines, "adjustment").is_empty());
}

#[test]
fn a_speed_beyond_the_machine_is_not_proposed() {
    for (mm, limit, side, screw) in [
        (1.80, json!({"line_speed_max_m_min": 4.2}), "above the 4.2 m/min", "slow the screw"),
        (1.70, json!({"line_speed_min_m_min": 3.8}), "below the 3.8 m/min", "speed the screw up"),
    ] {
        let mut records = spool(mm, 0.01, 1000, 0.0);
        let fields = limit.as_object().expect("fields").clone();
        records[0].as_object_mut().expect("a machine").extend(fields);
        let lines = adjust(&records);
        assert!(of_kind(&lines, "adjustment").is_empty());
        let verdict = one(&lines, "verdict");
        assert_eq!(verdict["result"], "undecided");
        let why = text(verdict, "why");
        assert!(why.contains(side) && why.contains(screw), "{why}");
        assert_eq!(verdict["unit"], "m/min");
        near(&verdict["value"], 4.0 * (mm / 1.75_f64).powi(2), 1e-12, "speed");
        assert_eq!(Some(&verdict["limit"]), limit.as_object().and_then(|f| f.values().next()));
        let caution = one(&lines, "caution");
        assert!(text(caution, "danger").contains(side), "{caution}");
        assert!(text(caution, "defer_to").contains("manual"), "{caution}");
    }
}

#[test]
fn the_nip_points_of_a_machine_are_named_once() {
    let mut records = spool(1.80, 0.01, 1000, 0.0);
    records.extend([
        weighing("extrude-1", "spool-2", "out"),
        diameter("spool-2", 1.79, 0.01, 1000, 0.0),
    ]);
    let lines = adjust(&records);
    assert_eq!(of_kind(&lines, "adjustment").len(), 2);
    let caution = one(&lines, "caution");
    assert_eq!(caution["machine"], "line");
    assert!(text(caution, "danger").contains("nip points"), "{caution}");
}

#[test]
fn a_diameter_of_zero_is_a_problem() {
    let lines = adjust(&spool(0.0, 0.01, 1000, 0.0));
    assert_eq!(one(&lines, "problem")["code"], "out-of-range");
}

#[test]
fn contradicting_machines_are_told_and_the_first_holds() {
    let mut records = spool(1.80, 0.01, 1000, 0.0);
    records.insert(1, extruder(2.85));
    let lines = adjust(&records);
    assert_eq!(one(&lines, "problem")["code"], "contradiction");
    near(&one(&lines, "adjustment")["to"], 4.231_836_734_69, 1e-9, "speed");
}

fn cut(lot: &str, grams: f64, seconds: f64) -> Value {
    json!({"kind": "melt_flow", "lot": lot, "temp_c": 230, "load_kg": 2.16, "cut_g": grams,
        "cut_s": seconds})
}

#[test]
fn one_cut_off_gives_a_mass_flow_rate_and_no_spread() {
    let case = case(MELT_FLOW, "mfr-cutoff");
    let x = |name: &str| case["inputs"][name].as_f64().expect(name);
    let lines = adjust(&[cut("caps", x("cutoff_mass_g"), x("cutoff_time_s"))]);
    let result = one(&lines, "melt_flow_result");
    let expected = case["expected"]["mfr_g_10min"].as_f64().expect("mfr");
    near(&result["mfr_g_10min"], expected, 1e-9, "mfr");
    assert_eq!((&result["cuts"], &result["spread_pct"]), (&json!(1), &Value::Null));
    let verdict = one(&lines, "verdict");
    assert_eq!(verdict["result"], "undecided");
    assert!(text(verdict, "why").contains("has 1 cut-off; at least 3"), "{verdict}");
}

#[test]
fn piston_travel_gives_volume_flow_and_melt_density() {
    let volume = case(MELT_FLOW, "mvr-piston");
    let density = case(MELT_FLOW, "melt-density");
    let seconds = volume["inputs"]["time_s"].as_f64().expect("time_s");
    let travel_cm = volume["inputs"]["piston_travel_cm"].as_f64().expect("travel");
    let mfr = density["inputs"]["mfr_g_10min"].as_f64().expect("mfr");
    let mut record = cut("caps", mfr * seconds / 600.0, seconds);
    record["stroke_mm"] = json!(10.0 * travel_cm);
    // A cut whose travel nobody read says nothing of density.
    let lines = adjust(&[record, cut("caps", 0.5, seconds)]);
    let result = one(&lines, "melt_flow_result");
    for (name, case) in [("mvr_cm3_10min", &volume), ("melt_density_g_cm3", &density)] {
        near(&result[name], case["expected"][name].as_f64().expect(name), 1e-9, name);
    }
}

#[test]
fn the_spread_of_the_cut_offs_keeps_or_discards_a_filling() {
    for (id, decision, part) in [
        ("cutoff-spread", "conforms", "differ by 1.6 % of their mean"),
        ("cutoff-spread-bad", "fails", "differ by 17.4 % of their mean: discard the filling"),
    ] {
        let case = case(MELT_FLOW, id);
        let seconds = case["inputs"]["cutoff_time_s"].as_f64().expect("time");
        let masses = floats(&case["inputs"]["cutoff_masses_g"]);
        let cuts: Vec<_> = masses.into_iter().map(|grams| cut("caps", grams, seconds)).collect();
        let lines = adjust(&cuts);
        let expected = case["expected"]["spread_pct_of_mean"].as_f64().expect("spread");
        near(&one(&lines, "melt_flow_result")["spread_pct"], expected, 1e-6, id);
        let verdict = one(&lines, "verdict");
        assert_eq!((&verdict["result"], &verdict["limit"]), (&json!(decision), &json!(15.0)));
        assert!(text(verdict, "why").contains(part), "{verdict}");
    }
}

#[test]
fn cuts_of_different_length_are_compared_by_their_rate() {
    let lines = adjust(&[cut("caps", 0.25, 30.0), cut("caps", 0.5, 60.0), cut("caps", 0.1, 12.0)]);
    let result = one(&lines, "melt_flow_result");
    near(&result["mfr_g_10min"], 5.0, 1e-12, "mfr");
    assert_eq!(one(&lines, "verdict")["result"], "conforms");
}

#[test]
fn fillings_are_told_apart_by_lot_run_temperature_and_load() {
    let mut other_run = cut("caps", 0.3, 30.0);
    other_run["run"] = json!("2");
    let mut hotter = cut("caps", 0.3, 30.0);
    hotter["temp_c"] = json!(190);
    let mut heavier = cut("caps", 0.3, 30.0);
    heavier["load_kg"] = json!(5);
    let cuts = [cut("caps", 0.25, 30.0), cut("lids", 0.25, 30.0), other_run, hotter, heavier];
    let lines = adjust(&cuts);
    assert_eq!(of_kind(&lines, "melt_flow_result").len(), 5);
    let runs = of_kind(&lines, "verdict").into_iter().map(|verdict| text(verdict, "why"));
    assert_eq!(runs.filter(|why| why.starts_with("run 2 at 230 C and 2.16 kg")).count(), 1);
}

#[test]
fn the_order_of_cut_offs_changes_nothing() {
    let mut cuts: Vec<_> =
        [0.2471, 0.2503, 0.2489, 0.2512, 0.2495].map(|grams| cut("caps", grams, 30.0)).to_vec();
    let forward = one(&adjust(&cuts), "melt_flow_result").clone();
    cuts.rotate_left(2);
    cuts.swap(0, 1);
    assert_eq!(forward, *one(&adjust(&cuts), "melt_flow_result"));
}

#[test]
fn a_rate_beyond_what_a_record_holds_is_a_problem() {
    let lines = adjust(&[cut("caps", 1e8, 1e-3)]);
    assert_eq!(one(&lines, "problem")["code"], "out-of-range");
    assert!(of_kind(&lines, "melt_flow_result").is_empty());
}

#[test]
fn the_example_in_the_help_works() {
    let help = cargo_bin_cmd!("cycle-adjust").arg("--help").assert().success();
    let help = String::from_utf8(help.get_output().stdout.clone()).expect("UTF-8");
    let example = help.split("Example:\n").nth(1).and_then(|rest| rest.split("\n\n").next());
    let program = assert_cmd::cargo::cargo_bin!("cycle-adjust");
    let folder = program.parent().expect("a folder").display();
    let script = format!("PATH={folder}:$PATH; {}", example.expect("an example"));
    let run = assert_cmd::Command::new("sh").args(["-c", &script]).assert().success();
    let found = String::from_utf8(run.get_output().stdout.clone()).expect("UTF-8");
    assert!(found.contains("\"cuts\":3") && found.contains("\"conforms\""), "{found}");
}
