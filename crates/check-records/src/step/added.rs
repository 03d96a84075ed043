//! The lines that a step adds of its own.

use super::align::shown;
use super::rules::{Findings, Rule};
use crate::oddity::{self, Oddity};
use crate::schemas::Schemas;
use secondmelt_record::{Kind, Record, scan};
use serde_json::Value;
use std::collections::BTreeMap;

/// How many added lines are looked at.
const LOOKED_AT: usize = 10_000;

/// Notes what is wrong with the lines that a step adds.
pub(crate) fn judge(added: &[&[u8]], schemas: &mut Schemas, findings: &mut Findings) {
    let mut runs: BTreeMap<String, i64> = BTreeMap::new();
    for raw in added.iter().take(LOOKED_AT) {
        if let Err((rule, how)) = record(raw, schemas, &mut runs) {
            findings.broken(rule, format!("{how}: {}", shown(raw)));
        }
    }
    if let Some((id, _)) = runs.iter().find(|(_, n)| **n != 0) {
        let how = format!("a begin or end of its own without the other: id {id:?}");
        findings.broken(Rule::Signatures, how);
    }
}

type Breach = (Rule, String);

fn record(
    raw: &[u8],
    schemas: &mut Schemas,
    runs: &mut BTreeMap<String, i64>,
) -> Result<(), Breach> {
    let line = encoded(raw)?;
    let value = parsed(line)?;
    let kind = match value.get("kind") {
        Some(Value::String(kind)) if value.is_object() && !kind.is_empty() => kind.as_str(),
        _ => {
            return Err((
                Rule::Output,
                "no JSON object with a field `kind` that holds text".to_owned(),
            ));
        }
    };
    if let Some(Oddity::Twice(name)) = oddity::first(line) {
        return Err((Rule::Output, format!("field {name:?} stands twice")));
    }
    if let Some(Oddity::Null(name)) = oddity::first(line) {
        return Err((Rule::Values, format!("null in field {name:?}; leave the field out")));
    }
    if kind.contains('.') {
        return Ok(());
    }
    let Some(known) = Kind::from_name(kind) else {
        let how =
            format!("kind {kind:?} has no dot, and is none of secondmelt's (check-records --list)");
        return Err((Rule::Kinds, how));
    };
    if let Kind::Begin | Kind::End = known {
        let id = value.get("id").map(ToString::to_string).unwrap_or_default();
        *runs.entry(id).or_default() += if known == Kind::Begin { 1 } else { -1 };
    }
    ours(known, line, &value, schemas).map_err(|how| (Rule::Schemas, how))
}

fn ours(kind: Kind, line: &str, value: &Value, schemas: &mut Schemas) -> Result<(), String> {
    if let Some(refusal) = schemas.refusal(kind, value) {
        return Err(format!("no {kind} by its schema: {refusal}"));
    }
    Record::parse(kind, line).map(drop).map_err(|error| format!("no {kind}: {error}"))
}

/// The line, where it is UTF-8 and nothing odd stands around it.
fn encoded(raw: &[u8]) -> Result<&str, Breach> {
    let breach = |how: &str| Err((Rule::Encoding, how.to_owned()));
    match std::str::from_utf8(raw) {
        Err(_) => breach("not UTF-8"),
        Ok(line) if line.starts_with('\u{feff}') => breach("a byte order mark at the start"),
        Ok(line) if line.ends_with('\r') => breach("a line end CR LF instead of LF"),
        Ok(line) => Ok(line),
    }
}

fn parsed(line: &str) -> Result<Value, Breach> {
    if line.trim().is_empty() {
        return Err((Rule::Output, "an empty line".to_owned()));
    }
    if scan::depth(line) > scan::DEPTH_MAX {
        return Err((Rule::Output, format!("nested deeper than {} levels", scan::DEPTH_MAX)));
    }
    let error = match serde_json::from_str(line) {
        Ok(value) => return Ok(value),
        Err(error) => error,
    };
    if error.to_string().starts_with("number out of range") {
        return Err((Rule::Values, "a number that most readers take for infinity".to_owned()));
    }
    match without_words(line) {
        Some(word) => Err((Rule::Values, format!("{word} is not JSON; leave the field out"))),
        None => Err((Rule::Output, format!("not one JSON object ({error})"))),
    }
}

/// The word for no number that keeps a line from being JSON; none where it is
/// something else.
fn without_words(line: &str) -> Option<&'static str> {
    ["-Infinity", "Infinity", "NaN", "-inf", "inf", "-nan", "nan"].into_iter().find(|word| {
        let number = line.replace(&format!(":{word}"), ":0").replace(&format!(": {word}"), ":0");
        number != line && serde_json::from_str::<Value>(&number).is_ok()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn breach(line: &str) -> Option<Rule> {
        record(line.as_bytes(), &mut Schemas::default(), &mut BTreeMap::new()).err().map(|b| b.0)
    }

    #[test]
    fn a_good_record_of_its_own_or_of_ours_breaks_no_rule() {
        assert_eq!(breach(r#"{"kind":"lab.colour","lot":"a","de":1.5}"#), None);
        assert_eq!(breach(r#"{"kind":"marking","lot":"a","mark":"PP"}"#), None);
    }

    #[test]
    fn each_thing_that_is_wrong_with_an_added_line_breaks_its_own_rule() {
        assert_eq!(breach("done"), Some(Rule::Output));
        assert_eq!(breach(""), Some(Rule::Output));
        assert_eq!(breach("[1]"), Some(Rule::Output));
        assert_eq!(breach(r#"{"lot":"a"}"#), Some(Rule::Output));
        assert_eq!(breach(r#"{"kind":"lab.x"}{"kind":"lab.y"}"#), Some(Rule::Output));
        assert_eq!(breach(r#"{"kind":"lab.x","a":1,"a":2}"#), Some(Rule::Output));
        assert_eq!(breach(r#"{"kind":"lab.x","a":null}"#), Some(Rule::Values));
        assert_eq!(breach(r#"{"kind":"lab.x","a":NaN}"#), Some(Rule::Values));
        assert_eq!(breach(r#"{"kind":"lab.x","a": -Infinity}"#), Some(Rule::Values));
        assert_eq!(breach(r#"{"kind":"lab.x","a":1e999}"#), Some(Rule::Values));
        assert_eq!(breach("{\"kind\":\"lab.x\"}\r"), Some(Rule::Encoding));
        assert_eq!(breach("\u{feff}{\"kind\":\"lab.x\"}"), Some(Rule::Encoding));
        assert_eq!(breach(r#"{"kind":"colour"}"#), Some(Rule::Kinds));
        assert_eq!(breach(r#"{"kind":"marking","lot":"a"}"#), Some(Rule::Schemas));
        assert_eq!(breach(r#"{"kind":"marking","lot":"","mark":"PP"}"#), Some(Rule::Schemas));
    }
}
