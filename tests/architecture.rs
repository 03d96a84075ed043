//! Arrows of dependence, kept by reading the manifests and sources.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use common::programs;
use std::path::{Path, PathBuf};

const PURE: [&str; 2] = ["quality", "plastics"];

fn crates() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("crates")
}

fn manifest(name: &str) -> String {
    std::fs::read_to_string(crates().join(name).join("Cargo.toml")).unwrap()
}

/// Every source file of a crate, with its text.
fn sources(folder: &Path) -> Vec<(PathBuf, String)> {
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    entries
        .flat_map(|path| match path.is_dir() {
            true => sources(&path),
            false => vec![(path.clone(), std::fs::read_to_string(&path).unwrap())],
        })
        .collect()
}

#[test]
fn every_crate_is_a_filter_or_pure_or_the_contract() {
    let mut names: Vec<_> = std::fs::read_dir(crates())
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    let mut known: Vec<_> =
        programs().iter().chain(&PURE).chain(&["record"]).map(|n| (*n).to_owned()).collect();
    names.sort();
    known.sort();
    assert_eq!(names, known);
}

#[test]
fn no_filter_depends_on_another() {
    for filter in programs() {
        let manifest = manifest(filter);
        for other in programs().into_iter().filter(|other| *other != filter) {
            assert!(
                !manifest.contains(&format!("secondmelt-{other}")),
                "{filter} depends on {other}"
            );
        }
    }
}

#[test]
fn pure_crates_and_the_contract_depend_on_no_crate_above_them() {
    // What is computed of plastics has intervals, which are those of quality.
    let below = |name: &str, other: &str| name == "plastics" && other == "secondmelt-quality";
    for name in PURE.iter().chain(&["record"]) {
        let manifest = manifest(name);
        let own = format!("secondmelt-{name}");
        let others =
            programs().into_iter().chain(PURE).chain(["record"]).map(|n| format!("secondmelt-{n}"));
        for other in others.filter(|other| *other != own && !below(name, other)) {
            assert!(!manifest.contains(&other), "{name} depends on {other}");
        }
    }
}

#[test]
fn pure_crates_do_no_input_or_output() {
    let io = [
        "std::io",
        "std::fs",
        "std::env",
        "std::net",
        "std::process",
        "std::time",
        "println!",
        "eprintln!",
    ];
    for name in PURE {
        for (path, text) in sources(&crates().join(name).join("src")) {
            for word in io {
                assert!(!text.contains(word), "{}: {word}", path.display());
            }
        }
    }
}

#[test]
fn only_the_contract_touches_standard_input_and_output() {
    for name in programs() {
        for (path, text) in sources(&crates().join(name).join("src")) {
            for word in ["io::stdin", "io::stdout", "stdin()", "stdout()", "println!", "print!("] {
                assert!(!text.contains(word), "{}: {word}", path.display());
            }
        }
    }
}
