//! `ingest` on tables full of slips and on bytes that mean nothing: it never breaks, every
//! record it makes is one by the contract, and every row is a record or a problem.

mod common;

use common::{Ran, run};
use proptest::prelude::*;
use secondmelt_record::{Kind, Record};

fn ingest(kind: &str, args: &[&str], bytes: &[u8]) -> Ran {
    let args: Vec<&str> = [kind].iter().chain(args).chain(&["-"]).copied().collect();
    run("ingest", &args, bytes)
}

/// Holds the output to the contract; how many records of the kind and problems it has.
fn checked(ran: &Ran, kind: Kind) -> Result<(usize, usize), TestCaseError> {
    prop_assert!(matches!(ran.status, 0 | 3), "status {}: {}", ran.status, ran.stderr);
    let (mut records, mut problems) = (0, 0);
    let text = ran.text();
    for line in text.lines() {
        let value: serde_json::Value =
            serde_json::from_str(line).map_err(|e| TestCaseError::fail(format!("{e}: {line}")))?;
        let found = value["kind"].as_str().and_then(Kind::from_name);
        let Some(found) = found else { return Err(TestCaseError::fail(line.to_owned())) };
        prop_assert!(Record::parse(found, line).is_ok(), "not by the contract: {}", line);
        records += usize::from(found == kind);
        problems += usize::from(found == Kind::Problem);
    }
    let signed = |line: Option<&str>, kind: &str| line.is_some_and(|l| l.contains(kind));
    prop_assert!(signed(text.lines().next(), r#""kind":"begin""#), "no begin");
    prop_assert!(signed(text.lines().last(), r#""kind":"end""#), "no end");
    Ok((records, problems))
}

fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        3 => "[0-9]{1,4}\\.[0-9]{1,4}",
        1 => "[-+0-9.,eE' ]{0,12}",
        1 => prop::sample::select(vec!["", "in", "OUT", "A", "NaN", "2026-03-01T08:30:00Z", "2026-02-30", "\u{2212}5", "\u{1f9ea}", "\\", "\t"]).prop_map(str::to_owned),
        1 => "[^\",\n\r]{0,8}",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    #[test]
    fn every_row_is_a_record_or_a_problem(
        rows in prop::collection::vec(prop::collection::vec(cell(), 4..=4), 1..40)
    ) {
        let mut table = "step,lot,role,mass_g\n".to_owned();
        for row in &rows {
            table += &(row.join(",") + "\n");
        }
        let ran = ingest("weighing", &["--decimal", "point"], table.as_bytes());
        let (records, _) = checked(&ran, Kind::Weighing)?;
        // A row may have several problems, one for each bad cell.
        let mut bad: Vec<_> = ran.of("problem").iter().map(|p| p["line"].as_u64()).collect();
        bad.dedup();
        let blank = rows.iter().filter(|row| row.iter().all(|c| c.trim().is_empty())).count();
        let no_rows = usize::from(blank == rows.len());
        prop_assert_eq!(records + bad.len() + blank, rows.len() + no_rows, "{}", ran.text());
    }

    #[test]
    fn bytes_that_mean_nothing_end_in_a_signed_stream(bytes in prop::collection::vec(any::<u8>(), 0..3000)) {
        for args in [&[][..], &["--format", "jsonl"], &["--format", "xlsx"], &["--format", "ods"], &["--encoding", "utf-16le"]] {
            checked(&ingest("lot", args, &bytes), Kind::Lot)?;
        }
    }

    #[test]
    fn bytes_below_a_good_header_end_in_a_signed_stream(
        bytes in prop::collection::vec(prop_oneof![4 => prop::sample::select(b"0123456789.,;\"\n\r\tA".to_vec()), 1 => any::<u8>()], 0..3000)
    ) {
        let table = [&b"lot,dx_mm,dy_mm\n"[..], &bytes].concat();
        checked(&ingest("diameter", &[], &table), Kind::Diameter)?;
    }
}

/// Splitting a source into live pieces anywhere changes nothing.
#[test]
fn a_source_that_comes_in_pieces_gives_the_same_records() {
    use std::io::Write;
    let table =
        "note\nlot;position_m;dx_mm\n\"A \"\"1\"\"\";0,5;1,75\nA;1,0;1,7512\nA;x;1,75\nA;1,5;1,76";
    let whole = ingest("diameter", &[], table.as_bytes()).text();
    for step in [1, 3, 7] {
        let mut child = common::command("ingest", &["diameter", "-"])
            .stdin(std::process::Stdio::piped())
            .stdout(std::process::Stdio::piped())
            .stderr(std::process::Stdio::null())
            .spawn()
            .expect("the program starts");
        let mut stdin = child.stdin.take().expect("a pipe");
        for piece in table.as_bytes().chunks(step) {
            stdin.write_all(piece).expect("it reads on");
            std::thread::sleep(std::time::Duration::from_millis(1));
        }
        drop(stdin);
        let output = child.wait_with_output().expect("it ends");
        assert_eq!(String::from_utf8_lossy(&output.stdout), whole);
    }
}
