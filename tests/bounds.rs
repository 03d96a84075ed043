//! Memory does not grow with the number of readings.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use common::command;
use std::io::{Read, Write};
use std::process::{Child, Stdio};

/// What a process may hold at the most, in KiB.
const MOST_KIB: u64 = 32 << 10;

/// Peak resident memory of a running process, in KiB.
fn peak_kib(child: &Child) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap();
    let line = status.lines().find(|line| line.starts_with("VmHWM:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

/// Feeds `start` and then `block` some times over; the peak memory when all is read.
fn peak_after(name: &str, args: &[&str], start: &str, block: &str, times: usize) -> u64 {
    let mut child = command(name, args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let mut stdout = child.stdout.take().unwrap();
    let reader = std::thread::spawn(move || {
        let (mut total, mut chunk) = (0_usize, vec![0; 1 << 16]);
        loop {
            match stdout.read(&mut chunk).unwrap() {
                0 => return total,
                n => total += n,
            }
        }
    });
    stdin.write_all(start.as_bytes()).unwrap();
    for _ in 0..times {
        stdin.write_all(block.as_bytes()).unwrap();
    }
    // All but what still lies in the pipe has been read by now, and the input is still open.
    std::thread::sleep(std::time::Duration::from_millis(300));
    let peak = peak_kib(&child);
    drop(stdin);
    assert!(reader.join().unwrap() > 0);
    assert_eq!(child.wait().unwrap().code(), Some(0));
    peak
}

/// A thousand readings of one spool, a few of them out of tolerance.
fn records() -> String {
    let diameter = |i: u32| 1.75 + f64::from(i * 7919 % 101) / 1000.0 - 0.05;
    let line = |i: u32| {
        format!(
            "{{\"kind\":\"diameter\",\"lot\":\"S\",\"position_m\":{i},\"dx_mm\":{:.3},\"dy_mm\":1.75}}\n",
            diameter(i)
        )
    };
    (0..1000).map(line).collect()
}

#[test]
fn checking_a_million_readings_takes_no_more_memory_than_a_thousand() {
    let machine = "{\"kind\":\"machine\",\"machine\":\"P\",\"does\":\"print\",\"nominal_mm\":1.75,\"tolerance_mm\":0.049}\n";
    let args = ["--drop", "diameter"];
    let few = peak_after("check-tolerance", &args, machine, &records(), 1);
    let many = peak_after("check-tolerance", &args, machine, &records(), 1000);
    assert!(many < MOST_KIB && many < few + 4096, "{few} KiB, then {many} KiB");
}

#[test]
fn passing_on_a_million_readings_takes_no_more_memory_than_a_thousand() {
    for filter in ["mass-balance", "cycle-adjust", "check-trials", "plan-batch", "report"] {
        let few = peak_after(filter, &[], "", &records(), 1);
        let many = peak_after(filter, &[], "", &records(), 1000);
        assert!(many < MOST_KIB && many < few + 4096, "{filter}: {few} KiB, then {many} KiB");
    }
}

#[test]
fn drawing_a_million_readings_takes_no_more_memory_than_a_thousand() {
    let share = "{\"kind\":\"out_share\",\"lot\":\"S\",\"machine\":\"P\",\"nominal_mm\":1.75,\"tolerance_mm\":0.049,\"readings\":1,\"readings_out\":1,\"readings_out_pct\":100,\"excursions\":1}\n";
    let args = ["--format", "html"];
    let few = peak_after("report", &args, share, &records(), 1);
    let many = peak_after("report", &args, share, &records(), 1000);
    assert!(many < MOST_KIB && many < few + 4096, "{few} KiB, then {many} KiB");
}

#[test]
fn taking_in_a_million_rows_takes_no_more_memory_than_a_thousand() {
    let rows: String = (0..1000).map(|i| format!("{i},1.75,1.7{}\n", i % 10)).collect();
    let args = ["diameter", "--set", "lot=S", "--format", "csv", "-"];
    let few = peak_after("ingest", &args, "position_m,dx_mm,dy_mm\n", &rows, 1);
    let many = peak_after("ingest", &args, "position_m,dx_mm,dy_mm\n", &rows, 1000);
    assert!(many < MOST_KIB && many < few + 4096, "{few} KiB, then {many} KiB");
}

/// Each of these makes a problem, and problems are written, not kept.
#[test]
fn a_million_bad_lines_are_not_kept() {
    let bad =
        "{\"kind\":\"diameter\",\"lot\":\"S\",\"dx_mm\":\"thick\"}\nnot a record\n".repeat(100);
    for filter in ["check-tolerance", "report"] {
        let few = peak_after(filter, &[], "", &bad, 1);
        let many = peak_after(filter, &[], "", &bad, 300);
        assert!(many < MOST_KIB && many < few + 4096, "{filter}: {few} KiB, then {many} KiB");
    }
}

/// A stranger's stream may hold a new kind on every line, and never end what it begins.
#[test]
fn a_stream_of_ever_new_kinds_is_not_kept() {
    let kinds: String = (0..300_000).map(|i| format!("{{\"kind\":\"acme.k{i}\"}}\n")).collect();
    let peak = peak_after("check-tolerance", &[], "", &kinds, 1);
    assert!(peak < MOST_KIB, "{peak} KiB");
}
