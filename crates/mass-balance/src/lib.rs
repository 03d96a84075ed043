//! Where every gram went: what went into each step against what came out, and what
//! was made of each lot against what was used.
//!
//! Weighings may come in any order; what is worked out is written at the end of the
//! input. One small entry a weighing is kept until then.

mod book;
mod flow;
mod lot;
mod names;
#[cfg(test)]
mod order;
mod step;
mod words;

use book::Book;
use secondmelt_record::{About, Filter, Gate, Input, Kind, Line, Out, Record, run};

/// The program.
pub fn main() -> std::process::ExitCode {
    run::<MassBalance>()
}

/// Options of this program: none of its own yet.
#[derive(Debug, Clone, Copy, clap::Args)]
pub struct Options {}

/// The filter.
#[derive(Debug, Default)]
pub struct MassBalance {
    book: Book,
}

impl Filter for MassBalance {
    type Options = Options;
    const ABOUT: About = About {
        name: "mass-balance",
        version: env!("CARGO_PKG_VERSION"),
        summary: "Balances every step (in against out and losses) and every lot (made against \
                  used and stock) with the uncertainty of the weighings",
        example: "printf '{\"kind\":\"weighing\",\"step\":\"shred\",\"lot\":\"%s\",\"role\":\"%s\",\"mass_g\":%s,\"u_g\":1}\\n' \\\n      \
                  caps in 500  flakes out 480  caps dust 5 | mass-balance",
    };
    const READS: &'static [Kind] = &[Kind::Step, Kind::Weighing, Kind::Scale];

    fn new(_: Options) -> Result<Self, String> {
        Ok(Self::default())
    }

    fn take(&mut self, record: &Record<'_>, line: Line<'_>, out: &mut Out) {
        let trouble = match record {
            Record::Step(step) => self.book.step(step, line),
            Record::Scale(scale) => self.book.scale(scale, line),
            Record::Weighing(weighing) => self.book.weighing(weighing, line),
            _ => None,
        };
        if let Some(problem) = trouble {
            out.problem(&problem);
        }
    }

    fn finish(&mut self, _: &Input, out: &mut Out) -> Result<Gate, String> {
        for problem in self.book.not_described() {
            out.problem(&problem);
        }
        for balance in step::balances(&self.book) {
            match balance.finding() {
                Some(finding) => out.write(&finding),
                None => out.problem(&balance.too_large()),
            }
            out.write(&balance.verdict());
        }
        for balance in lot::balances(&self.book) {
            match balance.finding() {
                Some(finding) => out.write(&finding),
                None => out.problem(&balance.too_large()),
            }
            if let Some(verdict) = balance.verdict() {
                out.write(&verdict);
            }
        }
        Ok(Gate::Open)
    }
}
