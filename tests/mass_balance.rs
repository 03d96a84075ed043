//! `mass-balance`, run as a person runs it.

#![expect(clippy::expect_used, clippy::panic, reason = "a test says what is wrong by failing")]

use assert_cmd::cargo::cargo_bin_cmd;
use serde_json::{Value, json};

/// What the program wrote for some records, line by line.
fn balance(records: &[Value]) -> Vec<Value> {
    let input: String = records.iter().map(|record| format!("{record}\n")).collect();
    let output = cargo_bin_cmd!("mass-balance").write_stdin(input).assert().success();
    let text = String::from_utf8(output.get_output().stdout.clone()).expect("UTF-8");
    text.lines().map(|line| serde_json::from_str(line).expect(line)).collect()
}

/// The one finding of a kind about a step or a lot.
fn about<'a>(lines: &'a [Value], kind: &str, of: &str) -> &'a Value {
    let names = |line: &&Value| line["step"] == of || line["lot"] == of;
    let mut found = lines.iter().filter(|line| line["kind"] == kind).filter(names);
    let first = found.next().unwrap_or_else(|| panic!("no {kind} of {of} in {lines:#?}"));
    assert_eq!(found.next(), None, "more than one {kind} of {of}");
    first
}

fn has(lines: &[Value], kind: &str, of: &str) -> bool {
    lines.iter().any(|line| line["kind"] == kind && (line["step"] == of || line["lot"] == of))
}

fn why(verdict: &Value) -> &str {
    verdict["why"].as_str().expect("why")
}

fn weighing(step: &str, lot: &str, role: &str, mass_g: f64, u_g: f64) -> Value {
    json!({"kind": "weighing", "step": step, "lot": lot, "role": role, "mass_g": mass_g, "u_g": u_g})
}

/// The same without its mass or without its uncertainty.
fn without(mut record: Value, field: &str) -> Value {
    record.as_object_mut().expect("a record").remove(field).expect(field);
    record
}

/// The same with one more field.
fn with(mut record: Value, field: &str, value: Value) -> Value {
    record[field] = value;
    record
}

fn near(found: &Value, expected: f64, tolerance: f64, what: &str) {
    let x = found.as_f64().unwrap_or_else(|| panic!("{what}: found {found}"));
    assert!((x - expected).abs() <= tolerance, "{what}: found {x}, expected {expected}");
}

fn reference() -> Vec<Value> {
    let text = include_str!("reference/step_balance.json");
    let data: Value = serde_json::from_str(text).expect("JSON");
    data["cases"].as_array().expect("cases").clone()
}

fn case(id: &str) -> Value {
    reference().into_iter().find(|case| case["id"] == id).unwrap_or_else(|| panic!("{id}"))
}

fn floats(list: &Value) -> Vec<f64> {
    list.as_array().expect("a list").iter().map(|x| x.as_f64().expect("a number")).collect()
}

/// A published network as weighings: its nodes are steps, its streams are lots.
fn network(inputs: &Value) -> Vec<Value> {
    let (masses, sigmas) = (floats(&inputs["measured"]), floats(&inputs["sigma"]));
    let mut records = Vec::new();
    for (node, row) in inputs["incidence"].as_array().expect("rows").iter().enumerate() {
        for (stream, sign) in floats(row).into_iter().enumerate().filter(|(_, sign)| *sign != 0.0) {
            let role = if sign > 0.0 { "in" } else { "out" };
            let (step, lot) = (format!("node-{node}"), format!("stream-{stream}"));
            records.push(weighing(&step, &lot, role, masses[stream], sigmas[stream]));
        }
    }
    records
}

#[test]
fn published_networks_balance_as_published() {
    let networks: Vec<_> =
        reference().into_iter().filter(|case| case["inputs"]["incidence"].is_array()).collect();
    assert_eq!(networks.len(), 5);
    for case in networks {
        let lines = balance(&network(&case["inputs"]));
        let expected = &case["expected"];
        let tolerance = case["abs_tol"].as_f64().expect("abs_tol");
        let conforms = expected["conforms"].as_array().expect("conforms");
        let residuals = floats(&expected["residuals"]);
        for (node, residual) in residuals.into_iter().enumerate() {
            let step = format!("node-{node}");
            let what = format!("{} {step}", case["id"]);
            let found = about(&lines, "step_balance", &step);
            near(&found["unexplained_g"], residual, tolerance, &what);
            let u = floats(&expected["u_residuals"])[node];
            near(&found["u_unexplained_g"], u, tolerance, &what);
            let result = if conforms[node] == true { "conforms" } else { "fails" };
            assert_eq!(about(&lines, "verdict", &step)["result"], result, "{what}");
        }
    }
}

#[test]
fn the_display_of_a_scale_gives_the_uncertainty_of_its_weighings() {
    for case in [case("display-resolution"), case("rectangular-limits")] {
        let resolutions = floats(&case["inputs"]["resolution_g"]);
        for (resolution, u) in resolutions.into_iter().zip(floats(&case["expected"]["u_g"])) {
            let of_scale = without(weighing("dry-1", "flakes", "in", 900.0, 0.0), "u_g");
            let lines = balance(&[
                with(of_scale, "scale", json!("bench")),
                weighing("dry-1", "dry flakes", "out", 900.0, 0.0),
                json!({"kind": "scale", "scale": "bench", "resolution_g": resolution}),
            ]);
            let found = &about(&lines, "step_balance", "dry-1")["u_unexplained_g"];
            near(found, u, 1e-9 * u, "u of the display");
        }
    }
}

#[test]
fn a_stated_uncertainty_goes_before_that_of_the_scale_and_its_display() {
    let own = with(weighing("s", "a", "in", 10.0, 0.5), "scale", json!("bench"));
    let scaled = without(weighing("s", "b", "out", 10.0, 0.0), "u_g");
    let lines = balance(&[
        json!({"kind": "scale", "scale": "bench", "u_g": 1.2, "resolution_g": 0.01}),
        own,
        with(scaled, "scale", json!("bench")),
    ]);
    // 0.5 and 1.2 make 1.3: 5, 12, 13.
    near(&about(&lines, "step_balance", "s")["u_unexplained_g"], 1.3, 1e-12, "u");
}

#[test]
fn uncertainties_of_all_streams_add_up_by_squares() {
    let case = case("root-sum-of-squares");
    let u = floats(&case["inputs"]["u_g"]);
    let lines = balance(&[
        weighing("extrude-1", "flakes", "in", 1000.0, u[0]),
        weighing("extrude-1", "spool", "out", 900.0, u[1]),
        weighing("extrude-1", "flakes", "purge", 60.0, u[2]),
        weighing("extrude-1", "flakes", "off-tolerance", 30.0, u[3]),
    ]);
    let found = about(&lines, "step_balance", "extrude-1");
    let expected = case["expected"]["u_g"].as_f64().expect("u_g");
    near(&found["u_unexplained_g"], expected, 1e-9 * expected, "u");
    assert_eq!(found["losses"], json!({"purge_g": 60.0, "off_tolerance_g": 30.0}));
    assert_eq!(found["unexplained_g"], 10.0);
}

#[test]
fn the_yield_has_the_uncertainty_of_a_quotient() {
    let case = case("yield");
    let rows = case["inputs"]["rows"].as_array().expect("rows");
    for (n, row) in rows.iter().map(floats).enumerate() {
        let lines = balance(&[
            weighing("extrude-1", "spool", "out", row[0], row[1]),
            weighing("extrude-1", "flakes", "in", row[2], row[3]),
        ]);
        let found = about(&lines, "step_balance", "extrude-1");
        for name in ["yield_pct", "u_yield_pct"] {
            let expected = floats(&case["expected"][name])[n];
            near(&found[name], expected, 1e-9 * expected, name);
        }
    }
}

#[test]
fn a_difference_beyond_the_weighings_fails_and_says_how_far() {
    let lines = balance(&[
        weighing("shred-1", "caps", "in", 1000.0, 0.5),
        weighing("shred-1", "flakes", "out", 780.0, 0.5),
        weighing("shred-1", "caps", "dust", 8.0, 0.0),
    ]);
    let verdict = about(&lines, "verdict", "shred-1");
    assert_eq!(verdict["result"], "fails");
    assert_eq!(verdict["value"], 212.0);
    // 2 sqrt(0.5^2 + 0.5^2)
    near(&verdict["limit"], 2.0_f64.sqrt(), 1e-12, "limit");
    assert_eq!(
        why(verdict),
        "212.0 g more went in than came out; the weighings explain at most 1.41 g"
    );
}

#[test]
fn decimal_masses_that_cancel_leave_no_rounding_behind() {
    // In binary, 0.3 - 0.1 - 0.2 is not zero.
    let lines = balance(&[
        weighing("s", "a", "in", 0.3, 0.0),
        weighing("s", "b", "out", 0.1, 0.0),
        weighing("s", "c", "out", 0.2, 0.0),
    ]);
    assert_eq!(about(&lines, "step_balance", "s")["unexplained_g"], 0.0);
    assert_eq!(about(&lines, "verdict", "s")["result"], "conforms");
}

#[test]
fn a_stream_that_was_not_weighed_gets_the_difference_as_its_estimate() {
    let lines = balance(&[
        weighing("shred-1", "caps", "in", 500.0, 0.4),
        weighing("shred-1", "flakes", "out", 480.0, 0.3),
        without(weighing("shred-1", "caps", "dust", 1.0, 0.1), "mass_g"),
    ]);
    let found = about(&lines, "step_balance", "shred-1");
    assert_eq!((&found["not_weighed"], &found["losses"]), (&json!(1), &json!({})));
    let verdict = about(&lines, "verdict", "shred-1");
    assert_eq!(verdict["result"], "undecided");
    assert_eq!(
        why(verdict),
        "dust of lot caps (line 3) was not weighed; the balance puts it at 20.0 g ± 1.0 g if all else is right, which it cannot check: weigh it next time"
    );
}

#[test]
fn an_estimate_is_written_to_the_digits_that_its_uncertainty_knows() {
    // Two significant digits of the uncertainty at most, and the value to the same decimals
    // (JCGM 100:2008, 7.2.6): 2 sqrt(0.1^2 + 0.2236^2) = 0.49, 2 * 6.2 = 12.4.
    for (fed, u, text) in [
        (11.7, [0.1, 0.2236], "1.70 g ± 0.49 g"),
        (505.23, [6.2, 0.0], "495 g ± 12 g"),
        (11.7, [0.0, 0.0], "1.70 g ± 0.00 g"),
    ] {
        let lines = balance(&[
            weighing("shred-1", "caps", "in", fed, u[0]),
            weighing("shred-1", "flakes", "out", 10.0, u[1]),
            without(weighing("shred-1", "caps", "dust", 1.0, 0.1), "mass_g"),
        ]);
        let verdict = about(&lines, "verdict", "shred-1");
        assert!(why(verdict).contains(text), "{verdict}");
    }
}

#[test]
fn an_unweighed_loss_cannot_excuse_more_out_than_in() {
    let lines = balance(&[
        weighing("shred-1", "caps", "in", 480.0, 0.4),
        weighing("shred-1", "flakes", "out", 500.0, 0.3),
        without(weighing("shred-1", "caps", "dust", 1.0, 0.1), "mass_g"),
    ]);
    let verdict = about(&lines, "verdict", "shred-1");
    assert_eq!(verdict["result"], "fails");
    assert!(why(verdict).contains("20.0 g more came out than went in even without"), "{verdict}");
}

#[test]
fn an_unknown_uncertainty_leaves_the_step_undecided_and_says_what_to_do() {
    let lines = balance(&[
        weighing("dry-1", "flakes", "in", 500.0, 0.4),
        without(weighing("dry-1", "dry flakes", "out", 499.0, 0.0), "u_g"),
    ]);
    let verdict = about(&lines, "verdict", "dry-1");
    assert_eq!(verdict["result"], "undecided");
    let text = why(verdict);
    assert!(text.contains("out of lot dry flakes (line 2)"), "{text}");
    assert!(text.contains("`u_g`") && text.contains("`resolution_g`"), "{text}");
    assert!(text.starts_with("1.00 g more went in than came out; the uncertainty of"), "{text}");
    let found = about(&lines, "step_balance", "dry-1");
    assert_eq!(found["u_unexplained_g"], Value::Null);
    assert_eq!(found["yield_pct"], 99.8);
}

#[test]
fn an_unknown_uncertainty_does_not_hide_how_much_is_missing() {
    let unsure = |lot: &str, role: &str, mass_g: f64| {
        without(weighing("dry-1", lot, role, mass_g, 0.0), "u_g")
    };
    let dry = unsure("dry flakes", "out", 1100.0);
    let lines = balance(&[unsure("flakes", "in", 1195.0), dry.clone()]);
    let verdict = about(&lines, "verdict", "dry-1");
    assert!(why(verdict).starts_with("95.0 g more went in than came out; the"), "{verdict}");
    assert_eq!((&verdict["result"], &verdict["value"]), (&json!("undecided"), &json!(95.0)));

    let lines = balance(&[unsure("flakes", "in", 1100.0), dry.clone()]);
    let verdict = about(&lines, "verdict", "dry-1");
    assert!(why(verdict).starts_with("as much went in as came out; the"), "{verdict}");

    let dust = without(unsure("flakes", "dust", 1.0), "mass_g");
    let lines = balance(&[unsure("flakes", "in", 1195.0), dry.clone(), dust]);
    let verdict = about(&lines, "verdict", "dry-1");
    assert!(
        why(verdict).starts_with(
            "95.0 g more went in than came out without dust of lot flakes (line 3), which was not weighed; the"
        ),
        "{verdict}"
    );

    let used = without(weighing("extrude-1", "dry flakes", "in", 1120.0, 0.0), "u_g");
    let lines = balance(&[unsure("flakes", "in", 1195.0), dry.clone(), used.clone()]);
    let verdict = about(&lines, "verdict", "dry flakes");
    assert!(
        why(verdict).starts_with("20.0 g more was used than was made (1120.0 g of 1100.0 g); the"),
        "{verdict}"
    );

    let stock = without(weighing("stocktaking", "dry flakes", "stock", 30.0, 0.0), "u_g");
    let lines = balance(&[unsure("flakes", "in", 1195.0), dry, used, stock]);
    let verdict = about(&lines, "verdict", "dry flakes");
    assert!(
        why(verdict).starts_with("50.0 g more are used or left than were made; the uncertainty of"),
        "{verdict}"
    );
}

#[test]
fn what_is_known_of_a_scale_by_its_display_alone_is_said_to_be_rounding_only() {
    let on = |scale: &str, lot: &str, role: &str, mass_g: f64| {
        let record = without(weighing("dry-1", lot, role, mass_g, 0.0), "u_g");
        with(record, "scale", json!(scale))
    };
    let bench = json!({"kind": "scale", "scale": "bench", "resolution_g": 0.1});
    for (mass_g, result) in [(500.0, "conforms"), (499.9, "fails")] {
        let records =
            [bench.clone(), on("bench", "wet", "in", 500.0), on("bench", "dry", "out", mass_g)];
        let lines = balance(&records);
        let verdict = about(&lines, "verdict", "dry-1");
        assert_eq!(verdict["result"], result);
        let said = "only the display step of scale bench is known, so repeatability and calibration \
                    are not in this";
        assert!(why(verdict).ends_with(said), "{verdict}");
        let rule = verdict["rule"].as_str().expect("rule");
        assert!(rule.contains("rounding to the display step only for scale bench"), "{rule}");
    }
    // A lot, too; and a scale of which more is known is not named.
    let lines = balance(&[
        bench.clone(),
        on("bench", "wet", "in", 500.0),
        on("bench", "dry", "out", 500.0),
        weighing("extrude-1", "dry", "in", 400.0, 0.1),
    ]);
    assert!(why(about(&lines, "verdict", "dry")).contains("scale bench"), "{lines:?}");
    let known = with(bench, "u_g", json!(0.2));
    let lines =
        balance(&[known, on("bench", "wet", "in", 500.0), on("bench", "dry", "out", 499.9)]);
    let verdict = about(&lines, "verdict", "dry-1");
    assert!(!verdict.to_string().contains("display"), "{verdict}");
}

#[test]
fn a_step_with_one_side_missing_is_undecided() {
    let lines = balance(&[
        json!({"kind": "step", "step": "wash-1", "does": "wash"}),
        json!({"kind": "step", "step": "sort-1", "does": "sort"}),
        json!({"kind": "step", "step": "dry-1", "does": "dry"}),
        weighing("sort-1", "waste", "out", 500.0, 0.4),
        weighing("dry-1", "flakes", "in", 500.0, 0.4),
    ]);
    for (step, text) in
        [("wash-1", "went in or came out"), ("sort-1", "went in"), ("dry-1", "came out")]
    {
        let verdict = about(&lines, "verdict", step);
        assert_eq!((&verdict["result"], &verdict["value"]), (&json!("undecided"), &Value::Null));
        assert!(why(verdict).ends_with(text), "{verdict}");
    }
}

#[test]
fn stock_belongs_to_the_lot_and_not_to_the_step() {
    let lines = balance(&[
        weighing("extrude-1", "flakes", "in", 1000.0, 0.5),
        weighing("extrude-1", "spool", "out", 1000.0, 0.5),
        weighing("extrude-1", "flakes", "stock", 300.0, 0.5),
        weighing("stocktaking", "flakes", "stock", 300.0, 0.5),
    ]);
    assert_eq!(about(&lines, "step_balance", "extrude-1")["unexplained_g"], 0.0);
    assert!(!has(&lines, "step_balance", "stocktaking"));
    assert_eq!(about(&lines, "lot_balance", "flakes")["stock_g"], 300.0);
}

/// 500 g of flakes made, 300 g used.
fn flakes() -> Vec<Value> {
    let used = weighing("extrude-1", "flakes", "in", 300.0, 0.3);
    vec![
        weighing("shred-1", "caps", "in", 500.0, 0.4),
        weighing("shred-1", "flakes", "out", 500.0, 0.4),
        with(used, "at", json!("2026-03-02T09:00:00+01:00")),
    ]
}

#[test]
fn a_lot_is_balanced_against_its_latest_stock_weighing() {
    let mut records = flakes();
    let stock = |mass: f64, at: &str| {
        with(weighing("stocktaking", "flakes", "stock", mass, 1.2), "at", json!(at))
    };
    records.push(stock(198.0, "2026-03-02T12:00:00+01:00"));
    // Earlier, although it stands later and its hour looks later.
    records.push(stock(190.0, "2026-03-02T13:00:00+03:00"));
    let lines = balance(&records);
    let found = about(&lines, "lot_balance", "flakes");
    assert_eq!((&found["made_g"], &found["used_g"]), (&json!(500.0), &json!(300.0)));
    assert_eq!((&found["stock_g"], &found["unexplained_g"]), (&json!(198.0), &json!(2.0)));
    assert_eq!(found["used_pct"], 60.0);
    // 0.3, 0.4 and 1.2 make 1.3.
    near(&found["u_unexplained_g"], 1.3, 1e-12, "u");
    assert_eq!(about(&lines, "verdict", "flakes")["result"], "conforms");
}

#[test]
fn a_stock_that_does_not_fit_fails() {
    let mut records = flakes();
    records.push(weighing("stocktaking", "flakes", "stock", 150.0, 1.2));
    let lines = balance(&records);
    let verdict = about(&lines, "verdict", "flakes");
    assert_eq!((&verdict["result"], &verdict["value"]), (&json!("fails"), &json!(50.0)));
    assert_eq!(
        why(verdict),
        "50.0 g of what was made are neither used nor left; the weighings explain at most 2.60 g"
    );
}

#[test]
fn a_stock_weighed_before_the_last_use_is_not_held_against_the_lot() {
    let mut records = flakes();
    let stock = weighing("stocktaking", "flakes", "stock", 500.0, 1.2);
    records.push(with(stock, "at", json!("2026-03-01T09:00:00+01:00")));
    let lines = balance(&records);
    let verdict = about(&lines, "verdict", "flakes");
    assert_eq!(verdict["result"], "undecided");
    assert!(why(verdict).contains("step extrude-1 after its stock was weighed"), "{verdict}");
    assert_eq!(about(&lines, "lot_balance", "flakes")["unexplained_g"], Value::Null);
}

#[test]
fn a_lot_of_which_more_is_used_than_was_made_fails() {
    let mut records = flakes();
    records.push(weighing("extrude-2", "flakes", "in", 203.0, 0.0));
    let lines = balance(&records);
    let verdict = about(&lines, "verdict", "flakes");
    assert_eq!((&verdict["result"], &verdict["value"]), (&json!("fails"), &json!(3.0)));
    assert_eq!(verdict["limit"], 1.0);
    assert!(why(verdict).starts_with("3.00 g more was used than was made (503.0 g of 500.0 g)"));
}

#[test]
fn a_lot_that_is_used_up_has_nothing_left() {
    let mut records = flakes();
    records.push(weighing("extrude-2", "flakes", "in", 200.0, 0.0));
    let lines = balance(&records);
    let verdict = about(&lines, "verdict", "flakes");
    assert_eq!(verdict["result"], "conforms");
    assert!(why(verdict).contains("; 0.0 g are left by the books"), "{verdict}");
}

#[test]
fn without_a_stock_weighing_only_what_was_used_beyond_what_was_made_is_judged() {
    let made = weighing("shred-1", "flakes", "out", 500.0, 0.1);
    let lines = balance(&[made, weighing("extrude-1", "flakes", "in", 484.8, 0.1)]);
    let verdict = about(&lines, "verdict", "flakes");
    assert_eq!((&verdict["result"], &verdict["value"]), (&json!("conforms"), &json!(0.0)));
    near(&verdict["limit"], 2.0 * 0.02_f64.sqrt(), 1e-12, "limit");
    assert_eq!(
        why(verdict),
        "484.8 g were used of 500.0 g made; 15.2 g are left by the books and were not weighed"
    );
    let rule = verdict["rule"].as_str().expect("rule");
    assert!(rule.starts_with("used - made <= 2 u, one-sided, since no stock weighing"), "{rule}");
}

#[test]
fn what_cannot_be_judged_of_a_lot_has_no_value() {
    let mut records = flakes();
    let stock = weighing("stocktaking", "flakes", "stock", 500.0, 1.2);
    records.push(with(stock, "at", json!("2026-03-01T09:00:00+01:00")));
    let unweighed = without(weighing("extrude-2", "flakes", "in", 1.0, 0.1), "mass_g");
    for more in [vec![], vec![unweighed]] {
        let lines = balance(&[records.clone(), more].concat());
        let verdict = about(&lines, "verdict", "flakes");
        assert_eq!((&verdict["result"], &verdict["value"]), (&json!("undecided"), &Value::Null));
    }
}

#[test]
fn a_lot_that_no_step_made_is_a_source_and_gets_no_verdict() {
    let lines = balance(&flakes());
    assert!(has(&lines, "lot_balance", "caps"));
    assert!(!has(&lines, "verdict", "caps"));
}

#[test]
fn a_loss_under_its_own_name_is_a_lot_that_was_made() {
    let lines = balance(&[
        weighing("extrude-1", "flakes", "in", 1000.0, 0.3),
        weighing("extrude-1", "spool", "out", 900.0, 0.3),
        weighing("extrude-1", "purgings", "purge", 60.0, 0.3),
        weighing("extrude-1", "flakes", "dust", 10.0, 0.3),
        weighing("extrude-1", "spool", "off-tolerance", 30.0, 0.3),
        weighing("shred-2", "purgings", "in", 60.0, 0.3),
    ]);
    assert_eq!(about(&lines, "lot_balance", "purgings")["made_g"], 60.0);
    assert_eq!(about(&lines, "lot_balance", "flakes")["made_g"], 0.0);
    assert_eq!(about(&lines, "lot_balance", "spool")["made_g"], 900.0);
}

#[test]
fn the_same_source_line_is_counted_once_and_told() {
    let source = json!({"file": "weighings.csv", "line": 2});
    let fed = with(weighing("dry-1", "flakes", "in", 500.0, 0.4), "src", source.clone());
    // A row may hold two weighings: the same line is not yet the same weighing.
    let other = with(weighing("dry-1", "dry flakes", "out", 499.8, 0.3), "src", source);
    let lines = balance(&[fed.clone(), other, fed]);
    let found = about(&lines, "step_balance", "dry-1");
    assert_eq!((&found["in_g"], &found["weighings"]), (&json!(500.0), &json!(2)));
    let problem = about(&lines, "problem", "flakes");
    assert_eq!((&problem["code"], &problem["line"]), (&json!("duplicate"), &json!(3)));
    assert_eq!(problem["found"], "weighings.csv line 2 a second time");
}

#[test]
fn the_same_file_read_under_another_name_is_counted_once_and_told() {
    let row = |line: u64, lot: &str, role: &str| {
        let source = json!({"file": "weighings.csv", "line": line});
        with(weighing("dry-1", lot, role, 500.0, 0.4), "src", source)
    };
    let mut records = vec![row(2, "flakes", "in"), row(3, "dry flakes", "out")];
    for mut again in records.clone() {
        again["src"]["file"] = json!("copies/weighings.csv");
        records.push(again);
    }
    let lines = balance(&records);
    let found = about(&lines, "step_balance", "dry-1");
    assert_eq!((&found["in_g"], &found["weighings"]), (&json!(500.0), &json!(2)));
    let problem = about(&lines, "problem", "flakes");
    assert_eq!((&problem["code"], &problem["line"]), (&json!("duplicate"), &json!(3)));
    assert_eq!(
        problem["found"],
        "the weighing of weighings.csv line 2 again, as copies/weighings.csv line 2"
    );
    assert!(problem["advice"].as_str().expect("advice").contains("its time (`at`)"), "{problem}");

    // Another time, or another line, is another weighing.
    let mut later = row(2, "flakes", "in");
    later["src"]["file"] = json!("tuesday.csv");
    later["at"] = json!("2026-03-03T09:00:00+01:00");
    let mut below = row(4, "flakes", "in");
    below["src"]["file"] = json!("tuesday.csv");
    let lines = balance(&[row(2, "flakes", "in"), later, below]);
    assert_eq!(about(&lines, "step_balance", "dry-1")["in_g"], 1500.0);
}

#[test]
fn a_step_that_no_record_describes_is_told_once_where_others_are_described() {
    let source = json!({"file": "weighings.csv", "line": 7});
    let mut records = vec![
        with(weighing("shred-l", "caps", "in", 500.0, 0.4), "src", source),
        weighing("shred-l", "flakes", "out", 499.8, 0.4),
    ];
    assert!(!balance(&records).iter().any(|line| line["kind"] == "problem"));
    records.push(json!({"kind": "step", "step": "shred-1", "does": "shred"}));
    let lines = balance(&records);
    let problems: Vec<_> = lines.iter().filter(|line| line["kind"] == "problem").collect();
    assert_eq!(problems.len(), 1);
    assert_eq!((&problems[0]["code"], &problems[0]["line"]), (&json!("not-described"), &json!(7)));
    assert_eq!(problems[0]["found"], "step shred-l");
    assert_eq!(about(&lines, "verdict", "shred-l")["result"], "conforms");
}

#[test]
fn contradicting_steps_and_scales_are_told_and_the_first_holds() {
    let scaled = without(weighing("s", "a", "in", 10.0, 0.0), "u_g");
    let lines = balance(&[
        json!({"kind": "step", "step": "s", "does": "shred"}),
        json!({"kind": "step", "step": "s", "does": "dry"}),
        json!({"kind": "scale", "scale": "bench", "u_g": 0.5}),
        json!({"kind": "scale", "scale": "bench", "u_g": 5}),
        with(scaled, "scale", json!("bench")),
        weighing("s", "b", "out", 10.0, 0.0),
    ]);
    let problems = lines.iter().filter(|line| line["code"] == "contradiction");
    let found: Vec<_> = problems.map(|problem| &problem["found"]).collect();
    assert_eq!(found, ["another step named s", "another scale named bench"]);
    let found = about(&lines, "step_balance", "s");
    assert_eq!((&found["does"], &found["u_unexplained_g"]), (&json!("shred"), &json!(0.5)));
}

#[test]
fn masses_that_add_up_beyond_what_a_record_holds_are_a_problem() {
    let lines = balance(&[
        weighing("s", "a", "in", 9e8, 0.5),
        weighing("s", "b", "in", 9e8, 0.5),
        weighing("s", "c", "out", 9e8, 0.5),
    ]);
    assert!(!has(&lines, "step_balance", "s"));
    let problem = lines.iter().find(|line| line["kind"] == "problem").expect("a problem");
    assert_eq!(problem["code"], "out-of-range");
}

#[test]
fn the_example_in_the_help_works() {
    let help = cargo_bin_cmd!("mass-balance").arg("--help").assert().success();
    let text = String::from_utf8(help.get_output().stdout.clone()).expect("UTF-8");
    let example = text.split("Example:\n").nth(1).and_then(|rest| rest.split("\n\n").next());
    let program = assert_cmd::cargo::cargo_bin!("mass-balance");
    let folder = program.parent().expect("a folder").display();
    let script = format!("PATH={folder}:$PATH; {}", example.expect("an example"));
    let run = assert_cmd::Command::new("sh").args(["-c", &script]).assert().success();
    let found = String::from_utf8(run.get_output().stdout.clone()).expect("UTF-8");
    assert!(found.contains("15.0 g more went in than came out"), "{found}");
}
