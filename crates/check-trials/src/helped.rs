//! What helped: the settings that changed between a failed trial and a good one.

use crate::book::Told;
use crate::group::Group;
use crate::lab::Lab;
use crate::next_trial;
use crate::options::{Factor, Settled};
use crate::screen;
use crate::windows::holds;
use crate::words::{joined, plural, rounded};
use secondmelt_record::findings::{Decision, SettingEffect, Verdict};
use secondmelt_record::{Name, Out, Text};

const CHECK: &str = "what-helped";
const RULE: &str = "conforms where one setting alone changed between the failed trial and the good one and the trials with and \
                    without it differ more than chance explains (Fisher's exact test over all settings of the step, Holm 1979, \
                    5 %), or where of several that changed at once the trials leave one with a probability of 95 % (explanations by one \
                    setting and by none, equally likely beforehand, beta-binomial); else undecided. Settings that changed at once \
                    are confounded until trials part them";
/// Probability below which a difference is shown.
const LEVEL: f64 = 0.05;
/// Probability from which on an explanation stands.
const STANDS: f64 = 0.95;
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
        let same_lot = change.failed.lot == change.good.lot;
        let found = explained(&trials, &change.changed).filter(|_| same_lot);
        let verdict = said(group, part, &change, effects, found);
        out.write(&verdict);
        if change.changed.len() < 2 || found.is_some() {
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
        if let Some(next) = next_trial::record(group, part, &trials, change.good, &allowed) {
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
    found: Option<(usize, f64)>,
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
        (n, _) if let Some((at, p)) = found => match names.get(at) {
            Some(name) => (
                Decision::Conforms,
                format!(
                    "{} changed at once; all trials that had each of them at one of both values leave {name} as what made the \
                     difference (probability {p:.3})",
                    plural(n as u64, "setting")
                ),
            ),
            None => (
                Decision::Undecided,
                format!(
                    "{} changed at once ({}), and by all trials none of them made the difference (probability {p:.3}): look for \
                     another cause",
                    plural(n as u64, "setting"),
                    joined(&names)
                ),
            ),
        },
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

/// The explanation that stands, by its place among the changed settings, and its probability; the place
/// after the last for none of them. A setting that made it worse explains nothing.
fn explained(trials: &[&Told], changed: &[(&str, f64, f64)]) -> Option<(usize, f64)> {
    let tried = next_trial::tried(trials, changed);
    let next = next_trial::weighed(changed, &tried)?;
    let (at, p) = next.probabilities.iter().copied().enumerate().find(|(_, p)| *p >= STANDS)?;
    let share = |as_good: bool| {
        let side = tried.iter().filter(|one| one.as_good.get(at) == Some(&as_good));
        let (n, good) = side.fold((0, 0), |(n, good), one| (n + 1, good + i32::from(one.good)));
        f64::from(good) / f64::from(n.max(1))
    };
    (at == changed.len() || share(true) > share(false)).then_some((at, p))
}
