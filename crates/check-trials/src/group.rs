//! Trials taken together: what is tried, on which machine, with which material.

use crate::book::{Book, Told};
use crate::lab::Lab;
use secondmelt_record::Name;
use secondmelt_record::facts::Does;
use std::collections::BTreeMap;

/// The trials of one step, in the order of their times.
#[derive(Debug)]
pub(crate) struct Group {
    pub(crate) does: Does,
    pub(crate) machine: Option<String>,
    pub(crate) material: Option<String>,
    pub(crate) trials: Vec<Told>,
}

/// All groups, by name.
pub(crate) fn groups(book: &Book, lab: &Lab) -> Vec<Group> {
    let mut groups: BTreeMap<(Does, Option<String>, Option<String>), Vec<Told>> = BTreeMap::new();
    for trial in book.trials() {
        let machine = trial.machine.clone();
        let described = machine.as_deref().and_then(|machine| lab.does(machine));
        // An extrusion makes no part.
        let does =
            if trial.part.is_none() { Does::Extrude } else { described.unwrap_or(Does::Print) };
        let material = lab.material_of(&trial.lot).map(str::to_owned);
        groups.entry((does, machine, material)).or_default().push(trial);
    }
    let group = |((does, machine, material), trials)| Group { does, machine, material, trials };
    groups.into_iter().map(group).collect()
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
        let material = self.material.as_deref().unwrap_or("a material that no record names");
        let machine = self.machine.as_deref().map(|m| format!(" on {m}")).unwrap_or_default();
        format!("{doing} {material}{machine}")
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

/// Those of some trials, in their order, that were made with the settings of the last one, wherever they
/// stand, since going back to settings brings back what they showed; where none are recorded, those since
/// something is said to have changed.
pub(crate) fn as_now<'b>(trials: &[&'b Told]) -> Vec<&'b Told> {
    let Some(last) = trials.last() else { return Vec::new() };
    if !last.settings.is_empty() {
        return trials.iter().copied().filter(|trial| trial.settings == last.settings).collect();
    }
    let from =
        trials.iter().rposition(|trial| trial.changed.is_some() || !trial.settings.is_empty());
    trials.get(from.unwrap_or(0)..).unwrap_or_default().to_vec()
}

/// How many series of unlike settings there are among trials, the one of now included.
pub(crate) fn series(trials: &[&Told]) -> u32 {
    let mut seen: Vec<&Told> = Vec::new();
    let mut count = 0_u32;
    for trial in trials.iter().copied() {
        let known = !trial.settings.is_empty() || trial.changed.is_none();
        if !(known && seen.iter().any(|other| other.settings == trial.settings)) {
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
