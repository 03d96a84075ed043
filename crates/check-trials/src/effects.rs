//! Whether trials with more of a setting came out better or worse than those with less.

use crate::book::Told;
use crate::group::Group;
use crate::words::{fraction, odds};
use secondmelt_quality::contingency::{Table, holm};
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
    let p: Option<Vec<f64>> = splits.iter().map(|split| split.table.fisher_two_sided()).collect();
    let Some(p) = p else { return Vec::new() };
    let all = holm(&p);
    let joint = joint(&group.trials, &splits);
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
    let pairs: Vec<(bool, bool)> =
        one.more.iter().zip(&other.more).filter_map(|(a, b)| (*a).zip(*b)).collect();
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

/// The effect of a setting with the others held.
struct Joint {
    split: usize,
    odds_ratio: Option<Positive>,
    low: Option<Positive>,
    high: Option<Positive>,
    p: f64,
}

/// All settings in one model, from the trials that name them all; of settings that nothing tells
/// apart the first. None where good or failed trials are too few for it.
fn joint(trials: &[Told], splits: &[Split<'_>]) -> Option<Vec<Joint>> {
    let mut chosen: Vec<usize> = Vec::new();
    for (i, one) in splits.iter().enumerate() {
        if !chosen.iter().any(|j| same_trials(one, &splits[*j])) {
            chosen.push(i);
        }
    }
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
fn range(trials: &[Told], name: &str) -> (f64, f64) {
    let values = trials.iter().filter_map(|trial| trial.settings.get(name));
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), value| {
        (least.min(value), most.max(value))
    })
}
