//! `scripts/nightly`: what it leaves, that it reads each file once, and that no kill harms it.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod common;

use common::{program, top};
use std::collections::BTreeMap;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::Duration;

/// Lays the example lab into an inbox: 30 files, spools of it several times under other names.
fn fill(inbox: &Path) {
    let lab = top().join("examples/lab");
    let put = |from: &str, to: &str| {
        let to = inbox.join(to);
        std::fs::create_dir_all(to.parent().unwrap()).unwrap();
        std::fs::copy(lab.join(from), to).unwrap();
    };
    for (from, to) in [
        ("workshop.jsonl", "records/workshop.jsonl"),
        ("machines.jsonl", "machine/machines.jsonl"),
        ("turning-parts.csv", "turning_part/turning-parts.csv"),
        ("lots.csv", "lot/lots.csv"),
        ("ledger.xlsx", "step/ledger.xlsx"),
        ("maps/steps.toml", "step/map.toml"),
        ("ledger.xlsx", "weighing/ledger.xlsx"),
        ("maps/weighings.toml", "weighing/map.toml"),
        ("markings.csv", "marking/markings.csv"),
        ("immersion.csv", "immersion/immersion.csv"),
        ("moisture.csv", "moisture/moisture.csv"),
        ("maps/moisture.toml", "moisture/map.toml"),
        ("sieve.tsv", "sieve/sieve.tsv"),
        ("melt-flow.tsv", "melt_flow/melt-flow.tsv"),
        ("maps/melt-flow.toml", "melt_flow/map.toml"),
        ("inspections.csv", "inspection/inspections.csv"),
        ("inclusions.csv", "inclusion/inclusions.csv"),
        ("trials.csv", "trial/trials.csv"),
        ("maps/trials.toml", "trial/map.toml"),
        ("gauge/spool-1b.csv", "diameter/spool-1b.csv"),
        ("maps/gauge-rig.toml", "diameter/spool-1b.csv.toml"),
        ("gauge/spool-2a.tsv", "diameter/lot=spool-2a/log.tsv"),
        ("maps/gauge-by-time.toml", "diameter/lot=spool-2a/map.toml"),
        ("gauge/spool-2c-by-hand.csv", "diameter/lot=spool-2c/by hand.csv"),
        ("maps/by-hand.toml", "diameter/lot=spool-2c/map.toml"),
    ] {
        put(from, to);
    }
    for spool in ["spool-1a", "spool-2b", "spool-3a"] {
        put(&format!("gauge/{spool}.csv"), &format!("diameter/lot={spool}/log.csv"));
        put("maps/gauge-logger.toml", &format!("diameter/lot={spool}/map.toml"));
    }
    for n in 0..10 {
        let text = format!("lot,length_m\nextra-{n},{}\n", 10 + n);
        std::fs::write(inbox.join(format!("inspection/extra {n}.csv")), text).unwrap();
    }
}

fn nightly(inbox: &Path, store: &Path) -> Command {
    let mut command = Command::new(top().join("scripts/nightly"));
    command
        .args([inbox, store])
        .env("PROGRAMS", program("ingest").parent().unwrap())
        .env("NIGHTLY_DATE", "2026-03-09")
        .env("NIGHTLY_WAIT", "60")
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    command
}

fn ran(inbox: &Path, store: &Path) -> Output {
    nightly(inbox, store).output().unwrap()
}

/// Every file below a folder with its content; links as where they lead.
fn tree(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    fn walk(top: &Path, at: &Path, all: &mut BTreeMap<String, Vec<u8>>) {
        for entry in std::fs::read_dir(at).unwrap() {
            let path = entry.unwrap().path();
            let name = path.strip_prefix(top).unwrap().display().to_string();
            if path.is_symlink() {
                let to = std::fs::read_link(&path).unwrap();
                all.insert(name, to.display().to_string().into_bytes());
            } else if path.is_dir() {
                walk(top, &path, all);
            } else {
                all.insert(name, std::fs::read(&path).unwrap());
            }
        }
    }
    let mut all = BTreeMap::new();
    walk(folder, folder, &mut all);
    all
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn a_night_leaves_records_manifest_report_and_link_and_a_second_one_changes_nothing() {
    let (inbox, work) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let store = work.path().join("store");
    fill(inbox.path());
    let first = ran(inbox.path(), &store);
    // The example lab has spools that fail.
    assert_eq!(first.status.code(), Some(1), "{}", said(&first));
    assert!(said(&first).contains("the gate says no"), "{}", said(&first));
    let all = tree(&store);
    let manifest = String::from_utf8(all["manifest.jsonl"].clone()).unwrap();
    assert_eq!(manifest.lines().count(), 30, "{manifest}");
    let metas = all.keys().filter(|name| name.ends_with(".meta")).count();
    assert_eq!(metas, 30);
    assert_eq!(all["latest"], b"reports/2026-03-09");
    let summary = String::from_utf8(all["reports/2026-03-09/summary.txt"].clone()).unwrap();
    assert!(
        summary.starts_with("Subject: secondmelt 2026-03-09: somebody must look\n"),
        "{summary}"
    );
    // The mis-keyed weighing of the ledger, which came as one workbook for two kinds.
    let findings = String::from_utf8(all["reports/2026-03-09/findings.jsonl"].clone()).unwrap();
    assert!(findings.contains("\"kind\":\"step_balance\"") && findings.contains("spool-2c"));
    // Only mapping files are left.
    let left: Vec<_> =
        tree(inbox.path()).into_keys().filter(|name| !name.ends_with(".toml")).collect();
    assert!(left.is_empty(), "{left:?}");

    let second = ran(inbox.path(), &store);
    assert_eq!(second.status.code(), Some(1));
    assert!(tree(&store) == all, "a second night changed the store");
}

#[test]
fn a_file_that_cannot_be_read_stays_and_fails_loudly_and_the_same_file_twice_is_read_once() {
    let (inbox, work) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let store = work.path().join("store");
    let lots = inbox.path().join("lot");
    std::fs::create_dir(&lots).unwrap();
    let good = "lot,material\nA,PETG\n";
    std::fs::write(lots.join("a.csv"), good).unwrap();
    std::fs::write(lots.join("copy.csv"), good).unwrap();
    std::fs::write(lots.join("b.csv"), "colour,weight\nred,1\n").unwrap();
    std::fs::write(lots.join("half.csv.part"), "lot,mat").unwrap();
    let output = ran(inbox.path(), &store);
    assert_ne!(output.status.code(), Some(0));
    assert!(said(&output).contains("b.csv: could not be read"), "{}", said(&output));
    assert!(lots.join("b.csv").exists() && lots.join("half.csv.part").exists());
    assert!(!lots.join("a.csv").exists() && !lots.join("copy.csv").exists());
    let manifest = std::fs::read_to_string(store.join("manifest.jsonl")).unwrap();
    assert_eq!(manifest.lines().count(), 1, "{manifest}");
    assert!(store.join("done/lot/a.csv").exists() && store.join("done/lot/copy.csv").exists());
    // Another file of the same name does not take the place of the first.
    std::fs::write(lots.join("a.csv"), "lot,material\nB,PP\n").unwrap();
    ran(inbox.path(), &store);
    let done = tree(&store.join("done"));
    assert!(
        done.contains_key("lot/a.csv") && done.keys().any(|name| name.starts_with("lot/a.csv."))
    );
}

#[test]
fn a_second_run_gives_up_while_the_first_is_at_work() {
    let (inbox, work) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let store = work.path().join("store");
    std::fs::create_dir_all(&store).unwrap();
    let lock = std::fs::File::create(store.join(".lock")).unwrap();
    lock.lock().unwrap();
    let output = nightly(inbox.path(), &store).env("NIGHTLY_WAIT", "0").output().unwrap();
    assert_eq!(output.status.code(), Some(3));
    assert!(said(&output).contains("another run is at work"), "{}", said(&output));
}

#[test]
fn a_store_that_cannot_be_written_is_told_and_nothing_leaves_the_inbox() {
    let (inbox, work) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    fill(inbox.path());
    let before = tree(inbox.path());
    // A file where the store should be: works for root, too, whom permissions do not stop.
    let store = work.path().join("store");
    std::fs::write(&store, "").unwrap();
    let output = ran(inbox.path(), &store);
    assert_eq!(output.status.code(), Some(3), "{}", said(&output));
    assert!(said(&output).contains("cannot be written"), "{}", said(&output));
    assert!(tree(inbox.path()) == before);
    assert_eq!(ran(&inbox.path().join("none"), &store).status.code(), Some(2));
}

/// Kills the job with all its processes at times spread over its run, and runs it again.
/// NIGHTLY_KILLS sets how often.
#[test]
fn killed_anywhere_and_run_again_it_ends_in_the_same_store() {
    let kills: u32 = std::env::var("NIGHTLY_KILLS").ok().map_or(12, |n| n.parse().unwrap());
    let (inbox, work) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    fill(inbox.path());
    let store = work.path().join("undisturbed");
    let begun = std::time::Instant::now();
    assert_eq!(ran(inbox.path(), &store).status.code(), Some(1));
    let whole = begun.elapsed();
    let expected = tree(&store);
    for kill in 0..kills {
        let inbox = tempfile::tempdir().unwrap();
        fill(inbox.path());
        let store = work.path().join(format!("killed-{kill}"));
        let mut child = nightly(inbox.path(), &store).process_group(0).spawn().unwrap();
        let part = f64::from(kill) + 0.5;
        std::thread::sleep(Duration::from_secs_f64(whole.as_secs_f64() * part / f64::from(kills)));
        let group = rustix::process::Pid::from_child(&child);
        // It may have ended by now.
        let _ = rustix::process::kill_process_group(group, rustix::process::Signal::KILL);
        child.wait().unwrap();
        let again = ran(inbox.path(), &store);
        assert_eq!(again.status.code(), Some(1), "kill {kill}: {}", said(&again));
        let found = tree(&store);
        let differs = || {
            let names = expected.keys().chain(found.keys());
            names.filter(|name| expected.get(*name) != found.get(*name)).collect::<Vec<_>>()
        };
        assert!(found == expected, "kill {kill}: {:?}", differs());
        std::fs::remove_dir_all(&store).unwrap();
    }
}
