//! Files, disks and pipes that fail, and those that do not.

use super::ran;
use crate::common::stream_filters;
use assert_cmd::cargo::cargo_bin;
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::process::Stdio;

#[test]
fn files_are_read_one_after_another_and_a_last_line_is_ended_between_them() {
    let folder = tempfile::tempdir().unwrap();
    let (a, b) = (folder.path().join("a"), folder.path().join("b"));
    fs::write(&a, "{\"kind\":\"lab.a\"}").unwrap();
    fs::write(&b, "{\"kind\":\"lab.b\"}\nno record\n").unwrap();
    for filter in stream_filters() {
        let out = ran(
            filter,
            &[a.to_str().unwrap(), "-", b.to_str().unwrap()],
            b"{\"kind\":\"lab.stdin\"}\n",
        );
        let expected = "{\"kind\":\"lab.a\"}\n{\"kind\":\"lab.stdin\"}\n{\"kind\":\"lab.b\"}\n";
        assert_eq!(String::from_utf8(out.passed_on()).unwrap(), expected, "{filter}");
        assert_eq!(out.problems()[0]["file"], b.to_str().unwrap(), "{filter}");
        assert_eq!(out.problems()[0]["line"], 2, "{filter}");
    }
}

#[test]
fn a_file_that_cannot_be_read_is_named_and_the_others_are_read_still() {
    let folder = tempfile::tempdir().unwrap();
    let good = folder.path().join("good");
    fs::write(&good, "{\"kind\":\"lab.a\"}\n").unwrap();
    let missing = folder.path().join("missing");
    for filter in stream_filters() {
        for (bad, why) in [(folder.path(), "a directory"), (&missing, "No such file")] {
            let out = ran(filter, &[bad.to_str().unwrap(), good.to_str().unwrap()], b"");
            assert_eq!(out.status, 3, "{filter}");
            assert_eq!(out.passed_on(), b"{\"kind\":\"lab.a\"}\n", "{filter}");
            assert!(
                out.errors.contains(why) && out.errors.contains(bad.to_str().unwrap()),
                "{}",
                out.errors
            );
        }
    }
}

#[test]
fn a_full_disk_is_told_and_is_status_three() {
    if !std::path::Path::new("/dev/full").exists() {
        eprintln!("skipped: there is no /dev/full");
        return;
    }
    for filter in stream_filters() {
        let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
        let mut command = std::process::Command::new(cargo_bin(filter));
        let mut child =
            command.stdin(Stdio::piped()).stdout(full).stderr(Stdio::piped()).spawn().unwrap();
        child.stdin.take().unwrap().write_all(b"{\"kind\":\"lab.a\"}\n").unwrap();
        let output = child.wait_with_output().unwrap();
        assert_eq!(output.status.code(), Some(3), "{filter}");
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(said.contains("standard output could not be written"), "{filter}: {said}");
    }
}

#[test]
fn a_reader_that_closes_ends_a_filter_quietly_with_status_zero() {
    let line = "{\"kind\":\"lab.note\",\"text\":\"0123456789 0123456789 0123456789\"}\n";
    for filter in stream_filters() {
        let mut command = std::process::Command::new(cargo_bin(filter));
        let mut child = command
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut stdin = child.stdin.take().unwrap();
        // The input does not end: the filter has to notice by itself.
        let feeder = std::thread::spawn(move || while stdin.write_all(line.as_bytes()).is_ok() {});
        let mut first = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut first).unwrap();
        assert!(first.starts_with("{\"kind\":\"begin\""), "{filter}");
        let output = child.wait_with_output().unwrap();
        feeder.join().unwrap();
        assert_eq!(output.status.code(), Some(0), "{filter}");
        assert_eq!(String::from_utf8(output.stderr).unwrap(), "", "{filter}");
    }
}
