//! The program `report`: what it shows of a stream, and what it makes of one that is
//! cut, hostile, or has nowhere to go.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

#[path = "report/directory.rs"]
mod directory;
#[path = "report/golden.rs"]
mod golden;

use assert_cmd::Command;
use predicates::prelude::*;
use predicates::str::{contains, starts_with};
use secondmelt_record::{Class, Kind};
use std::fs;
use std::path::Path;
use tempfile::TempDir;

const STREAM: &str = "tests/golden/report/stream.jsonl";

fn report() -> Command {
    let mut command = assert_cmd::cargo::cargo_bin_cmd!("report");
    command.current_dir(env!("CARGO_MANIFEST_DIR")).env_remove("COLUMNS").env_remove("NO_COLOR");
    command
}

/// Standard output of a run that goes well.
fn printed(arguments: &[&str], input: &str) -> String {
    let run = report().args(arguments).write_stdin(input).assert().success();
    String::from_utf8(run.get_output().stdout.clone()).unwrap()
}

fn stream() -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(STREAM)).unwrap()
}

fn verdict(result: &str) -> String {
    format!(
        r#"{{"kind":"verdict","check":"diameter","result":"{result}","lot":"A","rule":"r","why":"w"}}"#
    )
}

#[test]
fn the_example_stream_holds_every_kind_of_finding() {
    let stream = stream();
    for kind in Kind::ALL.iter().filter(|k| k.class() == Class::Finding) {
        let mark = format!("{{\"kind\":\"{kind}\",");
        assert!(stream.contains(&mark), "no {kind} in {STREAM}: add one, so that it is shown");
    }
}

#[test]
fn the_text_is_as_it_was() {
    golden::same("report.txt", &printed(&["--title", "Example lab", STREAM], ""));
    golden::same("report-120.txt", &printed(&["--width", "120", STREAM], ""));
}

#[test]
fn the_markdown_is_as_it_was() {
    let text = printed(&["--format", "markdown", "--title", "Example lab", STREAM], "");
    golden::same("report.md", &text);
}

#[test]
fn the_tables_are_as_they_were() {
    let dir = TempDir::new().unwrap();
    let csv = dir.path().join("csv");
    report().arg("--csv").arg(&csv).arg(STREAM).assert().success().stdout("");
    directory::same_directory("csv", &csv);
}

#[test]
fn the_first_lines_say_what_needs_a_person() {
    let text = printed(&[], &stream());
    let start: Vec<&str> = text.lines().take(8).collect();
    assert!(start.concat().contains("Yes: 2 failed verdicts, 1 undecided verdict"), "{start:?}");
}

#[test]
fn a_stream_in_which_all_is_well_says_so() {
    let text = printed(&[], &verdict("conforms"));
    assert!(text.contains("\nNo. 1 verdict conforms. There are no problems.\n"), "{text}");
}

#[test]
fn a_stream_without_verdicts_does_not_pass_for_a_good_one() {
    let text = printed(&[], r#"{"kind":"lot","lot":"A","material":"PP"}"#);
    assert!(text.contains("No verdicts: no filter that decides ran."), "{text}");
    assert!(!text.contains("\nNo. "), "{text}");
}

#[test]
fn a_stream_made_by_hand_raises_no_alarm() {
    let text = printed(&["--gate"], &verdict("conforms"));
    assert!(!text.contains("CUT SHORT"), "{text}");
    assert!(text.contains("No run signed these records"), "{text}");
}

#[test]
fn a_line_that_cannot_be_read_is_shown_and_shuts_the_gate() {
    report()
        .arg("--gate")
        .write_stdin("{\"kind\":\"lot\",\"lot\":\"A\",\"material\":7}\n")
        .assert()
        .code(1)
        .stdout(contains("wrong-type: line 1: field material: found 7, expected text"))
        .stderr(contains("the gate says no: 1 problem"));
}

#[test]
fn a_cut_stream_is_told_in_large_letters_and_exits_with_3() {
    let whole = stream();
    let cut: Vec<&str> = whole.lines().filter(|l| !l.contains("\"end\",\"id\":\"3333")).collect();
    let cut = cut.join("\n");
    report()
        .arg("--gate")
        .write_stdin(cut.as_str())
        .assert()
        .code(3)
        .stdout(
            contains("CUT SHORT: THIS REPORT IS NOT COMPLETE")
                .and(contains("mass-balance (run 3333333333333333)")),
        )
        .stderr(contains("cut short"));
    report()
        .args(["--format", "markdown"])
        .write_stdin(cut)
        .assert()
        .code(3)
        .stdout(contains("\n# CUT SHORT: THIS REPORT IS NOT COMPLETE\n"));
}

#[test]
fn no_input_at_all_is_a_cut_stream() {
    report().write_stdin("").assert().code(3).stdout(contains("CUT SHORT"));
}

#[test]
fn the_gate_is_shut_by_a_failed_verdict_and_by_a_problem() {
    for (input, why) in [
        (verdict("fails"), "1 failed verdict"),
        (r#"{"kind":"problem","code":"not-json","found":"x","expected":"y"}"#.into(), "1 problem"),
        (verdict("conforms") + "\nnot a record\n", "1 problem"),
    ] {
        report().write_stdin(input.as_str()).assert().code(0);
        let run = report().arg("--gate").write_stdin(input).assert().code(1);
        run.stderr(contains(format!("report: the gate says no: {why}")));
    }
}

#[test]
fn the_gate_counts_problems_whose_records_were_left_out() {
    let stream = stream();
    let less: Vec<&str> = stream
        .lines()
        .filter(|l| !l.contains("\"kind\":\"problem\"") && !l.contains("\"result\":\"fails\""))
        .collect();
    let run = report().arg("--gate").write_stdin(less.join("\n")).assert().code(1);
    run.stderr(contains("3 problems")).stdout(contains("records were left out"));
}

#[test]
fn an_undecided_verdict_shuts_the_gate_only_where_that_is_asked_for() {
    report().arg("--gate").write_stdin(verdict("undecided")).assert().code(0);
    report().arg("--gate-undecided").write_stdin(verdict("undecided")).assert().code(1);
    report().arg("--gate-undecided").write_stdin(verdict("conforms")).assert().code(0);
}

#[test]
fn a_gate_is_shut_where_nothing_was_decided() {
    let lot = r#"{"kind":"lot","lot":"A","material":"PP"}"#;
    report().write_stdin(lot).assert().code(0);
    for gate in ["--gate", "--gate-undecided"] {
        let run = report().arg(gate).write_stdin(lot).assert().code(1);
        run.stderr(contains("no verdict at all"));
    }
}

/// What `check-trials` found stands with the trials: the share with its interval, and what is next.
#[test]
fn the_evidence_of_trials_stands_in_the_report() {
    let record = |kind: &str| fs::read_to_string(format!("examples/records/{kind}.json")).unwrap();
    let stream =
        [verdict("conforms") + "\n", record("trial_evidence"), record("next_trial")].concat();
    let run = report().write_stdin(stream).assert().code(0);
    run.stdout(
        contains("12 of 14").and(contains("57 to 98")).and(contains("a failure points to it")),
    );
}

/// Text without its line breaks and columns, for sentences that wrap.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The record of a kind in `examples/records`.
fn example(kind: &str) -> String {
    fs::read_to_string(
        Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("examples/records/{kind}.json")),
    )
    .unwrap()
}

/// All of these in the order in which they are named.
fn in_order(text: &str, parts: &[&str]) {
    let mut rest = text;
    for part in parts {
        let at = rest.find(part).unwrap_or_else(|| panic!("no {part:?} in its place in {text}"));
        rest = &rest[at + part.len()..];
    }
}

/// Where the names of many settings would be wider than a page, their letters stand for them.
#[test]
fn a_design_of_many_settings_is_a_table_by_letters() {
    let names = ["melt_temperature_c", "bed_temperature_c", "print_speed_mm_s", "retraction_mm"];
    let factors: Vec<String> = names
        .iter()
        .zip('A'..)
        .map(|(name, letter)| format!("{letter} = {name}: 1 to 2"))
        .collect();
    let design = serde_json::json!({"kind": "screening_design", "design": "d", "runs": 16,
        "factors": factors, "generators": [], "aliases": [], "seed": 1, "basis": "full factorial"});
    let levels: serde_json::Map<String, serde_json::Value> =
        names.iter().zip(1..).map(|(name, level)| ((*name).to_owned(), level.into())).collect();
    let run = serde_json::json!({"kind": "screening_run", "design": "d", "order": 1,
        "standard": 1, "settings": levels});
    let text = flat(&printed(&[], &format!("{design}\n{run}\n")));
    in_order(&text, &["Resolution: full: nothing is mixed", "run A B C D order", " 1 1 2 3 4 1 "]);
}

/// A design stands with the trials, even where none has been made: what it can tell, and its runs
/// in the order in which they are to be made.
#[test]
fn a_design_of_trials_and_its_runs_stand_in_the_report() {
    let run = |order: u64, standard: u64, bed: u64, melt: u64, speed: u64| {
        serde_json::json!({"kind": "screening_run", "design": "printer-a-PETG-4-runs",
            "order": order, "standard": standard,
            "settings": {"bed_c": bed, "melt_c": melt, "print_speed_mm_s": speed}})
        .to_string()
            + "\n"
    };
    let runs = [run(3, 4, 80, 245, 50), run(1, 3, 65, 245, 30), run(2, 2, 80, 230, 30)].concat();
    let stream = verdict("conforms") + "\n" + &example("screening_design") + &runs;
    in_order(
        &flat(&printed(&[], &stream)),
        &[
            "Trials ------",
            "Design: printer-a-PETG-4-runs",
            "4 runs for 3 settings: ",
            "Settings: A = bed_c: 65 to 80; B = melt_c: 230 to 245; C = print_speed_mm_s: 30 to 50",
            "Generators: C=AB",
            "Resolution: III: ",
            "Not told apart: A = BC; B = AC; C = AB",
        ],
    );
    let markdown = printed(&["--format", "markdown"], &stream);
    in_order(
        &markdown,
        &[
            "| run | A bed_c | B melt_c | C print_speed_mm_s | in standard order |",
            "| 1 | 65 | 245 | 30 | 3 |",
            "| 2 | 80 | 230 | 30 | 2 |",
            "| 3 | 80 | 245 | 50 | 4 |",
        ],
    );
    let page = printed(&["--format", "html"], &stream);
    assert!(page.contains("Design: printer-a-PETG-4-runs</caption>"), "{page}");
}

#[test]
fn the_next_batch_stands_in_the_report() {
    let kinds =
        ["feed_need", "reading_plan", "machine_time", "batch_stage", "piece_use", "piece_plan"];
    let stream = verdict("conforms") + "\n" + &kinds.map(example).concat();
    in_order(
        &flat(&printed(&[], &stream)),
        &[
            "The next batch",
            "Feed",
            "10372 to 11553",
            "11437",
            "Typical yields of the stages, from the feed on: dry 99.8 % (3 runs), extrude 91.5 % (5 runs).",
            "Readings to take",
            "26 260",
            "Time on the machines",
            "Growing in stages",
            "The gate between",
            "Prints from kept pieces",
            "spool-7 printer-a 0.00 40.60 float housing 1, float housing 2 36.40 4.20",
            "printer-a: 2 of 2 prints have a piece. 1 piece is begun, and no assignment needs fewer. They \
             take 89.7 % of the kept filament.",
        ],
    );
}

/// A plan that stops at what is missing is told, too.
#[test]
fn prints_without_a_piece_are_named() {
    let plan = r#"{"kind":"piece_plan","machine":"printer-a","prints":3,"placed":0,"placed_at_most":1,"pieces":0,"pieces_at_least":0,"gap_pct":0,"left_over":["lid","hook","knob"]}"#;
    in_order(
        &flat(&printed(&[], plan)),
        &[
            "Prints from kept pieces",
            "printer-a: 0 of 3 prints have a piece, and at most 1 could. 0 pieces are begun. Left over: lid, hook, knob.",
        ],
    );
}

#[test]
fn the_stages_of_all_feeds_are_told_once() {
    let need = |form: &str, lot: &str, stages: &[&str]| {
        serde_json::json!({"kind": "feed_need", "form": form, "lot": lot, "target_g": 1000,
            "stages": stages, "yield_pct": 90, "feed_g": 8488.8, "enough_g": 9000.2})
        .to_string()
            + "\n"
    };
    let stream = need("regrind", "r-1", &["dry 99.8 %", "extrude 91.5 %"])
        + &need("parts", "p-1", &["shred 96.7 %", "dry 99.8 %", "extrude 91.5 %"])
        + &need("regrind", "r-2", &["dry 99.8 %", "extrude 91.5 %"]);
    let text = flat(&printed(&[], &stream));
    let told = "from the feed on: shred 96.7 %, dry 99.8 %, extrude 91.5 %.";
    assert!(text.contains(told) && text.matches("extrude").count() == 1, "{text}");
    // To a gram; what must be enough is rounded up.
    assert!(text.contains("r-1 1000 90.0 8489 9001"), "{text}");
}

#[test]
fn times_are_those_of_a_clock_and_hold_together_in_80_columns() {
    let times = r#"{"kind":"machine_time","does":"extrude","machine":"extruder-1","mass_g":8488.8,"rate_kg_h":0.82,"hours":41.824,"low_h":38.123,"high_h":44.567,"from":"2026-04-04T08:00:00+02:00","to":"2026-04-06T14:00:00+02:00","latest":"2026-04-06T17:05:00+02:00","basis":"line speed, diameter and density of the steps so far (mean of them)"}"#;
    let step = r#"{"kind":"step","step":"s-1","does":"extrude","at":"2026-04-06T14:00:00Z"}"#;
    let stream = format!(
        "{times}\n{step}\n{{\"kind\":\"verdict\",\"check\":\"c\",\"result\":\"conforms\",\"step\":\"s-1\",\"rule\":\"r\",\"why\":\"w\"}}"
    );
    for format in ["text", "markdown", "html"] {
        let text = printed(&["--format", format], &stream);
        assert!(!text.contains("2026-04-06T14"), "{text}");
        for part in
            ["14:00\u{a0}+02:00", "17:05\u{a0}+02:00", "2026-04-06\u{a0}14:00\u{a0}UTC", "41.8"]
        {
            assert!(text.contains(part), "no {part} in {text}");
        }
    }
}

/// A number without a unit and without a limit beside it tells nobody anything.
#[test]
fn a_verdict_tells_no_bare_number_and_no_unit_of_one() {
    let with = |value: &str| {
        format!(
            r#"{{"kind":"verdict","check":"next-difficulty","result":"undecided","machine":"printer-a",{value}"rule":"r","why":"stay"}}"#
        )
    };
    let told = |value: &str| flat(&printed(&[], &with(value)));
    for bare in [r#""value":0,"unit":"1","#, r#""value":0,"#] {
        let text = told(bare);
        assert!(text.contains("for machine printer-a: stay. (rule 1)"), "{text}");
    }
    let text = told(r#""value":3,"limit":2,"unit":"1","#);
    assert!(text.contains("stay. (3 against 2; rule 1)"), "{text}");
    let text = told(r#""value":3,"unit":"mm","#);
    assert!(text.contains("stay. (3.0000 mm; rule 1)"), "{text}");
}

#[test]
fn files_are_written_and_standard_output_stays_silent_unless_asked() {
    let dir = TempDir::new().unwrap();
    let (text, markdown) = (dir.path().join("r.txt"), dir.path().join("r.md"));
    let mut both = report();
    both.arg("--text").arg(&text).arg("--markdown").arg(&markdown).arg(STREAM);
    both.assert().success().stdout("");
    assert!(fs::read_to_string(&text).unwrap().starts_with("Report\n======\n"));
    assert!(fs::read_to_string(&markdown).unwrap().starts_with("# Report\n"));
    both.args(["--format", "markdown"]).assert().success().stdout(starts_with("# Report\n"));
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 2, "nothing else is left behind");
}

#[test]
fn text_fits_the_columns_that_the_environment_names() {
    let run = report().env("COLUMNS", "50").arg(STREAM).assert().success();
    let text = String::from_utf8(run.get_output().stdout.clone()).unwrap();
    assert!(text.lines().all(|l| l.chars().count() <= 50), "{text}");
}

#[test]
fn a_full_disk_and_a_path_that_cannot_be_are_told_and_exit_with_3() {
    let dir = TempDir::new().unwrap();
    let file = dir.path().join("file");
    fs::write(&file, "x").unwrap();
    let below = file.join("below");
    for option in ["--text", "--markdown", "--csv"] {
        let run = report().arg(option).arg(&below).arg(STREAM).assert().code(3);
        run.stderr(contains(below.to_str().unwrap()).and(contains("could not be written")));
    }
    let full = Path::new("/dev/full");
    if full.exists() {
        let run = report().arg("--text").arg(full).arg(STREAM).assert().code(3);
        run.stderr(contains("/dev/full could not be written"));
    }
}

#[test]
fn a_full_standard_output_exits_with_3() {
    let Ok(full) = fs::File::options().write(true).open("/dev/full") else { return };
    let run = std::process::Command::new(env!("CARGO_BIN_EXE_report"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .arg(STREAM)
        .stdout(full)
        .output()
        .unwrap();
    assert_eq!(run.status.code(), Some(3));
    assert!(String::from_utf8_lossy(&run.stderr).contains("standard output could not be written"));
}

#[test]
fn a_reader_that_closes_ends_the_report_quietly() {
    let (read, write) = std::io::pipe().unwrap();
    drop(read);
    let run = std::process::Command::new(env!("CARGO_BIN_EXE_report"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .arg(STREAM)
        .stdout(write)
        .output()
        .unwrap();
    assert_eq!((run.status.code(), run.stderr.as_slice()), (Some(0), b"".as_slice()));
}

#[test]
fn contradicting_options_are_wrong_usage() {
    for arguments in [
        &["--csv", "d", "--csv-decimal", "comma"][..],
        &["--csv-delimiter", ";"],
        &["--csv", "d", "--csv-delimiter", "x"],
        &["--format", "pdf"],
        &["--text", "-"],
        &["--width", "3"],
    ] {
        report().args(arguments).write_stdin("").assert().code(2);
    }
}

#[test]
fn hostile_names_do_no_harm_in_the_page() {
    let dir = TempDir::new().unwrap();
    let page = dir.path().join("report.html");
    let long = "x".repeat(10_000);
    let stream: String = ["<script>alert(1)</script>", "../../x", "a\u{202e}b", "two\nlines", "\" onload=\"x", &long]
        .iter()
        .map(|name| {
            let verdict = serde_json::json!({"kind":"verdict","check":"c","result":"fails","lot":name,"rule":"r","why":name});
            let lot = serde_json::json!({"kind":"lot","lot":name,"material":"PP"});
            format!("{lot}\n{verdict}\n")
        })
        .collect();
    report().arg("--html").arg(&page).write_stdin(stream).assert().success();
    let text = fs::read_to_string(&page).unwrap();
    assert!(
        !text.contains("<script") && !text.contains('\u{202e}') && !text.contains("\" onload=\"x"),
        "{text}"
    );
    assert!(text.contains("&lt;script&gt;") && text.len() < 200_000);
}

#[test]
fn verdicts_are_tests_for_ci_systems() {
    let dir = TempDir::new().unwrap();
    let path = dir.path().join("verdicts.xml");
    report()
        .args(["--title", "Example lab", "--junit"])
        .arg(&path)
        .arg(STREAM)
        .assert()
        .success()
        .stdout("");
    let text = fs::read_to_string(&path).unwrap();
    golden::same("verdicts.xml", &text);
    let counted = |what: &str| text.matches(what).count();
    let said = |name: &str| {
        let from = text.find(&format!(" {name}=\"")).unwrap() + name.len() + 3;
        text[from..].split('"').next().unwrap().parse::<usize>().unwrap()
    };
    assert_eq!(
        (said("failures"), said("skipped"), said("errors")),
        (counted("<failure"), counted("<skipped"), counted("<error"))
    );
    assert_eq!(said("tests"), counted("<testcase"));
    let hostile = serde_json::json!({"kind":"verdict","check":"a\u{1}\"<b>","result":"fails","lot":"&\n","rule":"r","why":"]]>"});
    report().arg("--junit").arg(&path).write_stdin(format!("{hostile}\n")).assert().success();
    let text = fs::read_to_string(&path).unwrap();
    assert!(!text.contains("<b>") && !text.contains('\u{1}') && text.contains("]]&gt;"), "{text}");
}

#[test]
fn the_gate_names_the_checks_and_some_can_be_left_out() {
    let stream = format!(
        "{}\n{}\n",
        verdict("fails"),
        verdict("conforms").replace("\"check\":\"", "\"check\":\"other-")
    );
    let check: serde_json::Value = serde_json::from_str(&verdict("fails")).unwrap();
    let check = check["check"].as_str().unwrap();
    let run = report().arg("--gate").write_stdin(stream.clone()).assert().code(1);
    run.stderr(contains(format!("1 failed verdict (1 {check})")));
    report().args(["--gate", "--gate-ignore", check]).write_stdin(stream.clone()).assert().code(0);
    let other = format!("other-{check}");
    let both = ["--gate", "--gate-ignore", check, "--gate-ignore", &other];
    report().args(both).write_stdin(stream).assert().code(1).stderr(contains("no verdict at all"));
}
