//! Whether trials were made within the windows of machine, material and the lab's own limits.

use crate::group::Group;
use crate::lab::{Ends, Lab};
use crate::words::{plural, rounded, unit};
use secondmelt_record::findings::{Decision, Verdict};
use secondmelt_record::{Name, Number, Text};
use std::collections::{BTreeMap, BTreeSet};

const CHECK: &str = "trial-settings-window";
const RULE: &str = "simple acceptance: every setting of every trial within the tightest of the machine's range, the material \
                    card's, and the lab's limits";

/// Whether a value lies within a window.
pub(crate) fn holds((low, high): Ends, value: f64) -> bool {
    low.is_none_or(|low| value >= low) && high.is_none_or(|high| value <= high)
}

/// "210 to 250", "at most 250".
pub(crate) fn told((low, high): Ends) -> String {
    match (low, high) {
        (Some(low), Some(high)) => format!("{} to {}", rounded(low), rounded(high)),
        (Some(low), None) => format!("at least {}", rounded(low)),
        (None, Some(high)) => format!("at most {}", rounded(high)),
        (None, None) => "anything".to_owned(),
    }
}

/// A verdict for each setting that left its window; else one that all kept theirs, where any is
/// known.
pub(crate) fn verdicts<'g>(group: &'g Group, lab: &Lab) -> Vec<Verdict<'g>> {
    let names: BTreeSet<&String> =
        group.trials.iter().flat_map(|trial| trial.settings.values.keys()).collect();
    let windows: BTreeMap<&String, Ends> = names
        .into_iter()
        .map(|name| (name, group.window(name, lab)))
        .filter(|(_, window)| *window != (None, None))
        .collect();
    let mut left = Vec::new();
    for (name, window) in &windows {
        let values = group.trials.iter().filter_map(|trial| trial.settings.get(name));
        let outside: Vec<f64> = values.filter(|value| !holds(*window, *value)).collect();
        let beyond = |value: &f64| {
            let below = window.0.map_or(0.0, |low| low - value);
            below.max(window.1.map_or(0.0, |high| value - high))
        };
        let worst = outside.iter().max_by(|a, b| beyond(a).total_cmp(&beyond(b)));
        let Some(worst) = worst.copied() else { continue };
        let limit = if window.1.is_some_and(|high| worst > high) { window.1 } else { window.0 };
        left.push(Verdict {
            value: Number::new(worst),
            limit: limit.and_then(Number::new),
            unit: Some(Text::from(unit(name))),
            ..verdict(group, Decision::Fails, format!(
                "{} with {name} outside its window, {}; the furthest at {}: correct the record or the window, and do not \
                 repeat the setting before that",
                plural(outside.len() as u64, "trial"),
                told(*window),
                rounded(worst)
            ))
        });
    }
    if left.is_empty() && !windows.is_empty() {
        let known: Vec<String> =
            windows.iter().map(|(name, window)| format!("{name} {}", told(*window))).collect();
        left.push(verdict(
            group,
            Decision::Conforms,
            format!("every trial kept the windows that are known: {}", known.join(", ")),
        ));
    }
    left
}

fn verdict(group: &Group, result: Decision, said: String) -> Verdict<'_> {
    Verdict {
        check: Name::from(CHECK),
        result,
        machine: group.machine_name(),
        material: group.material_name(),
        rule: Text::from(RULE),
        why: Text::from(format!("{}: {said}", group.named())),
        ..Verdict::default()
    }
}
