//! What holds the stream together: runs, sources, problems.

use crate::keep::{self, Ordered};
use secondmelt_record::contract::{Begin, CONTRACT, End};
use secondmelt_record::{Code, Problem, Record};
use std::collections::BTreeMap;

/// Runs that are told apart.
const RUNS_MAX: usize = 1000;
/// Sources kept of one run.
const SOURCES_MAX: usize = 1000;
/// Problems of one code that are shown in full.
const SHOWN: usize = 3;

/// What one run of a filter says of itself.
#[derive(Debug, Default)]
pub(crate) struct Run {
    pub(crate) program: String,
    pub(crate) version: String,
    pub(crate) options: String,
    pub(crate) begun: u64,
    pub(crate) ended: u64,
    pub(crate) cut_short: Option<String>,
    pub(crate) problems: u64,
    pub(crate) sources: Vec<SourceRead>,
    pub(crate) more_sources: u64,
}

/// What a run read of one source.
#[derive(Debug, Default)]
pub(crate) struct SourceRead {
    pub(crate) file: String,
    pub(crate) bytes: u64,
    pub(crate) sha256: String,
    pub(crate) records: u64,
}

/// Problems of one code.
#[derive(Debug, Default)]
pub(crate) struct Problems {
    pub(crate) total: u64,
    pub(crate) first: Vec<String>,
}

/// Runs, sources and problems.
#[derive(Debug)]
pub(crate) struct Frame {
    pub(crate) runs: Ordered<String, Run>,
    pub(crate) problems: BTreeMap<Code, Problems>,
    /// Problems that runs say they found, whether or not the records are here.
    pub(crate) problems_told: u64,
    /// Lines that this report could not read.
    met: u64,
    /// A version of the record contract that is newer than ours.
    pub(crate) newer: Option<u64>,
}

impl Default for Frame {
    fn default() -> Self {
        Self {
            runs: Ordered::new(RUNS_MAX),
            problems: BTreeMap::new(),
            problems_told: 0,
            met: 0,
            newer: None,
        }
    }
}

impl Frame {
    pub(super) fn take(&mut self, record: &Record<'_>) {
        match record {
            Record::Begin(begin) => self.begin(begin),
            Record::End(end) => self.end(end),
            Record::Problem(problem) => self.problem(problem),
            _ => {}
        }
    }

    fn begin(&mut self, begin: &Begin<'_>) {
        if begin.contract.0 > CONTRACT {
            self.newer = self.newer.max(Some(begin.contract.0));
        }
        let Some(run) = self.runs.entry(&keep::name(&begin.id)) else { return };
        run.begun += 1;
        run.program = keep::name(&begin.program);
        run.version = keep::name(&begin.version);
        let options: Vec<&str> = begin.options.iter().map(|o| o.as_str()).collect();
        run.options = keep::text(&options.join(" "));
    }

    fn end(&mut self, end: &End<'_>) {
        self.problems_told = self.problems_told.saturating_add(sum(end.problems.0.values()));
        let Some(run) = self.runs.entry(&keep::name(&end.id)) else { return };
        run.ended += 1;
        run.problems = run.problems.saturating_add(sum(end.problems.0.values()));
        run.cut_short = end.cut_short.as_deref().map(keep::text).or(run.cut_short.take());
        for source in end.sources.iter().flatten() {
            if run.sources.len() == SOURCES_MAX {
                run.more_sources += 1;
                continue;
            }
            run.sources.push(SourceRead {
                file: keep::name(&source.file),
                bytes: source.bytes.0,
                sha256: source.sha256.chars().take(12).collect(),
                records: source.records.0,
            });
        }
    }

    fn problem(&mut self, problem: &Problem<'_>) {
        let problems = self.problems.entry(problem.code).or_default();
        problems.total += 1;
        if problems.first.len() < SHOWN {
            // The code stands in front of the list's item already.
            let code = format!("{}: ", problem.code);
            problems.first.push(keep::text(&problem.sentence().replacen(&code, "", 1)));
        }
    }

    /// Takes the problem with a line that this report could not read.
    pub(super) fn met(&mut self, problem: &Problem<'_>) {
        self.met += 1;
        self.problem(problem);
    }

    /// Problem records in the stream, and lines that this report could not read.
    pub(crate) fn problems_here(&self) -> u64 {
        self.problems.values().map(|p| p.total).sum()
    }

    /// Problems that runs found and whose records are not in the stream.
    pub(crate) fn problems_missing(&self) -> u64 {
        self.problems_told.saturating_sub(self.problems_here() - self.met)
    }
}

/// A sum that cannot overflow, whatever a stream says.
fn sum<'a>(counts: impl Iterator<Item = &'a u64>) -> u64 {
    counts.fold(0, |sum: u64, n| sum.saturating_add(*n))
}
