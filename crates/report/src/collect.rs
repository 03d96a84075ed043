//! What is kept of a stream for the report, in bounded memory: totals are exact, of
//! long lists the first or the worst are kept.

mod figures;
mod findings;
mod frame;
mod lab;
mod own;

pub(crate) use figures::*;
pub(crate) use findings::Findings;
pub(crate) use frame::{Frame, Run};
pub(crate) use lab::{Lab, LotFacts, MachineFacts};

use secondmelt_record::contract::Counts;
use secondmelt_record::{Input, Problem, Record};

/// Lots, steps, machines, or pairs of them that are told apart.
const NAMES_MAX: usize = 5000;

/// All that is kept.
#[derive(Debug, Default)]
pub(crate) struct Collected {
    pub(crate) lab: Lab,
    pub(crate) findings: Findings,
    pub(crate) frame: Frame,
}

impl Collected {
    /// Keeps what the report needs of a record.
    pub(crate) fn take(&mut self, record: &Record<'_>) {
        self.lab.take(record);
        self.findings.take(record);
        self.frame.take(record);
    }
}

/// What is known once the input has ended.
#[derive(Debug)]
pub(crate) struct Ended {
    /// Records by kind.
    pub(crate) read: Counts,
    /// Why the stream is not whole.
    pub(crate) cut: Option<String>,
}

impl Ended {
    pub(crate) fn new(input: &Input) -> Self {
        Self { read: input.read.counts(), cut: input.cut.clone() }
    }
}

impl Collected {
    /// Takes the problem with a line that this report could not read.
    pub(crate) fn met(&mut self, problem: &Problem<'_>) {
        self.frame.met(problem);
    }

    /// All problems known: records, lines this report could not read, and those that
    /// runs counted and whose records are not in the stream.
    pub(crate) fn problems_total(&self) -> u64 {
        self.frame.problems_here().saturating_add(self.frame.problems_missing())
    }
}
