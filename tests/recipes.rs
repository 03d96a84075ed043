//! The recipes of `examples/store` on a store made from the example lab. Those in SQL and Python
//! run where RECIPES_PYTHON names a Python that has DuckDB and polars.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

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
