//! The program `report`: its page, its workbook, its test results, what changed, and a gate with
//! chosen checks.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

#[path = "report/golden.rs"]
mod golden;

use assert_cmd::Command;
use calamine::{Data, Reader, Xlsx, open_workbook};
use predicates::prelude::*;
use predicates::str::contains;
use std::fmt::Write;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

const STREAM: &str = "tests/golden/report/stream.jsonl";
/// Records of a few more kinds, all invented, so that every drawing has something to show.
const DRAWN: &str = "tests/golden/report/drawn.jsonl";
const EARLIER: &str = "tests/golden/report/earlier.jsonl";

fn report() -> Command {
    let mut command = assert_cmd::cargo::cargo_bin_cmd!("report");
    command.current_dir(env!("CARGO_MANIFEST_DIR")).env_remove("COLUMNS").env_remove("NO_COLOR");
    command
}

fn printed(arguments: &[&str]) -> String {
    let run = report().args(arguments).assert().success();
    String::from_utf8(run.get_output().stdout.clone()).unwrap()
}

fn verdict(check: &str, lot: &str, result: &str) -> String {
    serde_json::json!({"kind": "verdict", "check": check, "result": result, "lot": lot,
        "rule": "r", "why": "w"})
    .to_string()
        + "\n"
}

fn page() -> String {
    printed(&["--format", "html", "--title", "Example lab", "--since", EARLIER, STREAM, DRAWN])
}

#[test]
fn the_page_is_as_it_was() {
    golden::same("page.html", &page());
}

#[test]
fn the_page_asks_for_nothing_and_runs_nothing() {
    let page = page();
    assert!(page.contains("content=\"default-src 'none'; style-src 'unsafe-inline'\""));
    for word in ["<script", "src=", "@import", "url(", "<link", "<iframe", "http://", "https://"] {
        assert!(!page.contains(word), "{word} in the page");
    }
}

#[test]
fn the_page_tells_in_the_order_in_which_a_person_asks() {
    let page = page();
    let at =
        |title: &str| page.find(&format!(">{title}</h2>")).unwrap_or_else(|| panic!("{title}"));
    let order = [
        "Does anything need a person?",
        "What changed since the last report?",
        "Lots",
        "Steps",
        "Machines",
        "The plastic by pass",
        "Trials",
        "All findings",
        "What went in",
    ];
    assert!(order.is_sorted_by_key(|title| at(title)));
}

#[test]
fn every_kind_of_drawing_is_there_and_every_table_has_a_caption() {
    let page = page();
    for title in [
        "Diameter along lot PETG-07",
        "Diameter along lot PETG-08",
        "Histogram of the diameters of lot PETG-07",
        "Control charts of lot PETG-07",
        "Waves along lot PETG-07",
        "Mass flow through the steps",
        "Melt flow of PETG at 230 \u{b0}C and 2.16 kg by pass",
        "Which lot came from which",
        "Trials in their order",
    ] {
        assert!(page.contains(&format!(">{title}</title>")), "no drawing: {title}");
    }
    assert_eq!(page.matches("<table>").count(), page.matches("<table><caption").count());
    let words = page.matches("<svg ").count();
    assert_eq!(page.matches("<desc id").count(), words);
}

#[test]
fn every_kind_of_finding_has_a_table_on_the_page() {
    let page = page();
    for kind in secondmelt_record::Kind::ALL {
        if kind.class() == secondmelt_record::Class::Finding {
            let caption = format!("Findings of the kind {kind}</caption>");
            assert!(page.contains(&caption), "no table of {kind}");
        }
    }
}

/// A reading beyond all others is drawn however many there are: the tip of the curve lies where
/// the scale puts it, at the top.
#[test]
fn one_reading_out_of_many_is_seen() {
    let mut stream = String::from(
        r#"{"kind":"out_share","lot":"A","machine":"P","nominal_mm":1.75,"tolerance_mm":0.05,"readings":20000,"readings_out":1,"readings_out_pct":0.005,"excursions":1}"#,
    );
    for i in 0..20_000 {
        let d = if i == 12_345 { 1.9 } else { 1.75 };
        write!(
            stream,
            "\n{{\"kind\":\"diameter\",\"lot\":\"A\",\"position_m\":{i},\"dx_mm\":{d}}}"
        )
        .unwrap();
    }
    let run = report().args(["--format", "html"]).write_stdin(stream + "\n").assert().success();
    let page = String::from_utf8(run.get_output().stdout.clone()).unwrap();
    let out = page.split("class=\"spread all-out\"").next().unwrap().rsplit("d=\"").next().unwrap();
    assert_eq!(out.matches('M').count(), 1, "one column is out: {out}");
    assert!(page.contains("20\u{a0}000 readings from 1.750 to 1.900 mm"), "{page}");
}

#[test]
fn a_cut_stream_is_an_error_among_the_test_results() {
    let dir = TempDir::new().unwrap();
    let file = dir.path().join("verdicts.xml");
    report().arg("--junit").arg(&file).write_stdin("").assert().code(3);
    let xml = fs::read_to_string(&file).unwrap();
    assert!(xml.contains("name=\"whole\"><error message=\"it is empty"), "{xml}");
}

/// What a spreadsheet finds in a workbook, as text.
fn cells(workbook: &Path) -> String {
    let mut book: Xlsx<_> = open_workbook(workbook).unwrap();
    let mut text = String::new();
    for name in book.sheet_names() {
        writeln!(text, "# {name}").unwrap();
        let formulas = book.worksheet_formula(&name).unwrap();
        assert!(formulas.cells().all(|(_, _, f)| f.is_empty()), "a formula in {name}");
        for row in book.worksheet_range(&name).unwrap().rows() {
            let shown = row.iter().map(|cell| match cell {
                Data::Empty => String::new(),
                Data::String(text) => format!("{text:?}"),
                other => other.to_string(),
            });
            writeln!(text, "{}", shown.collect::<Vec<_>>().join("\t")).unwrap();
        }
    }
    text
}

#[test]
fn the_workbook_is_as_it_was_and_nothing_is_left_beside_it() {
    let dir = TempDir::new().unwrap();
    let file = dir.path().join("lab.xlsx");
    report().arg("--xlsx").arg(&file).arg(STREAM).assert().success().stdout("");
    golden::same("workbook.txt", &cells(&file));
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
    let first = fs::read(&file).unwrap();
    report().arg("--xlsx").arg(&file).arg(STREAM).assert().success();
    assert!(first == fs::read(&file).unwrap(), "the same records give the same bytes");
}

#[test]
fn hostile_names_do_no_harm_in_files_of_any_format() {
    let dir = TempDir::new().unwrap();
    let long = "n".repeat(10 << 10);
    let names = [
        "<script>alert(1)</script>",
        "=HYPERLINK(\"http://a.example\",\"x\")",
        "../../x",
        "ab\u{202e}gnp.exe",
        "two\nlines",
        "]]>",
        long.as_str(),
    ];
    let mut stream = String::new();
    for name in names {
        stream += &verdict(name, name, "fails");
        let lot = serde_json::json!({"kind": "lot", "lot": name, "material": name, "note": name});
        let step = serde_json::json!({"kind": "step", "step": name, "does": "other", "settings": {name: 1}});
        writeln!(stream, "{lot}\n{step}").unwrap();
    }
    let path = |name: &str| dir.path().join(name);
    report()
        .arg("--html")
        .arg(path("r.html"))
        .arg("--xlsx")
        .arg(path("r.xlsx"))
        .arg("--junit")
        .arg(path("r.xml"))
        .write_stdin(stream)
        .assert()
        .success()
        .stdout("");
    let found: Vec<_> = fs::read_dir(dir.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(found.len(), 3, "{found:?}");
    let page = fs::read_to_string(path("r.html")).unwrap();
    assert!(!page.contains("<script") && page.contains("&lt;script&gt;alert(1)"));
    assert!(!page.contains('\u{202e}') && page.contains("two\\u{a}lines"));
    let book = cells(&path("r.xlsx"));
    assert!(book.contains(r#""=HYPERLINK(\"http://a.example\",\"x\")""#), "{book}");
    assert!(!book.contains('\u{202e}') && book.contains(&long));
    assert!(fs::read_to_string(path("r.xml")).unwrap().contains("]]&gt;"));
}

#[test]
fn what_changed_is_told_by_sort() {
    let text = printed(&["--since", EARLIER, "--width", "1000", STREAM]);
    for line in [
        "1 new, 2 worse, 1 better, 1 resolved, 1 moved and 1 gone. 2 verdicts as before; \
         1 figure within what chance explains. Compared with tests/golden/report/earlier.jsonl.",
        "new: balance for step extrude-7 fails: 9.05 g went in",
        "worse: diameter for lot PETG-07, machine printer-a fails, was conforms: ",
        "worse: yield of step extrude-7 from 93.100 \u{b1} 0.083 to 92.085 \u{b1} 0.083 %, beyond noise.",
        "better: diameter for lot PETG-08, machine printer-a undecided, was fails: ",
        "resolved: diameter for lot PETG-08, machine printer-b conforms, was undecided: ",
        "moved: mean diameter of lot PETG-07 from 1.75010 \u{b1} 0.00031 to 1.75348 \u{b1} 0.00038 mm",
        "gone: diameter for lot PETG-05, machine printer-a, was fails; no verdict on it today.",
    ] {
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let wanted = line.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(&wanted), "no {wanted:?} in {}", &flat[..flat.len().min(4000)]);
    }
}

#[test]
fn nothing_changed_against_itself() {
    let text = printed(&["--since", STREAM, STREAM]);
    assert!(text.contains("Nothing that needs a person changed. 6 verdicts as before."), "{text}");
    assert!(!printed(&[STREAM]).contains("What changed"));
}

#[test]
fn an_earlier_file_that_cannot_be_read_is_told_and_the_report_comes_all_the_same() {
    let run = report().args(["--since", "no/such/file", STREAM]).assert().code(3);
    run.stderr(contains("--since no/such/file could not be read"))
        .stdout(contains("Does anything need a person?"));
}

#[test]
fn the_gate_says_why_and_which_checks_count_can_be_chosen() {
    let stream = verdict("bore", "A", "conforms")
        + &verdict("diameter", "A", "fails")
        + &verdict("diameter", "B", "fails")
        + &verdict("balance", "B", "fails");
    let gate = |arguments: &[&str]| report().args(arguments).write_stdin(stream.as_str()).assert();
    gate(&["--gate"]).code(1).stderr(
        contains("the gate says no: 3 failed verdicts (2 diameter, 1 balance)")
            .and(predicate::function(|text: &str| text.lines().count() == 1)),
    );
    gate(&["--gate-only", "bore"]).code(0);
    gate(&["--gate-only", "bore", "--gate-only", "balance"])
        .code(1)
        .stderr(contains("(1 balance)"));
    gate(&["--gate-ignore", "diameter", "--gate-ignore", "balance"]).code(0);
    gate(&["--gate-ignore", "diameter"]).code(1).stderr(contains("1 failed verdict (1 balance)"));
    // A check that nobody made must not pass for a good one.
    gate(&["--gate-only", "bor"]).code(1).stderr(contains("no verdict of the check bor"));
    let none = ["--gate-ignore", "diameter", "--gate-ignore", "balance", "--gate-ignore", "bore"];
    gate(&none).code(1).stderr(contains("no verdict at all"));
    gate(&["--gate-only", "a", "--gate-ignore", "b"]).code(2);
}

#[test]
fn problems_count_for_every_gate() {
    let stream = verdict("bore", "A", "conforms") + "not a record\n";
    let run = report().args(["--gate-only", "bore"]).write_stdin(stream).assert().code(1);
    run.stderr(contains("1 problem"));
}

#[test]
fn a_full_disk_is_told_for_every_format() {
    let dir = TempDir::new().unwrap();
    let file = dir.path().join("file");
    fs::write(&file, "x").unwrap();
    let below = file.join("below");
    for option in ["--html", "--xlsx", "--junit"] {
        let run = report().arg(option).arg(&below).arg(STREAM).assert().code(3);
        run.stderr(contains(below.to_str().unwrap()).and(contains("could not be written")));
    }
}
