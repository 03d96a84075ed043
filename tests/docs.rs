//! The documents tell the truth: tables come from the types, commands run.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod common;

use common::{program, top};
use secondmelt_record::Class;
use secondmelt_record::schema::kinds_table;
use std::process::Command;

/// The text with what stands between the marks of `name` replaced.
fn with_part(text: &str, name: &str, part: &str) -> String {
    let (open, close) = (format!("<!-- {name} -->\n"), format!("<!-- end of {name} -->"));
    let (before, rest) = text.split_once(&open).unwrap_or_else(|| panic!("no mark {open}"));
    let (_, after) = rest.split_once(&close).unwrap_or_else(|| panic!("no mark {close}"));
    format!("{before}{open}{part}{close}{after}")
}

fn assert_current(file: &str, parts: &[(&str, String)]) {
    let path = top().join(file);
    let text = std::fs::read_to_string(&path).unwrap();
    let current =
        parts.iter().fold(text.clone(), |text, (name, part)| with_part(&text, name, part));
    if std::env::var_os("UPDATE_DOCS").is_some() {
        std::fs::write(&path, current).unwrap();
    } else {
        assert!(text == current, "{file} is not current: UPDATE_DOCS=1 cargo test --test docs");
    }
}

#[test]
fn the_tables_of_kinds_follow_from_the_types() {
    let table = |class| format!("\n{}\n", kinds_table(class));
    let parts = [("facts", Class::Fact), ("findings", Class::Finding), ("frame", Class::Frame)];
    assert_current("README.md", &parts.map(|(name, class)| (name, table(class))));
}

#[test]
fn the_filter_in_the_developers_guide_is_the_one_that_is_built() {
    let code = std::fs::read_to_string(top().join("examples/own-filter/main.rs")).unwrap();
    assert_current("DEVELOPERS.md", &[("own-filter", format!("\n```rust\n{code}```\n\n"))]);
}

/// Runs a script at the top of the repository with the programs in the path.
fn shell(script: &str) -> std::process::Output {
    // The documents speak of a release build; the tests have one of their own.
    let script = script.replace("PATH=\"$PWD/target/release:$PATH\"\n", "");
    let programs = program("report").parent().unwrap().to_owned();
    let path = format!("{}:{}", programs.display(), std::env::var("PATH").unwrap());
    let mut command = Command::new("sh");
    command.args(["-e", "-c", &script]).current_dir(top()).env("PATH", path).output().unwrap()
}

#[test]
fn every_command_in_the_readme_runs() {
    let text = std::fs::read_to_string(top().join("README.md")).unwrap();
    let scripts: Vec<_> =
        text.split("```sh\n").skip(1).map(|s| s.split("```").next().unwrap()).collect();
    let shown = [
        "Lot spool-2b",
        "somebody must look: status 1",
        "\"what\":\"above-tolerance\"",
        "feed-enough",
    ];
    assert_eq!(scripts.len(), shown.len());
    for (script, shown) in scripts.iter().zip(shown) {
        let output = shell(script);
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{script}\n{said}");
        let text = String::from_utf8(output.stdout).unwrap();
        assert!(text.contains(shown), "{script}\n{text}\n{said}");
    }
}

#[test]
fn the_example_in_each_help_runs() {
    for name in common::programs() {
        let help = Command::new(program(name)).arg("--help").output().unwrap();
        assert_eq!(help.status.code(), Some(0), "{name}");
        let help = String::from_utf8(help.stdout).unwrap();
        let example =
            help.split("Example:\n").nth(1).unwrap_or_else(|| panic!("{name}: no example"));
        let example = example.split("\n\n").next().unwrap();
        let output = shell(example);
        assert!(
            output.status.success(),
            "{name}: {example}\n{}",
            String::from_utf8_lossy(&output.stderr)
        );
        assert!(!output.stdout.is_empty(), "{name}: {example}");
    }
}

#[test]
fn the_step_in_the_readme_keeps_the_contract() {
    if Command::new("python3").arg("--version").output().is_err() {
        println!("left out: python3 is not installed");
        return;
    }
    let text = std::fs::read_to_string(top().join("README.md")).unwrap();
    let step = text.split("```python\n").nth(1).unwrap().split("```").next().unwrap();
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("step.py"), step).unwrap();
    let command = format!("python3 {}", folder.path().join("step.py").display());
    let ran = common::run("check-records", &["--step", &command], b"");
    assert_eq!(ran.status, 0, "{}{}", ran.text(), ran.stderr);
}
