//! What to change in the next cycle: the puller speed that brings the diameter to its
//! target, and melt flow worked out from its cut-offs.
//!
//! Records may come in any order; what is worked out is written at the end of the input.

mod book;
mod melt;
mod puller;
mod words;

use book::Book;
use melt::Melts;
use puller::{Outcome, Puller};
use secondmelt_record::{About, Filter, Gate, Input, Kind, Line, Out, Record, run};
use std::collections::BTreeSet;

/// The program.
pub fn main() -> std::process::ExitCode {
    run::<CycleAdjust>()
}

/// Options of this program: none of its own yet.
#[derive(Debug, Clone, Copy, clap::Args)]
pub struct Options {}

/// The filter.
#[derive(Debug, Default)]
pub struct CycleAdjust {
    book: Book,
    melts: Melts,
}

impl Filter for CycleAdjust {
    type Options = Options;
    const ABOUT: About = About {
        name: "cycle-adjust",
        version: env!("CARGO_PKG_VERSION"),
        summary: "Proposes the puller speed for the next run and works out melt flow. A puller \
                  speed needs the `diameter_summary` of a lot, so check-tolerance comes before in \
                  the chain; a weighing with role `out` that links the lot to its `extrude` step; \
                  and the setting `line_speed_m_min` of that step",
        example: "printf '{\"kind\":\"melt_flow\",\"lot\":\"caps\",\"temp_c\":230,\"load_kg\":2.16,\"cut_g\":%s,\"cut_s\":30}\\n' \\\n      \
                  0.2471 0.2503 0.2489 | cycle-adjust",
    };
    const READS: &'static [Kind] = &[
        Kind::Step,
        Kind::Weighing,
        Kind::Machine,
        Kind::Gauge,
        Kind::DiameterSummary,
        Kind::MeltFlow,
    ];

    fn new(_: Options) -> Result<Self, String> {
        Ok(Self::default())
    }

    fn take(&mut self, record: &Record<'_>, line: Line<'_>, out: &mut Out) {
        let trouble = match record {
            Record::Step(step) => self.book.step(step, line),
            Record::Machine(machine) => self.book.machine(machine, line),
            Record::Gauge(gauge) => self.book.gauge(gauge, line),
            Record::DiameterSummary(summary) => self.book.summary(summary, line),
            Record::MeltFlow(cut) => self.melts.cut(cut, line),
            Record::Weighing(weighing) => {
                self.book.weighing(weighing);
                None
            }
            _ => None,
        };
        if let Some(problem) = trouble {
            out.problem(&problem);
        }
    }

    fn finish(&mut self, _: &Input, out: &mut Out) -> Result<Gate, String> {
        for filling in self.melts.fillings() {
            out.write(&filling.result());
            out.write(&filling.verdict());
        }
        let mut warned = BTreeSet::new();
        for puller in puller::pullers(&self.book) {
            write_puller(&puller, &mut warned, out);
        }
        Ok(Gate::Open)
    }
}

/// One proposal or verdict, each machine with its caution once.
fn write_puller<'a>(puller: &Puller<'a>, warned: &mut BTreeSet<Option<&'a str>>, out: &mut Out) {
    match puller.outcome() {
        Outcome::Change(change) => {
            out.write(&puller.adjustment(&change));
            if warned.insert(puller.machine()) {
                out.write(&puller.nip_points());
            }
        }
        Outcome::Beyond { speed, limit, why, danger } => {
            out.write(&puller.beyond_machine(speed, limit, &why));
            out.write(&puller.beyond_limit(&danger));
        }
        Outcome::Stay { limit_mm, why } => out.write(&puller.conforms(limit_mm, &why)),
        Outcome::Wide { limit_mm, why } => out.write(&puller.wide(limit_mm, &why)),
        Outcome::Undecided(why) => out.write(&puller.undecided(&why)),
    }
}
