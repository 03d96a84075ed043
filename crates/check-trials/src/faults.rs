//! How often each fault comes.

use crate::group::Group;
use crate::words::percent;
use secondmelt_quality::proportion::clopper_pearson;
use secondmelt_record::Count;
use secondmelt_record::facts::{Does, Fault};
use secondmelt_record::findings::FaultShare;
use std::collections::BTreeMap;

const CONFIDENCE: f64 = 0.95;

/// The share of each fault among all trials of a group, the most frequent first.
pub(crate) fn shares(group: &Group) -> Vec<FaultShare<'_>> {
    // An extrusion is judged by its spools, which name no fault of this list.
    if group.does == Does::Extrude && group.trials.iter().all(|trial| trial.part.is_none()) {
        return Vec::new();
    }
    let n = group.trials.len() as u64;
    let mut counts: BTreeMap<Option<Fault>, u64> = BTreeMap::new();
    for trial in group.trials.iter().filter(|trial| !trial.good) {
        *counts.entry(trial.fault).or_default() += 1;
    }
    let mut counts: Vec<(Option<Fault>, u64)> = counts.into_iter().collect();
    counts.sort_by_key(|(_, failed)| std::cmp::Reverse(*failed));
    let share = |(fault, failed): (Option<Fault>, u64)| {
        let limits = clopper_pearson(failed, n, CONFIDENCE)?;
        Some(FaultShare {
            does: group.does,
            machine: group.machine_name(),
            material: group.material_name(),
            fault,
            failed: Count(failed),
            trials: Count(n),
            #[expect(clippy::cast_precision_loss, reason = "numbers of trials")]
            share_pct: percent(failed as f64 / n as f64),
            low_pct: percent(limits.low),
            high_pct: percent(limits.high),
            ..FaultShare::default()
        })
    };
    counts.into_iter().filter_map(share).collect()
}
