//! The example lab and the chain that is shown on it. The expectations are what the
//! generator hid in the lab: see `examples/lab/README.md`.

#[path = "../examples/make-lab/lab/mod.rs"]
mod lab;

#[path = "report/golden.rs"]
mod golden;

use calamine::{Reader, Xlsx, open_workbook};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;
use tempfile::TempDir;

type Outcome = Result<(), Box<dyn std::error::Error>>;

fn repository() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The folder that one run of the demo left, the same for all tests.
fn demo() -> Result<PathBuf, String> {
    static RUN: OnceLock<Result<TempDir, String>> = OnceLock::new();
    let run = RUN.get_or_init(|| run_demo().map_err(|error| error.to_string()));
    run.as_ref().map(|folder| folder.path().to_owned()).map_err(Clone::clone)
}

fn run_demo() -> Result<TempDir, Box<dyn std::error::Error>> {
    let folder = TempDir::new()?;
    run_demo_into(folder.path())?;
    Ok(folder)
}

/// Runs the demo with the programs of this build.
fn run_demo_into(folder: &Path) -> Outcome {
    let programs = Path::new(env!("CARGO_BIN_EXE_ingest")).parent().ok_or("no folder")?;
    let run = Command::new(repository().join("scripts/demo"))
        .arg(folder)
        .env("PROGRAMS", programs)
        .output()?;
    let said = String::from_utf8_lossy(&run.stderr);
    if run.status.success() { Ok(()) } else { Err(format!("{}: {said}", run.status).into()) }
}

fn records() -> Result<Vec<Value>, Box<dyn std::error::Error>> {
    let text = std::fs::read_to_string(demo()?.join("records.jsonl"))?;
    Ok(text.lines().map(serde_json::from_str).collect::<Result<_, _>>()?)
}

/// Records of a kind in which these fields hold these texts.
fn found(kind: &str, fields: &[(&str, &str)]) -> Result<Vec<Value>, Box<dyn std::error::Error>> {
    let fits = |record: &Value| {
        record["kind"] == kind && fields.iter().all(|(field, text)| record[*field] == *text)
    };
    Ok(records()?.into_iter().filter(fits).collect())
}

/// The results of a check, where these fields hold these texts.
fn results(check: &str, fields: &[(&str, &str)]) -> Result<Vec<Value>, Box<dyn std::error::Error>> {
    let mut verdicts = found("verdict", fields)?;
    verdicts.retain(|verdict| verdict["check"] == check);
    Ok(verdicts.into_iter().map(|mut verdict| verdict["result"].take()).collect())
}

fn diameter(lot: &str, machine: &str) -> Result<Vec<Value>, Box<dyn std::error::Error>> {
    results("diameter-tolerance", &[("lot", lot), ("machine", machine)])
}

#[test]
fn the_committed_lab_is_what_the_generator_writes() -> Outcome {
    let folder = repository().join("examples/lab");
    for (name, bytes) in lab::files()? {
        let committed = std::fs::read(folder.join(&name))?;
        let same = committed == bytes;
        assert!(same, "{name}: run `cargo run --example make-lab -- examples/lab`");
    }
    Ok(())
}

#[test]
fn every_row_of_the_lab_is_used_and_the_stream_is_whole() -> Outcome {
    assert_eq!(found("problem", &[])?, Vec::<Value>::new());
    let rows = [
        ("machine", 6),
        ("turning_part", 3),
        ("lot", 29),
        ("step", 20),
        ("weighing", 81),
        ("marking", 3),
        ("immersion", 4),
        ("moisture", 8),
        ("sieve", 21),
        ("melt_flow", 60),
        ("inspection", 5),
        ("inclusion", 4),
        ("trial", 21),
    ];
    for (kind, n) in rows {
        assert_eq!(found(kind, &[])?.len(), n, "{kind}");
    }
    for end in found("end", &[])? {
        assert_eq!(end.get("cut_short"), None);
    }
    let begun = found("begin", &[])?.len();
    assert_eq!(found("end", &[])?.len(), begun);
    assert!(begun > 20, "{begun} runs signed the stream");
    Ok(())
}

#[test]
fn a_second_run_into_the_same_folder_says_the_same() -> Outcome {
    let (first, again) = (demo()?, run_demo()?);
    run_demo_into(again.path())?;
    for name in ["records.jsonl", "report.txt", "report.md"] {
        let same = std::fs::read(first.join(name))? == std::fs::read(again.path().join(name))?;
        assert!(same, "{name} differs");
    }
    Ok(())
}

#[test]
fn the_raw_readings_are_left_out_and_their_summaries_are_there() -> Outcome {
    assert_eq!(found("diameter", &[])?.len(), 0);
    let lots = ["spool-1a", "spool-1b", "spool-2a", "spool-2b", "spool-2c", "spool-3a"];
    let readings = [3000, 2000, 2400, 1500, 10, 3000];
    for (lot, n) in lots.into_iter().zip(readings) {
        let summaries = found("diameter_summary", &[("lot", lot)])?;
        let counts: Vec<_> = summaries.iter().map(|s| &s["readings"]).collect();
        assert_eq!(counts, [n], "{lot}");
    }
    Ok(())
}

#[test]
fn only_the_step_with_the_mis_keyed_weighing_fails_its_balance() -> Outcome {
    let failed = found("verdict", &[("check", "step-balance"), ("result", "fails")])?;
    let steps: Vec<_> = failed.iter().map(|verdict| &verdict["step"]).collect();
    assert_eq!(steps, ["p2-shred"]);
    let failed = found("verdict", &[("check", "lot-balance"), ("result", "fails")])?;
    let lots: Vec<_> = failed.iter().map(|verdict| &verdict["lot"]).collect();
    assert_eq!(lots, ["regrind-2"]);
    // Tens and grams changed places: 586 g keyed as 568 g.
    let balance = found("step_balance", &[("step", "p2-shred")])?;
    let unexplained = balance.iter().filter_map(|b| b["unexplained_g"].as_f64());
    assert!(unexplained.clone().all(|g| (g - 18.0).abs() < 1.0), "{balance:?}");
    assert_eq!(unexplained.count(), 1);
    Ok(())
}

#[test]
fn the_step_whose_dust_nobody_weighed_stays_undecided() -> Outcome {
    assert_eq!(results("step-balance", &[("step", "p3-shred")])?, ["undecided"]);
    Ok(())
}

#[test]
fn the_clean_spool_conforms_on_both_printers_for_its_diameter() -> Outcome {
    assert_eq!(diameter("spool-1a", "printer-tight")?, ["conforms"]);
    assert_eq!(diameter("spool-1a", "printer-easy")?, ["conforms"]);
    assert_eq!(diameter("spool-1a", "printer-wide")?.len(), 0);
    assert_eq!(diameter("spool-1b", "printer-wide")?, ["conforms"]);
    Ok(())
}

#[test]
fn the_pulsating_spool_fits_the_easy_printer_only() -> Outcome {
    assert_eq!(diameter("spool-2a", "printer-tight")?, ["fails"]);
    assert_eq!(diameter("spool-2a", "printer-easy")?, ["conforms"]);
    Ok(())
}

#[test]
fn the_lump_is_one_short_excursion_that_both_printers_refuse() -> Outcome {
    for machine in ["printer-tight", "printer-easy"] {
        assert_eq!(diameter("spool-2b", machine)?, ["fails"]);
        let lumps = found("excursion", &[("lot", "spool-2b"), ("machine", machine)])?;
        let places: Vec<_> = lumps.iter().filter_map(|e| e["worst_at_m"].as_f64()).collect();
        assert!(places.iter().any(|m| (m - 41.3).abs() < 0.2), "{lumps:?}");
    }
    assert_eq!(found("excursion", &[("lot", "spool-2b"), ("machine", "printer-easy")])?.len(), 1);
    Ok(())
}

#[test]
fn ten_readings_with_a_caliper_settle_it_for_the_easy_printer_only() -> Outcome {
    assert_eq!(diameter("spool-2c", "printer-easy")?, ["conforms"]);
    assert_eq!(diameter("spool-2c", "printer-tight")?, ["undecided"]);
    Ok(())
}

#[test]
fn the_thick_spool_asks_for_a_faster_puller() -> Outcome {
    let changes = found("adjustment", &[("lot", "spool-3a")])?;
    let puller: Vec<_> = changes
        .iter()
        .filter(|a| a["what"].as_str().is_some_and(|w| w.contains("line_speed")))
        .collect();
    assert_eq!(puller.len(), 1, "{changes:?}");
    // Same flow at the nominal diameter: speed goes with the square of the diameter
    // (conservation of volume). The spool is 1.771 mm on the mean, so 4.5 m/min
    // becomes 4.5 * (1.771 / 1.75)^2 = 4.61 m/min.
    let to = puller.first().and_then(|a| a["to"].as_f64()).ok_or("no value")?;
    assert!((to - 4.61).abs() < 0.01, "{to}");
    Ok(())
}

#[test]
fn text_markdown_and_tables_are_left_where_it_says() -> Outcome {
    let folder = demo()?;
    for name in ["report.txt", "report.md"] {
        let text = std::fs::read_to_string(folder.join(name))?;
        assert!(text.contains("p2-shred") && text.contains("spool-2b"), "{name}:\n{text}");
    }
    let tables = std::fs::read_dir(folder.join("csv"))?.collect::<Result<Vec<_>, _>>()?;
    let names: Vec<_> =
        tables.iter().map(|t| t.file_name().to_string_lossy().into_owned()).collect();
    assert!(names.iter().any(|name| name == "verdict.csv"), "{names:?}");
    assert!(names.iter().all(|name| name.ends_with(".csv")), "{names:?}");
    Ok(())
}

#[test]
fn the_wave_of_the_pulsating_spool_is_the_screw() -> Outcome {
    let records = records()?;
    let waves: Vec<_> = records.iter().filter(|r| r["kind"] == "wave").collect();
    let of_screw = |r: &&&Value| r["lot"] == "spool-2a" && r["part"] == "screw";
    let wave = waves.iter().find(of_screw).ok_or("no wave of the screw")?;
    let number = |name: &str| wave[name].as_f64().ok_or("no number");
    assert!((number("period_m")? - 0.3).abs() < 0.005, "{wave}");
    assert!((number("amplitude_mm")? - 0.028).abs() < 0.003, "{wave}");
    assert!(waves.iter().all(|r| r["lot"] == "spool-2a"), "a wave where there is none: {waves:?}");
    Ok(())
}

/// The sheets of a workbook, with the heads of their columns and the number of their rows; that cells hold
/// what the tables hold is tested elsewhere.
fn outline(workbook: &Path) -> Result<String, Box<dyn std::error::Error>> {
    let mut book: Xlsx<_> = open_workbook(workbook)?;
    let mut text = String::new();
    for name in book.sheet_names() {
        let sheet = book.worksheet_range(&name)?;
        let heads = sheet
            .rows()
            .next()
            .map(|row| row.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "));
        text += &format!("{name}: {} rows\n    {}\n", sheet.height(), heads.unwrap_or_default());
    }
    Ok(text)
}

#[test]
fn the_reports_of_the_lab_are_as_they_were() -> Outcome {
    let folder = demo()?;
    for name in ["report.txt", "report.md", "report.html", "verdicts.xml"] {
        golden::same_in("lab", name, &std::fs::read_to_string(folder.join(name))?);
    }
    golden::same_in("lab", "workbook.txt", &outline(&folder.join("report.xlsx"))?);
    let mut tables = std::fs::read_dir(folder.join("csv"))?.collect::<Result<Vec<_>, _>>()?;
    tables.sort_by_key(std::fs::DirEntry::file_name);
    for table in tables {
        let name = format!("csv/{}", table.file_name().to_string_lossy());
        golden::same_in("lab", &name, &std::fs::read_to_string(table.path())?);
    }
    Ok(())
}
