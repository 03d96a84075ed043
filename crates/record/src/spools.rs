//! Which lots each step put out, and whether printers can use them.

use crate::facts::{Role, Weighing};
use crate::findings::{Decision, Verdict};
use std::collections::{BTreeMap, BTreeSet};

/// The check of a lot's diameter against a printer.
pub const DIAMETER_CHECK: &str = "diameter-tolerance";

/// The latest decision of a check on a lot, by machine.
#[derive(Debug, Clone, Default)]
pub struct ByMachine(BTreeMap<Option<String>, Decision>);

impl ByMachine {
    /// Takes a verdict, in the place of what was decided for that machine before.
    pub fn take(&mut self, verdict: &Verdict<'_>) {
        self.0.insert(verdict.machine.as_ref().map(ToString::to_string), verdict.result);
    }

    /// The decision for a machine. None where that was not judged.
    #[must_use]
    pub fn of(&self, machine: Option<&str>) -> Option<Decision> {
        self.0.get(&machine.map(str::to_owned)).copied()
    }

    /// The best decision of any machine. None where nothing was judged.
    #[must_use]
    pub fn best(&self) -> Option<Decision> {
        let best = [Decision::Conforms, Decision::Undecided, Decision::Fails];
        best.into_iter().find(|result| self.any(*result))
    }

    /// Whether that was decided for any machine.
    #[must_use]
    pub fn any(&self, result: Decision) -> bool {
        self.0.values().any(|decision| *decision == result)
    }
}

/// Lots by the step that put them out, and what was decided of them.
#[derive(Debug, Default)]
pub struct Spools {
    gave: BTreeMap<String, BTreeSet<String>>,
    /// The latest decision of each printer on a lot.
    judged: BTreeMap<String, ByMachine>,
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
        self.judged.entry(lot.to_string()).or_default().take(verdict);
    }

    /// Lots that a step put out.
    #[must_use]
    pub fn gave(&self, step: &str) -> Option<&BTreeSet<String>> {
        self.gave.get(step)
    }

    /// All lots that steps put out.
    #[must_use]
    pub fn lots(&self) -> BTreeSet<&String> {
        self.gave.values().flatten().collect()
    }

    /// Whether a printer takes a lot; without a printer, whether any does. None where that was not
    /// judged.
    #[must_use]
    pub fn lot(&self, lot: &str, printer: Option<&str>) -> Option<Decision> {
        let judged = self.judged.get(lot)?;
        if printer.is_some() { judged.of(printer) } else { judged.best() }
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
