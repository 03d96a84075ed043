//! A failed trial and the good one that followed it: what changed in between, and which other trials
//! are alike in all else.

use crate::book::Told;
use crate::group::Group;
use crate::words::rounded;
use secondmelt_quality::contingency::Table;
use secondmelt_quality::separating::Tried;
use secondmelt_record::words::joined;
use std::collections::{BTreeMap, BTreeSet};

/// What may differ between two trials of a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Feature<'g> {
    /// A setting that says its unit.
    Setting(&'g str),
    /// One that does not.
    Bare(&'g str),
    /// The lot it was made from.
    Lot,
    Difficulty,
    /// What was said to have changed beside the settings.
    Noted,
}

/// A pair of trials.
#[derive(Debug)]
pub(crate) struct Change<'g> {
    pub(crate) part: Option<&'g str>,
    pub(crate) failed: &'g Told,
    pub(crate) good: &'g Told,
    /// What differs between the two.
    pub(crate) changed: Vec<Feature<'g>>,
    /// Trials of the part, the two among them, that are as one of the two in each of that and as both
    /// in all else.
    pub(crate) alike: Vec<&'g Told>,
    /// How many trials of the part there are beside.
    pub(crate) unlike: usize,
    /// Whether it is known which of the two was the first.
    pub(crate) ordered: bool,
    /// The number of this change among the different ones of the step, in the order in which they came.
    pub(crate) number: u32,
}

/// Of each part the last time that a failed trial was followed by a good one.
pub(crate) fn last_changes(group: &Group) -> Vec<Change<'_>> {
    let mut before: BTreeMap<Option<&str>, &Told> = BTreeMap::new();
    let mut numbers: BTreeMap<(Option<&str>, Vec<String>), u32> = BTreeMap::new();
    let mut last: BTreeMap<Option<&str>, (&Told, &Told, u32)> = BTreeMap::new();
    for good in &group.trials {
        let part = good.part.as_deref();
        let Some(failed) = before.insert(part, good).filter(|one| !one.good && good.good) else {
            continue;
        };
        let changed = changed(failed, good);
        // The same change with something else held is another one.
        let held = format!("{:?}", rest(good, &changed));
        let words = changed.into_iter().map(|feature| told(feature, failed, good));
        let words = words.chain([held]).collect();
        let next = u32::try_from(numbers.len()).unwrap_or(u32::MAX).saturating_add(1);
        let number = *numbers.entry((part, words)).or_insert(next);
        last.insert(part, (failed, good, number));
    }
    let parts = group.parts();
    let change = |(part, (failed, good, number))| {
        let trials = parts.get(&part)?;
        Some(Change::new(part, (failed, good), trials, number))
    };
    last.into_iter().filter_map(change).collect()
}

impl<'g> Change<'g> {
    fn new(
        part: Option<&'g str>,
        (failed, good): (&'g Told, &'g Told),
        trials: &[&'g Told],
        number: u32,
    ) -> Self {
        let changed = changed(failed, good);
        let held = rest(good, &changed);
        let alike = |trial: &&Told| {
            let known = changed.iter().all(|one| one.side(failed, good, trial).is_some());
            known && rest(trial, &changed) == held
        };
        let alike: Vec<&Told> = trials.iter().copied().filter(alike).collect();
        let unlike = trials.len() - alike.len();
        let dated = trials.iter().filter(|trial| trial.at_ms.is_some()).count();
        let ordered = dated == 0 || (dated == trials.len() && failed.at_ms != good.at_ms);
        Self { part, failed, good, changed, alike, unlike, ordered, number }
    }
}

/// Everything in which two trials differ.
fn changed<'g>(failed: &'g Told, good: &'g Told) -> Vec<Feature<'g>> {
    let names = |of: fn(&Told) -> &BTreeMap<String, f64>| -> BTreeSet<&'g str> {
        of(failed).keys().chain(of(good).keys()).map(String::as_str).collect()
    };
    let settings = names(|told| &told.settings.values).into_iter().map(Feature::Setting);
    let bare = names(|told| &told.settings.bare).into_iter().map(Feature::Bare);
    let all = settings.chain(bare).chain([Feature::Lot, Feature::Difficulty, Feature::Noted]);
    all.filter(|one| !one.same(failed, good)).collect()
}

/// What a trial is beside some features.
type Rest<'g> = (
    BTreeMap<&'g str, u64>,
    BTreeMap<&'g str, u64>,
    Option<&'g BTreeSet<String>>,
    Option<Option<u64>>,
    Option<u32>,
);

fn rest<'g>(trial: &'g Told, but: &[Feature<'_>]) -> Rest<'g> {
    let of = |settings: &'g BTreeMap<String, f64>, feature: fn(&'g str) -> Feature<'g>| {
        let left = settings.iter().filter(|(name, _)| !but.contains(&feature(name)));
        left.map(|(name, value)| (name.as_str(), value.to_bits())).collect()
    };
    (
        of(&trial.settings.values, Feature::Setting),
        of(&trial.settings.bare, Feature::Bare),
        (!but.contains(&Feature::Lot)).then_some(&trial.from),
        (!but.contains(&Feature::Difficulty)).then_some(trial.complexity),
        (!but.contains(&Feature::Noted)).then_some(trial.era),
    )
}

impl Feature<'_> {
    fn same(self, a: &Told, b: &Told) -> bool {
        let bits = |settings: &BTreeMap<String, f64>, name| settings.get(name).map(|x| x.to_bits());
        match self {
            Self::Setting(name) => bits(&a.settings.values, name) == bits(&b.settings.values, name),
            Self::Bare(name) => bits(&a.settings.bare, name) == bits(&b.settings.bare, name),
            // What nobody has written down may have changed.
            Self::Lot => a.from == b.from && !a.from.is_empty(),
            Self::Difficulty => a.complexity == b.complexity,
            Self::Noted => a.era == b.era,
        }
    }

    /// Whether a trial is as the good one in this; none where it is as neither of both.
    fn side(self, failed: &Told, good: &Told, trial: &Told) -> Option<bool> {
        if std::ptr::eq(trial, good) || self.same(trial, good) {
            Some(true)
        } else {
            (std::ptr::eq(trial, failed) || self.same(trial, failed)).then_some(false)
        }
    }

    /// Its name in records.
    pub(crate) fn name(self) -> String {
        match self {
            Self::Setting(name) | Self::Bare(name) => name.to_owned(),
            Self::Lot => "lot".to_owned(),
            Self::Difficulty => "difficulty".to_owned(),
            Self::Noted => "noted".to_owned(),
        }
    }
}

/// What changed between two trials: "bed_c (60 to 75)".
fn told(feature: Feature<'_>, failed: &Told, good: &Told) -> String {
    let lots = |told: &Told| {
        let lots: Vec<String> = told.from.iter().cloned().collect();
        if lots.is_empty() { "not recorded".to_owned() } else { joined(&lots) }
    };
    let level = |told: &Told| told.complexity.map_or("not recorded".to_owned(), |n| n.to_string());
    match feature {
        Feature::Setting(name) => match failed.settings.get(name).zip(good.settings.get(name)) {
            Some((from, to)) => format!("{name} ({} to {})", rounded(from), rounded(to)),
            None => format!("{name} (recorded for one of both only)"),
        },
        Feature::Bare(name) => format!("{name} (which cannot be read)"),
        Feature::Noted => match good.changed.as_deref() {
            Some(words) => format!("what was noted (\"{words}\")"),
            None => "what was noted in between".to_owned(),
        },
        Feature::Lot => format!("the lot ({} to {})", lots(failed), lots(good)),
        Feature::Difficulty => format!("the difficulty ({} to {})", level(failed), level(good)),
    }
}

impl Change<'_> {
    /// The values of a setting in the failed and the good trial; none where one of both has none.
    pub(crate) fn values(&self, feature: Feature<'_>) -> Option<(f64, f64)> {
        let Feature::Setting(name) = feature else { return None };
        self.failed.settings.get(name).zip(self.good.settings.get(name))
    }

    /// Everything that changed, in words.
    pub(crate) fn all_told(&self) -> Vec<String> {
        self.changed.iter().map(|one| told(*one, self.failed, self.good)).collect()
    }

    /// The trials that are alike in all else, by what changed.
    pub(crate) fn tried(&self) -> Vec<Tried> {
        let side = |one: &Feature<'_>, trial: &Told| one.side(self.failed, self.good, trial);
        let tried = |trial: &&Told| {
            let as_good = self.changed.iter().map(|one| side(one, trial)).collect::<Option<_>>()?;
            Some(Tried { as_good, good: trial.good })
        };
        self.alike.iter().filter_map(tried).collect()
    }

    /// Whether every trial that is alike was made as the failed one before any was made as the good one.
    pub(crate) fn in_a_row(&self) -> bool {
        let sides = self.tried().into_iter().map(|tried| tried.as_good);
        sides.collect::<Vec<_>>().windows(2).filter(|pair| pair[0] != pair[1]).count() <= 1
    }

    /// The one setting that changed, with good and failed trials of its two values, those as in the good
    /// trial as the second.
    pub(crate) fn table(&self) -> Option<Table> {
        let [one] = self.changed.as_slice() else { return None };
        self.values(*one)?;
        let mut table = Table { good1: 0, bad1: 0, good2: 0, bad2: 0 };
        for tried in self.tried() {
            let count = match (tried.as_good.first(), tried.good) {
                (Some(false), true) => &mut table.good1,
                (Some(false), false) => &mut table.bad1,
                (_, true) => &mut table.good2,
                (_, false) => &mut table.bad2,
            };
            *count += 1;
        }
        Some(table)
    }
}
