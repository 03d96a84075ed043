//! The single trial that tells most about which of several changed settings made the difference.

use crate::book::Told;
use crate::group::Group;
use crate::words::{joined, rounded, settings};
use secondmelt_quality::separating::{Next, SETTINGS_MAX, Tried, best};
use secondmelt_record::facts::Settings;
use secondmelt_record::findings::NextTrial;
use secondmelt_record::{Name, NonNegative, Number, Text};
use std::collections::BTreeMap;

/// Least information that is worth a trial, in bits.
const BITS_MIN: f64 = 0.001;

/// A setting, its value in the failed trial and in the good one.
type Changed<'a> = (&'a str, f64, f64);

/// Trials that had each of the settings at one of its two values.
pub(crate) fn tried(trials: &[&Told], changed: &[Changed<'_>]) -> Vec<Tried> {
    let one = |trial: &&Told| {
        let side = |(name, failed, good): &Changed<'_>| {
            let value = trial.settings.get(*name)?.to_bits();
            if value == good.to_bits() {
                Some(true)
            } else {
                (value == failed.to_bits()).then_some(false)
            }
        };
        let as_good = changed.iter().map(side).collect::<Option<Vec<bool>>>()?;
        Some(Tried { as_good, good: trial.good })
    };
    trials.iter().filter_map(one).collect()
}

/// What the trials say of several settings; none of fewer than two, or of too many.
pub(crate) fn weighed(changed: &[Changed<'_>], tried: &[Tried]) -> Option<Next> {
    let some = (2..=SETTINGS_MAX).contains(&changed.len());
    if some { best(changed.len(), tried) } else { None }
}

/// The trial as a record; none where no single trial tells anything worth it.
pub(crate) fn record<'g>(
    group: &'g Group,
    part: Option<&'g str>,
    trials: &[&'g Told],
    good: &Told,
    changed: &[Changed<'_>],
) -> Option<NextTrial<'g>> {
    let next = weighed(changed, &tried(trials, changed)).filter(|next| next.bits >= BITS_MIN)?;
    let Next { as_good, bits, open_bits, probabilities } = next;
    let mut values: BTreeMap<String, f64> = good.settings.clone();
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
