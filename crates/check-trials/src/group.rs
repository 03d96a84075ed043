//! Trials taken together: what is tried, on which machine, with which material.

use crate::book::{Book, Known, Told};
use crate::lab::{Ends, Lab};
use secondmelt_record::Name;
use secondmelt_record::facts::Does;
use std::collections::{BTreeMap, BTreeSet};

/// The trials of one step, in the order of their times.
#[derive(Debug)]
pub(crate) struct Group {
    pub(crate) does: Does,
    pub(crate) machine: Option<String>,
    pub(crate) material: Option<String>,
    /// The lot, where no record names its material, so that it may be another than that of other lots.
    lot: Option<String>,
    pub(crate) trials: Vec<Told>,
    /// Extrusions whose spools were judged without a decision.
    pub(crate) open: Vec<Told>,
}

/// What trials taken together have in common: kind of step, machine, material, else lot.
type Key = (Does, Option<String>, Option<String>, Option<String>);

/// All groups, by name.
pub(crate) fn groups(book: &Book, lab: &Lab) -> Vec<Group> {
    let key = |trial: &Told| -> Key {
        let machine = trial.machine.clone();
        let described = machine.as_deref().and_then(|machine| lab.does(machine));
        // An extrusion makes no part.
        let does =
            if trial.part.is_none() { Does::Extrude } else { described.unwrap_or(Does::Print) };
        // What no record names is of what it was made from.
        let of_feed = || {
            let mut materials = trial.from.iter().map(|lot| lab.material_of(lot));
            let first = materials.next()??;
            materials.all(|other| other == Some(first)).then_some(first)
        };
        let material = lab.material_of(&trial.lot).or_else(of_feed).map(str::to_owned);
        let lot = material.is_none().then(|| trial.lot.clone());
        (does, machine, material, lot)
    };
    let mut groups: BTreeMap<Key, (Vec<Told>, Vec<Told>)> = BTreeMap::new();
    let (trials, open) = book.trials();
    for trial in trials {
        groups.entry(key(&trial)).or_default().0.push(trial);
    }
    for trial in open {
        groups.entry(key(&trial)).or_default().1.push(trial);
    }
    let group = |((does, machine, material, lot), (mut trials, open)): (Key, (Vec<Told>, _))| {
        mark_eras(&mut trials);
        Group { does, machine, material, lot, trials, open }
    };
    groups.into_iter().map(group).collect()
}

/// Counts what is said to have changed without a setting that tells it.
fn mark_eras(trials: &mut [Told]) {
    let mut era = 0;
    for at in 0..trials.len() {
        let (before, here) = trials.split_at_mut(at);
        let Some(here) = here.first_mut() else { break };
        if let (Some(before), Some(words)) = (before.last(), here.changed.as_deref())
            && !explains(words, &before.settings, &here.settings)
        {
            era += 1;
        }
        here.era = era;
    }
}

/// Words of degree that tell no more than a setting does.
const DEGREES: [&str; 30] = [
    "to",
    "from",
    "by",
    "and",
    "at",
    "up",
    "down",
    "more",
    "less",
    "higher",
    "lower",
    "hotter",
    "colder",
    "warmer",
    "cooler",
    "faster",
    "slower",
    "raised",
    "lowered",
    "increased",
    "decreased",
    "reduced",
    "set",
    "c",
    "k",
    "s",
    "mm",
    "rpm",
    "min",
    "percent",
];

/// Whether words only name settings that differ, such as "bed hotter" for bed_c: every one of them is a part
/// of such a name, a number or a word of degree. What else they say is something else that changed.
fn explains(words: &str, before: &Known, here: &Known) -> bool {
    let words = words.to_lowercase();
    let value = |known: &Known, name: &str| {
        known.all().find(|(other, _)| *other == name).map(|(_, value)| value)
    };
    let names = before.all().chain(here.all()).map(|(name, _)| name);
    let parts: BTreeSet<String> = names
        .filter(|name| value(before, name) != value(here, name))
        .flat_map(|name| name.split('_'))
        .map(str::to_lowercase)
        .collect();
    let words: Vec<&str> =
        words.split(|c: char| !c.is_alphabetic()).filter(|w| !w.is_empty()).collect();
    words.iter().any(|word| parts.contains(*word))
        && words.iter().all(|word| parts.contains(*word) || DEGREES.contains(word))
}

impl Group {
    pub(crate) fn machine_name(&self) -> Option<Name<'_>> {
        self.machine.as_deref().map(Name::from)
    }

    pub(crate) fn material_name(&self) -> Option<Name<'_>> {
        self.material.as_deref().map(Name::from)
    }

    /// "printing PETG on printer-a".
    pub(crate) fn named(&self) -> String {
        let doing = match self.does {
            Does::Print => "printing",
            Does::Extrude => "extruding",
            Does::Sort => "sorting",
            Does::Wash => "washing",
            Does::Shred => "shredding",
            Does::Dry => "drying",
            Does::Blend => "blending",
            Does::Wind => "winding",
            Does::Other => "working",
        };
        let material = match (&self.material, &self.lot) {
            (Some(material), _) => material.clone(),
            (None, Some(lot)) => format!("{lot} (no lot record names its material)"),
            (None, None) => "a material that no record names".to_owned(),
        };
        let machine = self.machine.as_deref().map(|m| format!(" on {m}")).unwrap_or_default();
        format!("{doing} {material}{machine}")
    }

    /// The window of a setting.
    pub(crate) fn window(&self, name: &str, lab: &Lab) -> Ends {
        lab.window(name, Some(self.does), self.machine.as_deref(), self.material.as_deref())
    }

    /// Trials by difficulty.
    pub(crate) fn cells(&self) -> BTreeMap<Option<u64>, Vec<&Told>> {
        let mut cells: BTreeMap<Option<u64>, Vec<&Told>> = BTreeMap::new();
        for trial in &self.trials {
            cells.entry(trial.complexity).or_default().push(trial);
        }
        cells
    }

    /// Trials by part, difficulty aside.
    pub(crate) fn parts(&self) -> BTreeMap<Option<&str>, Vec<&Told>> {
        let mut parts: BTreeMap<Option<&str>, Vec<&Told>> = BTreeMap::new();
        for trial in &self.trials {
            parts.entry(trial.part.as_deref()).or_default().push(trial);
        }
        parts
    }
}

/// Whether two trials were made with the same settings, as far as they are told.
pub(crate) fn same(a: &Told, b: &Told) -> bool {
    a.settings == b.settings && a.era == b.era
}

/// Those of some trials, in their order, that were made with the settings of the last one, wherever they
/// stand, since going back to settings brings back what they showed; where none are recorded, those since
/// some were. What is said to have changed beside the settings starts anew.
pub(crate) fn as_now<'b>(trials: &[&'b Told]) -> Vec<&'b Told> {
    let Some(last) = trials.last() else { return Vec::new() };
    let from = if last.settings.is_empty() {
        trials.iter().rposition(|trial| !trial.settings.is_empty()).map_or(0, |at| at + 1)
    } else {
        0
    };
    trials[from..].iter().copied().filter(|trial| same(trial, last)).collect()
}

/// Whether it is known which of some trials was the last, or at least with what settings it was made:
/// trials without a time among others that have one, and trials at the same time, may each be the last.
pub(crate) fn last_is_known(trials: &[&Told]) -> bool {
    let Some(last) = trials.last() else { return true };
    let latest = trials.iter().filter_map(|trial| trial.at_ms).max();
    if latest.is_none() {
        return true;
    }
    let may_be_last = |trial: &&&Told| trial.at_ms.is_none() || trial.at_ms == latest;
    trials.iter().filter(may_be_last).all(|trial| same(trial, last))
}

/// How many series of unlike settings there are among trials, the one of now included.
pub(crate) fn series(trials: &[&Told]) -> u32 {
    let mut seen: Vec<&Told> = Vec::new();
    let mut count = 0_u32;
    for trial in trials.iter().copied() {
        if !seen.iter().any(|other| same(other, trial)) {
            count = count.saturating_add(1);
            // Very many are as good as more.
            if seen.len() < SERIES_MAX {
                seen.push(trial);
            }
        }
    }
    count.max(1)
}

/// Series that are told apart.
const SERIES_MAX: usize = 64;

/// Good ones of some trials.
pub(crate) fn good(trials: &[&Told]) -> u64 {
    trials.iter().filter(|trial| trial.good).count() as u64
}
