//! What the trade usually tries for a fault: a table, and the first entry of it that has not been
//! tried and keeps the windows.

use crate::book::Told;
use crate::group::{Group, last_is_known};
use crate::lab::Lab;
use crate::windows::holds;
use crate::words::{rounded, unit};
use secondmelt_record::facts::Fault;
use secondmelt_record::findings::{Adjustment, Caution};
use secondmelt_record::{Name, Number, Out, Text};
use serde::Deserialize;
use std::collections::BTreeSet;
use std::sync::LazyLock;

/// The table as it is kept.
const DATA: &str = include_str!("../data/remedies.json");
/// Values of a setting that failed with a fault, from which on another remedy is tried.
const ENOUGH: usize = 3;

const DANGER: &str = "A nozzle at printing heat and a heated bed burn skin at once, and hot plastic gives off fumes. Keep hands \
                      away while it is hot, air the room, stay near a printer whose settings are on trial, and let a jammed \
                      one cool before it is opened.";
const DEFER: &str = "the maker's instructions of the machine, the data sheets of the plastic, and the lab's own fire and \
                     ventilation rules";

#[derive(Debug, Deserialize)]
struct Data {
    status: String,
    faults: Vec<Entry>,
}

/// What is done about one fault.
#[derive(Debug, Deserialize)]
struct Entry {
    fault: Fault,
    look_first: String,
    remedies: Vec<Remedy>,
}

/// A step of one setting.
#[derive(Debug, Deserialize)]
struct Remedy {
    setting: String,
    change: f64,
    low: f64,
    high: f64,
    reason: String,
}

static TABLE: LazyLock<Option<Data>> = LazyLock::new(|| serde_json::from_str(DATA).ok());

/// Writes for each difficulty whose last trial failed what to try next.
///
/// None for a difficulty that is not worth going on with, and none where it is not known which trial was the last.
pub(crate) fn write(group: &Group, stopped: &[Option<u64>], lab: &Lab, out: &mut Out) {
    let Some(table) = TABLE.as_ref() else { return };
    let mut warned = false;
    for (level, trials) in &group.cells() {
        if stopped.contains(level) || !last_is_known(trials) {
            continue;
        }
        let Some(last) = trials.last().filter(|trial| !trial.good) else { continue };
        let entry =
            last.fault.and_then(|fault| table.faults.iter().find(|entry| entry.fault == fault));
        let Some(entry) = entry else { continue };
        let Some(change) = proposal(group, trials, last, entry, lab, &table.status) else {
            continue;
        };
        out.write(&change);
        if !warned {
            warned = true;
            out.write(&Caution {
                machine: group.machine_name(),
                danger: Text::from(DANGER),
                defer_to: Text::from(DEFER),
                ..Caution::default()
            });
        }
    }
}

/// The first remedy that is left.
fn proposal<'g>(
    group: &'g Group,
    trials: &[&Told],
    last: &'g Told,
    entry: &'static Entry,
    lab: &Lab,
    status: &'static str,
) -> Option<Adjustment<'g>> {
    let level = last.complexity.map(|level| format!(" at difficulty {level}")).unwrap_or_default();
    let fault = entry.fault;
    let start = format!("the last trial{level} failed with {fault}: {}", entry.look_first);
    let left = |remedy: &&Remedy| {
        let from = last.settings.get(&remedy.setting)?;
        let to = rounded(from + remedy.change);
        let window = group.window(&remedy.setting, lab);
        let inside = holds(window, to) && holds((Some(remedy.low), Some(remedy.high)), to);
        (inside
            && !worn_out(trials, fault, &remedy.setting)
            && !failed_at(trials, fault, &remedy.setting, to))
        .then_some((from, to))
    };
    let chosen = entry.remedies.iter().find_map(|remedy| Some((remedy, left(&remedy)?)));
    let (remedy, known) = match chosen {
        Some((remedy, known)) => (remedy, Some(known)),
        // Nothing that is recorded is left: the first that is not recorded.
        None => {
            let unknown = |remedy: &&Remedy| !last.settings.values.contains_key(&remedy.setting);
            (entry.remedies.iter().find(unknown)?, None)
        }
    };
    let (low, high) = group.window(&remedy.setting, lab);
    let (low, high) = (
        low.map_or(remedy.low, |x| x.max(remedy.low)),
        high.map_or(remedy.high, |x| x.min(remedy.high)),
    );
    let step = rounded(remedy.change);
    let advice = match known {
        Some(_) => "change nothing else with it".to_owned(),
        None => format!(
            "a step of {step:+} {}; write the setting down with the trial",
            unit(&remedy.setting)
        ),
    };
    Some(Adjustment {
        what: Name::from(remedy.setting.as_str()),
        lot: Some(Name::from(last.lot.as_str())),
        machine: group.machine_name(),
        from: known.and_then(|(from, _)| Number::new(from)),
        to: known.and_then(|(_, to)| Number::new(to)),
        low: Number::new(low),
        high: Number::new(high),
        unit: Text::from(unit(&remedy.setting)),
        because: Text::from(format!("{start}; then {}: {advice}", remedy.reason)),
        basis: Text::from(format!(
            "table of usual remedies ({status}); low and high are where it is not taken further"
        )),
        ..Adjustment::default()
    })
}

/// Whether so many values of a setting have failed with the fault that more of it will not help.
fn worn_out(trials: &[&Told], fault: Fault, setting: &str) -> bool {
    values(trials, fault, setting).len() >= ENOUGH
}

/// Whether this value has failed with the fault.
fn failed_at(trials: &[&Told], fault: Fault, setting: &str, value: f64) -> bool {
    values(trials, fault, setting).contains(&value.to_bits())
}

/// Values of a setting, by their bits, with which trials failed with the fault.
fn values(trials: &[&Told], fault: Fault, setting: &str) -> BTreeSet<u64> {
    let failed = trials.iter().filter(|trial| !trial.good && trial.fault == Some(fault));
    failed.filter_map(|trial| trial.settings.get(setting)).map(|value| value.to_bits()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use secondmelt_record::units::of_setting;

    #[test]
    fn every_fault_has_an_entry_and_every_remedy_a_unit_a_range_and_a_reason() {
        let table = TABLE.as_ref().expect("the table is read");
        assert_eq!(table.status, "common practice, no source");
        for fault in Fault::ALL {
            let entries = table.faults.iter().filter(|entry| entry.fault == *fault).count();
            assert_eq!(entries, 1, "{fault}");
        }
        for entry in &table.faults {
            assert!(!entry.look_first.is_empty());
            for remedy in &entry.remedies {
                let name = &remedy.setting;
                assert!(of_setting(name).is_some(), "{name}");
                let span = remedy.high - remedy.low;
                assert!(remedy.change != 0.0 && remedy.change.abs() <= span / 2.0, "{name}");
                assert!(!remedy.reason.is_empty(), "{name}");
            }
        }
    }
}
