//! Steps of somebody else's: `check-records --step` passes the good ones and names
//! the rule that each bad one breaks.

#![expect(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on fails")]
#![expect(clippy::print_stderr, reason = "a test that is skipped says so")]

use assert_cmd::cargo::cargo_bin;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

/// Whether a program can be run; a message where it cannot.
fn installed(program: &str) -> bool {
    let probe = format!("command -v {program}");
    let found = Command::new("sh").args(["-c", &probe]).stdout(Stdio::null()).status();
    let found = found.is_ok_and(|status| status.success());
    if !found {
        eprintln!("skipped: {program} is not installed");
    }
    found
}

/// awk, told to read line by line: mawk reads ahead otherwise.
fn awk() -> &'static str {
    let version = Command::new("awk").args(["-W", "version"]).stdin(Stdio::null()).output();
    let said = version.map(|out| [out.stdout, out.stderr].concat()).unwrap_or_default();
    if String::from_utf8_lossy(&said).contains("mawk") { "awk -W interactive" } else { "awk" }
}

/// The command that runs a script; none where its interpreter is not installed.
fn command(script: &Path) -> Option<String> {
    let path = script.to_str().unwrap();
    let (program, command) = match script.extension()?.to_str()? {
        "awk" => ("awk", format!("{} -f '{path}'", awk())),
        "py" => ("python3", format!("python3 '{path}'")),
        "jq" => ("jq", format!("jq -Rr --unbuffered -f '{path}'")),
        "sh" => ("sh", format!("sh '{path}'")),
        other => panic!("{path}: no interpreter is known for .{other}"),
    };
    installed(program).then_some(command)
}

fn scripts(folder: &str) -> Vec<std::path::PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let mut paths: Vec<_> = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    paths.sort();
    paths
}

fn tried(step: &str, patience_s: u64) -> Output {
    Command::new(cargo_bin("check-records"))
        .args(["--patience-s", &patience_s.to_string(), "--step", step])
        .output()
        .unwrap()
}

/// Names of rules on lines that start so.
fn rules(output: &Output, start: &str) -> BTreeSet<String> {
    let text = String::from_utf8(output.stdout.clone()).unwrap();
    let lines = text.lines().filter_map(|line| line.strip_prefix(start));
    lines.filter_map(|line| Some(line.split_once(" - ")?.1.split_once(':')?.0.to_owned())).collect()
}

fn assert_keeps_every_rule(step: &str) {
    let output = tried(step, 60);
    let text = String::from_utf8_lossy(&output.stdout);
    assert!(rules(&output, "not ok ").is_empty(), "{step}\n{text}");
    assert!(!text.contains("# SKIP"), "{step}\n{text}");
    assert_eq!(output.status.code(), Some(0), "{step}");
}

#[test]
fn each_broken_step_breaks_its_rule_and_no_other() {
    for script in scripts("tests/broken") {
        let rule = script.file_stem().unwrap().to_str().unwrap().to_owned();
        let Some(step) = command(&script) else { continue };
        let output = tried(&step, 5);
        let text = String::from_utf8_lossy(&output.stdout);
        assert_eq!(rules(&output, "not ok "), BTreeSet::from([rule]), "{step}\n{text}");
        assert_eq!(output.status.code(), Some(1), "{step}");
    }
}

#[test]
fn there_is_a_broken_step_for_every_rule() {
    let broken: BTreeSet<String> = scripts("tests/broken")
        .iter()
        .map(|script| script.file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    assert_eq!(rules(&tried("cat", 60), "ok "), broken);
}

#[test]
fn a_step_that_only_copies_keeps_every_rule() {
    assert_keeps_every_rule("cat");
    assert_keeps_every_rule("cat | cat");
}

#[test]
fn the_examples_of_own_steps_keep_every_rule() {
    for script in scripts("examples/steps") {
        if let Some(step) = command(&script) {
            assert_keeps_every_rule(&step);
        }
    }
}

#[test]
fn our_own_filters_keep_every_rule() {
    for program in ["check-records", "check-tolerance", "mass-balance", "cycle-adjust"] {
        assert_keeps_every_rule(&format!("'{}'", cargo_bin(program).display()));
    }
}

#[test]
fn the_reason_follows_a_rule_that_is_broken_with_what_was_given_and_found() {
    let output = tried("sed 's/1[.]7500/1.75/'", 3);
    let text = String::from_utf8(output.stdout).unwrap();
    let after = text.split_once("not ok 5 - numbers").unwrap().1;
    let reason = after.lines().nth(1).unwrap();
    assert!(reason.starts_with("# line "), "{reason}");
    assert!(
        reason.contains("given {\"kind\":\"example.number\",\"n\":\"1\",\"x\":1.7500}"),
        "{reason}"
    );
    assert!(
        reason.contains("found {\"kind\":\"example.number\",\"n\":\"1\",\"x\":1.75}"),
        "{reason}"
    );
}

#[test]
fn the_plan_comes_first_and_counts_the_rules() {
    let output = tried("cat", 60);
    let text = String::from_utf8(output.stdout).unwrap();
    let (plan, lines) = text.split_once('\n').unwrap();
    assert_eq!(plan, format!("1..{}", lines.lines().count()));
    for (n, line) in (1..).zip(lines.lines()) {
        assert!(line.starts_with(&format!("ok {n} - ")), "{line}");
    }
}

#[test]
fn a_command_that_does_not_exist_breaks_rules_and_its_message_is_shown() {
    let output = tried("no-such-step-is-installed", 5);
    assert_eq!(output.status.code(), Some(1));
    assert!(rules(&output, "not ok ").contains("status"));
    assert!(String::from_utf8_lossy(&output.stdout).contains("it said: sh:"));
}

#[test]
fn a_step_that_writes_without_end_is_stopped() {
    let output = tried("yes", 5);
    assert!(rules(&output, "not ok ").contains("ends"));
}

#[test]
fn a_step_that_does_nothing_but_wait_is_stopped_with_all_that_it_started() {
    let mark = "sleep 86399.25";
    let output = tried(&format!("{mark} & {mark}"), 1);
    assert!(rules(&output, "not ok ").contains("ends"));
    assert!(!runs(mark), "something that the step started still runs");
}

#[test]
fn a_step_whose_child_holds_the_output_open_does_not_end_for_its_reader() {
    let output = tried("sleep 86398.25 & cat", 5);
    assert_eq!(rules(&output, "not ok "), BTreeSet::from(["ends".to_owned()]));
}

/// Whether a command with these words runs on this machine.
fn runs(words: &str) -> bool {
    let processes = fs::read_dir("/proc").into_iter().flatten().flatten();
    processes
        .filter_map(|entry| fs::read(entry.path().join("cmdline")).ok())
        .any(|line| String::from_utf8_lossy(&line).replace('\0', " ").trim() == words)
}
