//! A stream that was cut short is never taken for a whole one, wherever it was cut.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod common;

use common::{FILTERS, Ran, command, run};
use std::io::{Read, Write};
use std::process::Stdio;

/// What the report says in large letters.
const ALARM: &str = "CUT SHORT";

/// A small lab, as `ingest` would hand it on.
fn facts() -> Vec<u8> {
    let lab = tempfile::tempdir().unwrap();
    let file = |name: &str, text: &str| {
        let path = lab.path().join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let machines = file(
        "machines.csv",
        "machine,does,nominal_mm,tolerance_mm\nP1,print,1.75,0.03\nX1,extrude,1.75,\n",
    );
    let steps = file("steps.csv", "step,does,machine,settings.line_speed_m_min\nE1,extrude,X1,4\n");
    let ledger = file(
        "ledger.csv",
        "step,lot,role,mass_g,u_g\nE1,R1,in,500,0.5\nE1,S1,out,470,0.5\nE1,S1,purge,29.6,0.5\n",
    );
    let readings: String = (0..80)
        .map(|i| format!("{},{}\n", f64::from(i) / 10.0, 1.76 + f64::from(i % 3) / 100.0))
        .collect();
    let gauge = file("gauge.csv", &format!("position_m,dx_mm\n{readings}"));
    let mut stream = Vec::new();
    for (kind, path, set) in [
        ("machine", machines, None),
        ("step", steps, None),
        ("weighing", ledger, None),
        ("diameter", gauge, Some("lot=S1")),
    ] {
        let mut args = vec![kind, &path];
        args.extend(set.iter().flat_map(|set| ["--set", set]));
        let ran = run("ingest", &args, b"");
        assert_eq!(ran.status, 0, "{}", ran.stderr);
        stream.extend(ran.stdout);
    }
    stream
}

/// Every stage of the chain: what goes into the filter of the same index.
fn stages() -> Vec<Vec<u8>> {
    let mut stages = vec![facts()];
    for filter in FILTERS {
        let ran = run(filter, &[], stages.last().unwrap());
        assert_eq!(ran.status, 0, "{filter}: {}", ran.stderr);
        stages.push(ran.stdout);
    }
    stages
}

/// Whether a stream, fed to the filters from `first` on and to the report, is noticed as
/// cut by every one of them.
fn assert_noticed(first: usize, mut stream: Vec<u8>, how: &str) {
    for filter in &FILTERS[first..] {
        let ran = run(filter, &[], &stream);
        assert_eq!(ran.status, 3, "{filter}, {how}: {}", ran.stderr);
        assert!(ran.stderr.contains("cut short"), "{filter}, {how}: {}", ran.stderr);
        let end = ran.of("end").pop().unwrap();
        assert!(end["cut_short"].is_string(), "{filter}, {how}: {end}");
        stream = ran.stdout;
    }
    let report = run("report", &[], &stream);
    assert_eq!(report.status, 3, "report, {how}: {}", report.stderr);
    assert!(report.text().contains(ALARM), "report, {how}: {}", report.text());
}

/// Whether every run that began in a stream has ended in it.
fn is_whole(stream: &[u8]) -> bool {
    let count = |start: &str| {
        stream.split(|b| *b == b'\n').filter(|l| l.starts_with(start.as_bytes())).count()
    };
    count("{\"kind\":\"begin\"") == count("{\"kind\":\"end\"")
}

/// Ends of lines at which a stream is cut: all of them near the start and the end of what
/// each run wrote, a sample between.
fn line_ends(stream: &[u8]) -> Vec<usize> {
    let ends: Vec<_> =
        stream.iter().enumerate().filter(|(_, b)| **b == b'\n').map(|(i, _)| i + 1).collect();
    let lines: Vec<_> = stream.split_inclusive(|b| *b == b'\n').collect();
    let plain =
        |i: usize| lines.get(i).is_some_and(|line| line.starts_with(b"{\"kind\":\"diameter\""));
    let sampled = |i: usize| !plain(i) || !plain(i + 1) || i.is_multiple_of(29);
    // Between two runs that know nothing of each other nothing shows that one is missing.
    let between = |i: usize| is_whole(&stream[..ends[i]]);
    (0..ends.len() - 1).filter(|i| sampled(*i) && !between(*i)).map(|i| ends[i]).collect()
}

#[test]
fn a_whole_chain_raises_no_alarm() {
    let stages = stages();
    let report = run("report", &[], stages.last().unwrap());
    assert_eq!(report.status, 0, "{}", report.stderr);
    assert!(!report.text().contains(ALARM));
}

#[test]
fn a_cut_after_any_line_of_any_filter_is_noticed_by_every_later_one() {
    for (first, stream) in stages().iter().enumerate() {
        for end in line_ends(stream) {
            assert_noticed(
                first,
                stream[..end].to_vec(),
                &format!("stage {first} cut at {end} of {}", stream.len()),
            );
        }
    }
}

#[test]
fn a_cut_within_a_line_or_before_the_first_is_noticed() {
    for (first, stream) in stages().iter().enumerate() {
        for cut in [0, 1, 40, stream.len() / 2, stream.len() - 2] {
            // Not between two lines: that is tested above.
            let cut = cut + usize::from(cut > 0 && stream[cut - 1] == b'\n');
            assert_noticed(
                first,
                stream[..cut].to_vec(),
                &format!("stage {first} cut at byte {cut}"),
            );
        }
    }
}

#[test]
fn a_whole_stream_joined_with_a_cut_one_is_noticed() {
    let stages = stages();
    let (whole, other) = (&stages[1], &stages[2]);
    let cut = line_ends(other)[8];
    assert_noticed(2, [whole.as_slice(), &other[..cut]].concat(), "whole, then cut");
    assert_noticed(2, [&other[..cut], whole.as_slice()].concat(), "cut, then whole");
    let same = line_ends(whole)[8];
    assert_noticed(
        1,
        [whole.as_slice(), &whole[..same]].concat(),
        "whole, then a cut copy of itself",
    );
}

#[test]
fn two_whole_streams_joined_raise_no_alarm() {
    let stages = stages();
    for joined in
        [[stages[0].as_slice(), &stages[1]].concat(), [stages[1].as_slice(), &stages[1]].concat()]
    {
        let ran = run("mass-balance", &[], &joined);
        assert_eq!(ran.status, 0, "{}", ran.stderr);
    }
}

#[test]
fn a_stream_whose_start_is_missing_is_noticed() {
    let stream = &stages()[1];
    let lines: Vec<_> = stream.split_inclusive(|b| *b == b'\n').collect();
    assert_noticed(1, lines[3..].concat(), "without its first lines");
}

#[test]
fn a_stream_made_by_hand_raises_no_alarm() {
    let hand = b"{\"kind\":\"machine\",\"machine\":\"P1\",\"does\":\"print\"}\n{\"lot\":\"S1\",\"kind\":\"diameter\",\"dx_mm\":1.75}\n";
    for filter in FILTERS.iter().chain(&["report"]) {
        let ran = run(filter, &[], hand);
        assert_eq!((ran.status, ran.stderr.as_str()), (0, ""), "{filter}");
    }
}

#[test]
fn a_filter_killed_while_it_reads_leaves_a_stream_that_is_noticed() {
    let stream = facts();
    for filter in FILTERS {
        let mut child =
            command(filter, &[]).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
        let mut stdin = child.stdin.take().unwrap();
        stdin.write_all(&stream).unwrap();
        stdin.flush().unwrap();
        // It flushes before it waits for more, so all that was fed is out when it is killed.
        let mut out = child.stdout.take().unwrap();
        let mut passed = vec![0; stream.len()];
        out.read_exact(&mut passed).unwrap();
        child.kill().unwrap();
        child.wait().unwrap();
        out.read_to_end(&mut passed).unwrap();
        assert_noticed(1, passed, &format!("{filter} killed"));
    }
}

#[test]
fn a_file_that_cannot_be_read_makes_the_stream_cut_short() {
    let ran: Ran = run("check-tolerance", &["examples/records/lot.json", "no/such/file"], b"");
    assert_eq!(ran.status, 3);
    assert!(ran.stderr.contains("no/such/file could not be read: No such file"), "{}", ran.stderr);
    assert!(ran.only("end")["cut_short"].is_string());
    assert_eq!(ran.of("lot").len(), 1);
}

#[test]
fn an_end_that_comes_before_its_begin_is_noticed() {
    let stream = &stages()[1];
    let lines: Vec<_> = stream.split_inclusive(|b| *b == b'\n').collect();
    let middle = lines.len() / 2;
    assert_noticed(
        1,
        [lines[middle..].concat(), lines[..middle].concat()].concat(),
        "halves in the wrong order",
    );
}

#[test]
fn a_last_line_that_breaks_off_is_noticed_wherever_it_breaks() {
    let line = "{\"kind\":\"step\",\"step\":\"tür\",\"does\":\"dry\",\"settings\":{\"dry_c\":60},\"note\":\"x\"}";
    for cut in 1..line.len() {
        assert_noticed(0, line.as_bytes()[..cut].to_vec(), &format!("cut at byte {cut}"));
    }
}
