//! Whether trials with more of a setting came out better or worse than those with less.

use crate::book::Told;
use crate::group::Group;
use crate::words::{fraction, odds};
use secondmelt_quality::contingency::{Table, holm, stratified_two_sided};
use secondmelt_quality::firth::Trials;
use secondmelt_record::findings::SettingEffect;
use secondmelt_record::{Count, Name, Number, Positive, Text};
use std::collections::{BTreeMap, BTreeSet};

const CONFIDENCE: f64 = 0.95;
/// Fewest good and fewest failed trials for each setting of a joint model (Vittinghoff and McCulloch
/// 2007, Am. J. Epidemiol. 165:710, find five to nine events a variable enough as a rule).
const PER_SETTING: usize = 5;
/// Most settings that are looked at, the first by name.
const SETTINGS_MAX: usize = 64;
/// Most settings of a joint model.
const JOINT_MAX: usize = 8;

/// A setting and the trials with more of it.
struct Split<'g> {
    name: &'g str,
    low: f64,
    high: f64,
    table: Table,
    /// For each trial of the group, whether it had more; none where it does not say.
    more: Vec<Option<bool>>,
}

/// Every setting that took more than one value, where trials came out both ways.
pub(crate) fn effects(group: &Group) -> Vec<SettingEffect<'_>> {
    let both = group.trials.iter().any(|t| t.good) && group.trials.iter().any(|t| !t.good);
    if !both {
        return Vec::new();
    }
    let names: BTreeSet<&str> = group
        .trials
        .iter()
        .flat_map(|trial| trial.settings.values.keys().map(String::as_str))
        .collect();
    let splits: Vec<Split<'_>> = names
        .into_iter()
        .filter_map(|name| split(&group.trials, name))
        .take(SETTINGS_MAX)
        .collect();
    let strata = strata(&group.trials);
    let p: Option<Vec<f64>> = splits
        .iter()
        .map(|split| stratified_two_sided(&split.tables(&group.trials, &strata)))
        .collect();
    let Some(p) = p else { return Vec::new() };
    let all = holm(&p);
    let joint = joint(&largest(&group.trials, &strata), &group.trials, &splits);
    let mut effects = Vec::new();
    for (i, split) in splits.iter().enumerate() {
        let mixed =
            splits.iter().enumerate().filter(|(j, other)| *j != i && same_trials(split, other));
        let Table { good1, bad1, good2, bad2 } = split.table;
        let Some((odds_ratio, low)) = odds(split.table.odds_ratio()).zip(Number::new(split.low))
        else {
            continue;
        };
        let together = joint.as_ref().and_then(|joint| joint.iter().find(|one| one.split == i));
        effects.push(SettingEffect {
            does: group.does,
            machine: group.machine_name(),
            material: group.material_name(),
            setting: Name::from(split.name),
            low,
            high: Number::new(split.high).unwrap_or_default(),
            low_trials: Count(good1 + bad1),
            low_good: Count(good1),
            high_trials: Count(good2 + bad2),
            high_good: Count(good2),
            odds_ratio,
            probability: fraction(p[i]),
            probability_of_all: fraction(all[i]),
            mixed_with: mixed
                .map(|(_, other)| other.name)
                .chain(parted_with(&group.trials, split))
                .map(Text::from)
                .collect(),
            joint_odds_ratio: together.and_then(|one| one.odds_ratio),
            joint_low: together.and_then(|one| one.low),
            joint_high: together.and_then(|one| one.high),
            joint_probability: together.map(|one| fraction(one.p)),
            ..SettingEffect::default()
        });
    }
    effects
}

/// Trials with less and with more of a setting: of its values, parted where the sides are most
/// even in number. How the trials came out has no say in it.
fn split<'g>(trials: &[Told], name: &'g str) -> Option<Split<'g>> {
    let mut values: Vec<f64> = trials.iter().filter_map(|t| t.settings.get(name)).collect();
    values.sort_by(f64::total_cmp);
    let n = values.len();
    let gaps = (1..n).filter(|at| values[at - 1] < values[*at]);
    let at = gaps.min_by_key(|at| at.abs_diff(n - at))?;
    let (low, high) = (values[at - 1], values[at]);
    let more: Vec<Option<bool>> =
        trials.iter().map(|t| t.settings.get(name).map(|value| value >= high)).collect();
    let count = |side: bool, good: bool| {
        let sides = trials.iter().zip(&more);
        sides.filter(|(t, more)| **more == Some(side) && t.good == good).count() as u64
    };
    let table = Table {
        good1: count(false, true),
        bad1: count(false, false),
        good2: count(true, true),
        bad2: count(true, false),
    };
    Some(Split { name, low, high, table, more })
}

/// Whether two settings part the trials alike, so that nothing tells them apart.
fn same_trials(one: &Split<'_>, other: &Split<'_>) -> bool {
    same_sides(&one.more, &other.more)
}

fn same_sides(one: &[Option<bool>], other: &[Option<bool>]) -> bool {
    let pairs: Vec<(bool, bool)> =
        one.iter().zip(other).filter_map(|(a, b)| (*a).zip(*b)).collect();
    let both_ways = pairs.iter().any(|(a, _)| *a) && pairs.iter().any(|(a, _)| !*a);
    both_ways && (pairs.iter().all(|(a, b)| a == b) || pairs.iter().all(|(a, b)| a != b))
}

/// What else nothing tells apart from a setting: the part, lot or difficulty, where none of them had
/// both less and more of it.
fn parted_with(trials: &[Told], split: &Split<'_>) -> Vec<&'static str> {
    let mut parted = Vec::new();
    let mut look = |name: &'static str, of: &dyn Fn(&Told) -> String| {
        let mut sides: BTreeMap<String, BTreeSet<bool>> = BTreeMap::new();
        for (trial, more) in trials.iter().zip(&split.more) {
            if let Some(more) = more {
                sides.entry(of(trial)).or_default().insert(*more);
            }
        }
        if sides.values().all(|sides| sides.len() == 1) {
            parted.push(name);
        }
    };
    look("part", &|trial| format!("{:?}", trial.part));
    look("lot", &|trial| format!("{:?}", trial.from));
    look("difficulty", &|trial| format!("{:?}", trial.complexity));
    parted
}

/// For each trial the number of its stratum: trials of one part, lot and difficulty, after as many noted changes.
fn strata(trials: &[Told]) -> Vec<usize> {
    let mut known = BTreeMap::new();
    let number = |trial: &Told| {
        let about = (trial.part.clone(), trial.from.clone(), trial.complexity, trial.era);
        let next = known.len();
        *known.entry(about).or_insert(next)
    };
    trials.iter().map(number).collect()
}

/// The places of the trials of the largest stratum.
fn largest(trials: &[Told], strata: &[usize]) -> Vec<usize> {
    let mut of: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (at, _) in trials.iter().enumerate() {
        of.entry(strata.get(at).copied().unwrap_or(0)).or_default().push(at);
    }
    of.into_values().rev().max_by_key(Vec::len).unwrap_or_default()
}

impl Split<'_> {
    /// Its table in each stratum.
    fn tables(&self, trials: &[Told], strata: &[usize]) -> Vec<Table> {
        let mut tables: BTreeMap<usize, Table> = BTreeMap::new();
        for ((trial, stratum), more) in trials.iter().zip(strata).zip(&self.more) {
            let Some(more) = more else { continue };
            let table =
                tables.entry(*stratum).or_insert(Table { good1: 0, bad1: 0, good2: 0, bad2: 0 });
            *match (more, trial.good) {
                (false, true) => &mut table.good1,
                (false, false) => &mut table.bad1,
                (true, true) => &mut table.good2,
                (true, false) => &mut table.bad2,
            } += 1;
        }
        tables.into_values().collect()
    }
}

/// The effect of a setting with the others held.
struct Joint {
    split: usize,
    odds_ratio: Option<Positive>,
    low: Option<Positive>,
    high: Option<Positive>,
    p: f64,
}

/// All settings in one model, from the trials of the largest stratum that name them all; of settings that
/// nothing tells apart there the first. None where good or failed trials are too few for it.
fn joint(places: &[usize], all: &[Told], splits: &[Split<'_>]) -> Option<Vec<Joint>> {
    let trials: Vec<&Told> = places.iter().filter_map(|at| all.get(*at)).collect();
    let here = |split: &Split<'_>| -> Vec<Option<bool>> {
        places.iter().map(|at| split.more.get(*at).copied().flatten()).collect()
    };
    let mut chosen: Vec<usize> = Vec::new();
    for (i, one) in splits.iter().enumerate() {
        let (least, most) = range(&trials, one.name);
        let alike = |j: &usize| same_sides(&here(one), &here(&splits[*j]));
        if least < most && !chosen.iter().any(alike) {
            chosen.push(i);
        }
    }
    let trials = trials.as_slice();
    let ranges: Vec<(f64, f64)> = chosen.iter().map(|i| range(trials, splits[*i].name)).collect();
    let mut rows = Vec::new();
    let mut good = Vec::new();
    for trial in trials {
        let row = chosen.iter().zip(&ranges).map(|(i, (least, most))| {
            trial.settings.get(splits[*i].name).map(|value| (value - least) / (most - least))
        });
        if let Some(row) = row.collect::<Option<Vec<f64>>>() {
            rows.push(row);
            good.push(trial.good);
        }
    }
    let hits = good.iter().filter(|good| **good).count();
    let rarer = hits.min(good.len() - hits);
    if chosen.is_empty() || chosen.len() > JOINT_MAX || rarer < PER_SETTING * chosen.len() {
        return None;
    }
    let model = Trials::new(&rows, &good)?;
    let fit = model.fit()?;
    let of = |(column, split): (usize, &usize)| {
        let which = column + 1;
        let ends = model.interval(&fit, which, CONFIDENCE);
        Some(Joint {
            split: *split,
            odds_ratio: odds(fit.coefficients[which].exp()),
            low: ends.and_then(|(low, _)| odds(low.exp())),
            high: ends.and_then(|(_, high)| odds(high.exp())),
            p: model.probability(&fit, which)?,
        })
    };
    chosen.iter().enumerate().map(of).collect()
}

/// Least and most of a setting.
fn range(trials: &[&Told], name: &str) -> (f64, f64) {
    let values = trials.iter().filter_map(|trial| trial.settings.get(name));
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), value| {
        (least.min(value), most.max(value))
    })
}
