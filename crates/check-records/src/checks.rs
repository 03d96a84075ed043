//! What is wrong with a record, be it of a stream or added by a step.

use crate::oddity::{self, Oddity};
use crate::runs::Runs;
use crate::schemas::Schemas;
use secondmelt_record::diagnose::{Trouble, diagnose, not_json};
use secondmelt_record::lines::LINE_MAX;
use secondmelt_record::scan::{self, Peek};
use secondmelt_record::{Class, Code, Kind, Line, Problem, Record};
use serde::de::IgnoredAny;
use serde_json::Value;

/// The schemas, and the runs that have signed their start so far.
#[derive(Debug, Default)]
pub(crate) struct Checks {
    schemas: Schemas,
    runs: Runs,
}

impl Checks {
    /// How many runs have signed their start.
    pub(crate) fn runs(&self) -> usize {
        self.runs.count()
    }

    /// What is wrong with a line that nobody has looked at yet. Its line end does not
    /// belong to it.
    pub(crate) fn line(&mut self, line: Line<'_>) -> Vec<Problem<'static>> {
        let bad = |trouble: Trouble| vec![trouble.problem(line.place, line.raw.as_bytes())];
        if line.raw.len() >= LINE_MAX {
            let found = format!("a line of {} bytes", line.raw.len() + 1);
            return bad(Trouble::new(Code::TooLong, found, "at most 1 MiB a line"));
        }
        match scan::peek(line.raw) {
            Peek::Known(_) if scan::depth(line.raw) > scan::DEPTH_MAX => bad(scan::too_deep()),
            Peek::Known(kind) => match Record::parse(kind, line.raw) {
                Ok(record) => self.record(&record, line),
                Err(error) => bad(diagnose(kind, line.raw, &error)),
            },
            Peek::Stranger(kind) => stranger(&kind, line).into_iter().collect(),
            Peek::Blank => Vec::new(),
            Peek::Bad(trouble) => bad(trouble),
        }
    }

    /// What is wrong with a record that its type has accepted.
    pub(crate) fn record(&mut self, record: &Record<'_>, line: Line<'_>) -> Vec<Problem<'static>> {
        let mut found: Vec<_> = odd(line).into_iter().collect();
        if let Record::Begin(begin) = record {
            found.extend(self.runs.begin(begin, line));
        }
        // A number that no double holds, in a field that nobody here knows, is no fault.
        let Ok(value) = serde_json::from_str::<Value>(line.raw) else { return found };
        let kind = record.kind();
        if let Some(refusal) = self.schemas.refusal(kind, &value) {
            let expected = format!("a record that the schema of {kind} accepts");
            found.push(line.problem(Code::WrongType, refusal, expected));
        }
        let signed = kind.class() == Class::Finding || kind == Kind::Problem;
        if let (true, Some(by)) = (signed, value.get("by").and_then(Value::as_str)) {
            found.extend(self.runs.stray("by", by, line));
        }
        found
    }
}

/// What is wrong with a record of a kind that is none of ours.
pub(crate) fn stranger(kind: &str, line: Line<'_>) -> Option<Problem<'static>> {
    let found = unreadable(line).or_else(|| odd(line));
    if found.is_some() || kind.contains('.') {
        return found;
    }
    let expected = "a kind that `check-records --list` names, or one of your own with a dot in its name (lab.colour)";
    let mut problem = line.problem(Code::UnknownKind, format!("kind {kind:?}"), expected);
    problem.field = Some("kind".into());
    Some(problem)
}

/// What is wrong with a line of which only the kind has been looked at.
fn unreadable(line: Line<'_>) -> Option<Problem<'static>> {
    let trouble = if scan::depth(line.raw) > scan::DEPTH_MAX {
        scan::too_deep()
    } else {
        not_json(&serde_json::from_str::<IgnoredAny>(line.raw).err()?)
    };
    Some(trouble.problem(line.place, line.raw.as_bytes()))
}

/// What JSON allows and a stream does not.
fn odd(line: Line<'_>) -> Option<Problem<'static>> {
    let (mut problem, field) = match oddity::first(line.raw)? {
        Oddity::Twice(name) => {
            (line.problem(Code::DuplicateKey, "the field twice", "it once"), name)
        }
        Oddity::Null(name) => (
            line.problem(
                Code::WrongType,
                "null",
                "a value, or no such field at all: absent means unknown",
            ),
            name,
        ),
    };
    problem.field = (!field.is_empty()).then(|| field.into());
    Some(problem)
}
