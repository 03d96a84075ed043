//! Who wrote what: findings must point to a run that has signed its start, and runs
//! to runs before them.

use secondmelt_record::contract::{Begin, CONTRACT};
use secondmelt_record::{Code, Line, Out};
use std::collections::HashSet;

/// How many runs are remembered. Beyond that, references are not checked any more.
const RUNS_MAX: usize = 100_000;

/// The runs that have signed their start.
#[derive(Debug, Default)]
pub(crate) struct Runs(HashSet<String>);

impl Runs {
    /// How many there are.
    pub(crate) fn count(&self) -> usize {
        self.0.len()
    }

    /// Notes the start of a run, and writes what is wrong with it.
    pub(crate) fn begin(&mut self, begin: &Begin<'_>, line: Line<'_>, out: &mut Out) {
        for id in &begin.after {
            self.refer("after", id, line, out);
        }
        if begin.contract.0 > CONTRACT {
            let found = format!("version {} of the record contract", begin.contract.0);
            let expected = format!("at most {CONTRACT}, which this program knows");
            let mut problem = line.problem(Code::OutOfRange, found, expected);
            problem.field = Some("contract".into());
            problem.advice = Some("check the stream with a newer check-records".into());
            out.problem(&problem);
        }
        if self.0.len() < RUNS_MAX {
            self.0.insert(begin.id.to_string());
        }
    }

    /// Writes a problem where a field refers to a run that has not begun.
    pub(crate) fn refer(&self, field: &'static str, id: &str, line: Line<'_>, out: &mut Out) {
        if self.0.contains(id) || self.0.len() >= RUNS_MAX {
            return;
        }
        let expected = "the id of a `begin` record further up";
        let mut problem = line.problem(Code::NotDescribed, format!("run {id:?}"), expected);
        problem.field = Some(field.into());
        out.problem(&problem);
    }
}
