//! What the tests of whole programs share.
#![allow(
    clippy::unwrap_used,
    dead_code,
    reason = "each test file uses a part of it, and fails by panicking"
)]

use serde_json::Value;
use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Stdio};

/// What a program did.
pub struct Ran {
    /// Exit status.
    pub status: i32,
    /// Standard output, byte for byte.
    pub stdout: Vec<u8>,
    /// Standard error.
    pub stderr: String,
}

impl Ran {
    /// Standard output as text.
    pub fn text(&self) -> String {
        String::from_utf8(self.stdout.clone()).unwrap()
    }

    /// The records it wrote.
    pub fn records(&self) -> Vec<Value> {
        self.text().lines().map(|line| serde_json::from_str(line).unwrap()).collect()
    }

    /// The records of one kind.
    pub fn of(&self, kind: &str) -> Vec<Value> {
        self.records().into_iter().filter(|r| r["kind"] == kind).collect()
    }

    /// The only record of a kind.
    pub fn only(&self, kind: &str) -> Value {
        let mut found = self.of(kind);
        assert_eq!(found.len(), 1, "{kind} in {}", self.text());
        found.remove(0)
    }
}

/// The top of the repository.
pub fn top() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// The path of one of the programs.
pub fn program(name: &str) -> PathBuf {
    assert_cmd::cargo::cargo_bin(name)
}

/// A command that runs one of the programs at the top of the repository.
pub fn command(name: &str, args: &[&str]) -> Command {
    let mut command = Command::new(program(name));
    command.args(args).current_dir(top());
    command
}

/// Runs a program on an input and waits for it.
pub fn run(name: &str, args: &[&str], input: &[u8]) -> Ran {
    let mut child = command(name, args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let input = input.to_vec();
    // A program may stop reading early, so that its input breaks off; that is its affair.
    let writer = std::thread::spawn(move || drop(stdin.write_all(&input)));
    let output = child.wait_with_output().unwrap();
    writer.join().unwrap();
    Ran {
        status: output.status.code().unwrap_or(-1),
        stdout: output.stdout,
        stderr: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

/// A case of a file in `tests/reference`.
pub fn reference(file: &str, id: &str) -> Value {
    let text = std::fs::read_to_string(top().join("tests/reference").join(file)).unwrap();
    let group: Value = serde_json::from_str(&text).unwrap();
    group["cases"].as_array().unwrap().iter().find(|case| case["id"] == id).unwrap().clone()
}

/// The filters whose output is a stream of records, in the order of a nightly chain.
pub const FILTERS: [&str; 6] =
    ["check-feed", "check-tolerance", "mass-balance", "cycle-adjust", "check-trials", "plan-batch"];

/// Every program: the filters of a chain, and those at its ends.
pub fn programs() -> Vec<&'static str> {
    [&["ingest"][..], &FILTERS, &["report", "check-records"]].concat()
}

/// Programs that read a stream of records and write one.
pub fn stream_filters() -> Vec<&'static str> {
    [&FILTERS[..], &["check-records"]].concat()
}
