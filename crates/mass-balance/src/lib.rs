//! Where every gram went: what went into each step against what came out, and what
//! was made of each lot against what was used.
//!
//! Weighings may come in any order; what is worked out is written at the end of the
//! input. One small entry a weighing is kept until then.

mod book;
mod claims;
pub mod custody;
mod flow;
mod graph;
mod lot;
mod names;
#[cfg(test)]
mod order;
mod reconcile;
mod slip;
mod step;
mod sums;
mod trace;
mod words;
mod yields;

use book::Book;
use graph::Graph;
use reconcile::Balanced;
use secondmelt_record::{About, Filter, Gate, Input, Kind, Line, Out, Positive, Record, run};
use trace::Traced;

/// The program.
pub fn main() -> std::process::ExitCode {
    run::<MassBalance>()
}

/// Options of its own.
#[derive(Debug, Clone, clap::Args)]
pub struct Options {
    /// Mass of a container of the lab, in g (repeatable): tried as an explanation where a weighing is
    /// wrong by just that
    #[arg(long, value_name = "G")]
    tare_g: Vec<f64>,
}

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
    const READS: &'static [Kind] =
        &[Kind::Step, Kind::Weighing, Kind::Scale, Kind::Lot, Kind::Moisture];

    fn new(options: Options) -> Result<Self, String> {
        if let Some(wrong) = options.tare_g.iter().find(|tare| Positive::new(**tare).is_none()) {
            return Err(format!("--tare-g {wrong}: expected {}", Positive::RANGE));
        }
        let mut filter = Self::default();
        filter.book.tares_g = options.tare_g;
        Ok(filter)
    }

    fn take(&mut self, record: &Record<'_>, line: Line<'_>, out: &mut Out) {
        if let Record::Moisture(reading) = record {
            self.book.moisture(reading);
        }
        let trouble = match record {
            Record::Step(step) => self.book.step(step, line),
            Record::Lot(lot) => self.book.lot(lot, line),
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
        let graph = Graph::new(&self.book);
        if let Some(balanced) = Balanced::new(&graph) {
            write_network(&balanced, out);
            let traced = Traced::new(&graph, &balanced);
            write_origins(&self.book, &traced, out);
            for finding in sums::edges(&graph, &balanced) {
                out.write(&finding);
            }
            let losses = sums::losses(&graph, &balanced, &traced);
            losses.iter().for_each(|finding| out.write(finding));
            sums::trends(&losses).iter().for_each(|finding| out.write(finding));
            for finding in yields::rolled(&graph, &balanced, &traced) {
                out.write(&finding);
            }
            for finding in sums::outlays(&graph, &balanced) {
                out.write(&finding);
            }
        }
        Ok(Gate::Open)
    }
}

/// What the network as a whole says.
fn write_network(balanced: &Balanced<'_>, out: &mut Out) {
    for finding in balanced.findings() {
        out.write(&finding);
    }
    if let Some(verdict) = balanced.verdict() {
        out.write(&verdict);
    }
    for suspect in balanced.suspects() {
        out.write(&suspect);
    }
}

/// What the lots are made of.
fn write_origins(book: &Book, traced: &Traced, out: &mut Out) {
    for verdict in claims::loops(book, traced) {
        out.write(&verdict);
    }
    for finding in claims::compositions(book, traced) {
        out.write(&finding);
    }
    for finding in claims::recycled(book, traced) {
        out.write(&finding);
    }
    for finding in claims::descents(book, traced) {
        out.write(&finding);
    }
}
