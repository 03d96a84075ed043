//! The lines that a step adds of its own.

use super::align::shown;
use super::rules::{Findings, Rule};
use crate::checks::Checks;
use secondmelt_record::contract::End;
use secondmelt_record::scan::{Peek, peek};
use secondmelt_record::whole::Whole;
use secondmelt_record::{Code, Kind, Line, Place, Problem, Record};
use serde_json::Value;

/// How many added lines are looked at.
const LOOKED_AT: usize = 10_000;

/// Notes what is wrong with the lines that a step adds to those that it was given, and
/// which rules its additions say nothing of.
pub(crate) fn judge(output: &[&[u8]], passed_on: &[bool], findings: &mut Findings) {
    let (mut checks, mut runs) = (Checks::default(), Whole::default());
    let (mut ours, mut own, mut looked_at) = (false, false, 0);
    for ((n, raw), passed_on) in (1..).zip(output).zip(passed_on) {
        if *passed_on {
            note_run(raw, &mut checks);
            continue;
        }
        looked_at += 1;
        if looked_at > LOOKED_AT {
            break;
        }
        match kind(raw) {
            Some(Peek::Known(_)) => ours = true,
            _ => own = true,
        }
        sign(raw, &mut runs);
        if let Err((rule, how)) = record(raw, n, &mut checks) {
            findings.broken(rule, format!("{how}: {}", shown(raw)));
        }
    }
    if let Some(fault) = runs.fault() {
        findings.broken(Rule::Signatures, format!("of what it adds itself, {fault}"));
    }
    untried(ours, own, findings);
}

/// The rules that nothing was added to try.
fn untried(ours: bool, own: bool, findings: &mut Findings) {
    let mut skip = |rules: &[Rule], why: &str| {
        rules.iter().for_each(|rule| findings.untried(*rule, why));
    };
    let of_ours = [Rule::Schemas, Rule::Runs];
    match (ours, own) {
        (false, false) => {
            skip(&[Rule::Values, Rule::Encoding, Rule::Kinds], "it added nothing");
            skip(&of_ours, "it added nothing");
        }
        (false, true) => skip(&of_ours, "it added no record of secondmelt's kinds"),
        (true, false) => skip(&[Rule::Kinds], "it added no kind of its own"),
        (true, true) => {}
    }
}

fn kind(raw: &[u8]) -> Option<Peek<'_>> {
    Some(peek(std::str::from_utf8(raw).ok()?))
}

/// Notes a run that an earlier filter has signed, for what points to it.
fn note_run(raw: &[u8], checks: &mut Checks) {
    if let (Some(Peek::Known(Kind::Begin)), Ok(line)) = (kind(raw), std::str::from_utf8(raw)) {
        checks.line(Line { place: Place { file: None, line: 0 }, raw: line });
    }
}

/// Notes the signatures among added lines.
fn sign(raw: &[u8], runs: &mut Whole) {
    let Ok(line) = std::str::from_utf8(raw) else { return };
    if let Peek::Known(kind @ (Kind::Begin | Kind::End)) = peek(line) {
        match Record::parse(kind, line) {
            Ok(Record::Begin(begin)) => runs.begin(&begin),
            // That its input was cut short is no fault of the step.
            Ok(Record::End(end)) => runs.end(&End { cut_short: None, ..end }),
            _ => {}
        }
    }
}

type Breach = (Rule, String);

/// The first thing that is wrong with an added line, the `n`th of the output.
fn record(raw: &[u8], n: u64, checks: &mut Checks) -> Result<(), Breach> {
    let line = encoded(raw)?;
    if line.trim().is_empty() {
        return Err((Rule::Output, "an empty line".to_owned()));
    }
    if let Some(how) = no_number(line) {
        return Err((Rule::Values, how));
    }
    let place = Place { file: Some("its output"), line: n };
    match checks.line(Line { place, raw: line }).first() {
        Some(problem) => Err((rule(problem), problem.sentence())),
        None => Ok(()),
    }
}

/// The rule that a line with this problem breaks.
fn rule(problem: &Problem<'_>) -> Rule {
    match problem.code {
        Code::NotUtf8 => Rule::Encoding,
        Code::TooLong => Rule::LongLines,
        Code::UnknownKind => Rule::Kinds,
        Code::NotDescribed => Rule::Runs,
        Code::WrongType if problem.found.as_str() == "null" => Rule::Values,
        Code::NotJson | Code::NoKind | Code::DuplicateKey | Code::NestedTooDeep => Rule::Output,
        _ => Rule::Schemas,
    }
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

/// What stands for no number, or for none that a double holds. Whoever adds a record
/// means a number, while one that is passed on is let be.
fn no_number(line: &str) -> Option<String> {
    let error = serde_json::from_str::<Value>(line).err()?;
    if error.to_string().starts_with("number out of range") {
        return Some("a number that most readers take for infinity".to_owned());
    }
    without_words(line).map(|word| format!("{word} is not JSON; leave the field out"))
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
        record(line.as_bytes(), 1, &mut Checks::default()).err().map(|breach| breach.0)
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
        assert_eq!(breach(r#"{"kind":"marking","lot":"a","mark":null}"#), Some(Rule::Values));
        assert_eq!(
            breach(r#"{"kind":"lot","lot":"a","material":"PP","x":null}"#),
            Some(Rule::Values)
        );
        let long = format!(r#"{{"kind":"lab.x","a":"{}"}}"#, "x".repeat(1 << 20));
        assert_eq!(breach(&long), Some(Rule::LongLines));
        let stray =
            r#"{"kind":"caution","by":"0123456789abcdef","danger":"fumes","defer_to":"rules"}"#;
        assert_eq!(breach(stray), Some(Rule::Runs));
    }
}
