//! Who wrote what: findings must point to a run that has signed its start, and runs
//! to runs before them.

use secondmelt_record::contract::{Begin, CONTRACT};
use secondmelt_record::{Code, Line, Problem};
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

    /// Notes the start of a run; what is wrong with it.
    pub(crate) fn begin(&mut self, begin: &Begin<'_>, line: Line<'_>) -> Vec<Problem<'static>> {
        let after = begin.after.iter().filter_map(|id| self.stray("after", id, line));
        let mut problems: Vec<_> = after.collect();
        if begin.contract.0 > CONTRACT {
            let found = format!("version {} of the record contract", begin.contract.0);
            let expected = format!("at most {CONTRACT}, which this program knows");
            let mut problem = line.problem(Code::OutOfRange, found, expected);
            problem.field = Some("contract".into());
            problem.advice = Some("check the stream with a newer check-records".into());
            problems.push(problem);
        }
        if self.0.len() < RUNS_MAX {
            self.0.insert(begin.id.to_string());
        }
        problems
    }

    /// The problem of a field that refers to a run that has not begun; none where it has.
    pub(crate) fn stray(
        &self,
        field: &'static str,
        id: &str,
        line: Line<'_>,
    ) -> Option<Problem<'static>> {
        if self.0.contains(id) || self.0.len() >= RUNS_MAX {
            return None;
        }
        let expected = "the id of a `begin` record further up";
        let mut problem = line.problem(Code::NotDescribed, format!("run {id:?}"), expected);
        problem.field = Some(field.into());
        Some(problem)
    }
}
