//! What the lab recorded of its lots, steps and machines.

use super::NAMES_MAX;
use crate::clock;
use crate::keep::{self, Ordered};
use secondmelt_record::Record;
use secondmelt_record::facts::{Lot, Machine, Step};

/// A lot, as recorded.
#[derive(Debug, Default)]
pub(crate) struct LotFacts {
    pub(crate) material: String,
    pub(crate) form: &'static str,
    pub(crate) origin: &'static str,
    pub(crate) passes: Option<u64>,
    pub(crate) note: String,
}

/// A step, as recorded.
#[derive(Debug, Default)]
pub(crate) struct StepFacts {
    pub(crate) does: &'static str,
    pub(crate) machine: String,
    pub(crate) at: String,
    pub(crate) energy_kwh: Option<f64>,
}

/// A machine, as recorded.
#[derive(Debug, Default)]
pub(crate) struct MachineFacts {
    pub(crate) does: &'static str,
    pub(crate) nominal_mm: Option<f64>,
    pub(crate) tolerance_mm: Option<f64>,
    pub(crate) ovality_mm: Option<f64>,
    pub(crate) bore_mm: Option<f64>,
}

/// Lots, steps and machines in the order in which the stream first names them.
#[derive(Debug)]
pub(crate) struct Lab {
    pub(crate) lots: Ordered<String, Option<LotFacts>>,
    pub(crate) steps: Ordered<String, Option<StepFacts>>,
    pub(crate) machines: Ordered<String, Option<MachineFacts>>,
}

impl Default for Lab {
    fn default() -> Self {
        Self {
            lots: Ordered::new(NAMES_MAX),
            steps: Ordered::new(NAMES_MAX),
            machines: Ordered::new(NAMES_MAX),
        }
    }
}

impl Lab {
    pub(super) fn take(&mut self, record: &Record<'_>) {
        match record {
            Record::Lot(lot) => set(&mut self.lots, &lot.lot, lot_facts(lot)),
            Record::Step(step) => set(&mut self.steps, &step.step, step_facts(step)),
            Record::Machine(m) => set(&mut self.machines, &m.machine, machine_facts(m)),
            Record::Verdict(v) => {
                self.note(v.lot.as_deref(), v.step.as_deref(), v.machine.as_deref());
            }
            Record::DiameterSummary(d) => self.note(Some(&d.lot), None, None),
            Record::OutShare(o) => self.note(Some(&o.lot), None, Some(&o.machine)),
            Record::Excursion(e) => self.note(Some(&e.lot), None, Some(&e.machine)),
            Record::LotBalance(b) => self.note(Some(&b.lot), None, None),
            Record::MeltFlowResult(m) => self.note(Some(&m.lot), None, None),
            Record::StepBalance(b) => self.note(None, Some(&b.step), None),
            _ => {}
        }
    }

    /// Notes names that findings mention, so that they have a place even where no
    /// fact describes them.
    fn note(&mut self, lot: Option<&str>, step: Option<&str>, machine: Option<&str>) {
        if let Some(lot) = lot {
            self.lots.entry(&keep::name(lot));
        }
        if let Some(step) = step {
            self.steps.entry(&keep::name(step));
        }
        if let Some(machine) = machine {
            self.machines.entry(&keep::name(machine));
        }
    }
}

/// The first description stands: whether a later one contradicts it is for the
/// filters to say.
fn set<T>(map: &mut Ordered<String, Option<T>>, name: &str, facts: T) {
    if let Some(slot) = map.entry(&keep::name(name)) {
        slot.get_or_insert(facts);
    }
}

fn lot_facts(lot: &Lot<'_>) -> LotFacts {
    LotFacts {
        material: keep::name(&lot.material),
        form: lot.form.map_or("", |f| f.as_str()),
        origin: lot.origin.map_or("", |o| o.as_str()),
        passes: lot.passes.map(|n| n.0),
        note: lot.note.as_deref().map(keep::text).unwrap_or_default(),
    }
}

fn step_facts(step: &Step<'_>) -> StepFacts {
    StepFacts {
        does: step.does.as_str(),
        machine: step.machine.as_deref().map(keep::name).unwrap_or_default(),
        at: clock::maybe(step.at.as_ref()),
        energy_kwh: step.energy_kwh.map(|e| e.get()),
    }
}

fn machine_facts(machine: &Machine<'_>) -> MachineFacts {
    MachineFacts {
        does: machine.does.as_str(),
        nominal_mm: machine.nominal_mm.map(|x| x.get()),
        tolerance_mm: machine.tolerance_mm.map(|x| x.get()),
        ovality_mm: machine.ovality_mm.map(|x| x.get()),
        bore_mm: machine.bore_mm.map(|x| x.get()),
    }
}
