//! Types, committed schemas and example records say the same.
//!
//! `UPDATE_SCHEMAS=1 cargo test --test schemas` writes `schemas/v1` anew after a
//! type has changed; read the difference before committing it.

#![expect(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on fails")]

use jsonschema::Validator;
use secondmelt_record::{Kind, Record, schema};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::PathBuf;

fn at_top(path: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn names_in(folder: &str) -> BTreeSet<String> {
    let entries = fs::read_dir(at_top(folder)).unwrap();
    entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
}

fn example(kind: Kind) -> String {
    let path = at_top("examples/records").join(format!("{kind}.json"));
    fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn validator(kind: Kind) -> Validator {
    jsonschema::options().should_validate_formats(true).build(&schema::of_kind(kind)).unwrap()
}

#[test]
fn committed_schemas_are_those_of_the_types() {
    let made: BTreeMap<String, String> = schema::files().collect();
    if std::env::var_os("UPDATE_SCHEMAS").is_some() {
        fs::create_dir_all(at_top("schemas/v1")).unwrap();
        for name in names_in("schemas/v1") {
            fs::remove_file(at_top("schemas/v1").join(name)).unwrap();
        }
        for (name, text) in &made {
            fs::write(at_top("schemas/v1").join(name), text).unwrap();
        }
    }
    let names: BTreeSet<String> = made.keys().cloned().collect();
    assert_eq!(names_in("schemas/v1"), names, "files in schemas/v1, and those of the types");
    for (name, text) in &made {
        let committed = fs::read_to_string(at_top("schemas/v1").join(name)).unwrap();
        assert_eq!(
            &committed, text,
            "{name} differs; run UPDATE_SCHEMAS=1 cargo test --test schemas"
        );
    }
}

#[test]
fn every_schema_is_valid_by_the_meta_schema_of_its_draft() {
    for (name, text) in schema::files() {
        let schema: Value = serde_json::from_str(&text).unwrap();
        assert!(jsonschema::meta::is_valid(&schema), "{name}");
    }
}

#[test]
fn every_kind_has_one_example_and_there_are_no_others() {
    let wanted: BTreeSet<String> = Kind::ALL.iter().map(|k| format!("{k}.json")).collect();
    assert_eq!(names_in("examples/records"), wanted);
}

#[test]
fn every_example_is_one_line_that_type_and_schema_accept() {
    for kind in Kind::ALL.iter().copied() {
        let text = example(kind);
        let line = text.strip_suffix('\n').unwrap();
        assert!(!line.contains('\n'), "{kind}: one line");
        assert!(line.starts_with(&format!("{{\"kind\":\"{kind}\",")), "{kind}: the kind is first");
        if let Err(error) = Record::parse(kind, line) {
            panic!("{kind}: {error}");
        }
        let value: Value = serde_json::from_str(line).unwrap();
        if let Err(error) = validator(kind).validate(&value) {
            panic!("{kind}: {error}");
        }
    }
}

#[test]
fn examples_hold_documented_fields_only_and_every_needed_one_is_missed() {
    for kind in Kind::ALL.iter().copied() {
        let value: Value = serde_json::from_str(&example(kind)).unwrap();
        let map = value.as_object().unwrap();
        for name in map.keys().filter(|name| *name != "kind") {
            assert!(
                kind.field(name).is_some(),
                "{kind}: {name} is in the example, not in the table"
            );
        }
        let validator = validator(kind);
        for field in kind.fields().iter().filter(|f| f.required) {
            let mut without = map.clone();
            without.remove(field.name);
            let value = Value::Object(without);
            let by_type = Record::parse(kind, &value.to_string()).is_ok();
            assert!(!by_type, "{kind} without {}: the type accepts it", field.name);
            assert!(!validator.is_valid(&value), "{kind} without {}: the schema does", field.name);
        }
    }
}
