//! The stages from feed to filament, with the yields that each has had.

use crate::book::{Balance, Book};
use crate::options::Settled;
use crate::words::plural;
use secondmelt_quality::yield_product::{Predicted, Stage, predict};
use secondmelt_record::facts::{Does, Form, Origin};
use std::collections::BTreeSet;

/// Kinds of step that lead to filament, in their order. Blending is none: what is added there takes the
/// place of as much feed.
const KINDS: [Does; 6] =
    [Does::Sort, Does::Wash, Does::Shred, Does::Dry, Does::Extrude, Does::Wind];

/// What a stage of a route is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum What {
    /// Steps of that kind.
    Step(Does),
    /// What is left after the places that the printer refuses were cut out.
    Cut,
}

/// A stage.
#[derive(Debug)]
pub(crate) struct Leg {
    pub(crate) what: What,
    /// Its yields; none where it has never been weighed.
    pub(crate) stage: Option<Stage>,
    /// Steps of it whose balance does not hold.
    pub(crate) left_out: Vec<String>,
    /// Steps of it that gave more than they took, by more than twice the uncertainty.
    pub(crate) above: Vec<String>,
    /// Steps of it that gave nothing.
    pub(crate) lost: Vec<String>,
    /// Machine it ran on last.
    pub(crate) machine: Option<String>,
    /// Steps of it, the earliest first, those without a time after them.
    pub(crate) steps: Vec<String>,
}

/// The stages of all feeds.
#[derive(Debug)]
pub(crate) struct Route {
    pub(crate) legs: Vec<Leg>,
}

/// The route of a material: extruding always, other kinds where the lab has recorded them.
pub(crate) fn route(book: &Book, material: Option<&str>, settled: &Settled) -> Route {
    let mut legs: Vec<Leg> =
        KINDS.into_iter().filter_map(|does| leg(book, material, does)).collect();
    if let Some(printer) = settled.printer.as_deref() {
        let shares: Vec<f64> = book
            .kept
            .iter()
            .filter(|((lot, machine), share)| {
                let of = book.lots.get(lot).map(|lot| lot.material.as_str());
                machine == printer
                    && **share > 0.0
                    && (material.is_none() || of.is_none() || of == material)
            })
            .map(|(_, share)| *share)
            .collect();
        legs.push(Leg {
            what: What::Cut,
            stage: Stage::new(&shares),
            left_out: Vec::new(),
            above: Vec::new(),
            lost: Vec::new(),
            machine: Some(printer.to_owned()),
            steps: Vec::new(),
        });
    }
    Route { legs }
}

fn leg(book: &Book, material: Option<&str>, does: Does) -> Option<Leg> {
    let of = |step: &&str| book.does(step) == Some(does) && book.is_of(step, material);
    let mut steps: Vec<&str> = book.step_names().into_iter().filter(of).collect();
    if steps.is_empty() && does != Does::Extrude {
        return None;
    }
    // Those without a time after the others; `Leg::last` does not rely on it.
    steps.sort_by_key(|step| book.at_ms(step).unwrap_or(i64::MAX));
    let (sound, unsound): (Vec<&str>, Vec<&str>) =
        steps.iter().partition(|step| book.is_sound(step));
    let of = |is: fn(&Balance) -> bool| -> Vec<String> {
        let fits = |step: &&&str| book.balances.get(**step).is_some_and(is);
        sound.iter().filter(fits).map(|step| (*step).to_owned()).collect()
    };
    let (above, lost) = (of(Balance::is_above), of(Balance::is_lost));
    let shares =
        sound.iter().filter_map(|step| book.balances.get(*step)).filter_map(Balance::usable);
    let shares: Vec<f64> = shares.collect();
    let ran_on = |step: &&str| book.steps.get(*step)?.machine.clone();
    let only = || {
        let mut able = book.machines.iter().filter(|(_, machine)| machine.does == does);
        let first = able.next()?;
        able.next().is_none().then(|| first.0.clone())
    };
    Some(Leg {
        what: What::Step(does),
        stage: Stage::new(&shares),
        left_out: unsound.into_iter().map(str::to_owned).collect(),
        above,
        lost,
        machine: steps.iter().rev().find_map(ran_on).or_else(only),
        steps: steps.into_iter().map(str::to_owned).collect(),
    })
}

/// The kind of step at which plastic of a form enters; none where it is no feed of filament.
pub(crate) fn entry(form: Option<Form>, origin: Option<Origin>) -> Option<Does> {
    match form? {
        Form::Waste if origin == Some(Origin::InProcess) => Some(Does::Shred),
        Form::Waste => Some(Does::Sort),
        Form::Parts => Some(Does::Shred),
        Form::Regrind | Form::Pellets => Some(Does::Dry),
        Form::Filament => None,
    }
}

impl Route {
    /// The stages from an entry on.
    pub(crate) fn from(&self, entry: Does) -> &[Leg] {
        let passed =
            |leg: &&Leg| matches!(leg.what, What::Step(does) if place(does) < place(entry));
        &self.legs[self.legs.iter().take_while(passed).count()..]
    }

    /// Steps of all stages by one of their lists.
    pub(crate) fn named(&self, list: fn(&Leg) -> &Vec<String>) -> Vec<String> {
        self.legs.iter().flat_map(|leg| list(leg).iter().cloned()).collect()
    }

    /// What must be weighed before a feed is known: stages never weighed, and those weighed once.
    pub(crate) fn to_weigh(&self) -> (BTreeSet<String>, BTreeSet<String>) {
        let (mut never, mut once) = (BTreeSet::new(), BTreeSet::new());
        for leg in &self.legs {
            match leg.stage.map(Stage::runs) {
                None => drop(never.insert(leg.name())),
                Some(1) => drop(once.insert(leg.name())),
                Some(_) => {}
            }
        }
        (never, once)
    }
}

fn place(does: Does) -> usize {
    KINDS.iter().position(|kind| *kind == does).unwrap_or(KINDS.len())
}

/// The yield of some stages; none where one was never weighed.
pub(crate) fn yield_of(legs: &[Leg]) -> Option<Predicted> {
    let stages: Option<Vec<Stage>> = legs.iter().map(|leg| leg.stage).collect();
    Some(predict(&stages?))
}

impl Leg {
    pub(crate) fn name(&self) -> String {
        match self.what {
            What::Step(does) => does.to_string(),
            What::Cut => format!("cut for {}", self.machine.as_deref().unwrap_or("the printer")),
        }
    }

    /// Which of some steps of it may have been the last: those without a time, and of the others the
    /// latest.
    pub(crate) fn last<'s>(book: &Book, steps: &[&'s str]) -> Vec<&'s str> {
        let latest = steps.iter().filter_map(|step| book.at_ms(step)).max();
        let may = |step: &&&str| book.at_ms(step).is_none_or(|at| Some(at) == latest);
        steps.iter().filter(may).copied().collect()
    }

    /// "dry 99.8 % (3 runs)".
    pub(crate) fn told(&self) -> String {
        let Some(stage) = self.stage else { return format!("{} (not weighed)", self.name()) };
        let run = if self.what == What::Cut { "spool" } else { "run" };
        format!("{} {:.1} % ({})", self.name(), 100.0 * stage.typical(), plural(stage.runs(), run))
    }
}
