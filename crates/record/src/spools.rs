//! Which lots each step put out, and whether printers can use them.

use crate::facts::{Role, Weighing};
use crate::findings::{Decision, Verdict};
use std::collections::{BTreeMap, BTreeSet};

/// The check of a lot's diameter against a printer.
pub const DIAMETER_CHECK: &str = "diameter-tolerance";

/// Lots by the step that put them out, and what was decided of them.
#[derive(Debug, Default)]
pub struct Spools {
    gave: BTreeMap<String, BTreeSet<String>>,
    /// The latest decision of each printer on a lot.
    judged: BTreeMap<String, BTreeMap<Option<String>, Decision>>,
}

impl Spools {
    /// Takes which lot a step put out; other weighings are of no consequence.
    pub fn weighing(&mut self, weighing: &Weighing<'_>) {
        if weighing.role == Role::Out {
            let gave = self.gave.entry(weighing.step.to_string()).or_default();
            gave.insert(weighing.lot.to_string());
        }
    }

    /// Takes whether a printer can use a lot, in the place of what was decided before; other verdicts
    /// are of no consequence.
    pub fn verdict(&mut self, verdict: &Verdict<'_>) {
        let about = verdict.lot.as_ref().filter(|_| verdict.check.as_str() == DIAMETER_CHECK);
        let Some(lot) = about else { return };
        let machine = verdict.machine.as_ref().map(ToString::to_string);
        self.judged.entry(lot.to_string()).or_default().insert(machine, verdict.result);
    }

    /// Lots that a step put out.
    #[must_use]
    pub fn gave(&self, step: &str) -> Option<&BTreeSet<String>> {
        self.gave.get(step)
    }

    /// Whether a printer takes a lot; without a printer, whether any does. None where that was not
    /// judged.
    #[must_use]
    pub fn lot(&self, lot: &str, printer: Option<&str>) -> Option<Decision> {
        let judged = self.judged.get(lot)?;
        if let Some(printer) = printer {
            return judged.get(&Some(printer.to_owned())).copied();
        }
        let any = |result| judged.values().any(|decision| *decision == result);
        Some(match (any(Decision::Conforms), any(Decision::Undecided)) {
            (true, _) => Decision::Conforms,
            (false, true) => Decision::Undecided,
            (false, false) => Decision::Fails,
        })
    }

    /// Whether each lot of a step that was judged is taken by a printer, or by the one that is named;
    /// undecided where none is refused but one is undecided. None where no lot was judged.
    #[must_use]
    pub fn step(&self, step: &str, printer: Option<&str>) -> Option<Decision> {
        let judged: Vec<Decision> =
            self.gave(step)?.iter().filter_map(|lot| self.lot(lot, printer)).collect();
        let any = |result| judged.contains(&result);
        match (any(Decision::Fails), any(Decision::Undecided)) {
            _ if judged.is_empty() => None,
            (true, _) => Some(Decision::Fails),
            (false, true) => Some(Decision::Undecided),
            (false, false) => Some(Decision::Conforms),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Name;

    fn judged(spools: &mut Spools, lot: &'static str, machine: &'static str, result: Decision) {
        let (check, lot, machine) =
            (Name::from(DIAMETER_CHECK), Some(Name::from(lot)), Some(Name::from(machine)));
        spools.verdict(&Verdict { check, lot, machine, result, ..Verdict::default() });
    }

    #[test]
    fn the_latest_decision_counts_and_each_spool_needs_a_printer() {
        let mut spools = Spools::default();
        let gave = ["a", "b"].map(str::to_owned);
        spools.gave.insert("e".to_owned(), BTreeSet::from(gave));
        assert_eq!(spools.step("e", None), None);
        judged(&mut spools, "a", "P", Decision::Conforms);
        judged(&mut spools, "b", "P", Decision::Fails);
        assert_eq!(spools.step("e", None), Some(Decision::Fails));
        judged(&mut spools, "b", "Q", Decision::Conforms);
        assert_eq!(spools.step("e", None), Some(Decision::Conforms));
        assert_eq!(spools.step("e", Some("P")), Some(Decision::Fails));
        judged(&mut spools, "a", "P", Decision::Undecided);
        assert_eq!(spools.step("e", None), Some(Decision::Undecided));
        assert_eq!(spools.step("e", Some("R")), None);
    }
}
