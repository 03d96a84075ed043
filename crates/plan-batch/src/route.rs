//! The stages from feed to filament, with the yields that each has had.

use crate::book::{Balance, Book};
use crate::options::Settled;
use crate::order::{Place, places, usual};
use crate::words::plural;
use secondmelt_quality::yield_product::{Predicted, Stage, predict};
use secondmelt_record::facts::{Does, Form, Origin};
use std::collections::{BTreeMap, BTreeSet};

/// What a stage of a route is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum What {
    /// Steps at that place.
    Step(Place),
    /// What is left after the places that the printer refuses were cut out.
    Cut,
}

/// A stage.
#[derive(Debug)]
pub(crate) struct Leg {
    pub(crate) what: What,
    /// Its yields; none where it has never been weighed.
    pub(crate) stage: Option<Stage>,
    /// Whether every spool was kept whole, so that there is nothing to cut.
    pub(crate) whole: bool,
    /// Steps of it whose balance does not hold.
    pub(crate) left_out: Vec<String>,
    /// Steps of it that gave more than they took, by more than twice the uncertainty.
    pub(crate) above: Vec<String>,
    /// Steps of it that gave nothing, or spools that are refused whole.
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
    /// Steps through which plastic went once more while most of it did not.
    pub(crate) rework: Vec<String>,
    /// Extrusions of what was extruded before, which are counted as if they were the first melt.
    pub(crate) melted_again: Vec<String>,
    /// Steps of no kind between two stages, whose losses are in none.
    pub(crate) unnamed: Vec<String>,
    /// Of lots that stages before drying made, the place of the first that did.
    made_at: BTreeMap<String, usize>,
}

/// The route of a material, in the order that its lots tell: extruding always, other kinds where the lab
/// has recorded them.
pub(crate) fn route(book: &Book, material: Option<&str>, settled: &Settled) -> Route {
    let steps: Vec<&str> =
        book.step_names().into_iter().filter(|step| book.is_of(step, material)).collect();
    let found = places(book, &steps);
    let owned = |steps: Vec<&str>| steps.into_iter().map(str::to_owned).collect();
    let mut legs: Vec<Leg> =
        found.ordered.into_iter().map(|(place, steps)| leg(book, place, steps)).collect();
    if !legs.iter().any(|leg| leg.does() == Some(Does::Extrude)) {
        let at = legs.iter().take_while(|leg| leg.does() != Some(Does::Wind)).count();
        legs.insert(at, leg(book, (Does::Extrude, 0), Vec::new()));
    }
    if let Some(printer) = settled.printer.as_deref() {
        legs.push(cut(book, material, printer));
    }
    let mut made_at = BTreeMap::new();
    for (at, leg) in legs.iter().enumerate() {
        if leg.does().is_some_and(|does| usual(does) < usual(Does::Dry)) {
            let lots = leg.steps.iter().filter_map(|step| book.spools.gave(step)).flatten();
            // Of a lot that several stages made the earliest counts.
            for lot in lots {
                made_at.entry(lot.clone()).or_insert(at);
            }
        }
    }
    Route {
        legs,
        rework: owned(found.rework),
        melted_again: owned(found.melted_again),
        unnamed: owned(found.unnamed),
        made_at,
    }
}

fn leg(book: &Book, place: Place, mut steps: Vec<&str>) -> Leg {
    // Those without a time after the others; `Leg::last` does not rely on it.
    steps.sort_by_key(|step| book.at_ms(step).unwrap_or(i64::MAX));
    let (sound, unsound): (Vec<&str>, Vec<&str>) =
        steps.iter().partition(|step| book.is_sound(step));
    let of = |is: fn(&Balance) -> bool| -> Vec<String> {
        let fits = |step: &&&str| book.balances.get(**step).is_some_and(is);
        sound.iter().filter(fits).map(|step| (*step).to_owned()).collect()
    };
    let (above, lost) = (of(Balance::is_above), of(Balance::is_lost));
    let balances = sound.iter().filter_map(|step| book.balances.get(*step));
    let shares: Vec<(f64, f64)> =
        balances.filter_map(|balance| Some((balance.usable()?, balance.u_share))).collect();
    let ran_on = |step: &&str| book.steps.get(*step)?.machine.clone();
    let only = || {
        let mut able = book.machines.iter().filter(|(_, machine)| machine.does == place.0);
        let first = able.next()?;
        able.next().is_none().then(|| first.0.clone())
    };
    Leg {
        what: What::Step(place),
        stage: Stage::weighed(&shares),
        whole: false,
        left_out: unsound.into_iter().map(str::to_owned).collect(),
        above,
        lost,
        machine: steps.iter().rev().find_map(ran_on).or_else(only),
        steps: steps.into_iter().map(str::to_owned).collect(),
    }
}

/// What is left after the places that a printer refuses were cut out.
fn cut(book: &Book, material: Option<&str>, printer: &str) -> Leg {
    let of_material = |lot: &str| {
        let of = book.lots.get(lot).map(|lot| lot.material.as_str());
        material.is_none() || of.is_none() || of == material
    };
    let here = |(lot, machine): &(String, String)| machine == printer && of_material(lot);
    let all: Vec<(&String, f64)> = book
        .kept
        .iter()
        .filter(|(about, _)| here(about))
        .map(|((lot, _), share)| (lot, *share))
        .collect();
    let shares: Vec<f64> =
        all.iter().map(|(_, share)| *share).filter(|share| *share > 0.0).collect();
    Leg {
        what: What::Cut,
        stage: Stage::new(&shares),
        whole: all.iter().all(|(_, share)| *share >= 1.0),
        left_out: Vec::new(),
        above: Vec::new(),
        lost: all
            .iter()
            .filter(|(_, share)| *share <= 0.0)
            .map(|(lot, _)| (*lot).clone())
            .collect(),
        machine: Some(printer.to_owned()),
        steps: Vec::new(),
    }
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
    /// The stages from an entry on; waste enters at the first of all.
    pub(crate) fn from(&self, entry: Does) -> &[Leg] {
        if entry == Does::Sort {
            return &self.legs;
        }
        let at = self.legs.iter().position(|leg| leg.does() == Some(entry));
        let passed = |leg: &&Leg| leg.does().is_some_and(|does| usual(does) < usual(entry));
        let at = at.unwrap_or_else(|| self.legs.iter().take_while(passed).count());
        &self.legs[at..]
    }

    /// The stages after the one that made a lot; none where that is not among those before drying, after
    /// which plastic on the shelf is dried again.
    pub(crate) fn after_maker(&self, lot: &str) -> Option<&[Leg]> {
        self.legs.get(self.made_at.get(lot)? + 1..)
    }

    /// Steps of all stages by one of their lists.
    pub(crate) fn named(&self, list: fn(&Leg) -> &Vec<String>) -> Vec<String> {
        self.legs.iter().flat_map(|leg| list(leg).iter().cloned()).collect()
    }

    /// What must be weighed before a feed is known.
    pub(crate) fn to_weigh(&self) -> ToWeigh {
        let mut lacking = ToWeigh::default();
        for leg in &self.legs {
            match leg.stage {
                None => drop(lacking.never.insert(leg.name())),
                Some(stage) if stage.runs() == 1 => drop(lacking.once.insert(leg.name())),
                Some(stage) if !stage.has_spread() && !leg.whole => {
                    lacking.alike.insert(leg.name());
                }
                Some(_) => {}
            }
        }
        lacking
    }
}

/// Stages whose yield or its spread is not known.
#[derive(Debug, Default)]
pub(crate) struct ToWeigh {
    pub(crate) never: BTreeSet<String>,
    pub(crate) once: BTreeSet<String>,
    /// Those whose runs never differ, of no known uncertainty.
    pub(crate) alike: BTreeSet<String>,
}

/// The yield of some stages; none where one was never weighed.
pub(crate) fn yield_of(legs: &[Leg]) -> Option<Predicted> {
    // What is kept whole takes nothing away.
    let stages = legs.iter().filter(|leg| !(leg.whole && leg.stage.is_some()));
    let stages: Option<Vec<Stage>> = stages.map(|leg| leg.stage).collect();
    Some(predict(&stages?))
}

impl Leg {
    /// What its steps do; none of a cut.
    pub(crate) fn does(&self) -> Option<Does> {
        match self.what {
            What::Step((does, _)) => Some(does),
            What::Cut => None,
        }
    }

    pub(crate) fn name(&self) -> String {
        match self.what {
            What::Step((does, 0)) => does.to_string(),
            What::Step((does, round)) => format!("{does} again ({})", round + 1),
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
