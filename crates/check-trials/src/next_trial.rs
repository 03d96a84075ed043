//! The single trial that tells most about which of several things that changed at once made the
//! difference.

use crate::change::{Change, Feature};
use crate::group::Group;
use crate::lab::Lab;
use crate::windows::holds;
use crate::words::{joined, rounded, settings};
use secondmelt_quality::separating::{May, Next, Weighed};
use secondmelt_record::facts::Settings;
use secondmelt_record::findings::NextTrial;
use secondmelt_record::{Name, NonNegative, Number, Text};

/// Least information that is worth a trial, in bits.
const BITS_MIN: f64 = 0.001;

/// Which values something may have in the next trial: those of a setting inside its window; what is no
/// setting stays as it was in the good trial.
fn may(group: &Group, change: &Change<'_>, lab: &Lab, feature: Feature<'_>) -> May {
    let Feature::Setting(name) = feature else { return May { stay: true, go_back: false } };
    let window = group.window(name, lab);
    match change.values(feature) {
        Some((failed, good)) => May { stay: holds(window, good), go_back: holds(window, failed) },
        None => May {
            stay: change.good.settings.get(name).is_none_or(|good| holds(window, good)),
            go_back: false,
        },
    }
}

/// The trial as a record; none where no single trial tells anything worth it, or none can be made.
pub(crate) fn record<'g>(
    group: &'g Group,
    change: &Change<'g>,
    weighed: &Weighed,
    lab: &Lab,
) -> Option<NextTrial<'g>> {
    let may: Vec<May> = change.changed.iter().map(|one| may(group, change, lab, *one)).collect();
    let Next { as_good, bits } = weighed.next(&may).filter(|next| next.bits >= BITS_MIN)?;
    let open_bits = weighed.open_bits();
    let mut values = change.good.settings.values.clone();
    let mut back = Vec::new();
    let mut kept = Vec::new();
    for (feature, keep) in change.changed.iter().zip(&as_good) {
        match change.values(*feature).filter(|_| !keep) {
            Some((failed, _)) => {
                values.insert(feature.name(), failed);
                back.push((feature.name(), failed));
            }
            None => kept.push(feature.name()),
        }
    }
    let made = (0..change.changed.len()).filter_map(|at| weighed.made(at));
    let names = change.changed.iter().map(|one| one.name());
    let chances = names.zip(made.map(|made| made.probability));
    let chances = chances.chain([("none".to_owned(), weighed.none())]);
    let chances = chances.filter_map(|(name, p)| Some((name, Number::new(rounded(p))?)));
    Some(NextTrial {
        does: group.does,
        machine: group.machine_name(),
        material: group.material_name(),
        part: change.part.map(Name::from),
        settings: settings(&values),
        put_back: back.iter().map(|(name, _)| Text::from(name.clone())).collect(),
        chances: Settings(chances.collect()),
        bits: NonNegative::new(rounded(bits))?,
        open_bits: NonNegative::new(rounded(open_bits))?,
        why: Text::from(reason(&back, &kept, bits, open_bits)),
        ..NextTrial::default()
    })
}

/// One sentence that says what the trial is and what its outcome would mean.
fn reason(back: &[(String, f64)], kept: &[String], bits: f64, open: f64) -> String {
    if back.is_empty() {
        return format!(
            "repeat the good trial as it was: of all single trials that can be made it is expected to tell most, {bits:.2} of \
             {open:.2} bits that are open"
        );
    }
    let values: Vec<String> =
        back.iter().map(|(name, value)| format!("{name} back at {}", rounded(*value))).collect();
    let names: Vec<String> = back.iter().map(|(name, _)| name.clone()).collect();
    let good =
        if kept.is_empty() { "chance".to_owned() } else { format!("{} or chance", joined(kept)) };
    format!(
        "with {} and all else as in the good trial, a failure points to {}, alone or with others, and a good trial to {good}; of \
         all single trials that can be made it is expected to tell most, {bits:.2} of {open:.2} bits that are open",
        joined(&values),
        joined(&names),
    )
}
