//! What the plastic of a lot is, and whether it is fit to be melted: marks and densities
//! against each other, what is never melted, mixtures, moisture and drying, particle size.
//!
//! Facts may come in any order; what is worked out is written at the end of the input.

mod book;
mod cautions;
mod drying;
mod identity;
mod mixture;
mod refusal;
mod remaining;
mod say;
mod sizes;
mod weighed;

use book::Book;
use identity::Standing;
use secondmelt_plastics::cards;
use secondmelt_record::{About, Filter, Gate, Input, Kind, Line, Out, Record, run};
use std::collections::BTreeMap;
use std::process::ExitCode;

/// The program.
pub fn main() -> ExitCode {
    run::<CheckFeed>()
}

/// Options of this program.
#[derive(Debug, Clone, clap::Args)]
pub struct Options {
    /// Print the card of a polymer, each figure with its source, and end
    #[arg(long, value_name = "ABBREVIATION")]
    card: Option<String>,
}

/// The filter.
#[derive(Debug, Default)]
pub struct CheckFeed {
    book: Book,
}

impl Filter for CheckFeed {
    type Options = Options;
    const ABOUT: About = About {
        name: "check-feed",
        version: env!("CARGO_PKG_VERSION"),
        summary: "Says what the plastic of each lot may be by mark and density, what must never be \
                  melted, whether it is dry enough and how long it still has to dry, and its particle \
                  size",
        example: "printf '{\"kind\":\"immersion\",\"lot\":\"caps\",\"air_g\":%s,\"liquid_g\":%s,\"temp_c\":23}\\n' \\\n      \
                  1.250 -0.128  1.312 -0.135 | check-feed",
    };
    const READS: &'static [Kind] = &[
        Kind::Lot,
        Kind::Limit,
        Kind::Material,
        Kind::Marking,
        Kind::Immersion,
        Kind::Moisture,
        Kind::Sieve,
        Kind::Bulk,
        Kind::Step,
        Kind::Weighing,
        Kind::Scale,
        Kind::Machine,
    ];

    fn new(_: Options) -> Result<Self, String> {
        Ok(Self::default())
    }

    fn answer(options: &Options, out: &mut Out) -> Option<ExitCode> {
        let name = options.card.as_deref()?;
        let Some(text) = cards::card(name).and_then(cards::whole) else {
            let known: Vec<_> = cards::all().iter().map(|c| c.abbreviation.as_str()).collect();
            out.tell(&format!("there is no card of {name:?}; there are {}", known.join(", ")));
            return Some(ExitCode::from(2));
        };
        match out.print(&format!("{text}\n")) {
            Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => {
                out.tell(&format!("cannot write: {e}"));
                Some(ExitCode::from(3))
            }
            _ => Some(ExitCode::SUCCESS),
        }
    }

    fn take(&mut self, record: &Record<'_>, line: Line<'_>, out: &mut Out) {
        if let Some(problem) = self.book.take(record, line) {
            out.problem(&problem);
        }
    }

    fn finish(&mut self, _: &Input, out: &mut Out) -> Result<Gate, String> {
        let mut melted = BTreeMap::new();
        for (lot, feed) in self.book.lots() {
            let standing = identity::write(&self.book, lot, feed, out);
            drying::write(&self.book, lot, feed, &standing, out);
            // What is refused is not shredded either.
            if standing != Standing::Refused {
                sizes::write(&self.book, lot, feed, out);
                melted.extend(feed.card().map(|card| (card.abbreviation.as_str(), card)));
            }
        }
        cautions::write(&self.book, &melted, out);
        Ok(Gate::Open)
    }
}
