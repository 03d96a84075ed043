//! `ingest`: the same table in the dialects that instruments and spreadsheets write.

#![expect(clippy::unwrap_used, reason = "a test says what is wrong by failing")]

mod common;

use common::{Ran, run, top};
use proptest::prelude::*;
use rust_xlsxwriter::{ExcelDateTime, Format, Workbook};
use serde_json::{Value, json};
use std::fs;

fn ingest(kind: &str, args: &[&str], text: impl AsRef<[u8]>) -> Ran {
    let args: Vec<&str> = [kind].iter().chain(args).chain(&["-"]).copied().collect();
    run("ingest", &args, text.as_ref())
}

fn diameters(ran: &Ran) -> Vec<String> {
    let start = "{\"kind\":\"diameter\"";
    ran.text().lines().filter(|l| l.starts_with(start)).map(str::to_owned).collect()
}

fn utf16(text: &str, big: bool) -> Vec<u8> {
    let units = std::iter::once(0xfeff).chain(text.encode_utf16());
    units.flat_map(|u| if big { u.to_be_bytes() } else { u.to_le_bytes() }).collect()
}

/// Bytes of Windows-1252 for text whose odd letters are those of Latin-1, where the two
/// are the same.
fn latin(text: &str) -> Vec<u8> {
    text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect()
}

const TABLE: &str = "lot;Position [m];Diameter X [µm];Diameter Y (mm)\nMüller 1;0,50;1749;1,7512\nMüller 1;1,00;1750,5;1,75\n";

fn expected() -> Vec<String> {
    vec![
        r#"{"kind":"diameter","lot":"Müller 1","position_m":0.50,"dx_mm":1.749,"dy_mm":1.7512}"#
            .to_owned(),
        r#"{"kind":"diameter","lot":"Müller 1","position_m":1.00,"dx_mm":1.7505,"dy_mm":1.75}"#
            .to_owned(),
    ]
}

#[test]
fn semicolons_with_decimal_commas_are_understood_unasked() {
    let ran = ingest("diameter", &[], TABLE);
    assert_eq!((ran.status, ran.stderr.as_str()), (0, ""));
    assert_eq!(diameters(&ran), expected());
}

#[test]
fn a_byte_order_mark_and_carriage_returns_change_nothing() {
    let text = format!("\u{feff}{}", TABLE.replace('\n', "\r\n"));
    assert_eq!(diameters(&ingest("diameter", &[], text)), expected());
    assert_eq!(diameters(&ingest("diameter", &[], TABLE.trim_end())), expected());
}

#[test]
fn utf_16_is_known_by_its_mark_and_read_as_stated_without() {
    for big in [false, true] {
        assert_eq!(diameters(&ingest("diameter", &[], utf16(TABLE, big))), expected());
        let label = if big { "utf-16be" } else { "utf-16le" };
        let bare = utf16(TABLE, big).split_off(2);
        assert_eq!(diameters(&ingest("diameter", &["--encoding", label], bare)), expected());
    }
}

#[test]
fn utf_16_without_a_mark_and_old_line_ends_are_told_and_not_guessed() {
    let ran = ingest("diameter", &[], utf16(TABLE, false).split_off(2));
    assert_eq!(ran.status, 3);
    let problem = ran.only("problem");
    assert_eq!(problem["code"], "unreadable");
    assert!(problem["advice"].as_str().unwrap().contains("--encoding utf-16le"), "{problem}");
    let ran = ingest("diameter", &[], TABLE.replace('\n', "\r"));
    assert!(ran.only("problem")["found"].as_str().unwrap().contains("carriage return"));
}

#[test]
fn zero_bytes_of_a_torn_log_cost_their_row_only() {
    let ran = ingest("diameter", &[], "lot,dx_mm\nA,1.75\n\0\0\0A,1.75\nA,1.76\n");
    assert_eq!(ran.of("diameter").len(), 2);
    assert_eq!(ran.only("problem")["line"], 3);
}

#[test]
fn windows_1252_is_assumed_where_all_odd_bytes_are_its_letters_and_told() {
    let ran = ingest("diameter", &[], latin(TABLE));
    assert_eq!(diameters(&ran), expected());
    assert!(
        ran.stderr.contains("Windows-1252") && ran.stderr.contains("--encoding"),
        "{}",
        ran.stderr
    );
    let ran = ingest("diameter", &["--encoding", "windows-1252"], latin(TABLE));
    assert_eq!((diameters(&ran), ran.stderr.as_str()), (expected(), ""));
}

#[test]
fn lines_above_the_header_are_skipped_and_told() {
    let text = format!("Gauge log; export\nHead at 22 °C\n\n{TABLE}");
    let ran = ingest("diameter", &[], &text);
    assert_eq!(diameters(&ran), expected());
    assert!(ran.stderr.contains("2 lines above the header (line 4)"), "{}", ran.stderr);
    let ran = ingest("diameter", &["--header-line", "4"], &text);
    assert_eq!(diameters(&ran), expected());
}

#[test]
fn columns_that_are_no_fields_are_ignored_and_told() {
    let ran = ingest("diameter", &[], "lot\tdx_mm\tFan speed\nA\t1.75\tfast\n");
    assert_eq!(diameters(&ran), [r#"{"kind":"diameter","lot":"A","dx_mm":1.75}"#]);
    assert!(ran.stderr.contains("Fan speed"), "{}", ran.stderr);
}

#[test]
fn quoted_cells_may_hold_delimiters_quotes_and_line_ends() {
    let text =
        "lot,material,note\nA,PP,\"one, two\nthree \"\"3\"\"\"\nB,\"PP\",5\" pipe\n\"C\",PP,x\n";
    let ran = ingest("lot", &[], text);
    let lots = ran.of("lot");
    assert_eq!(lots.len(), 3, "{}", ran.text());
    assert_eq!(lots[0]["note"], "one, two\nthree \"3\"");
    assert_eq!(lots[1]["note"], "5\" pipe");
    let at: Vec<_> = lots.iter().map(|l| l["src"]["line"].as_u64().unwrap()).collect();
    assert_eq!(at, [2, 4, 5]);
}

#[test]
fn a_quote_that_is_never_closed_costs_its_own_line_only() {
    let ran = ingest("lot", &[], "lot,material,note\nA,PP,\"open\nB,PP,x\nC,PP,y\n");
    let problem = ran.only("problem");
    assert_eq!((&problem["line"], &problem["raw"]), (&2.into(), &"A,PP,\"open".into()));
    assert!(problem["found"].as_str().unwrap().contains("not closed"));
    let lots: Vec<_> = ran.of("lot").iter().map(|l| l["src"]["line"].clone()).collect();
    assert_eq!(lots, [json!(3), json!(4)]);
}

#[test]
fn json_lines_are_matched_by_their_keys_and_keep_their_digits() {
    let text = "{\"Lot\":\"A\",\"dx_mm\":1.7500,\"extra\":{\"deep\":1}}\n\
                {\"lot\":\"A\",\"Diameter X [µm]\":1751}\n{\"Lot\":\"A\",\"dx_mm\":null}\nnot json\n\
                {\"Lot\":\"A\",\"dx_mm\":1.8,\"dx_mm\":1.9}\n";
    let ran = ingest("diameter", &[], &text[..text.find("{\"lot\"").unwrap()]);
    assert_eq!(diameters(&ran), [r#"{"kind":"diameter","lot":"A","dx_mm":1.7500}"#]);
    assert!(ran.stderr.contains("extra.deep"), "{}", ran.stderr);
    // Two keys for one field are refused, as two columns are.
    assert_eq!(ingest("diameter", &[], text).only("problem")["code"], "bad-column");
    let lines = text.lines().filter(|l| !l.contains("µm")).collect::<Vec<_>>().join("\n");
    let codes: Vec<Value> =
        ingest("diameter", &[], lines).of("problem").iter().map(|p| p["code"].clone()).collect();
    assert_eq!(codes, [json!("missing-field"), json!("not-json"), json!("duplicate-key")]);
}

#[test]
fn nested_json_reaches_named_numbers() {
    let text =
        r#"{"kind":"step","step":"s1","does":"print","settings":{"melt_c":240.0,"fan":"x"}}"#;
    let ran = ingest("step", &[], text);
    let problem = ran.only("problem");
    assert_eq!(
        (&problem["code"], &problem["field"]),
        (&"not-a-number".into(), &"settings.fan".into())
    );
    let ran = ingest("step", &[], text.replace(",\"fan\":\"x\"", ""));
    assert!(ran.text().contains(r#""settings":{"melt_c":240.0}"#), "{}", ran.text());
}

#[test]
fn a_workbook_is_read_by_the_sheet_that_fits() {
    let mut book = Workbook::new();
    let when = Format::new().set_num_format("yyyy-mm-dd hh:mm");
    let notes = book.add_worksheet().set_name("Notes").unwrap();
    notes.write(0, 0, "invented").unwrap();
    let sheet = book.add_worksheet().set_name("Ledger").unwrap();
    sheet.write(0, 0, "Ledger of an invented lab").unwrap();
    for (column, heading) in ["Step", "Batch", "Role", "Mass [kg]", "Date"].iter().enumerate() {
        sheet.write(2, u16::try_from(column).unwrap(), *heading).unwrap();
    }
    let date = ExcelDateTime::from_ymd(2026, 7, 1).unwrap().and_hms(8, 30, 0).unwrap();
    for (row, mass) in [(3, 1.25), (4, -1.0)] {
        for (column, text) in ["s1", "A", "in"].iter().enumerate() {
            sheet.write(row, u16::try_from(column).unwrap(), *text).unwrap();
        }
        sheet.write(row, 3, mass).unwrap();
        sheet.write_with_format(row, 4, &date, &when).unwrap();
    }
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("ledger.xlsx");
    book.save(&path).unwrap();
    let name = path.to_str().unwrap();
    let ran = run("ingest", &["weighing", "--zone", "Europe/Berlin", name], b"");
    let weighing = ran.only("weighing");
    assert_eq!(weighing["mass_g"], 1250);
    assert_eq!(weighing["at"], "2026-07-01T08:30:00+02:00");
    assert_eq!(weighing["src"], json!({ "file": name, "line": 4, "sheet": "Ledger" }));
    let problem = ran.only("problem");
    assert_eq!(
        (&problem["code"], &problem["sheet"], &problem["line"]),
        (&"out-of-range".into(), &"Ledger".into(), &5.into())
    );
    let ran = run("ingest", &["weighing", "--sheet", "Leger", name], b"");
    assert!(ran.only("problem")["found"].as_str().unwrap().contains("Notes, Ledger"));
    assert_eq!(ran.status, 3);
    // The same by standard input: known by its content.
    let bytes = fs::read(&path).unwrap();
    assert_eq!(ingest("weighing", &["--zone", "+02:00"], bytes).only("weighing")["mass_g"], 1250);
}

#[test]
fn an_opendocument_workbook_is_read_too() {
    let path = top().join("tests/fixtures/weighings.ods");
    let ran = run("ingest", &["weighing", "--zone", "+01:00", path.to_str().unwrap()], b"");
    let masses: Vec<_> = ran.of("weighing").iter().map(|w| w["mass_g"].clone()).collect();
    assert_eq!(masses, [json!(1250), json!(1200), Value::Null]);
    assert_eq!(ran.of("weighing")[1]["at"], "2026-07-01T00:00:00+01:00");
    assert_eq!(ran.of("weighing")[0]["src"]["line"], 4);
}

#[test]
fn a_file_that_only_looks_like_a_workbook_is_unreadable() {
    let dir = tempfile::tempdir().unwrap();
    for (name, bytes) in [
        ("a.xlsx", &b"not a workbook"[..]),
        ("b.ods", b"PK\x03\x04 torn"),
        ("c.xlsx", b"\xd0\xcf\x11\xe0 old"),
    ] {
        let path = dir.path().join(name);
        fs::write(&path, bytes).unwrap();
        let ran = run("ingest", &["lot", path.to_str().unwrap()], b"");
        assert_eq!(ran.status, 3, "{name}");
        assert_eq!(ran.only("problem")["code"], "unreadable", "{name}");
        assert!(ran.only("end")["cut_short"].is_string());
    }
}

/// The size of a part stands 24 bytes into its entry of the central directory (ZIP file
/// format specification, APPNOTE 6.3, section 4.3.12).
#[test]
fn a_workbook_that_unpacks_to_too_much_is_refused_before_it_does() {
    let mut bytes = fs::read(top().join("examples/lab/ledger.xlsx")).unwrap();
    let entry = bytes.windows(4).position(|w| w == b"PK\x01\x02").unwrap();
    bytes[entry + 24..entry + 28].copy_from_slice(&(300_u32 << 20).to_le_bytes());
    let ran = ingest("weighing", &[], bytes);
    assert_eq!(ran.status, 3);
    assert!(ran.stderr.contains("256 MiB") && ran.stderr.contains("CSV"), "{}", ran.stderr);
}

/// A reading: position in mm, diameters in tenths of a micrometre.
type Reading = (u32, u32, Option<u32>);

/// A table of readings in one dialect.
fn written(readings: &[Reading], delimiter: char, point: char, end: &str) -> String {
    let d = delimiter;
    let number = |digits: u32, places: usize| {
        let text = format!("{digits:0>width$}", width = places + 1);
        let (whole, part) = text.split_at(text.len() - places);
        format!("{whole}{point}{part}")
    };
    let mut text = format!("lot{d}position_m{d}dx_mm{d}dy_mm{end}");
    for (position, dx, dy) in readings {
        let dy = dy.map(|dy| number(dy, 4)).unwrap_or_default();
        text += &format!("spool 1{d}{}{d}{}{d}{dy}{end}", number(*position, 2), number(*dx, 4));
    }
    text
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn a_table_means_the_same_in_every_dialect(
        readings in prop::collection::vec(
            (0_u32..10_000_000, 1_u32..40_000, prop::option::of(1_u32..40_000)), 1..60)
    ) {
        let plain = written(&readings, ',', '.', "\n");
        let expected = diameters(&ingest("diameter", &[], &plain));
        prop_assert_eq!(expected.len(), readings.len());
        for (name, bytes) in [
            ("semicolon, comma", written(&readings, ';', ',', "\r\n").into_bytes()),
            ("tab, point", written(&readings, '\t', '.', "\n").into_bytes()),
            ("tab, comma", written(&readings, '\t', ',', "\r\n").into_bytes()),
            ("UTF-16", utf16(&written(&readings, '\t', '.', "\r\n"), false)),
            ("UTF-16, big end first", utf16(&written(&readings, ';', ',', "\n"), true)),
            ("quoted", plain.replace("spool 1", "\"spool 1\"").into_bytes()),
        ] {
            prop_assert_eq!(&diameters(&ingest("diameter", &[], bytes)), &expected, "{}", name);
        }
    }
}
