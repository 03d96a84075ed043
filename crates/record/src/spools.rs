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
    /// The best decision of any printer on a lot.
    best: BTreeMap<String, Decision>,
}

impl Spools {
    /// Takes which lot a step put out; other weighings are of no consequence.
    pub fn weighing(&mut self, weighing: &Weighing<'_>) {
        if weighing.role == Role::Out {
            let gave = self.gave.entry(weighing.step.to_string()).or_default();
            gave.insert(weighing.lot.to_string());
        }
    }

    /// Takes whether a printer can use a lot; other verdicts are of no consequence.
    pub fn verdict(&mut self, verdict: &Verdict<'_>) {
        let about = verdict.lot.as_ref().filter(|_| verdict.check.as_str() == DIAMETER_CHECK);
        let Some(lot) = about else { return };
        let best = self.best.entry(lot.to_string()).or_insert(verdict.result);
        *best = match (*best, verdict.result) {
            (Decision::Conforms, _) | (_, Decision::Conforms) => Decision::Conforms,
            (Decision::Undecided, _) | (_, Decision::Undecided) => Decision::Undecided,
            (Decision::Fails, Decision::Fails) => Decision::Fails,
        };
    }

    /// Lots that a step put out.
    #[must_use]
    pub fn gave(&self, step: &str) -> Option<&BTreeSet<String>> {
        self.gave.get(step)
    }

    /// Whether some printer takes every lot of a step that was judged. None where none was, or where
    /// none is refused but one is undecided.
    #[must_use]
    pub fn good(&self, step: &str) -> Option<bool> {
        let judged: Vec<Decision> =
            self.gave(step)?.iter().filter_map(|lot| self.best.get(lot).copied()).collect();
        if judged.contains(&Decision::Fails) {
            return Some(false);
        }
        (!judged.is_empty() && !judged.contains(&Decision::Undecided)).then_some(true)
    }
}
