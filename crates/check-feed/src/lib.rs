//! What the plastic of a lot is, and whether it is fit to be melted.
//!
//! Facts may come in any order; what is worked out is written at the end of the input.
//!
//! | question | where | rests on |
//! |---|---|---|
//! | what is never melted | `refusal` | names and marks (ISO 1043, ISO 11469, ASTM D7611), halogens of the cards |
//! | name, mark and density against one another | `identity`, `weighed` | immersion (ISO 1183-1), uncertainty by its parts |
//! | what must not be melted together, and what parts it | `mixture` | the cards; tables of ethanol and salt in water |
//! | dry enough, and how long still | `drying`, `remaining`, [`secondmelt_plastics::drying::outlook`] | diffusion (Crank) |
//! | how coarse, and what a hopper holds | `sizes` | sieving (ISO 565, DIN 66145), ISO 60 |
//!
//! What is refused gets no drying time, and neither does a lot whose name, mark and density
//! contradict one another. The lab's own `material` and `limit` records come before the cards, under
//! whichever of its names a plastic goes.

mod book;
mod cautions;
mod drying;
mod identity;
mod mixture;
mod own;
mod refusal;
mod remaining;
mod say;
mod sizes;
mod weighed;

use book::{Book, Feed};
use identity::Standing;
use secondmelt_plastics::cards::{self, Card};
use secondmelt_plastics::marks::{self, Mark};
use secondmelt_record::{About, Filter, Gate, Input, Kind, Line, Out, Record, run};
use std::collections::{BTreeMap, BTreeSet};
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
    /// Print the liquid in which one of two polymers floats and the other sinks, and end
    #[arg(long, value_name = "ABBREVIATION,ABBREVIATION", conflicts_with = "card")]
    part: Option<String>,
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
        let answer = match (&options.card, &options.part) {
            (Some(name), _) => known(name).map(|card| cards::whole(card).unwrap_or_default()),
            (None, Some(pair)) => parted(pair),
            (None, None) => return None,
        };
        let text = match answer {
            Ok(text) => text,
            Err(message) => {
                out.tell(&message);
                return Some(ExitCode::from(2));
            }
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
        let (mut melted, mut refused) = (BTreeMap::new(), BTreeSet::new());
        let read = |feed: &Feed| feed.marks.iter().map(|mark| marks::read(mark)).collect();
        let lots: Vec<(&str, &Feed, Vec<Mark>)> =
            self.book.lots().map(|(lot, feed)| (lot, feed, read(feed))).collect();
        let bad = lots.iter().filter(|(_, feed, read)| refusal::of_itself(feed, read).is_some());
        let made_of = self.book.made_of(&bad.map(|(lot, ..)| *lot).collect());
        for (lot, feed, read) in &lots {
            let has_in_it = made_of.get(lot).copied();
            let standing = identity::write(&self.book, lot, feed, read, has_in_it, out);
            drying::write(&self.book, lot, feed, &standing, out);
            // What is refused is not shredded either.
            if standing == Standing::Refused {
                refused.insert(*lot);
            } else {
                sizes::write(&self.book, lot, feed, out);
                melted.extend(feed.card().map(|card| (card.abbreviation.as_str(), card)));
            }
        }
        mixture::write_steps(&self.book, &refused, out);
        cautions::write(&self.book, &melted, out);
        Ok(Gate::Open)
    }
}

/// The card of a name; otherwise which there are.
fn known(name: &str) -> Result<&'static Card, String> {
    cards::card(name).ok_or_else(|| {
        let known: Vec<_> = cards::all().iter().map(|c| c.abbreviation.as_str()).collect();
        format!("there is no card of {name:?}; there are {}", known.join(", "))
    })
}

/// How two polymers named with a comma between them are parted, in words.
fn parted(pair: &str) -> Result<String, String> {
    let names = pair.split_once(',').ok_or("--part: expected two abbreviations, as PP,PET")?;
    let (a, b) = (known(names.0)?, known(names.1)?);
    let (x, y) = (&a.abbreviation, &b.abbreviation);
    Ok(mixture::words(a, b).unwrap_or_else(|| {
        format!("no sorting liquid parts {x} and {y} by their ranges: sort by hand")
    }))
}
