//! The filter: every line against its schema and the contract.

use crate::checks::{Checks, stranger};
use crate::{Options, answers};
use secondmelt_record::{About, Filter, Gate, Input, Kind, Line, Out, Problem, Record, scan};
use std::process::ExitCode;

/// How many problems wait at most.
const WAITING: usize = 1000;
/// How many kinds the summary lists.
const LISTED: usize = 60;

/// Checks a stream.
#[derive(Debug)]
pub(crate) struct CheckRecords {
    checks: Checks,
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
        Ok(Self { checks: Checks::default(), waiting: Vec::new() })
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
        let found = self.checks.record(record, line);
        self.waiting.extend(found);
        if !matches!(record, Record::Begin(_)) || self.waiting.len() > WAITING {
            self.write(out);
        }
    }

    fn stranger(&mut self, kind: &str, line: Line<'_>, out: &mut Out) {
        self.waiting.extend(stranger(kind, line));
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
        let whole = match (&input.cut, self.checks.runs()) {
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
