//! How much plastic must go in for so many good spools, how long each stage takes, what to read
//! and sample, how big the next batch may be, and which kept pieces serve which prints.
//!
//! The yields are those that mass-balance has found for steps of the material, left out where the
//! balance of the step fails: a wrong weighing makes a wrong yield. A route runs from the form of the
//! feed to filament through the kinds of step that the lab has recorded, in the order in which its lots
//! went through them: waste from sorting on, parts and the lab's own scrap from shredding on, regrind and
//! pellets from drying on, a lot that was sorted, washed or shredded from the stage after that. Blending
//! is no stage of it: what is added there takes the place of as much feed. The interval of the feed is that of
//! [`secondmelt_quality::yield_product`], with its simulated coverage; nothing here is random.
//!
//! How often the interval of the feed, worked out by this crate from weighed runs of shredding, drying
//! and extruding, holds what the next batch of the lab then needs, in per cent of 2,000 seeded labs a row
//! (`feed_test.rs` holds each to 93 to 97, and to what is told here):
//!
//! | runs of each step | held, % |
//! |---|---|
//! | 4, 4, 4 | 95.2 |
//! | 3, 3, 3 | 95.0 |
//! | 3, 6, 9 | 95.5 |
//! | 12, 12, 12 | 95.2 |
//! | 12, 12, 3 | 94.0 |
//! | 2, 2, 2 | 96.0 |
//! | 9, 6, 2 | 95.6 |
//!
//! Where a yield or a rate is not known, the answer is what must be weighed or timed first.

mod book;
mod feed;
mod growth;
mod intake;
mod options;
mod order;
mod prints;
mod readings;
mod route;
mod shelf;
mod target;
mod time;
mod words;

use book::Book;
pub use options::Options;
use options::Settled;
use secondmelt_record::{About, Filter, Gate, Input, Kind, Line, Out, Record, run};

/// The program.
pub fn main() -> std::process::ExitCode {
    run::<PlanBatch>()
}

/// The filter.
#[derive(Debug)]
pub struct PlanBatch {
    settled: Settled,
    book: Book,
}

impl Filter for PlanBatch {
    type Options = Options;
    const ABOUT: About = About {
        name: "plan-batch",
        version: env!("CARGO_PKG_VERSION"),
        summary: "Plans the next batch from what the lab has recorded: feed for so many good spools \
                  with an interval from the spread of yields, time by machine, readings and samples, a \
                  staged growth in which evidence opens each stage, and kept pieces of filament for \
                  prints. Yields are those of mass-balance, which comes before in the chain; rates are \
                  taken from machines, steps and --rate. Targets may be `limit` records, too: \
                  `batch_spools`, `spool_g`, `spool_m` with their `target`",
        example: "cat examples/records/machine.json examples/records/step_balance.json | plan-batch",
    };
    const READS: &'static [Kind] = &[
        Kind::Lot,
        Kind::Material,
        Kind::Limit,
        Kind::Machine,
        Kind::Step,
        Kind::Weighing,
        Kind::StepBalance,
        Kind::LotBalance,
        Kind::Suspect,
        Kind::Verdict,
        Kind::DiameterSummary,
        Kind::OutShare,
        Kind::Piece,
        Kind::MeltFlowRepeatability,
        Kind::PassesLeft,
        Kind::TrialEvidence,
    ];

    fn new(options: Options) -> Result<Self, String> {
        let settled = options.settled()?;
        let book = Book { keeps_pieces: !settled.prints.is_empty(), ..Book::default() };
        Ok(Self { settled, book })
    }

    fn take(&mut self, record: &Record<'_>, line: Line<'_>, out: &mut Out) {
        if let Some(problem) = self.book.take(record, line) {
            out.problem(&problem);
        }
    }

    fn finish(&mut self, _: &Input, out: &mut Out) -> Result<Gate, String> {
        let asked = target::is_asked(&self.book, &self.settled);
        match target::target(&self.book, &self.settled) {
            // Of a lab that has recorded no step nothing is planned unless it asks.
            _ if !asked && self.book.step_names().is_empty() => {}
            Ok(target) => {
                let route = route::route(&self.book, target.material.as_deref(), &self.settled);
                feed::write(&self.book, &target, &route, out);
                shelf::write(&self.book, &target, &route, asked, out);
                time::write(&self.book, &target, &route, &self.settled, out);
                readings::write(&self.book, &target, out);
                growth::write(&self.book, &target, &route, &self.settled, out);
            }
            Err(why) => out.write(&target::missing(why)),
        }
        prints::write(&self.book, &self.settled, out);
        Ok(Gate::Open)
    }
}
