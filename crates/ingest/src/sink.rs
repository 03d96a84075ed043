//! Where the records of one source go, and the problems of its rows.

use crate::cell::Fault;
use secondmelt_record::output::State;
use secondmelt_record::{Code, Count, Kind, Out, Problem, Text};
use std::io::IsTerminal;
use std::time::{Duration, Instant};

/// Where the records of one source go.
pub(crate) struct Sink<'a> {
    /// The stream.
    pub(crate) out: &'a mut Out,
    /// Name of the source; `-` for standard input.
    pub(crate) file: &'a str,
    /// Sheet of a workbook.
    pub(crate) sheet: Option<String>,
    /// Records made so far.
    pub(crate) records: u64,
    /// Rows met so far, blank ones left out.
    pub(crate) rows: u64,
    /// When progress was told last; none where nobody would see it.
    told: Option<Instant>,
}

/// How often progress is told on a terminal.
const TELL_EVERY: Duration = Duration::from_secs(3);

impl<'a> Sink<'a> {
    pub(crate) fn new(out: &'a mut Out, file: &'a str) -> Self {
        let told = std::io::stderr().is_terminal().then(Instant::now);
        Self { out, file, sheet: None, records: 0, rows: 0, told }
    }

    /// Writes a record that the caller has put together.
    #[inline]
    pub(crate) fn record(&mut self, kind: Kind, bytes: &[u8]) {
        self.records += 1;
        self.out.line(kind, |to| {
            to.extend_from_slice(bytes);
            true
        });
    }

    /// A problem of this source, with what is known of its place.
    pub(crate) fn problem(&mut self, mut problem: Problem<'static>) {
        if self.file != "-" {
            problem.file = Some(Text::from(self.file.to_owned()));
        }
        problem.sheet = self.sheet.clone().map(Text::from);
        self.out.problem(&problem);
    }

    /// A problem of a row.
    pub(crate) fn row_problem(&mut self, line: u64, raw: &[u8], fault: Fault) {
        self.problem(row_problem(line, raw, fault));
    }

    /// The problem of a line that is too long to be read.
    pub(crate) fn too_long(&mut self, line: u64, start: &[u8], length: u64) {
        let fault =
            Fault::new(Code::TooLong, format!("a line of {length} bytes"), "at most 1 MiB a line");
        let mut problem = row_problem(line, start, fault);
        problem.raw_bytes = Some(Count(length));
        self.problem(problem);
        self.rows += 1;
    }

    /// Says something about this source to the person who runs it.
    pub(crate) fn tell(&self, what: &str) {
        let place = if self.file == "-" { "standard input" } else { self.file };
        match &self.sheet {
            Some(sheet) => self.out.tell(&format!("{place}: sheet {sheet}: {what}")),
            None => self.out.tell(&format!("{place}: {what}")),
        }
    }

    /// Tells how far it has come, on a terminal and now and then.
    pub(crate) fn progress(&mut self) {
        if self.told.is_some_and(|at| at.elapsed() >= TELL_EVERY) {
            self.told = Some(Instant::now());
            self.tell(&format!("{} records so far", self.records));
        }
    }

    /// Whether the output still takes records.
    pub(crate) fn open(&self) -> bool {
        matches!(self.out.state(), State::Open)
    }
}

/// A problem of a row, before its file is known.
pub(crate) fn row_problem(line: u64, raw: &[u8], fault: Fault) -> Problem<'static> {
    let mut problem = Problem {
        code: fault.code,
        line: Some(Count(line)),
        found: Text::from(fault.found),
        expected: Text::from(fault.expected),
        advice: fault.advice.map(Text::from),
        ..Problem::default()
    };
    problem.keep_raw(raw);
    problem
}
