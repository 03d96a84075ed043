//! The filter: every line against its schema and the contract.

use crate::oddity::{self, Oddity};
use crate::runs::Runs;
use crate::schemas::Schemas;
use crate::{Options, answers};
use secondmelt_record::diagnose::not_json;
use secondmelt_record::{
    About, Class, Code, Filter, Gate, Input, Kind, Line, Out, Problem, Record, scan,
};
use serde::de::IgnoredAny;
use serde_json::Value;
use std::process::ExitCode;

/// How many problems wait at most.
const WAITING: usize = 1000;
/// How many kinds the summary lists.
const LISTED: usize = 60;

/// Checks a stream.
#[derive(Debug)]
pub(crate) struct CheckRecords {
    schemas: Schemas,
    runs: Runs,
    /// Problems of `begin` records wait until this run has signed its own start, which
    /// comes after those that it finds.
    waiting: Vec<Problem<'static>>,
}

impl Filter for CheckRecords {
    type Options = Options;
    const ABOUT: About = About {
        name: "check-records",
        version: env!("CARGO_PKG_VERSION"),
        summary: "Check a stream of records against the schemas and the record contract, or try a step of your own",
        example: "check-records examples/records/lot.json examples/records/diameter.json",
    };
    const READS: &'static [Kind] = Kind::ALL;

    fn new(_: Options) -> Result<Self, String> {
        Ok(Self { schemas: Schemas::default(), runs: Runs::default(), waiting: Vec::new() })
    }

    fn answer(options: &Options, out: &mut Out) -> Option<ExitCode> {
        answers::answer(options, out)
    }

    fn take(&mut self, record: &Record<'_>, line: Line<'_>, out: &mut Out) {
        // What the scanner reads is flat, has no field twice and none that is unknown;
        // that type and schema agree on it is held by a test.
        if matches!(record, Record::Diameter(_)) && scan::diameter(line.raw).is_some() {
            return self.write(out);
        }
        let found = self.wrong(record, line);
        self.waiting.extend(found);
        if !matches!(record, Record::Begin(_)) || self.waiting.len() > WAITING {
            self.write(out);
        }
    }

    fn stranger(&mut self, kind: &str, line: Line<'_>, out: &mut Out) {
        if let Some(problem) = unreadable(line).or_else(|| odd(line)) {
            self.waiting.push(problem);
        } else if !kind.contains('.') {
            let expected = "a kind that `check-records --list` names, or one of your own with a dot in its name (lab.colour)";
            let mut problem = line.problem(Code::UnknownKind, format!("kind {kind:?}"), expected);
            problem.field = Some("kind".into());
            self.waiting.push(problem);
        }
        self.write(out);
    }

    fn finish(&mut self, input: &Input, out: &mut Out) -> Result<Gate, String> {
        self.write(out);
        self.tell(input, out);
        Ok(match out.problem_total() {
            0 => Gate::Open,
            1 => Gate::Shut("the stream does not keep the record contract in 1 place".to_owned()),
            n => Gate::Shut(format!("the stream does not keep the record contract in {n} places")),
        })
    }
}

impl CheckRecords {
    /// Writes the problems that wait.
    fn write(&mut self, out: &mut Out) {
        for problem in self.waiting.drain(..) {
            out.problem(&problem);
        }
    }

    /// What is wrong with a record that its type has accepted.
    fn wrong(&mut self, record: &Record<'_>, line: Line<'_>) -> Vec<Problem<'static>> {
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

    /// Tells a person what was in the stream.
    fn tell(&self, input: &Input, out: &Out) {
        let counts = input.read.counts();
        for (kind, n) in counts.0.iter().take(LISTED) {
            out.tell(&format!("{n:>9}  {kind}"));
        }
        if counts.0.len() > LISTED {
            out.tell(&format!("           and {} kinds more", counts.0.len() - LISTED));
        }
        let earlier = match input.read.of(Kind::Problem) {
            0 => String::new(),
            n => format!(", {n} of them problems that earlier filters met"),
        };
        let whole = match (&input.cut, self.runs.count()) {
            (Some(_), _) => "NOT whole",
            (None, 0) => "not signed, so it cannot be seen whether it is whole",
            (None, _) => "whole: every run that began has ended",
        };
        out.tell(&format!("{} records{earlier}; the stream is {whole}", counts.total()));
        if out.problem_total() == 0 {
            out.tell("every record keeps the record contract");
        }
    }
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
