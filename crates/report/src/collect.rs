//! What is kept of a stream for the report, in bounded memory: totals are exact, of
//! long lists the first or the worst are kept.

mod cycles;
mod designs;
mod feed;
mod figures;
mod findings;
mod frame;
mod lab;
mod own;
mod pictures;
mod plan;
mod readings;
mod series;
mod standing;

pub(crate) use cycles::*;
pub(crate) use designs::{About, DesignRun, Designs, Planned};
pub(crate) use feed::{Feed, MayBe};
pub(crate) use figures::*;
pub(crate) use findings::Findings;
pub(crate) use frame::{Frame, Run};
pub(crate) use lab::{Lab, LotFacts, MachineFacts};
pub(crate) use pictures::{ChartCurves, Pictures, Signal, Stretch, Stretches};
pub(crate) use plan::{Growth, Need, Placed, Plan, ToRead, Used, Work};
pub(crate) use readings::{Curve, Place};
pub(crate) use series::Series;
pub(crate) use standing::{Aim, Known, Standing, urgency};

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
    pub(crate) cycles: Cycles,
    pub(crate) designs: Designs,
    pub(crate) plan: Plan,
    pub(crate) feed: Feed,
    /// What is drawn, where something is.
    pub(crate) pictures: Option<Box<Pictures>>,
    /// What is compared with an earlier report, where there is one.
    pub(crate) standing: Option<Standing>,
}

impl Collected {
    /// Keeps what the report needs of a record.
    pub(crate) fn take(&mut self, record: &Record<'_>) {
        if let Some(pictures) = &mut self.pictures {
            pictures.take(record);
        }
        // Of the raw readings, of which there may be millions, nothing else is kept.
        if matches!(record, Record::Diameter(_)) {
            return;
        }
        self.lab.take(record);
        self.findings.take(record);
        self.frame.take(record);
        self.cycles.take(record);
        self.designs.take(record);
        self.plan.take(record);
        self.feed.take(record);
        if let Some(standing) = &mut self.standing {
            standing.take(record);
        }
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
