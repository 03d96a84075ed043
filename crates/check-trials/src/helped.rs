//! What helped: the settings that changed between a failed trial and a good one.

use crate::book::Told;
use crate::group::Group;
use crate::lab::Lab;
use crate::options::{Factor, Settled};
use crate::screen;
use crate::windows::{holds, told};
use crate::words::{joined, plural, rounded, settings};
use secondmelt_quality::separating::{Next, SETTINGS_MAX, Tried, best};
use secondmelt_record::facts::Settings;
use secondmelt_record::findings::{Decision, NextTrial, SettingEffect, Verdict};
use secondmelt_record::{Name, NonNegative, Number, Out, Text};
use std::collections::BTreeMap;

const CHECK: &str = "what-helped";
const RULE: &str = "conforms where one setting alone changed between the failed trial and the good one and the trials with and \
                    without it differ more than chance explains (Fisher's exact test over all settings of the step, Holm 1979, \
                    5 %); else undecided. Settings that changed at once are confounded: no trial tells them apart yet";
/// Probability below which a difference is shown.
const LEVEL: f64 = 0.05;
/// From so many settings on a screening design is proposed, too.
const SCREEN_FROM: usize = 3;

/// A failed trial, the good one that followed it, and the settings that changed in between with
/// both their values.
struct Change<'g> {
    failed: &'g Told,
    good: &'g Told,
    changed: Vec<(&'g str, f64, f64)>,
}

/// Writes what is known of what helped, for each part.
pub(crate) fn write(
    group: &Group,
    effects: &[SettingEffect<'_>],
    lab: &Lab,
    settled: &Settled,
    out: &mut Out,
) {
    for (part, trials) in group.parts() {
        let Some(change) = last_change(&trials) else { continue };
        let verdict = said(group, part, &change, effects);
        out.write(&verdict);
        if change.changed.len() < 2 {
            continue;
        }
        let window =
            |name: &str| lab.window(name, group.machine.as_deref(), group.material.as_deref());
        let allowed: Vec<(&str, f64, f64)> = change
            .changed
            .iter()
            .copied()
            .filter(|(name, failed, good)| {
                holds(window(name), *failed) && holds(window(name), *good)
            })
            .collect();
        if let Some(next) = next(group, part, &trials, &change, &allowed) {
            out.write(&next);
        }
        if allowed.len() >= SCREEN_FROM {
            let factors: Vec<Factor> = allowed
                .iter()
                .map(|(name, failed, good)| Factor {
                    name: (*name).to_owned(),
                    low: failed.min(*good),
                    high: failed.max(*good),
                })
                .collect();
            let about = (group.machine.as_deref(), group.material.as_deref(), part);
            screen::write(&factors, about, None, settled.seed, out);
        }
    }
}

/// The last time that a failed trial of a part was followed by a good one.
fn last_change<'g>(trials: &[&'g Told]) -> Option<Change<'g>> {
    let pair = trials.windows(2).rev().find(|pair| !pair[0].good && pair[1].good)?;
    let (failed, good) = (pair[0], pair[1]);
    let changed = good.settings.iter().filter_map(|(name, value)| {
        let before = *failed.settings.get(name)?;
        (before.to_bits() != value.to_bits()).then_some((name.as_str(), before, *value))
    });
    Some(Change { failed, good, changed: changed.collect() })
}

fn said<'g>(
    group: &'g Group,
    part: Option<&str>,
    change: &Change<'_>,
    effects: &[SettingEffect<'_>],
) -> Verdict<'g> {
    let names: Vec<String> = change
        .changed
        .iter()
        .map(|(name, from, to)| format!("{name} ({} to {})", rounded(*from), rounded(*to)))
        .collect();
    let lot = if change.failed.lot == change.good.lot {
        String::new()
    } else {
        format!("; the lot changed, too, from {} to {}", change.failed.lot, change.good.lot)
    };
    let effect = match change.changed.as_slice() {
        [(name, ..)] => effects.iter().find(|effect| effect.setting.as_str() == *name),
        _ => None,
    };
    let shown = effect.filter(|effect| {
        let alone = effect.mixed_with.is_empty() && lot.is_empty();
        alone && effect.probability_of_all.get() <= LEVEL && better(effect, &change.changed)
    });
    let (result, said) = match (change.changed.len(), shown) {
        (0, _) => {
            let words = change.good.changed.as_deref().map_or_else(
                || "no setting that is recorded changed".to_owned(),
                |words| format!("only words say what changed (\"{words}\"): write it as settings with numbers"),
            );
            (Decision::Undecided, format!("{words}{lot}; nothing tells what helped"))
        }
        (1, Some(effect)) => (
            Decision::Conforms,
            format!(
                "{} alone changed, and the trials bear it out (p {:.3})",
                names[0],
                effect.probability_of_all.get()
            ),
        ),
        (1, None) => {
            let p = effect.map_or_else(String::new, |effect| {
                let mixed = if effect.mixed_with.is_empty() {
                    String::new()
                } else {
                    let others: Vec<String> =
                        effect.mixed_with.iter().map(ToString::to_string).collect();
                    format!(", and {} went with it", joined(&others))
                };
                format!(" (p {:.3} over all settings{mixed})", effect.probability_of_all.get())
            });
            (
                Decision::Undecided,
                format!(
                    "{} changed{lot}; the trials are too few to tell it from chance{p}: repeat both",
                    names[0]
                ),
            )
        }
        (n, _) => (
            Decision::Undecided,
            format!(
                "{} changed at once ({}){lot}: they are confounded, and the good trial does not tell which of them \
                 helped, or whether any did",
                plural(n as u64, "setting"),
                joined(&names)
            ),
        ),
    };
    let part = part.map(|part| format!(", {part}")).unwrap_or_default();
    Verdict {
        check: Name::from(CHECK),
        result,
        machine: group.machine_name(),
        probability: None,
        rule: Text::from(RULE),
        why: Text::from(format!(
            "{}{part}: between the last failed trial and the good one after it {said}",
            group.named()
        )),
        ..Verdict::default()
    }
}

/// Whether the side that the setting went to is the better one.
fn better(effect: &SettingEffect<'_>, changed: &[(&str, f64, f64)]) -> bool {
    let up = changed.first().is_some_and(|(_, from, to)| to > from);
    up == (effect.odds_ratio.get() > 1.0)
}

/// The single trial that tells most.
fn next<'g>(
    group: &'g Group,
    part: Option<&'g str>,
    trials: &[&'g Told],
    change: &Change<'_>,
    changed: &[(&str, f64, f64)],
) -> Option<NextTrial<'g>> {
    if changed.len() < 2 || changed.len() > SETTINGS_MAX {
        return None;
    }
    // Trials that had each of these settings at one of its two values.
    let tried: Vec<Tried> = trials
        .iter()
        .filter_map(|trial| {
            let side = |(name, failed, good): &(&str, f64, f64)| {
                let value = trial.settings.get(*name)?.to_bits();
                if value == good.to_bits() {
                    Some(true)
                } else {
                    (value == failed.to_bits()).then_some(false)
                }
            };
            let as_good = changed.iter().map(side).collect::<Option<Vec<bool>>>()?;
            Some(Tried { as_good, good: trial.good })
        })
        .collect();
    let Next { as_good, bits, open_bits, probabilities } = best(changed.len(), &tried)?;
    let mut values: BTreeMap<String, f64> = change.good.settings.clone();
    let mut back = Vec::new();
    let mut kept = Vec::new();
    for ((name, failed, _), keep) in changed.iter().zip(&as_good) {
        if *keep {
            kept.push((*name).to_owned());
        } else {
            values.insert((*name).to_owned(), *failed);
            back.push((*name, *failed));
        }
    }
    let chances = changed.iter().map(|(name, ..)| *name).chain(["none"]).zip(&probabilities);
    let chances =
        chances.filter_map(|(name, p)| Some((name.to_owned(), Number::new(rounded(*p))?)));
    Some(NextTrial {
        does: group.does,
        machine: group.machine_name(),
        material: group.material_name(),
        part: part.map(Name::from),
        settings: settings(&values),
        put_back: back.iter().map(|(name, _)| Text::from((*name).to_owned())).collect(),
        chances: Settings(chances.collect()),
        bits: NonNegative::new(rounded(bits))?,
        open_bits: NonNegative::new(rounded(open_bits))?,
        why: Text::from(reason(&back, &kept, bits, open_bits)),
        ..NextTrial::default()
    })
}

/// One sentence that says what the trial is and what its outcome would mean.
fn reason(back: &[(&str, f64)], kept: &[String], bits: f64, open: f64) -> String {
    if back.is_empty() {
        return format!(
            "repeat the good trial as it was: of all single trials it is expected to tell most, {bits:.2} of {open:.2} bits that are open"
        );
    }
    let values: Vec<String> =
        back.iter().map(|(name, value)| format!("{name} back at {}", rounded(*value))).collect();
    let names: Vec<String> = back.iter().map(|(name, _)| (*name).to_owned()).collect();
    let good =
        if kept.is_empty() { "chance".to_owned() } else { format!("{} or chance", joined(kept)) };
    format!(
        "with {} and all else as in the good trial, a failure points to {} and a good trial to {good}; of all single trials \
         it is expected to tell most, {bits:.2} of {open:.2} bits that are open",
        joined(&values),
        joined(&names),
    )
}

/// A window in words, for those who choose levels.
pub(crate) fn window_of(
    lab: &Lab,
    name: &str,
    machine: Option<&str>,
    material: Option<&str>,
) -> String {
    told(lab.window(name, machine, material))
}
