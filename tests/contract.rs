//! The record contract as every filter keeps it: what passes through, what is
//! answered by a problem, and what the exit status says.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

#[path = "contract/bad_lines.rs"]
mod bad_lines;
#[path = "contract/files.rs"]
mod files;
#[path = "contract/passing.rs"]
mod passing;

mod common;

use common::stream_filters;

use assert_cmd::Command;
use assert_cmd::cargo::cargo_bin;
use predicates::prelude::*;
use predicates::str::contains;
use secondmelt_record::Kind;
use serde_json::Value;
use std::fs;

/// The status of a filter that has met a problem: `check-records` is a gate.
fn met_a_problem(filter: &str) -> i32 {
    i32::from(filter == "check-records")
}

struct Ran {
    lines: Vec<Vec<u8>>,
    status: i32,
    errors: String,
}

fn ran(filter: &str, arguments: &[&str], input: &[u8]) -> Ran {
    let mut command = Command::new(cargo_bin(filter));
    let output = command.args(arguments).write_stdin(input).output().unwrap();
    Ran {
        lines: output.stdout.split_inclusive(|byte| *byte == b'\n').map(<[u8]>::to_vec).collect(),
        status: output.status.code().unwrap(),
        errors: String::from_utf8(output.stderr).unwrap(),
    }
}

impl Ran {
    /// The id with which the run has signed: that of the last `end`.
    fn id(&self) -> String {
        let end: Value = serde_json::from_slice(self.lines.last().unwrap()).unwrap();
        assert_eq!(end["kind"], "end");
        end["id"].as_str().unwrap().to_owned()
    }

    /// The lines that are not the run's own.
    fn passed_on(&self) -> Vec<u8> {
        let id = self.id();
        let own = |line: &&Vec<u8>| {
            let line = String::from_utf8_lossy(line);
            let signed = [format!("\",\"by\":\"{id}\""), format!("\",\"id\":\"{id}\"")];
            line.strip_prefix("{\"kind\":\"").is_some_and(|rest| {
                signed
                    .iter()
                    .any(|mark| rest.find('"').is_some_and(|at| rest[at..].starts_with(mark)))
            })
        };
        self.lines.iter().filter(|line| !own(line)).flatten().copied().collect()
    }

    /// Problems that the run has found.
    fn problems(&self) -> Vec<Value> {
        let id = self.id();
        let records = self.lines.iter().filter_map(|line| serde_json::from_slice(line).ok());
        records.filter(|r: &Value| r["kind"] == "problem" && r["by"] == id.as_str()).collect()
    }
}

fn example(kind: Kind) -> String {
    let path = format!("{}/examples/records/{kind}.json", env!("CARGO_MANIFEST_DIR"));
    fs::read_to_string(path).unwrap().trim_end().to_owned()
}

/// Kinds that may stand anywhere in a stream.
fn loose_kinds() -> Vec<Kind> {
    Kind::ALL.iter().copied().filter(|k| !matches!(k, Kind::Begin | Kind::End)).collect()
}

#[test]
fn drop_leaves_out_exactly_that_kind() {
    let kinds = loose_kinds();
    let lines: Vec<(&str, String)> =
        kinds.iter().map(|kind| (kind.name(), example(*kind) + "\n")).collect();
    let all: String = lines.iter().map(|(_, line)| line.as_str()).collect::<String>()
        + "{\"kind\":\"lab.colour\",\"lot\":\"spool-7\"}\n{\"lot\":\"spool-7\",\"kind\":\"lab.colour\"}\n";
    let names = kinds.iter().map(|kind| kind.name()).chain(["lab.colour"]);
    let filters = stream_filters();
    for (n, dropped) in names.enumerate() {
        // Each filter would take a while for every kind; they take turns.
        let filter = filters[n % filters.len()];
        let out = ran(filter, &["--drop", dropped], all.as_bytes());
        let of_kind = |line: &str| serde_json::from_str::<Value>(line).unwrap()["kind"] == dropped;
        let expected: String = all.split_inclusive('\n').filter(|line| !of_kind(line)).collect();
        assert_eq!(
            String::from_utf8(out.passed_on()).unwrap(),
            expected,
            "{filter} --drop {dropped}"
        );
        let left = out.lines.iter().any(|line| of_kind(&String::from_utf8_lossy(line)));
        assert!(!left, "{filter} --drop {dropped}: its own of that kind are left out, too");
    }
}

#[test]
fn drop_can_be_repeated() {
    for filter in stream_filters() {
        let input = "{\"kind\":\"lab.a\"}\n{\"kind\":\"lab.b\"}\n{\"kind\":\"lab.c\"}\n";
        let out = ran(filter, &["--drop", "lab.a", "--drop", "lab.c"], input.as_bytes());
        assert_eq!(out.passed_on(), b"{\"kind\":\"lab.b\"}\n", "{filter}");
    }
}

#[test]
fn the_signatures_of_a_stream_cannot_be_dropped() {
    for filter in stream_filters() {
        for kind in ["begin", "end"] {
            let mut command = Command::new(cargo_bin(filter));
            let refused = contains("show that a stream is whole");
            command.args(["--drop", kind]).assert().code(2).stdout("").stderr(refused);
        }
    }
}

#[test]
fn strict_makes_a_problem_a_failure_and_nothing_else() {
    for filter in stream_filters() {
        let good = b"{\"kind\":\"lab.note\"}\n";
        assert_eq!(ran(filter, &["--strict"], good).status, 0, "{filter}");
        let bad = ran(filter, &["--strict"], b"{\"kind\":\"lab.note\"}\nno record\n");
        assert_eq!(bad.status, 1, "{filter}");
        assert_eq!(bad.problems().len(), 1, "{filter}");
        let earlier = example(Kind::Problem);
        assert_eq!(ran(filter, &["--strict"], earlier.as_bytes()).status, 1, "{filter}");
    }
}

#[test]
fn a_stream_that_lacks_an_end_or_a_begin_is_cut_short() {
    let (begin, end) = (example(Kind::Begin), example(Kind::End));
    for filter in stream_filters() {
        for (input, status) in [
            (format!("{begin}\n{end}\n"), 0),
            (format!("{begin}\n{end}\n{begin}\n{end}\n"), 0),
            (format!("{begin}\n"), 3),
            (format!("{end}\n"), 3),
            (format!("{begin}\n{begin}\n{end}\n"), 3),
            (String::new(), 3),
        ] {
            let out = ran(filter, &[], input.as_bytes());
            let last: Value = serde_json::from_slice(out.lines.last().unwrap()).unwrap();
            assert_eq!(out.status, status, "{filter}: {input}{}", out.errors);
            assert_eq!(last["cut_short"].is_string(), status == 3, "{filter}: {input}");
            assert_eq!(out.errors.contains("cut short"), status == 3, "{filter}: {input}");
        }
    }
}

#[test]
fn cut_short_wins_over_a_problem() {
    for filter in stream_filters() {
        let input = format!("{}\nno record\n", example(Kind::Begin));
        assert_eq!(ran(filter, &["--strict"], input.as_bytes()).status, 3, "{filter}");
    }
}

#[test]
fn each_run_signs_its_start_before_and_its_end_after_all_that_it_writes() {
    for filter in stream_filters() {
        let input =
            format!("{}\n{}\n{{\"kind\":\"lab.x\"}}\n", example(Kind::Begin), example(Kind::End));
        let out = ran(filter, &[], input.as_bytes());
        let id = out.id();
        let begins = |line: &&Vec<u8>| {
            let record: Value = serde_json::from_slice(line).unwrap();
            record["kind"] == "begin" && record["id"] == id.as_str()
        };
        let own: Vec<_> = out.lines.iter().filter(begins).collect();
        assert_eq!(own.len(), 1, "{filter}");
        let begin: Value = serde_json::from_slice(own[0]).unwrap();
        let earlier: Value = serde_json::from_str(&example(Kind::Begin)).unwrap();
        assert_eq!(begin["program"], *filter);
        assert_eq!(begin["after"], serde_json::json!([earlier["id"]]), "{filter}");
        // It needs no clock: the same run on the same input signs with the same id.
        assert_eq!(ran(filter, &[], input.as_bytes()).id(), id, "{filter}");
    }
}

#[test]
fn wrong_usage_is_status_two_and_writes_nothing() {
    for filter in stream_filters() {
        let mut command = Command::new(cargo_bin(filter));
        let hint = contains("--help").or(contains("help"));
        command.arg("--no-such-option").assert().code(2).stdout("").stderr(hint);
    }
}

/// A problem must itself pass through the next filter, raw text and all.
#[test]
fn a_problem_with_a_long_raw_text_survives_the_next_filter() {
    let odd = |fill: &[u8], times: usize| {
        let mut line = b"{\"kind\":\"lot\",\"lot\":\"A\",\"material\":[\"".to_vec();
        line.extend(fill.repeat(times));
        line.extend(b"\"]}\n");
        line
    };
    for (fill, times) in
        [(&b"\xff"[..], 400_000), (b"\x01", 200_000), (b"x", 1_000_000), (b"\xc3\xa9", 400_000)]
    {
        let first = common::run("check-tolerance", &[], &odd(fill, times));
        let longest = first.stdout.split(|b| *b == b'\n').map(<[u8]>::len).max().unwrap();
        assert!(longest < 1 << 20, "{fill:?}: {longest}");
        let second = common::run("check-tolerance", &[], &first.stdout);
        assert_eq!(second.of("problem"), first.of("problem"), "{fill:?}");
        let problem = first.only("problem");
        assert!(problem["raw"].is_string(), "{problem}");
        let whole = problem["raw_hex"].as_str().map_or(0, str::len) / 2;
        let kept = problem["raw"].as_str().unwrap().len().max(whole);
        let length = odd(fill, times).len() - 1;
        assert!(kept == length || problem["raw_bytes"] == length, "{fill:?}: {kept} of {length}");
    }
}

#[test]
fn an_unwritable_standard_error_stops_nothing() {
    for name in common::programs().into_iter().filter(|name| *name != "ingest") {
        let full = std::fs::File::options().write(true).open("/dev/full").unwrap();
        let mut command = common::command(name, &[]);
        let mut child = command
            .stdin(std::process::Stdio::piped())
            .stdout(std::process::Stdio::piped())
            .stderr(full)
            .spawn()
            .unwrap();
        std::io::Write::write_all(&mut child.stdin.take().unwrap(), b"not a record\n").unwrap();
        let output = child.wait_with_output().unwrap();
        assert!(output.status.code().is_some_and(|code| code <= 1), "{name}: {}", output.status);
        assert!(!output.stdout.is_empty(), "{name}");
    }
}

#[test]
fn a_kind_that_nobody_can_mean_is_not_dropped_in_silence() {
    let ran = common::run("mass-balance", &["--drop", "diametr"], b"");
    assert_eq!(ran.status, 2);
    assert!(ran.stderr.contains("--drop diametr: no such kind"), "{}", ran.stderr);
}
