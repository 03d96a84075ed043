//! `ingest` on the slips of labs: what is half there, contradicts itself or could be read
//! in two ways is told with a way out, and never turned into a record.

#![expect(clippy::unwrap_used, reason = "a test says what is wrong by failing")]

mod common;

use common::{Ran, command, run, top};
use serde_json::{Value, json};
use std::fs::{self, OpenOptions};
use std::io::{BufRead, BufReader, Cursor, Read, Write};
use std::process::{Child, ChildStdout, Stdio};

fn ingest(kind: &str, args: &[&str], text: impl AsRef<[u8]>) -> Ran {
    let args: Vec<&str> = [kind].iter().chain(args).chain(&["-"]).copied().collect();
    run("ingest", &args, text.as_ref())
}

/// What a problem says, in one line.
fn told(problem: &Value) -> String {
    let text = |name: &str| problem[name].as_str().unwrap_or_default().to_owned();
    format!(
        "{} {}: found {}, expected {}; {}",
        text("code"),
        text("field"),
        text("found"),
        text("expected"),
        text("advice")
    )
}

/// What the only problem says of a source that was refused.
fn refused(ran: &Ran) -> String {
    assert_eq!(ran.status, 3, "{}", ran.text());
    assert!(ran.only("end")["cut_short"].is_string(), "{}", ran.text());
    told(&ran.only("problem"))
}

fn assert_says(text: &str, parts: &[&str]) {
    for part in parts {
        assert!(text.contains(part), "{part:?} in {text}");
    }
}

/// A workbook with one of its parts changed; parts of a workbook are those of a ZIP file.
fn changed(book: &[u8], part: &str, change: impl Fn(&str) -> String) -> Vec<u8> {
    let mut from = zip::ZipArchive::new(Cursor::new(book)).unwrap();
    let mut to = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let stored =
        zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
    for n in 0..from.len() {
        let mut entry = from.by_index(n).unwrap();
        let name = entry.name().unwrap().into_owned();
        let mut bytes = Vec::new();
        entry.read_to_end(&mut bytes).unwrap();
        if name == part {
            let text = String::from_utf8(bytes).unwrap();
            let new = change(&text);
            assert_ne!(text, new, "nothing was changed");
            bytes = new.into_bytes();
        }
        to.start_file(name, stored).unwrap();
        to.write_all(&bytes).unwrap();
    }
    to.finish().unwrap().into_inner()
}

/// Office Open XML (ISO/IEC 29500-1, 18.3.1.4 and 18.3.1.96): a cell with a formula may lack
/// its value. General libraries that write workbooks leave it empty.
#[test]
fn a_formula_without_a_stored_value_is_a_problem_and_no_empty_cell() {
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet();
    sheet.write_row(0, 0, ["Step", "Batch", "Role", "Mass [g]", "Net of the lid"]).unwrap();
    for (row, role) in [(1, "in"), (2, "out"), (3, "dust")] {
        sheet.write_row(row, 0, ["s1", "A", role]).unwrap();
    }
    sheet.write(1, 3, 250).unwrap();
    sheet.write_formula(1, 4, "=D2-5").unwrap();
    sheet.write_formula(2, 3, "=D2-12").unwrap();
    let bytes = book.save_to_buffer().unwrap();
    for empty in ["", "<v></v>", "<v/>"] {
        let bytes = changed(&bytes, "xl/worksheets/sheet1.xml", |xml| {
            xml.replace("</f><v>0</v>", &format!("</f>{empty}"))
        });
        let ran = ingest("weighing", &[], &bytes);
        // The column that is not used may hold what it likes.
        let roles: Vec<_> = ran.of("weighing").iter().map(|w| w["role"].clone()).collect();
        assert_eq!(roles, [json!("in"), json!("dust")], "{empty:?}: {}", ran.text());
        let problem = ran.only("problem");
        assert_eq!((&problem["line"], &problem["column"]), (&json!(3), &json!("Mass [g]")));
        assert_says(
            &told(&problem),
            &["not-a-number mass_g", "formula without a stored value", "D2-12", "save it"],
        );
    }
    // With its value it is a number like any other.
    assert_eq!(ingest("weighing", &[], &bytes).of("weighing").len(), 3);
}

/// OpenDocument 1.3, part 3, 19.642: `table:formula` may stand without `office:value`.
#[test]
fn a_formula_without_a_stored_value_is_seen_in_an_opendocument_workbook_too() {
    let book = fs::read(top().join("tests/fixtures/weighings.ods")).unwrap();
    let bytes = changed(&book, "content.xml", |xml| {
        xml.replace(
            "office:value-type=\"float\" office:value=\"1.2\"><text:p>1.2</text:p>",
            "table:formula=\"of:=[.D4]-0.05\">",
        )
    });
    let ran = ingest("weighing", &["--zone", "+01:00"], bytes);
    assert_eq!(ran.of("weighing").len(), 2);
    let problem = ran.only("problem");
    assert_eq!(problem["line"], 5);
    assert_says(&told(&problem), &["not-a-number mass_g", "formula without a stored value"]);
}

#[test]
fn a_json_line_of_another_kind_is_a_problem_and_keeps_its_text() {
    let other = r#"{"kind":"step","lot":"B","material":"PP"}"#;
    let text = format!("{{\"kind\":\"lot\",\"lot\":\"A\",\"material\":\"PP\"}}\n{other}\n");
    let ran = ingest("lot", &[], text);
    assert_eq!(ran.only("lot")["lot"], "A");
    let problem = ran.only("problem");
    assert_eq!((&problem["raw"], &problem["line"]), (&json!(other), &json!(2)));
    assert_says(&told(&problem), &["wrong-type kind", "\"step\"", "\"lot\""]);
    // A key that is named by hand is a column like others.
    let ran = ingest("lot", &["--column", "material=kind"], r#"{"lot":"A","kind":"PP"}"#);
    assert_eq!(ran.only("lot")["material"], "PP");
}

#[test]
fn json_that_is_no_text_is_not_taken_for_a_name() {
    for (value, found) in [("true", "true"), ("[1,2]", "[1,2]"), ("{\"a\":1}", "an object")] {
        let text = format!(
            "{{\"lot\":{value},\"material\":\"PP\"}}\n{{\"lot\":\"B\",\"material\":\"PP\"}}"
        );
        let ran = ingest("lot", &[], text);
        assert_eq!(ran.only("lot")["lot"], "B");
        assert_says(&told(&ran.only("problem")), &["wrong-type lot", found, "text"]);
    }
    assert_eq!(ingest("lot", &[], r#"{"lot":7,"material":"PP"}"#).only("lot")["lot"], "7");
    let ran = ingest("material", &[], r#"{"material":"PP","hygroscopic":false}"#);
    assert_eq!(ran.only("material")["hygroscopic"], false);
}

/// Follows a file; its output after the first record.
fn following(
    path: &std::path::Path,
    args: &[&str],
) -> (Child, std::io::Lines<BufReader<ChildStdout>>) {
    let args = [&["diameter", "--follow"], args, &[path.to_str().unwrap()]].concat();
    let mut child =
        command("ingest", &args).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut stdout = BufReader::new(child.stdout.take().unwrap()).lines();
    assert!(stdout.nth(1).unwrap().unwrap().contains("\"dx_mm\":1.75"));
    (child, stdout)
}

#[test]
fn a_line_that_is_half_written_when_a_followed_file_rests_is_no_record() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("log.csv");
    fs::write(&path, "lot,dx_mm\nA,1.75\nA,1.7").unwrap();
    let (mut child, stdout) = following(&path, &["--idle-s", "1"]);
    let rest: Vec<String> = stdout.map(Result::unwrap).collect();
    assert_eq!(rest.len(), 2, "{rest:?}");
    assert_says(&rest[0], &["ragged-row", "without its line end", "\"raw\":\"A,1.7\""]);
    assert_says(&rest[1], &["\"end\"", "\"diameter\":1"]);
    assert!(child.wait().unwrap().success());
}

#[test]
fn a_followed_file_that_is_replaced_is_told_and_ends_in_status_3() {
    let dir = tempfile::tempdir().unwrap();
    let (path, next) = (dir.path().join("log.csv"), dir.path().join("next.csv"));
    fs::write(&path, "lot,dx_mm\nA,1.75\n").unwrap();
    let (child, stdout) = following(&path, &[]);
    let mut old = OpenOptions::new().append(true).open(&path).unwrap();
    fs::write(&next, "lot,dx_mm\nA,1.80\n").unwrap();
    // What is written just before is still read.
    old.write_all(b"A,1.76\nA,1.7").unwrap();
    fs::rename(&next, &path).unwrap();
    let rest: Vec<Value> =
        stdout.map(|line| serde_json::from_str(&line.unwrap()).unwrap()).collect();
    let kinds: Vec<_> = rest.iter().map(|r| r["kind"].as_str().unwrap()).collect();
    assert_eq!(kinds, ["diameter", "problem", "problem", "end"]);
    assert_eq!((&rest[0]["dx_mm"], &rest[1]["raw"]), (&json!(1.76), &json!("A,1.7")));
    assert_says(&told(&rest[2]), &["unreadable", "replaced", "new one"]);
    assert_says(rest[3]["cut_short"].as_str().unwrap(), &["replaced"]);
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(3));
    assert_says(&String::from_utf8(output.stderr).unwrap(), &["replaced"]);
}

#[test]
fn a_unit_by_flag_does_not_overrule_that_of_the_heading() {
    let table = "step,lot,role,Mass (kg)\ns1,A,in,0.25\n";
    let told = refused(&ingest("weighing", &["--unit", "Mass (kg)=g"], table));
    assert_says(&told, &["unknown-unit mass_g", "\"g\"", "\"kg\"", "leave out --unit"]);
    let ran = ingest("weighing", &["--unit", "Mass (kg)=kilogram"], table);
    assert_eq!(ran.only("weighing")["mass_g"], 250);
    let own = "step,lot,role,mass_g\ns1,A,in,0.25\n";
    assert_says(
        &refused(&ingest("weighing", &["--unit", "mass_g=kg"], own)),
        &["\"kg\"", "mass_g", "leave out --unit"],
    );
    // A remark in brackets is no unit, and a column named by hand has none yet.
    let ran = ingest("weighing", &["--unit", "Mass (net)=kg"], table.replace("(kg)", "(net)"));
    assert_eq!(ran.only("weighing")["mass_g"], 250);
    let args = ["--column", "mass_g=Netto", "--unit", "Netto=kg"];
    let ran = ingest("weighing", &args, table.replace("Mass (kg)", "Netto"));
    assert_eq!(ran.only("weighing")["mass_g"], 250);
}

#[test]
fn the_advice_on_a_unit_goes_by_that_of_the_heading() {
    let table = "step,lot,role,Mass (KGS)\ns1,A,in,0.25\n";
    let told = refused(&ingest("weighing", &[], table));
    assert_says(&told, &["--unit 'Mass (KGS)=kg'", "Mass (kg)"]);
    let told = refused(&ingest("weighing", &[], table.replace("KGS", "mm")));
    assert_says(&told, &["--unit 'Mass (mm)=UNIT'"]);
    let told = refused(&ingest("moisture", &[], "lot,moisture\nA,0.2\n"));
    assert_says(&told, &["--unit 'moisture=%'", "in brackets", "moisture (%)"]);
}

#[test]
fn columns_that_are_not_used_are_told_with_the_fields_that_are_free_for_them() {
    let ran = ingest("step", &[], "step,does,When,melt_c\ns1,wash,2026-03-01T08:30:00+01:00,240\n");
    assert_says(
        &ran.stderr,
        &[
            "not used: the columns When, melt_c",
            "fields of step still empty: at, machine, settings.NAME",
            "--column at=When",
            "settings.melt_c",
        ],
    );
    let table = "lot,position_m,time_s,dx_mm,dy_mm,dz_mm,gauge,part,operator,trial,Fan\n\
                 A,1,2,1.75,1.75,1.75,g,p,o,1,on\n";
    assert_says(&ingest("diameter", &[], table).stderr, &["Fan", "no field of diameter is left"]);
}

#[test]
fn units_are_found_where_labs_write_them() {
    for heading in ["moisture %", "moisture, %", "moisture%", "Moisture wt%", "moisture/%"] {
        let ran = ingest("moisture", &[], format!("lot;{heading}\nA;0.25\n"));
        assert_eq!(ran.only("moisture")["moisture_pct"], 0.25, "{heading}");
    }
    // The quotient of a quantity and its unit is how ISO 80000-1 heads a table.
    let ran = ingest("diameter", &[], "lot,Position/m,Diameter X/mm\nA,0.5,1.75\n");
    let reading = ran.only("diameter");
    assert_eq!((&reading["position_m"], &reading["dx_mm"]), (&json!(0.5), &json!(1.75)));
    let ran = ingest("diameter", &[], "lot,Ø (mm)\nA,1.75\n");
    assert_eq!(ran.only("diameter")["dx_mm"], 1.75);
    let ran = ingest(
        "diameter",
        &[],
        "lot,Diameter 1 (µm),Diameter 2 (µm),Diameter 3 (µm)\nA,1750,1760,1770\n",
    );
    let reading = ran.only("diameter");
    let axes = ["dx_mm", "dy_mm", "dz_mm"].map(|axis| reading[axis].as_f64().unwrap());
    assert_eq!(axes, [1.75, 1.76, 1.77]);
}

#[test]
fn a_heading_that_is_the_name_of_its_field_has_the_unit_of_the_field() {
    let table = "step,does,line_speed_m_min\ns1,extrude,4.5\n";
    let args = ["--column", "settings.line_speed_m_min=line_speed_m_min"];
    let ran = ingest("step", &args, table);
    assert_eq!(ran.only("step")["settings"]["line_speed_m_min"], 4.5);
    let args = ["--column", "settings.line_speed_m_min=puller m/min"];
    let ran = ingest("step", &args, table.replace("line_speed_m_min", "puller m/min"));
    assert_eq!(ran.only("step")["settings"]["line_speed_m_min"], 4.5);
}

#[test]
fn a_point_before_three_digits_is_as_open_in_a_file_with_tabs_as_with_semicolons() {
    let table = "step\tlot\trole\tmass_g\ns1\tA\tin\t1.234\ns1\tA\tout\t1.100\n";
    assert_says(&refused(&ingest("weighing", &[], table)), &["ambiguous-number", "--decimal"]);
    let ran = ingest("weighing", &["--decimal", "point"], table);
    assert_eq!((&ran.of("weighing")[0]["mass_g"], ran.stderr.as_str()), (&json!(1.234), ""));
    let ran = ingest("weighing", &["--thousands", "point"], table);
    assert_eq!(ran.of("weighing")[0]["mass_g"], 1234);
    // One number that shows the sign settles it.
    let ran = ingest("weighing", &[], table.replace("1.100", "1.1"));
    assert_eq!(ran.of("weighing")[0]["mass_g"], 1.234);
}

#[test]
fn a_point_that_is_assumed_in_a_file_with_commas_is_told_if_nothing_else_shows_it() {
    let table = "step,lot,role,mass_g\ns1,A,in,1.234\ns1,A,out,1.100\n";
    let ran = ingest("weighing", &[], table);
    assert_eq!(ran.of("weighing")[0]["mass_g"], 1.234);
    assert_says(&ran.stderr, &["\"1.234\"", "decimal point", "--thousands point"]);
    assert_eq!(ingest("weighing", &[], table.replace("1.100", "1.1")).stderr, "");
    assert_eq!(ingest("weighing", &["--decimal", "point"], table).stderr, "");
}

#[test]
fn more_files_than_the_last_line_can_hold_are_refused_before_the_first() {
    let dir = tempfile::tempdir().unwrap();
    let deep = dir.path().join("a".repeat(200)).join("b".repeat(200)).join("c".repeat(200));
    fs::create_dir_all(&deep).unwrap();
    let path = deep.join("lots.csv");
    fs::write(&path, "lot,material\nA,PP\n").unwrap();
    let name = path.to_str().unwrap();
    let files = |n: usize| [vec!["lot"], vec![name; n]].concat();
    let ran = run("ingest", &files(2_000), b"");
    assert_eq!((ran.status, ran.text().as_str()), (2, ""));
    assert_says(&ran.stderr, &["2000 files", "in parts", "xargs -n 1000"]);
    // The longest line that the next filter reads has 1 MiB.
    let ran = run("ingest", &files(1_000), b"");
    assert_eq!((ran.status, ran.of("lot").len()), (0, 1_000));
    let longest = ran.text().lines().map(str::len).max().unwrap();
    assert!((700 << 10..1 << 20).contains(&longest), "{longest}");
    let next = run("check-tolerance", &[], &ran.stdout);
    assert_eq!(next.status, 0, "{}", next.stderr);
}

#[test]
fn a_row_that_could_not_be_decoded_is_a_problem_with_its_line_and_text() {
    // A surrogate without its other half is no character (Unicode, section 3.9, D91).
    let text = "lot,dx_mm\nA,1.75\nB?,1.76\n\"C\",1.77\n\"D?\",1.78\nE,1.79\n";
    let units = std::iter::once(0xfeff).chain(text.encode_utf16());
    let bytes: Vec<u8> = units
        .map(|unit| if unit == u16::from(b'?') { 0xd800 } else { unit })
        .flat_map(u16::to_le_bytes)
        .collect();
    let ran = ingest("diameter", &[], &bytes);
    let lots: Vec<_> = ran.of("diameter").iter().map(|d| d["lot"].clone()).collect();
    assert_eq!(lots, [json!("A"), json!("C"), json!("E")], "{}", ran.text());
    let problems = ran.of("problem");
    let at: Vec<_> = problems.iter().map(|p| (p["line"].clone(), p["raw"].clone())).collect();
    assert_eq!(at, [(json!(3), json!("B\u{fffd},1.76")), (json!(5), json!("\"D\u{fffd}\",1.78"))]);
    assert_says(&told(&problems[0]), &["not-utf8", "U+FFFD", "--encoding"]);
    // A sign that was written so is text like any other.
    let ran = ingest("diameter", &[], "lot,dx_mm\nB\u{fffd},1.76\n");
    assert_eq!(ran.only("diameter")["lot"], "B\u{fffd}");
}

#[test]
fn a_json_line_that_could_not_be_decoded_is_a_problem_too() {
    let line = "{\"lot\":\"A?\",\"material\":\"PP\"}\n{\"lot\":\"B\",\"material\":\"PP\"}\n";
    let bytes: Vec<u8> = line
        .encode_utf16()
        .map(|unit| if unit == u16::from(b'?') { 0xd800 } else { unit })
        .flat_map(u16::to_le_bytes)
        .collect();
    let args = ["--encoding", "utf-16le", "--format", "jsonl"];
    let ran = ingest("lot", &args, bytes);
    assert_eq!(ran.only("lot")["lot"], "B");
    assert_eq!(ran.only("problem")["code"], "not-utf8");
}

#[test]
fn all_columns_that_are_missing_are_named_at_once() {
    let told = refused(&ingest("weighing", &[], "Mass (g),Day\n250,1\n"));
    assert_says(
        &told,
        &["step", "lot", "role", "--column step=HEADER --column lot=HEADER --column role=HEADER"],
    );
    assert_says(&told, &["--set step=VALUE"]);
    let told = refused(&ingest("diameter", &[], "Spool,Width (mm)\nA,1.75\n"));
    assert_says(&told, &["--column dx_mm=HEADER"]);
    assert!(!told.contains("--set"), "a measured number is not the same in every row: {told}");
}

#[test]
fn messages_are_in_plain_words() {
    let dir = tempfile::tempdir().unwrap();
    for (name, bytes) in [("a.xlsx", &b"not a workbook"[..]), ("b.ods", b"PK\x03\x04 torn")] {
        let path = dir.path().join(name);
        fs::write(&path, bytes).unwrap();
        let told = refused(&run("ingest", &["lot", path.to_str().unwrap()], b""));
        assert_says(&told, &["no workbook, or a damaged one", "save it again"]);
        assert!(!told.contains("Zip"), "{told}");
    }
    for (line, found) in [
        ("nonsense", "text that is not JSON, at column 2"),
        ("{\"lot\":\"A\"", "an object that breaks off"),
        ("[1]", "something other than an object"),
    ] {
        let ran = ingest("lot", &["--format", "jsonl"], line);
        assert_says(&told(&ran.only("problem")), &["not-json", found, "one JSON object"]);
    }
    let args = ["--time-format", "%d/%m/%Y", "--zone", "+01:00"];
    let ran = ingest("step", &args, "step,does,at\ns1,wash,yesterday\n");
    let told = told(&ran.only("problem"));
    assert_says(&told, &["bad-time", "yesterday", "%d/%m/%Y", "--time-format"]);
    assert!(!told.contains("strptime"), "{told}");
}

#[test]
fn a_row_without_its_names_is_one_problem_that_says_all() {
    let table = "step,lot,role,mass_g\ns1,A,in,250\nTotal,,,about 250\n";
    let ran = ingest("weighing", &[], table);
    assert_eq!(ran.of("weighing").len(), 1);
    let problem = ran.only("problem");
    assert_eq!((&problem["line"], &problem["column"]), (&json!(3), &json!("lot")));
    assert_says(&told(&problem), &["missing-field lot", "role", "mass_g", "about 250", "total"]);
    // Cells that are wrong in a row with its names are told one by one.
    let ran = ingest("weighing", &[], "step,lot,role,mass_g\ns1,A,inn,x\n");
    assert_eq!(ran.of("problem").len(), 2);
}

/// A mapping file that shows every setting, and works as it stands.
#[test]
fn the_map_with_every_setting_reads_a_table_of_its_kind() {
    let table = "Gauge log\n\nSpool;Zeit;Wert A;Wert B [mm]\n7;1.500;1.749,5;1,751\n";
    let bytes: Vec<u8> = table.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
    let ran = ingest("diameter", &["--map", "examples/every-setting.toml"], bytes);
    assert_eq!((ran.status, ran.of("problem").len()), (0, 0), "{}{}", ran.stderr, ran.text());
    let reading = ran.only("diameter");
    // 1500 ms at 6 m/min, which is 0.1 m/s.
    assert_eq!(reading["position_m"], 0.15);
    assert_eq!((&reading["time_s"], &reading["dx_mm"]), (&json!(1.5), &json!(1.7495)));
    assert_eq!((&reading["dy_mm"], &reading["gauge"]), (&json!(1.751), &json!("two-axis gauge")));
    let help = run("ingest", &["--help"], b"").text();
    assert_says(&help, &["examples/every-setting.toml"]);
}
