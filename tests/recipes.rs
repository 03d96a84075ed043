//! The recipes of `examples/store` on a store made from the example lab. Those in SQL and Python
//! run where RECIPES_PYTHON names a Python that has DuckDB and polars, that for LibreOffice where it is there.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use calamine::{Data, Reader, Xlsx, open_workbook};
use common::{program, top};
use std::path::Path;
use std::process::Command;

/// A store of two spools and the printers.
fn store(at: &Path) {
    let lab = top().join("examples/lab");
    let inbox = at.join("inbox");
    for (from, to) in [
        ("machines.jsonl", "machine/machines.jsonl"),
        ("lots.csv", "lot/lots.csv"),
        ("gauge/spool-1a.csv", "diameter/lot=spool-1a/log.csv"),
        ("maps/gauge-logger.toml", "diameter/lot=spool-1a/map.toml"),
        ("gauge/spool-2b.csv", "diameter/lot=spool-2b/log.csv"),
        ("maps/gauge-logger.toml", "diameter/lot=spool-2b/map.toml"),
    ] {
        let to = inbox.join(to);
        std::fs::create_dir_all(to.parent().unwrap()).unwrap();
        std::fs::copy(lab.join(from), to).unwrap();
    }
    let output = Command::new(top().join("scripts/nightly"))
        .args([&inbox, &at.join("store")])
        .env("PROGRAMS", program("ingest").parent().unwrap())
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(1), "{}", String::from_utf8_lossy(&output.stderr));
}

fn said(command: &mut Command) -> String {
    let output = command.output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn each_recipe_gives_what_it_promises() {
    let at = tempfile::tempdir().unwrap();
    store(at.path());
    let (recipes, store) = (top().join("examples/store"), at.path().join("store"));
    if Command::new("jq").arg("--version").output().is_ok() {
        let failed = said(
            Command::new("jq")
                .arg("-r")
                .arg("-f")
                .arg(recipes.join("failed.jq"))
                .arg(store.join("latest/findings.jsonl")),
        );
        assert!(failed.contains("fails\tdiameter-tolerance\tspool-2b\t"), "{failed}");
    }
    let Ok(python) = std::env::var("RECIPES_PYTHON") else { return };
    let sql = |name: &str, within: &Path| {
        let text = std::fs::read_to_string(recipes.join(name)).unwrap();
        let code = "import duckdb, sys; print(duckdb.sql(sys.argv[1]).fetchall())";
        said(Command::new(&python).args(["-c", code, &text]).current_dir(within))
    };
    let kept = sql("kept.sql", &store.join("latest"));
    assert!(kept.contains("'spool-2b', 'printer-tight'"), "{kept}");
    let readings = sql("readings.sql", &store);
    assert!(
        readings.contains("('spool-1a', 3000,") && readings.contains("('spool-2b', 1500,"),
        "{readings}"
    );
    let spread = said(Command::new(&python).arg(recipes.join("spread.py")).arg(&store));
    assert!(spread.starts_with("lot,readings,mean_mm,sd_mm\nspool-1a,3000,1.75"), "{spread}");
}

/// The rows of a spreadsheet.
fn rows(sheet: &Path) -> Vec<Vec<Data>> {
    let mut book: Xlsx<_> = open_workbook(sheet).unwrap();
    let range = book.worksheet_range_at(0).unwrap().unwrap();
    range.rows().map(<[Data]>::to_vec).collect()
}

#[test]
fn libreoffice_reads_the_tables_of_either_locale_as_the_same_numbers() {
    if Command::new("soffice").arg("--version").output().is_err() {
        return;
    }
    let at = tempfile::tempdir().unwrap();
    let stream = top().join("tests/golden/report/stream.jsonl");
    let sheet = |locale: &str, options: &[&str]| {
        let (tables, sheets) = (at.path().join(format!("t-{locale}")), at.path().join(locale));
        said(Command::new(program("report")).arg("--csv").arg(&tables).args(options).arg(&stream));
        let recipe = top().join("examples/store/to-spreadsheet");
        said(Command::new(recipe).args([&tables, &sheets]).arg(locale));
        rows(&sheets.join("out_share.xlsx"))
    };
    let comma = sheet("comma", &["--format", "text"]);
    let semicolon =
        sheet("semicolon", &["--format", "text", "--csv-delimiter", ";", "--csv-decimal", "comma"]);
    assert_eq!(comma, semicolon);
    let column = comma[0].iter().position(|head| *head == "kept_m").unwrap();
    assert!(
        comma.len() > 1 && comma[1..].iter().any(|row| matches!(row[column], Data::Float(_))),
        "{comma:?}"
    );
}
