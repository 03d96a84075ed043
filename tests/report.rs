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

#[test]
fn the_next_batch_stands_in_the_report() {
    let record = |kind: &str| fs::read_to_string(format!("examples/records/{kind}.json")).unwrap();
    let kinds = ["feed_need", "machine_time", "batch_stage"].map(record).concat();
    let run = report().write_stdin(verdict("conforms") + "\n" + &kinds).assert().code(0);
    run.stdout(
        contains("The next batch")
            .and(contains("10372 to 11553"))
            .and(contains("The gate between")),
    );
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
