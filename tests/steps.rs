//! Steps of somebody else's: `check-records --step` passes the good ones and names
//! the rule that each bad one breaks.

#![expect(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on fails")]
#![expect(clippy::print_stderr, reason = "a test that is skipped says so")]

mod common;

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

/// The rules that could not be tried, with the reason.
fn skipped(output: &Output, why: &str) -> BTreeSet<String> {
    let text = String::from_utf8(output.stdout.clone()).unwrap();
    let end = format!(" # SKIP {why}");
    let lines = text.lines().filter(|line| line.ends_with(&end));
    lines.filter_map(|line| Some(line.split_once(" - ")?.1.split_once(':')?.0.to_owned())).collect()
}

/// A step keeps every rule, and these could not be tried for this reason.
fn assert_keeps_every_rule(step: &str, untried: &[&str], why: &str) {
    let output = tried(step, 60);
    let text = String::from_utf8_lossy(&output.stdout);
    assert!(rules(&output, "not ok ").is_empty(), "{step}\n{text}");
    let untried: BTreeSet<_> = untried.iter().map(|rule| (*rule).to_owned()).collect();
    assert_eq!(skipped(&output, why), untried, "{step}\n{text}");
    assert_eq!(text.matches("# SKIP").count(), untried.len(), "{step}\n{text}");
    assert_eq!(output.status.code(), Some(0), "{step}");
}

const OF_ADDED: &[&str] = &["values", "encoding", "kinds", "schemas", "runs"];

/// The rule that a broken step breaks: its name up to the first dot.
fn rule_of(script: &Path) -> String {
    script.file_name().unwrap().to_str().unwrap().split('.').next().unwrap().to_owned()
}

#[test]
fn each_broken_step_breaks_its_rule_and_no_other() {
    for script in scripts("tests/broken") {
        let rule = rule_of(&script);
        let Some(step) = command(&script) else { continue };
        let output = tried(&step, 5);
        let text = String::from_utf8_lossy(&output.stdout);
        assert_eq!(rules(&output, "not ok "), BTreeSet::from([rule]), "{step}\n{text}");
        assert_eq!(output.status.code(), Some(1), "{step}");
    }
}

#[test]
fn there_is_a_broken_step_for_every_rule() {
    let broken: BTreeSet<String> =
        scripts("tests/broken").iter().map(|script| rule_of(script)).collect();
    assert_eq!(rules(&tried("cat", 60), "ok "), broken);
}

#[test]
fn a_step_that_only_copies_keeps_every_rule() {
    assert_keeps_every_rule("cat", OF_ADDED, "it added nothing");
    assert_keeps_every_rule("cat | cat", OF_ADDED, "it added nothing");
}

/// The commands that the table of examples gives for a script, as one types them at the
/// top of the repository.
fn documented(script: &Path) -> Vec<String> {
    let name = script.file_name().unwrap().to_str().unwrap();
    let readme = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/README.md");
    let text = fs::read_to_string(readme).unwrap();
    let row = text.lines().find(|line| line.starts_with(&format!("| `{name}`")));
    let cell = row.unwrap_or_else(|| panic!("no row of {name}")).split('|').nth(3).unwrap();
    cell.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

#[test]
fn the_examples_of_own_steps_keep_every_rule_as_the_table_says_to_run_them() {
    let why = "it added no record of secondmelt's kinds";
    let reads_ahead = awk() != "awk";
    for script in scripts("examples/steps") {
        let commands = documented(&script);
        assert!(!commands.is_empty(), "{}", script.display());
        for command in commands {
            let program = command.split(' ').next().unwrap();
            if installed(program) && !(program == "awk" && reads_ahead) {
                assert_keeps_every_rule(&command, &["schemas", "runs"], why);
            }
        }
    }
}

#[test]
fn our_own_filters_keep_every_rule() {
    for program in common::stream_filters() {
        let step = format!("'{}'", cargo_bin(program).display());
        assert_keeps_every_rule(&step, &["kinds"], "it added no kind of its own");
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
fn a_command_that_does_not_exist_is_tried_once_and_told_as_wrong_usage() {
    for step in ["no-such-step-is-installed", "./examples"] {
        let output = tried(step, 5);
        assert_eq!(output.status.code(), Some(2), "{step}");
        assert!(output.stdout.is_empty(), "{step}");
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(said.contains("the step cannot be run: the shell ended with status 12"), "{said}");
        assert!(said.contains("it said: sh:"), "{said}");
    }
    let folder = tempfile::tempdir().unwrap();
    let runs = folder.path().join("runs");
    let step = format!("echo run >> '{}'; no-such-step-is-installed", runs.display());
    assert_eq!(tried(&step, 5).status.code(), Some(2));
    assert_eq!(fs::read_to_string(runs).unwrap(), "run\n");
}

#[test]
fn files_beside_a_question_are_wrong_usage_and_not_ignored() {
    for question in
        [&["--step", "cat"][..], &["--list"], &["--schema", "lot"], &["--fields", "lot"]]
    {
        let mut command = Command::new(cargo_bin("check-records"));
        let output = command.args(question).arg("records.jsonl").output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{question:?}");
        assert!(String::from_utf8_lossy(&output.stderr).contains("cannot be used with '[FILE]"));
    }
}

#[test]
fn a_step_that_leaves_repeated_lines_out_is_caught() {
    for step in ["uniq", "sort -u"] {
        assert!(rules(&tried(step, 2), "not ok ").contains("once"), "{step}");
    }
}

/// The reason that follows a broken rule.
fn reason(output: &Output, rule: &str) -> String {
    let text = String::from_utf8(output.stdout.clone()).unwrap();
    let after = text.split_once(&format!(" - {rule}: ")).unwrap().1;
    after.lines().nth(1).unwrap().to_owned()
}

#[test]
fn what_becomes_of_a_bad_line_is_told_with_that_line() {
    // Held back until the end, and lost with a failure: a good line is missing, too.
    let dies = |of: &str| {
        format!(
            "python3 -c 'import sys; lines = sys.stdin.buffer.readlines(); \
             [exit(1) for line in lines if {of}]; sys.stdout.buffer.writelines(lines)'"
        )
    };
    if !installed("python3") {
        return;
    }
    let output = tried(&dies("line.strip() and line.strip()[-1:] != b\"}\""), 1);
    let reason_not_json = reason(&output, "not-json");
    assert!(
        reason_not_json
            .starts_with("# given {\"kind\":\"diameter\",\"lot\":\"spool-7\",\"position_m\":, ")
    );
    let output = tried(&dies("b\"\\xfc\" in line and b\"gr\" in line"), 1);
    let reason_not_utf8 = reason(&output, "not-utf8");
    assert!(
        reason_not_utf8.starts_with("# given {\"kind\":\"example.text\",\"text\":\"gr"),
        "{reason_not_utf8}"
    );
    // One that leaves out the good line after a bad one says which bad one.
    let skips = "awk 'skip { skip = 0; next } { skip = /^a line of a log/; print; fflush() }'";
    let output = tried(&skips.replace("awk", awk()), 5);
    let reason_beside = reason(&output, "not-json");
    assert_eq!(
        reason_beside,
        "# given a line of a log that got among the records, a good line beside it is lost"
    );
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
