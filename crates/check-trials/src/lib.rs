//! Whether a step is proven by its trials, what goes wrong in it and how often, which changed
//! setting helped, and what to try next.
//!
//! Trials are `trial` records, and `extrude` steps whose spools check-tolerance has judged: such a
//! step counts as good where some printer takes every spool of it that was judged. They are taken
//! together by what is tried, machine, material and difficulty of the part, and in the order of
//! their times. Records may come in any order; everything is worked out at the end of the input.
//! Trials without any time count in the order in which they come; where only some have one, or two
//! have the same, which settings are those of now is said to be unknown.
//!
//! The verdict is a running one: its error does not grow however often one looks, see
//! [`secondmelt_quality::sequential`] for method, source and simulated error rates. It concerns
//! the settings of now, those of the last trial: what was tried with others says little of the step as
//! it is run today, and what was tried with the same ones before a detour counts. Other settings, and
//! what is said to have changed beside them, start a new series with an error of its own.

mod book;
mod change;
mod effects;
mod evidence;
mod faults;
mod group;
mod helped;
mod lab;
mod ladder;
mod next_trial;
mod options;
mod remedies;
mod screen;
mod windows;
mod words;

use book::Book;
use lab::Lab;
pub use options::Options;
use options::Settled;
use secondmelt_record::{About, Filter, Gate, Input, Kind, Line, Out, Record, run};

/// The program.
pub fn main() -> std::process::ExitCode {
    run::<CheckTrials>()
}

/// The filter.
#[derive(Debug)]
pub struct CheckTrials {
    settled: Settled,
    book: Book,
    lab: Lab,
}

impl Filter for CheckTrials {
    type Options = Options;
    const ABOUT: About = About {
        name: "check-trials",
        version: env!("CARGO_PKG_VERSION"),
        summary: "Says by its trials whether a step is proven, not yet, or refuted, how many more \
                  good ones it takes, and whether harder parts may be tried; how often each fault \
                  comes and what the trade tries for it; which changed setting helped, and which \
                  single trial or small design would tell. Trials are `trial` records, and `extrude` \
                  steps whose spools check-tolerance has judged. A `limit` of `good_pct` (its `min`) \
                  asks for another share of good ones by machine or material",
        example: "cat examples/records/machine.json examples/records/trial.json | check-trials",
    };
    const READS: &'static [Kind] = &[
        Kind::Lot,
        Kind::Material,
        Kind::Limit,
        Kind::Machine,
        Kind::Step,
        Kind::Weighing,
        Kind::Trial,
        Kind::Verdict,
    ];

    fn new(options: Options) -> Result<Self, String> {
        Ok(Self { settled: options.settled()?, book: Book::default(), lab: Lab::default() })
    }

    fn take(&mut self, record: &Record<'_>, line: Line<'_>, out: &mut Out) {
        let trouble = match record {
            Record::Lot(lot) => self.lab.lot(lot, line),
            Record::Material(material) => self.lab.material(material, line),
            Record::Limit(limit) => self.lab.limit(limit, line),
            Record::Machine(machine) => self.lab.machine(machine, line),
            Record::Step(step) => self.book.step(step, line, out),
            Record::Trial(trial) => self.book.trial(trial, line, out),
            Record::Weighing(weighing) => {
                self.book.weighing(weighing);
                None
            }
            Record::Verdict(verdict) => {
                self.book.verdict(verdict);
                None
            }
            _ => None,
        };
        if let Some(problem) = trouble {
            out.problem(&problem);
        }
    }

    fn finish(&mut self, _: &Input, out: &mut Out) -> Result<Gate, String> {
        for group in &group::groups(&self.book, &self.lab) {
            let judged = evidence::judged(group, &self.settled, &self.lab);
            for cell in &judged {
                out.write(&cell.finding());
                cell.verdicts().iter().for_each(|verdict| out.write(verdict));
            }
            ladder::verdict(group, &judged, &self.lab)
                .iter()
                .for_each(|verdict| out.write(verdict));
            faults::shares(group).iter().for_each(|share| out.write(share));
            windows::verdicts(group, &self.lab).iter().for_each(|verdict| out.write(verdict));
            effects::effects(group).iter().for_each(|effect| out.write(effect));
            helped::write(group, &self.lab, &self.settled, out);
            // Where it is not worth going on, no single step of a setting is proposed.
            let stopped = judged.iter().filter(|cell| cell.is_stopped());
            let stopped: Vec<Option<u64>> = stopped.map(|cell| cell.complexity).collect();
            remedies::write(group, &stopped, &self.lab, out);
        }
        if let Some(asked) = &self.settled.screen {
            screen::write_asked(asked, &self.lab, self.settled.seed, out);
        }
        Ok(Gate::Open)
    }
}
