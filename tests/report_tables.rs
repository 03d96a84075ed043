//! The tables that `report --csv` writes: what they hold, and what they never do.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use assert_cmd::Command;
use predicates::str::contains;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// Names that have done harm somewhere.
const HOSTILE: [&str; 8] = [
    "<script>alert(1)</script>",
    "=HYPERLINK(\"http://a.example\",\"x\")",
    "../../x",
    "ab\u{202e}gnp.exe",
    "two\nlines",
    "@SUM(1)",
    "-5;\"6\",7",
    "\tTab",
];

fn report(csv: &Path, arguments: &[&str], input: &str) -> assert_cmd::assert::Assert {
    let mut command: Command = assert_cmd::cargo::cargo_bin_cmd!("report");
    command.arg("--csv").arg(csv).args(arguments).write_stdin(input).assert()
}

fn read(csv: &Path, table: &str) -> String {
    fs::read_to_string(csv.join(table)).unwrap()
}

fn lot(name: &str) -> String {
    serde_json::json!({"kind": "lot", "lot": name, "material": "PP", "note": name}).to_string()
}

#[test]
fn hostile_names_are_text_in_every_cell_and_never_a_path() {
    let dir = TempDir::new().unwrap();
    let csv = dir.path().join("csv");
    let long = "n".repeat(10 << 10);
    let lots: Vec<String> = HOSTILE.iter().copied().chain([long.as_str()]).map(lot).collect();
    report(&csv, &[], &(lots.join("\n") + "\n{\"kind\":\"x.../../y\"}\n")).success().stdout("");
    let table = read(&csv, "lot.csv");
    assert!(
        table.contains("\r\n\"'=HYPERLINK(\"\"http://a.example\"\",\"\"x\"\")\",PP,"),
        "{table}"
    );
    assert!(table.contains("\r\n'@SUM(1),PP,"), "{table}");
    assert!(table.contains("\r\n\"'-5;\"\"6\"\",7\",PP,"), "{table}");
    assert!(table.contains("\r\n'\tTab,PP,"), "{table}");
    assert!(table.contains("\r\n\"two\nlines\",PP,"), "{table}");
    assert!(table.contains(&format!("\r\n{long},PP,")), "a long name is not cut in a table");
    assert_eq!(
        fs::read_dir(dir.path()).unwrap().count(),
        1,
        "nothing is written beside the tables"
    );
}

#[test]
fn a_table_starts_with_a_byte_order_mark_and_ends_its_lines_with_crlf() {
    let dir = TempDir::new().unwrap();
    report(dir.path(), &[], &lot("A")).success();
    let table = read(dir.path(), "lot.csv");
    // RFC 4180, 2.1; the mark is common practice for spreadsheets, not part of it.
    assert!(table.starts_with("\u{feff}lot,material,"), "{table}");
    assert_eq!(table.matches('\n').count(), table.matches("\r\n").count());
    assert!(table.ends_with("\r\n"));
}

#[test]
fn free_names_become_columns_and_numbers_stay_as_they_were_written() {
    let dir = TempDir::new().unwrap();
    let steps = r#"{"kind":"step","step":"a","does":"extrude","settings":{"melt_c":238.50}}
{"kind":"step","step":"b","does":"print","settings":{"bed_c":-1e-7,"melt_c":7}}"#;
    report(dir.path(), &[], steps).success();
    let table = read(dir.path(), "step.csv");
    let mut lines = table.lines();
    let head: Vec<&str> = lines.next().unwrap().split(',').collect();
    let at = |name: &str| head.iter().position(|h| *h == name).unwrap();
    let rows: Vec<Vec<&str>> = lines.map(|l| l.split(',').collect()).collect();
    let column = |name: &str| rows.iter().map(|r| r[at(name)]).collect::<Vec<_>>();
    assert_eq!(column("settings.melt_c"), ["238.50", "7"]);
    assert_eq!(column("settings.bed_c"), ["", "-1e-7"]);
    assert_eq!(at("settings.melt_c"), at("settings.bed_c") + 1);
}

#[test]
fn more_free_names_than_columns_are_kept_together_in_one_more() {
    let dir = TempDir::new().unwrap();
    let settings: serde_json::Map<String, serde_json::Value> =
        (0..300).map(|i| (format!("s{i:03}"), i.into())).collect();
    let step = serde_json::json!({"kind":"step","step":"a","does":"print","settings":settings});
    report(dir.path(), &[], &step.to_string()).success();
    let table = read(dir.path(), "step.csv");
    assert_eq!(table.lines().next().unwrap().matches("settings.s").count(), 200);
    assert!(table.contains("settings (all others)"));
    assert!(table.contains("\"\"s299\"\":299}"), "{table}");
}

#[test]
fn semicolons_and_decimal_commas_are_there_for_those_who_need_them() {
    let dir = TempDir::new().unwrap();
    let weighing = r#"{"kind":"weighing","step":"a","lot":"1.5","role":"in","mass_g":812.40}"#;
    report(dir.path(), &["--csv-delimiter", ";", "--csv-decimal", "comma"], weighing).success();
    let table = read(dir.path(), "weighing.csv");
    assert!(table.contains("\r\na;1.5;in;812,40;"), "{table}");
}

#[test]
fn raw_readings_are_counted_but_not_written() {
    let dir = TempDir::new().unwrap();
    let reading = r#"{"kind":"diameter","lot":"A","position_m":1,"dx_mm":1.75}"#;
    report(dir.path(), &["--format", "text"], reading).success().stdout(contains("diameter"));
    assert!(!dir.path().join("diameter.csv").exists());
}

#[test]
fn a_new_report_takes_the_tables_of_an_old_one_away() {
    let dir = TempDir::new().unwrap();
    report(dir.path(), &[], &lot("A")).success();
    report(dir.path(), &["--csv-delimiter", "tab"], r#"{"kind":"scale","scale":"bench"}"#)
        .success();
    assert!(!dir.path().join("lot.csv").exists());
    assert!(read(dir.path(), "contents.csv").contains("scale.csv\tscale\t1\t"));
    report(dir.path(), &[], &lot("A")).success();
    assert!(!dir.path().join("scale.csv").exists());
}

#[test]
fn files_of_the_lab_are_never_overwritten() {
    let dir = TempDir::new().unwrap();
    let own = dir.path().join("lot.csv");
    fs::write(&own, "lot,material\nA,PP\n").unwrap();
    report(dir.path(), &[], &lot("B")).code(3).stderr(contains("holds files that no report wrote"));
    assert_eq!(fs::read_to_string(own).unwrap(), "lot,material\nA,PP\n");
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
}

#[test]
fn a_cut_stream_is_told_in_the_table_of_contents() {
    let dir = TempDir::new().unwrap();
    let begin = r#"{"kind":"begin","id":"1","program":"p","version":"1","contract":1,"options":[],"after":[]}"#;
    report(dir.path(), &[], &format!("{begin}\n{}", lot("A"))).code(3);
    assert!(read(dir.path(), "contents.csv").contains("cut short: p (run 1)"));
}
