//! `check-records` on streams, and the questions that it answers.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod common;

use assert_cmd::Command;
use predicates::prelude::*;
use predicates::str::contains;
use secondmelt_record::{Kind, schema};
use serde_json::Value;

const LOT: &str = "{\"kind\":\"lot\",\"lot\":\"spool-7\",\"material\":\"PETG\"}\n";

fn check() -> Command {
    Command::new(assert_cmd::cargo::cargo_bin!("check-records"))
}

/// Records in the output that were not in the input, and the exit status.
fn checked(input: &str) -> (Vec<Value>, i32) {
    let output = check().write_stdin(input).output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    let records = text.lines().filter(|line| !input.lines().any(|given| given == *line));
    (
        records.map(|line| serde_json::from_str(line).unwrap()).collect(),
        output.status.code().unwrap(),
    )
}

/// Code, field and line of each problem that is found in the input.
fn problems(input: &str) -> Vec<(String, String, u64)> {
    let (records, status) = checked(input);
    let found: Vec<_> = records
        .iter()
        .filter(|record| record["kind"] == "problem" && record["by"].is_string())
        .map(|record| {
            let text = |name: &str| record[name].as_str().unwrap_or("").to_owned();
            (text("code"), text("field"), record["line"].as_u64().unwrap())
        })
        .collect();
    assert_eq!(status, i32::from(!found.is_empty()), "{found:?}");
    found
}

fn one(code: &str, field: &str, line: u64) -> Vec<(String, String, u64)> {
    vec![(code.to_owned(), field.to_owned(), line)]
}

#[test]
fn a_good_stream_passes_and_its_kinds_are_counted() {
    check()
        .write_stdin(LOT.repeat(3) + "{\"kind\":\"lab.colour\",\"lot\":\"spool-7\"}\n")
        .assert()
        .code(0)
        .stdout(contains(LOT.repeat(3)))
        .stderr(contains("3  lot").and(contains("1  lab.colour")))
        .stderr(contains("4 records; the stream is not signed"))
        .stderr(contains("every record keeps the record contract"));
}

#[test]
fn a_kind_without_a_dot_that_is_none_of_ours_is_a_problem_and_is_passed_on() {
    let input = format!("{LOT}{{\"kind\":\"diametre\",\"lot\":\"spool-7\"}}\n");
    assert_eq!(problems(&input), one("unknown-kind", "kind", 2));
    check().write_stdin(input.clone()).assert().stdout(contains(input));
}

#[test]
fn the_problem_of_a_last_line_without_its_line_end_stands_on_a_line_of_its_own() {
    let (records, status) = checked("{\"kind\":\"diametre\",\"lot\":\"spool-7\"}");
    let kinds: Vec<_> = records.iter().map(|record| record["kind"].as_str().unwrap()).collect();
    assert_eq!((kinds, status), (vec!["begin", "problem", "end"], 1));
}

#[test]
fn a_field_that_stands_twice_is_a_problem_at_any_depth_and_in_kinds_of_strangers() {
    let twice = "{\"kind\":\"lab.x\",\"a\":{\"b\":1,\"b\":2}}\n";
    assert_eq!(problems(twice), one("duplicate-key", "b", 1));
    let unknown = "{\"kind\":\"lot\",\"lot\":\"a\",\"material\":\"PP\",\"shelf\":1,\"shelf\":2}\n";
    assert_eq!(problems(unknown), one("duplicate-key", "shelf", 1));
    let known = "{\"kind\":\"lot\",\"lot\":\"a\",\"material\":\"PP\",\"lot\":\"b\"}\n";
    assert_eq!(problems(known), one("duplicate-key", "lot", 1));
    let setting = "{\"kind\":\"step\",\"step\":\"a\",\"does\":\"dry\",\"settings\":{\"dry_c\":60,\"dry_c\":65}}\n";
    assert_eq!(problems(setting), one("duplicate-key", "dry_c", 1));
}

#[test]
fn null_is_a_problem_wherever_it_stands() {
    assert_eq!(problems("{\"kind\":\"lab.x\",\"a\":null}\n"), one("wrong-type", "a", 1));
    let unknown = "{\"kind\":\"lot\",\"lot\":\"a\",\"material\":\"PP\",\"shelf\":null}\n";
    assert_eq!(problems(unknown), one("wrong-type", "shelf", 1));
}

#[test]
fn records_that_their_schema_refuses_are_problems() {
    let reading =
        |dx: &str| format!("{{\"kind\":\"diameter\",\"lot\":\"spool-7\",\"dx_mm\":{dx}}}\n");
    assert_eq!(problems(&reading("1.75")), vec![]);
    assert_eq!(problems(&reading("0")), one("out-of-range", "dx_mm", 1));
    assert_eq!(problems(&reading("\"1.75\"")), one("wrong-type", "dx_mm", 1));
    assert_eq!(problems(&reading("1e400")), one("out-of-range", "", 1));
    assert_eq!(
        problems("{\"kind\":\"diameter\",\"lot\":\"spool-7\"}\n"),
        one("missing-field", "dx_mm", 1)
    );
    let late =
        "{\"kind\":\"moisture\",\"lot\":\"a\",\"moisture_pct\":0.1,\"at\":\"2026-03-12 09:40\"}\n";
    assert_eq!(problems(late), one("bad-time", "at", 1));
    let form = "{\"kind\":\"lot\",\"lot\":\"a\",\"material\":\"PP\",\"form\":\"dust\"}\n";
    assert_eq!(problems(form), one("unknown-word", "form", 1));
}

#[test]
fn a_strangers_line_that_only_looks_like_json_is_a_problem() {
    assert_eq!(problems("{\"kind\":\"lab.x\",\"a\":}\n"), one("not-json", "", 1));
    let deep = format!("{{\"kind\":\"lab.x\",\"a\":{}{}}}\n", "[".repeat(64), "]".repeat(64));
    assert_eq!(problems(&deep), one("nested-too-deep", "", 1));
    let just = format!("{{\"kind\":\"lab.x\",\"a\":{}{}}}\n", "[".repeat(63), "]".repeat(63));
    assert_eq!(problems(&just), vec![]);
}

#[test]
fn numbers_of_any_size_in_fields_that_nobody_knows_are_no_problem() {
    assert_eq!(
        problems("{\"kind\":\"lab.x\",\"a\":1e400,\"b\":123456789012345678901234567890}\n"),
        vec![]
    );
    assert_eq!(
        problems("{\"kind\":\"lot\",\"lot\":\"a\",\"material\":\"PP\",\"x\":1e400}\n"),
        vec![]
    );
}

#[test]
fn a_finding_that_points_to_a_run_that_never_began_is_a_problem() {
    let finding = "{\"kind\":\"caution\",\"by\":\"0123456789abcdef\",\"danger\":\"fumes\",\"defer_to\":\"the lab's rules\"}\n";
    assert_eq!(problems(finding), one("not-described", "by", 1));
    let begin = |after: &str| {
        format!(
            "{{\"kind\":\"begin\",\"id\":\"0123456789abcdef\",\"program\":\"p\",\"version\":\"1\",\"contract\":1,\"options\":[],\"after\":[{after}]}}\n"
        )
    };
    let end = "{\"kind\":\"end\",\"id\":\"0123456789abcdef\",\"read\":{},\"written\":{},\"problems\":{}}\n";
    assert_eq!(problems(&format!("{}{finding}{end}", begin(""))), vec![]);
    assert_eq!(
        problems(&format!("{}{finding}{end}", begin("\"fedcba9876543210\""))),
        one("not-described", "after", 1)
    );
}

#[test]
fn a_contract_of_the_future_is_a_problem() {
    let begin = "{\"kind\":\"begin\",\"id\":\"a\",\"program\":\"p\",\"version\":\"1\",\"contract\":2,\"options\":[],\"after\":[]}\n";
    let end = "{\"kind\":\"end\",\"id\":\"a\",\"read\":{},\"written\":{},\"problems\":{}}\n";
    assert_eq!(problems(&format!("{begin}{end}")), one("out-of-range", "contract", 1));
}

#[test]
fn a_stream_that_was_cut_short_is_told_and_wins_over_problems() {
    let begin = "{\"kind\":\"begin\",\"id\":\"a\",\"program\":\"check-tolerance\",\"version\":\"1\",\"contract\":1,\"options\":[],\"after\":[]}\n";
    check()
        .write_stdin(format!("{begin}{LOT}{{\"kind\":\"colour\"}}\n"))
        .assert()
        .code(3)
        .stderr(contains("the stream is NOT whole"))
        .stderr(contains("cut short: check-tolerance (run a) began and did not end"))
        .stdout(contains("\"cut_short\":"));
}

#[test]
fn empty_input_is_cut_short() {
    check().write_stdin("").assert().code(3).stderr(contains("it is empty"));
}

#[test]
fn problems_of_earlier_filters_are_counted_and_shut_the_gate_only_when_asked() {
    let problem = "{\"kind\":\"problem\",\"code\":\"no-rows\",\"found\":\"a header\",\"expected\":\"rows\"}\n";
    let told = contains("1 of them problems that earlier filters met");
    check().write_stdin(problem).assert().code(0).stderr(told);
    check().arg("--strict").write_stdin(problem).assert().code(1);
}

#[test]
fn what_the_other_filters_write_keeps_the_contract() {
    let facts =
        ["machine", "gauge", "scale", "lot", "step", "weighing", "diameter", "melt_flow", "trial"];
    let mut stream = facts.map(|kind| std::fs::read_to_string(record(kind)).unwrap()).concat();
    for program in common::FILTERS {
        let mut command = Command::new(assert_cmd::cargo::cargo_bin(program));
        let output = command.write_stdin(stream).output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{program}");
        stream = String::from_utf8(output.stdout).unwrap();
        check().write_stdin(stream.clone()).assert().code(0).stderr(contains("whole: every run"));
    }
}

fn record(kind: &str) -> String {
    format!("{}/examples/records/{kind}.json", env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn the_command_of_its_own_help_works() {
    let output = check().arg("--help").output().unwrap();
    let help = String::from_utf8(output.stdout).unwrap();
    let example = help.split_once("Example:\n").unwrap().1.lines().next().unwrap().trim();
    let (program, arguments) = example.split_once(' ').unwrap();
    assert_eq!(program, "check-records");
    check().args(arguments.split(' ')).current_dir(env!("CARGO_MANIFEST_DIR")).assert().code(0);
}

#[test]
fn every_kind_is_listed_with_its_class_and_meaning() {
    let output = check().arg("--list").output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    assert_eq!(text.lines().count(), Kind::ALL.len() + 1);
    for kind in Kind::ALL {
        let row = text.lines().find(|line| line.split(' ').next() == Some(kind.name()));
        assert!(row.unwrap().contains(&kind.text()), "{kind}");
    }
}

#[test]
fn the_schema_and_the_example_of_every_kind_are_printed() {
    for kind in Kind::ALL {
        let output = check().args(["--schema", kind.name()]).output().unwrap();
        let printed: Value = serde_json::from_slice(&output.stdout).unwrap();
        assert_eq!(printed, schema::of_kind(*kind));
        let example = std::fs::read_to_string(record(kind.name())).unwrap();
        check().args(["--example", kind.name()]).assert().code(0).stdout(example);
    }
}

#[test]
fn the_fields_of_a_kind_are_printed_with_range_need_and_meaning() {
    for kind in Kind::ALL {
        let output = check().args(["--fields", kind.name()]).output().unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        for field in kind.fields() {
            let mut rows = text.lines().skip(3);
            let row = rows.find(|line| line.split(' ').next() == Some(field.name)).unwrap();
            let need = if field.required { " needed " } else { " may be absent " };
            assert!(row.contains(need) && row.contains(&field.text()), "{row}");
            assert!(row.contains(&field.shape.to_string()), "{row}");
        }
    }
}

#[test]
fn a_kind_that_is_not_known_is_wrong_usage() {
    for question in ["--schema", "--example", "--fields"] {
        check().args([question, "diametre"]).assert().code(2).stderr(contains("the kinds are lot"));
    }
    check().args(["--list", "--schema", "lot"]).assert().code(2);
}
