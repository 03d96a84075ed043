//! `ingest`, run as a person runs it: what is read, and what is said where it cannot be.

#![expect(clippy::unwrap_used, reason = "a test says what is wrong by failing")]

mod common;

use common::{Ran, command, run};
use serde_json::Value;
use std::fs::{self, OpenOptions};
use std::io::{BufRead, BufReader, Write};
use std::path::PathBuf;
use std::process::Stdio;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Runs it on text given by standard input.
fn ingest(kind: &str, args: &[&str], text: impl AsRef<[u8]>) -> Ran {
    let args: Vec<&str> = [kind].iter().chain(args).chain(&["-"]).copied().collect();
    run("ingest", &args, text.as_ref())
}

/// A directory with one file in it.
fn file(name: &str, bytes: impl AsRef<[u8]>) -> (TempDir, PathBuf) {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join(name);
    fs::write(&path, bytes).unwrap();
    (dir, path)
}

/// The only problem, with its code, what it found and what it advises.
fn problem(ran: &Ran) -> (Value, String) {
    let problem = ran.only("problem");
    let text = |name: &str| problem[name].as_str().unwrap_or_default().to_owned();
    let told = format!(
        "{}: found {}, expected {}; {}",
        text("code"),
        text("found"),
        text("expected"),
        text("advice")
    );
    assert!(ran.stderr.contains(&text("code")), "stderr says nothing of it: {}", ran.stderr);
    (problem, told)
}

fn refused(ran: &Ran) -> String {
    assert_eq!(ran.status, 3, "{}", ran.text());
    assert!(ran.only("end")["cut_short"].is_string(), "a stream without a file is not whole");
    problem(ran).1
}

fn lines(ran: &Ran, kind: &str) -> Vec<String> {
    let start = format!("{{\"kind\":\"{kind}\"");
    ran.text().lines().filter(|l| l.starts_with(&start)).map(str::to_owned).collect()
}

#[test]
fn digits_stay_as_they_were_written() {
    let ran = ingest("diameter", &[], "lot,position_m,dx_mm,dy_mm\nA,0.10,1.7500,1.76\n");
    assert_eq!(ran.status, 0);
    assert_eq!(
        lines(&ran, "diameter"),
        [r#"{"kind":"diameter","lot":"A","position_m":0.10,"dx_mm":1.7500,"dy_mm":1.76}"#]
    );
}

#[test]
fn the_stream_is_signed_with_size_and_hash_of_each_source() {
    // SHA-256 of "abc" is the example of FIPS 180-4; a table of three letters has no such
    // field and is refused, yet signed.
    let ran = ingest("lot", &[], "abc");
    let end = ran.only("end");
    assert_eq!(end["id"], ran.only("begin")["id"]);
    assert_eq!(end["sources"][0]["bytes"], 3);
    assert_eq!(
        end["sources"][0]["sha256"],
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    );
    assert_eq!(ran.only("begin")["sources"], serde_json::json!(["-"]));
}

#[test]
fn low_volume_records_say_where_they_came_from_and_readings_do_not() {
    let (dir, path) = file("w.csv", "step,lot,role,mass_g\ns1,A,in,100\n");
    let name = path.to_str().unwrap();
    let ran = run("ingest", &["weighing", name], b"");
    assert_eq!(ran.only("weighing")["src"], serde_json::json!({ "file": name, "line": 2 }));
    drop(dir);
    assert!(ingest("diameter", &[], "lot,dx_mm\nA,1.75\n").only("diameter")["src"].is_null());
}

#[test]
fn a_missing_column_is_named_with_those_found_and_the_flag() {
    let told = refused(&ingest("weighing", &[], "Step,Batch,Mass (g)\ns1,A,100\n"));
    for part in ["missing-column", "Step, Batch, Mass (g)", "role", "--column role=HEADER"] {
        assert!(told.contains(part), "{part} in {told}");
    }
}

#[test]
fn a_unit_that_does_not_fit_is_refused_with_those_that_do() {
    let told = refused(&ingest("weighing", &[], "step,lot,role,mass (mm)\ns1,A,in,100\n"));
    for part in ["unknown-unit", "mm", "g, gram", "kg", "--unit 'mass (mm)=UNIT'"] {
        assert!(told.contains(part), "{part} in {told}");
    }
}

#[test]
fn a_number_without_a_unit_is_refused_until_a_flag_settles_it() {
    let table = "lot,dx\nA,1750\n";
    let told = refused(&ingest("diameter", &[], table));
    assert!(told.contains("unknown-unit") && told.contains("--unit 'dx=mm'"), "{told}");
    let ran = ingest("diameter", &["--unit", "dx=µm"], table);
    assert_eq!(lines(&ran, "diameter"), [r#"{"kind":"diameter","lot":"A","dx_mm":1.750}"#]);
}

#[test]
fn text_in_a_number_is_a_problem_and_the_rest_goes_on() {
    let ran = ingest("diameter", &[], "lot,Diameter X [mm]\nA,1.75\nA,1.8 approx\nA,1.76\n");
    assert_eq!(ran.status, 0);
    assert_eq!(ran.of("diameter").len(), 2);
    let (problem, _) = problem(&ran);
    assert_eq!(problem["code"], "not-a-number");
    assert_eq!(problem["line"], 3);
    assert_eq!(problem["column"], "Diameter X [mm]");
    assert_eq!(problem["field"], "dx_mm");
    assert_eq!(problem["found"], "\"1.8 approx\"");
    assert_eq!(problem["raw"], "A,1.8 approx");
    assert_eq!(ran.only("end")["problems"]["not-a-number"], 1);
}

#[test]
fn nan_and_infinity_never_come_through() {
    for cell in ["NaN", "inf", "-Infinity", "1e999"] {
        let ran = ingest("diameter", &[], format!("lot,dx_mm\nA,{cell}\n"));
        let (problem, _) = problem(&ran);
        let expected = if cell == "1e999" { "out-of-range" } else { "not-a-number" };
        assert_eq!(problem["code"], expected, "{cell}");
        assert!(ran.of("diameter").is_empty());
    }
}

#[test]
fn a_negative_mass_and_a_diameter_of_zero_are_out_of_range() {
    let ran = ingest("weighing", &[], "step,lot,role,mass_g\ns1,A,in,-5\n");
    let (found, told) = problem(&ran);
    assert_eq!(found["code"], "out-of-range");
    assert!(told.contains("\"-5\"") && told.contains("a number from 0"), "{told}");
    let ran = ingest("diameter", &[], "lot,dx_mm\nA,0.000\n");
    assert_eq!(problem(&ran).0["code"], "out-of-range");
}

#[test]
fn strict_turns_a_problem_into_status_1() {
    let table = "lot,dx_mm\nA,x\n";
    assert_eq!(ingest("diameter", &[], table).status, 0);
    assert_eq!(ingest("diameter", &["--strict"], table).status, 1);
}

#[test]
fn an_empty_file_is_a_problem_and_not_a_failure() {
    for text in ["", "\n\n", "\u{feff}"] {
        let ran = ingest("lot", &[], text);
        assert_eq!(ran.status, 0, "{text:?}");
        assert_eq!(problem(&ran).0["code"], "empty-file");
    }
}

#[test]
fn a_header_without_rows_is_a_problem_and_not_a_failure() {
    let ran = ingest("lot", &[], "lot,material\n");
    assert_eq!(ran.status, 0);
    let (problem, told) = problem(&ran);
    assert_eq!(problem["code"], "no-rows");
    assert!(told.contains("line 1"), "{told}");
}

#[test]
fn a_row_without_a_lot_is_a_problem() {
    let ran = ingest("diameter", &[], "lot,dx_mm\n,1.75\nA,1.76\n");
    let (problem, _) = problem(&ran);
    assert_eq!(problem["code"], "missing-field");
    assert_eq!((&problem["line"], &problem["field"]), (&2.into(), &"lot".into()));
    assert_eq!(problem["raw"], ",1.75");
    assert_eq!(ran.of("diameter").len(), 1);
}

#[test]
fn an_empty_cell_leaves_its_field_out() {
    let ran = ingest("diameter", &[], "lot,dx_mm,dy_mm\nA,1.75,\n");
    assert_eq!(lines(&ran, "diameter"), [r#"{"kind":"diameter","lot":"A","dx_mm":1.75}"#]);
}

#[test]
fn rows_of_another_width_are_problems_and_empty_rows_are_nothing() {
    let ran = ingest("diameter", &[], "lot,dx_mm\nA,1.75,9\nA\n\n,\nA,1.76,,\nA,1.77\n");
    let codes: Vec<_> =
        ran.of("problem").iter().map(|p| (p["code"].clone(), p["line"].clone())).collect();
    assert_eq!(codes, [("ragged-row".into(), 2.into()), ("ragged-row".into(), 3.into())]);
    assert_eq!(ran.of("diameter").len(), 2);
}

#[test]
fn a_line_of_two_mebibytes_is_a_problem_and_the_rest_goes_on() {
    let long = "x".repeat(2 << 20);
    let ran = ingest("diameter", &[], format!("lot,dx_mm\nA,1.75\nA,{long}\nA,1.76\n"));
    let (problem, told) = problem(&ran);
    assert_eq!((&problem["code"], &problem["line"]), (&"too-long".into(), &3.into()));
    assert!(told.contains("1 MiB"), "{told}");
    assert_eq!(ran.of("diameter").len(), 2);
}

#[test]
fn bytes_that_are_not_utf_8_are_a_problem_with_their_hexadecimal() {
    let ran = ingest("lot", &[], b"lot,material\nM\xc3\xbcll,PP\nA\xff,PP\nB,PP\n");
    let (problem, told) = problem(&ran);
    assert_eq!((&problem["code"], &problem["line"]), (&"not-utf8".into(), &3.into()));
    assert_eq!(problem["raw_hex"], "41ff2c5050");
    assert!(told.contains("--encoding"), "{told}");
    assert_eq!(ran.of("lot").len(), 2);
}

#[test]
fn a_missing_file_and_a_directory_are_told_and_end_in_status_3() {
    let dir = tempfile::tempdir().unwrap();
    let missing = dir.path().join("none.csv");
    for (path, part) in [(missing.as_path(), "No such file"), (dir.path(), "directory")] {
        let ran = run("ingest", &["lot", path.to_str().unwrap()], b"");
        let told = refused(&ran);
        assert!(told.contains("unreadable") && told.contains(part), "{told}");
        assert!(ran.stderr.contains(path.to_str().unwrap()), "{}", ran.stderr);
    }
}

#[test]
fn the_other_files_are_read_where_one_is_missing() {
    let (_dir, path) = file("lots.csv", "lot,material\nA,PP\n");
    let ran = run("ingest", &["lot", "/nowhere.csv", path.to_str().unwrap()], b"");
    assert_eq!((ran.status, ran.of("lot").len()), (3, 1));
}

#[test]
fn a_full_disk_is_told_and_ends_in_status_3() {
    let full = OpenOptions::new().write(true).open("/dev/full").unwrap();
    let mut child = command("ingest", &["lot", "-"])
        .stdin(Stdio::piped())
        .stdout(full)
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(b"lot,material\nA,PP\n").unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(3));
    let told = String::from_utf8(output.stderr).unwrap();
    assert!(told.contains("standard output could not be written"), "{told}");
}

#[test]
fn an_output_that_is_not_open_for_writing_is_told() {
    let (_dir, path) = file("out", "");
    let mut child = command("ingest", &["lot", "-"])
        .stdin(Stdio::piped())
        .stdout(fs::File::open(path).unwrap())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(b"lot,material\nA,PP\n").unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(3));
    assert!(String::from_utf8(output.stderr).unwrap().contains("could not be written"));
}

#[test]
fn a_closed_pipe_ends_it_quietly() {
    let rows = "A,1.75\n".repeat(200_000);
    let (_dir, path) = file("d.csv", format!("lot,dx_mm\n{rows}"));
    let mut child = command("ingest", &["diameter", path.to_str().unwrap()])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut first = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut first).unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(String::from_utf8(output.stderr).unwrap(), "");
}

#[test]
fn wrong_usage_ends_in_status_2_and_names_what_there_is() {
    for (args, part) in [
        (vec!["verdict", "-"], "diameter"),
        (vec!["lot", "--set", "colour=red", "-"], "material"),
        (vec!["weighing", "--set", "mass_g=-1", "-"], "a number from 0"),
        (vec!["lot", "--line-speed-m-min", "4.5", "-"], "lot has no time"),
        (vec!["lot", "--follow", "-"], "one file"),
        (vec!["lot", "--zone", "Nowhere/At-all", "-"], "Europe/Berlin"),
        (vec!["lot", "--delimiter", "ab", "-"], "semicolon"),
        (vec!["lot", "--drop", "end", "-"], "whole"),
    ] {
        let ran = run("ingest", &args, b"");
        assert_eq!(ran.status, 2, "{args:?}");
        assert!(ran.stderr.contains(part), "{args:?}: {}", ran.stderr);
        assert_eq!(ran.text(), "");
    }
}

#[test]
fn the_example_in_the_help_works() {
    let help = run("ingest", &["--help"], b"").text();
    let line = help.lines().skip_while(|l| *l != "Example:").nth(1).unwrap().trim();
    let words: Vec<&str> = line.split_whitespace().collect();
    assert_eq!(words.first(), Some(&"ingest"));
    let ran = run("ingest", words.get(1..).unwrap(), b"");
    assert_eq!((ran.status, ran.of("problem").len()), (0, 0), "{}", ran.stderr);
    assert!(ran.of("diameter").len() > 100);
}

#[test]
fn constants_come_first_and_fill_what_no_column_does() {
    let ran = ingest("diameter", &["--set", "lot=spool 1", "--set", "gauge=g1"], "dx_mm\n1.75\n");
    assert_eq!(
        lines(&ran, "diameter"),
        [r#"{"kind":"diameter","lot":"spool 1","gauge":"g1","dx_mm":1.75}"#]
    );
}

#[test]
fn a_column_named_by_hand_has_the_unit_of_its_field_unless_it_says_another() {
    let table = "Spool;Ø A;Ø B [µm]\nS1;1.75;1760\n";
    let args = ["--column", "dx_mm=Ø A", "--column", "dy_mm=Ø B [µm]"];
    let ran = ingest("diameter", &args, table);
    assert_eq!(
        lines(&ran, "diameter"),
        [r#"{"kind":"diameter","lot":"S1","dx_mm":1.75,"dy_mm":1.760}"#]
    );
    let told = refused(&ingest("diameter", &["--column", "dx_mm=Ø C"], table));
    assert!(told.contains("bad-column") && told.contains("Ø A") && told.contains("Ø C"), "{told}");
}

#[test]
fn two_columns_for_one_field_are_refused_until_one_is_named() {
    let table = "lot,diameter x (mm),dx_mm\nA,1.75,1.76\n";
    let told = refused(&ingest("diameter", &[], table));
    assert!(told.contains("bad-column") && told.contains("--column dx_mm=HEADER"), "{told}");
    let ran = ingest("diameter", &["--column", "dx_mm=dx_mm"], table);
    assert_eq!(ran.only("diameter")["dx_mm"], 1.76);
    assert!(ran.stderr.contains("diameter x (mm)"), "{}", ran.stderr);
}

#[test]
fn a_mapping_file_holds_the_same_settings_and_the_command_line_goes_first() {
    let map = "decimal = \"comma\"\ndelimiter = \";\"\nline_speed_m_min = 6\n\
               [column]\ndx_mm = \"Wert\"\n[unit]\n\"Zeit\" = \"ms\"\n[set]\nlot = \"from the map\"\n";
    let map =
        format!("{map}gauge = \"g1\"\n").replace("[column]\n", "[column]\ntime_s = \"Zeit\"\n");
    let (_dir, path) = file("lab.toml", map);
    let args = ["--map", path.to_str().unwrap(), "--set", "lot=by hand"];
    let ran = ingest("diameter", &args, "Zeit;Wert\n500;1,7500\n");
    assert_eq!(
        lines(&ran, "diameter"),
        [
            r#"{"kind":"diameter","lot":"by hand","gauge":"g1","time_s":0.500,"position_m":0.0500,"dx_mm":1.7500}"#
        ]
    );
    let (_dir, path) = file("bad.toml", "colour = 1\n");
    let ran = run("ingest", &["lot", "--map", path.to_str().unwrap()], b"");
    assert_eq!(ran.status, 2);
    assert!(ran.stderr.contains("colour"), "{}", ran.stderr);
}

#[test]
fn position_follows_from_time_and_line_speed() {
    // 12 m/min is 0.2 m/s; after 2.5 s the line has moved 0.5 m.
    let ran = ingest("diameter", &["--line-speed-m-min", "12"], "lot,time_s,dx_mm\nA,2.5,1.75\n");
    let reading = ran.only("diameter");
    assert_eq!((&reading["time_s"], &reading["position_m"]), (&2.5.into(), &0.5.into()));
    let ran = ingest("diameter", &["--line-speed-m-min", "10"], "lot,time (min),dx_mm\nA,1,1.75\n");
    assert_eq!(ran.only("diameter")["position_m"], 10);
}

#[test]
fn named_numbers_go_into_their_object() {
    let table = "step,does,settings.melt_c,settings.bed [°C],settings.screw_rpm,machine\n\
                 s1,Print,240,65,,p1\ns2,wash,,,,\n";
    let ran = ingest("step", &["--set", "settings.fan_pct=50"], table);
    let steps = ran.of("step");
    assert_eq!(
        steps[0]["settings"],
        serde_json::json!({ "fan_pct": 50, "melt_c": 240, "bed_c": 65 })
    );
    assert_eq!(steps[0]["does"], "print");
    let ran = ingest("step", &[], table);
    assert_eq!(ran.of("step")[0]["settings"], serde_json::json!({ "melt_c": 240, "bed_c": 65 }));
    assert!(ran.of("step")[1]["settings"].is_null());
}

#[test]
fn words_are_matched_whatever_their_case_and_written_as_the_contract_has_them() {
    let ran = ingest("weighing", &[], "step,lot,role\ns1,A,Off Tolerance\ns1,A,lost\n");
    assert_eq!(ran.only("weighing")["role"], "off-tolerance");
    let (problem, told) = problem(&ran);
    assert_eq!(problem["code"], "unknown-word");
    assert!(told.contains("\"lost\"") && told.contains("purge"), "{told}");
}

#[test]
fn text_is_escaped_as_json_wants_it() {
    let ran = ingest("lot", &[], "lot,material,note\n\"A \"\"x\"\"\",PP,back\\slash\ttab\n");
    let lot = ran.only("lot");
    assert_eq!(lot["lot"], "A \"x\"");
    assert_eq!(lot["note"], "back\\slash\ttab");
}

#[test]
fn an_ambiguous_number_is_refused_with_the_flag_that_settles_it() {
    let table = "step;lot;role;mass_g\ns1;A;in;1,234\ns1;A;out;1,100\n";
    let ran = ingest("weighing", &[], table);
    let told = refused(&ran);
    for part in ["ambiguous-number", "1,234", "--decimal comma"] {
        assert!(told.contains(part), "{part} in {told}");
    }
    assert_eq!(ran.only("problem")["column"], "mass_g");
    let ran = ingest("weighing", &["--decimal", "comma"], table);
    assert_eq!(ran.of("weighing")[0]["mass_g"], 1.234);
    let ran = ingest("weighing", &["--thousands", "comma"], table);
    assert_eq!(ran.of("weighing")[0]["mass_g"], 1234);
    let told = refused(&ingest("weighing", &[], table.replace(',', ".")));
    assert!(told.contains("1.234"), "{told}");
}

#[test]
fn one_cell_that_shows_the_decimal_sign_settles_the_file() {
    let table = "step;lot;role;mass_g\ns1;A;in;1,234\ns1;A;out;0,95\n";
    let ran = ingest("weighing", &[], table);
    assert_eq!(ran.of("weighing")[0]["mass_g"], 1.234);
    // Groups by a space show it, too, once they are stated.
    let ran =
        ingest("weighing", &["--thousands", "space"], "step;lot;role;mass_g\ns1;A;in;1 234,5\n");
    assert_eq!(ran.only("weighing")["mass_g"], 1234.5);
    // Grouping is not read unless stated, even where the decimal sign is known.
    let ran = ingest("weighing", &[], "step;lot;role;mass_g\ns1;A;in;1,234\ns1;A;out;0.95\n");
    let (problem, told) = problem(&ran);
    assert_eq!(problem["code"], "not-a-number");
    assert!(told.contains("--thousands comma"), "{told}");
}

#[test]
fn an_ambiguous_date_is_refused_with_the_flag_that_settles_it() {
    let table = "step,does,at\ns1,wash,03/04/2026 08:30\n";
    let told = refused(&ingest("step", &["--zone", "+01:00"], table));
    assert!(told.contains("ambiguous-date") && told.contains("--time-format"), "{told}");
    let args = ["--zone", "Europe/Berlin", "--time-format", "%d/%m/%Y %H:%M"];
    assert_eq!(ingest("step", &args, table).only("step")["at"], "2026-04-03T08:30:00+02:00");
    let told = refused(&ingest("step", &[], "step,does,at\ns1,wash,2026-03-04 08:30\n"));
    assert!(told.contains("ambiguous-date") && told.contains("--zone"), "{told}");
    let ran = ingest("step", &[], "step,does,at\ns1,wash,2026-03-04T08:30:00+01:00\n");
    assert_eq!(ran.only("step")["at"], "2026-03-04T08:30:00+01:00");
}

#[test]
fn dropped_kinds_are_left_out() {
    let ran = ingest("diameter", &["--drop", "problem"], "lot,dx_mm\nA,x\nA,1.75\n");
    assert!(ran.of("problem").is_empty());
    assert_eq!(ran.only("end")["problems"]["not-a-number"], 1);
}

#[test]
fn a_live_source_is_passed_on_row_by_row() {
    let mut child = command("ingest", &["diameter", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let mut stdout = BufReader::new(child.stdout.take().unwrap()).lines();
    stdin.write_all(b"lot,dx_mm\nA,1.75\n").unwrap();
    assert!(stdout.next().unwrap().unwrap().contains("begin"));
    assert!(stdout.next().unwrap().unwrap().contains("1.75"));
    stdin.write_all(b"A,1.76\n").unwrap();
    assert!(stdout.next().unwrap().unwrap().contains("1.76"));
    drop(stdin);
    assert!(stdout.next().unwrap().unwrap().contains("\"end\""));
    assert!(child.wait().unwrap().success());
}

#[test]
fn a_growing_file_is_followed_and_the_end_is_signed_once_it_rests() {
    let (_dir, path) = file("log.csv", "lot,dx_mm\nA,1.75\n");
    let mut child =
        command("ingest", &["diameter", "--follow", "--idle-s", "2", path.to_str().unwrap()])
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
    let mut stdout = BufReader::new(child.stdout.take().unwrap()).lines();
    assert!(stdout.next().unwrap().unwrap().contains("begin"));
    assert!(stdout.next().unwrap().unwrap().contains("1.75"));
    let mut log = OpenOptions::new().append(true).open(&path).unwrap();
    // The first half of a line is not taken for a whole one.
    log.write_all(b"A,1.").unwrap();
    std::thread::sleep(Duration::from_millis(250));
    let grown = Instant::now();
    log.write_all(b"76\n").unwrap();
    assert!(stdout.next().unwrap().unwrap().contains("\"dx_mm\":1.76"));
    assert!(grown.elapsed() < Duration::from_millis(300), "{:?}", grown.elapsed());
    assert!(stdout.next().unwrap().unwrap().contains("\"end\""));
    assert!(child.wait().unwrap().success());
}

#[test]
fn following_ends_on_an_interrupt_with_a_signed_end() {
    let (_dir, path) = file("log.csv", "lot,dx_mm\nA,1.75\nA,1.7");
    let mut child = command("ingest", &["diameter", "--follow", path.to_str().unwrap()])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdout = BufReader::new(child.stdout.take().unwrap()).lines();
    assert!(stdout.next().unwrap().unwrap().contains("begin"));
    assert!(stdout.next().unwrap().unwrap().contains("1.75"));
    let id = rustix::process::Pid::from_child(&child);
    rustix::process::kill_process(id, rustix::process::Signal::TERM).unwrap();
    let half = stdout.next().unwrap().unwrap();
    assert!(half.contains("without its line end") && half.contains("A,1.7"), "{half}");
    assert!(stdout.next().unwrap().unwrap().contains("\"end\""));
    assert!(child.wait().unwrap().success());
}

#[test]
fn a_followed_file_that_is_made_shorter_is_told_and_ends_in_status_3() {
    let (_dir, path) = file("log.csv", "lot,dx_mm\nA,1.75\n");
    let mut child = command("ingest", &["diameter", "--follow", path.to_str().unwrap()])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdout = BufReader::new(child.stdout.take().unwrap()).lines();
    assert!(stdout.nth(1).unwrap().unwrap().contains("1.75"));
    fs::write(&path, "lot\n").unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(3));
    assert!(String::from_utf8(output.stderr).unwrap().contains("shorter"));
}

#[test]
fn a_line_speed_without_times_is_refused_and_with_positions_told() {
    let args = ["--line-speed-m-min", "4.5"];
    let told = refused(&ingest("diameter", &args, "lot,dx_mm,Clock\nA,1.75,3\n"));
    assert!(told.contains("time_s") && told.contains("Clock"), "{told}");
    let ran = ingest("diameter", &args, "lot,time_s,position_m,dx_mm\nA,1,2,1.75\n");
    assert_eq!(ran.only("diameter")["position_m"], 2);
    assert!(ran.stderr.contains("line speed not used"), "{}", ran.stderr);
}

#[test]
fn a_unit_by_flag_concerns_the_column_that_is_written_so() {
    let ran = ingest("diameter", &["--unit", "dx=µm"], "lot,dx,dy (mm)\nA,1750,1.75\n");
    let reading = ran.only("diameter");
    assert_eq!((&reading["dx_mm"], &reading["dy_mm"]), (&1.75.into(), &1.75.into()));
    let told = refused(&ingest("diameter", &["--unit", "dz=µm"], "lot,dx_mm\nA,1.75\n"));
    assert!(told.contains("bad-column") && told.contains("--unit dz=µm"), "{told}");
}
