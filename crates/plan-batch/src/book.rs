//! What the stream said.

use secondmelt_plastics::cards;
use secondmelt_record::facts::{Does, Form, Origin};
use secondmelt_record::findings::{Decision, Proof};
use secondmelt_record::spools::{ByMachine, Spools};
use std::collections::{BTreeMap, BTreeSet};

/// What is kept of a lot.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LotFact {
    pub(crate) material: String,
    pub(crate) form: Option<Form>,
    pub(crate) origin: Option<Origin>,
}

/// What is kept of a machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct MachineFact {
    pub(crate) does: Does,
    pub(crate) nominal_mm: Option<f64>,
    pub(crate) throughput_kg_h: Option<f64>,
    pub(crate) throughput_max_kg_h: Option<f64>,
    pub(crate) load_kg: Option<f64>,
}

/// What is kept of a step.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct StepFact {
    pub(crate) does: Does,
    pub(crate) machine: Option<String>,
    /// Milliseconds since 1970.
    pub(crate) at_ms: Option<i64>,
    pub(crate) line_speed_m_min: Option<f64>,
    pub(crate) throughput_kg_h: Option<f64>,
}

/// What is kept of the lab's own card of a material.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct MaterialFact {
    pub(crate) density_g_cm3: Option<f64>,
    pub(crate) dry_h: Option<f64>,
}

/// The balance of a step.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Balance {
    pub(crate) does: Option<Does>,
    pub(crate) in_g: f64,
    pub(crate) out_g: f64,
    /// What was weighed of it as a loss.
    pub(crate) lost_g: f64,
    /// Whether its yield is told to be nought.
    pub(crate) nil: bool,
    /// Whether some of it was not weighed.
    pub(crate) not_weighed: bool,
    /// Good product over what went in; none where that is not known, and where nothing came out.
    pub(crate) share: Option<f64>,
    /// Standard uncertainty of the share; nought where it is not known.
    pub(crate) u_share: f64,
}

impl Balance {
    /// Whether it gave more than it took, by more than twice the uncertainty.
    pub(crate) fn is_above(&self) -> bool {
        self.share.is_some_and(|share| share - 2.0 * self.u_share > 1.0)
    }

    /// Whether nothing came out of what went in: most of it was weighed as a loss. A step of which nothing
    /// else is weighed yet may still be running.
    pub(crate) fn is_lost(&self) -> bool {
        let none = self.share.is_none() && self.in_g > 0.0 && self.out_g <= 0.0;
        none && !self.not_weighed && (self.nil || 2.0 * self.lost_g >= self.in_g)
    }

    /// Whether it is not yet known what came out.
    pub(crate) fn is_open(&self) -> bool {
        self.share.is_none() && !self.is_lost()
    }

    /// The share, where it tells of the yield to come.
    pub(crate) fn usable(&self) -> Option<f64> {
        self.share.filter(|_| !self.is_above())
    }
}

/// What was made and used of a lot, in g.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Held {
    pub(crate) made_g: f64,
    pub(crate) used_g: f64,
    pub(crate) stock_g: Option<f64>,
    /// Whether it moved after its stock was weighed.
    pub(crate) moved: bool,
    /// Whether some of what went in or out of it was not weighed.
    pub(crate) not_weighed: bool,
}

/// A kept piece.
#[derive(Debug, Clone)]
pub(crate) struct Piece {
    pub(crate) lot: String,
    pub(crate) machine: String,
    pub(crate) from_m: f64,
    pub(crate) to_m: f64,
    pub(crate) length_m: f64,
}

impl Piece {
    /// Whether another one shares some of the same filament; where they only touch, they do not.
    pub(crate) fn overlaps(&self, other: &Self) -> bool {
        let ends = |piece: &Self| (piece.from_m.min(piece.to_m), piece.from_m.max(piece.to_m));
        let ((a, b), (c, d)) = (ends(self), ends(other));
        self.lot == other.lot && self.machine == other.machine && a.max(c) + 1e-9 < b.min(d)
    }
}

/// What trials say of a step.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Evidence {
    pub(crate) does: Does,
    pub(crate) machine: Option<String>,
    pub(crate) material: Option<String>,
    pub(crate) complexity: Option<u64>,
    pub(crate) asked_pct: f64,
    pub(crate) standing: Proof,
    pub(crate) trials: u64,
    pub(crate) good: u64,
    pub(crate) now_trials: u64,
    pub(crate) now_good: u64,
    pub(crate) shown_pct: f64,
    pub(crate) confidence: f64,
}

impl Evidence {
    /// Whether it is about the same as another.
    pub(crate) fn is_of_same(&self, other: &Self) -> bool {
        let about = |one: &Self| (one.does, one.complexity);
        about(self) == about(other)
            && self.machine == other.machine
            && self.material == other.material
    }
}

/// That trials are not worth going on with.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Stop {
    pub(crate) machine: Option<String>,
    pub(crate) material: Option<String>,
    /// The run that said so.
    pub(crate) by: Option<String>,
    pub(crate) why: String,
}

/// What the stream said.
#[derive(Debug, Default)]
pub(crate) struct Book {
    /// Whether kept pieces are of any use.
    pub(crate) keeps_pieces: bool,
    pub(crate) lots: BTreeMap<String, LotFact>,
    pub(crate) machines: BTreeMap<String, MachineFact>,
    pub(crate) materials: BTreeMap<String, MaterialFact>,
    pub(crate) steps: BTreeMap<String, StepFact>,
    /// Targets by quantity and, where they are for one, material.
    pub(crate) targets: BTreeMap<(String, Option<String>), f64>,
    /// Lots that each step took in.
    pub(crate) took: BTreeMap<String, BTreeSet<String>>,
    /// Lots that each step put out, and whether printers can use them.
    pub(crate) spools: Spools,
    pub(crate) balances: BTreeMap<String, Balance>,
    /// Whether the balance of a step closes.
    pub(crate) closes: BTreeMap<String, Decision>,
    /// Steps with a weighing that is most likely wrong.
    pub(crate) suspected: BTreeSet<String>,
    pub(crate) held: BTreeMap<String, Held>,
    /// Diameter by area of each lot, in mm.
    pub(crate) diameters: BTreeMap<String, f64>,
    /// Share of a lot's length that is kept for a printer.
    pub(crate) kept: BTreeMap<(String, String), f64>,
    pub(crate) pieces: Vec<Piece>,
    /// Largest repeatability of a melt-flow test of a material, in per cent.
    pub(crate) repeatability: BTreeMap<String, f64>,
    /// Passes left, by material and lot.
    pub(crate) passes_left: BTreeMap<(String, String), u64>,
    pub(crate) evidence: Vec<Evidence>,
    /// What other checks decided, by lot and check.
    pub(crate) checks: BTreeMap<String, BTreeMap<String, ByMachine>>,
    /// Whether the reconciliation of all weighings fails.
    pub(crate) reconciliation_fails: bool,
    /// Failed verdicts that trials are not worth going on with.
    pub(crate) stops: Vec<Stop>,
}

impl Book {
    /// Whether a step is of a material: no lot of it is known to be of another.
    pub(crate) fn is_of(&self, step: &str, material: Option<&str>) -> bool {
        let Some(material) = material else { return true };
        // What came out tells more than what was added.
        let facts = |lots: Option<&BTreeSet<String>>| -> Vec<&LotFact> {
            lots.into_iter().flatten().filter_map(|lot| self.lots.get(lot)).collect()
        };
        let (took, gave) = (self.took.get(step), self.spools.gave(step));
        let known = Some(facts(gave)).filter(|known| !known.is_empty());
        let known = known.unwrap_or_else(|| facts(took));
        // Of several materials it may be any.
        if known.is_empty() && (took.is_some() || gave.is_some()) && self.has_several_materials() {
            return false;
        }
        known.iter().all(|lot| lot.material == material)
    }

    fn has_several_materials(&self) -> bool {
        let mut materials = self.lots.values().map(|lot| &lot.material);
        let first = materials.next();
        materials.any(|other| Some(other) != first)
    }

    /// Materials of all lots.
    pub(crate) fn materials_known(&self) -> BTreeSet<&str> {
        self.lots.values().map(|lot| lot.material.as_str()).collect()
    }

    /// A target, for a material where there is one for it.
    pub(crate) fn target(&self, what: &str, material: Option<&str>) -> Option<f64> {
        let of = |material: Option<&str>| {
            self.targets.get(&(what.to_owned(), material.map(str::to_owned))).copied()
        };
        material.and_then(|material| of(Some(material))).or_else(|| of(None))
    }

    /// Whether the weighings of a lot contradict one another.
    pub(crate) fn contradicts_itself(&self, lot: &str) -> bool {
        let balance = self.checks.get(lot).and_then(|checks| checks.get("lot-balance"));
        balance.and_then(ByMachine::best) == Some(Decision::Fails)
    }

    /// Whether a lot is never to be melted.
    pub(crate) fn is_never_melted(&self, lot: &str) -> bool {
        let never = self.checks.get(lot).and_then(|checks| checks.get("never-melted"));
        never.is_some_and(|never| never.any(Decision::Fails))
    }

    /// Checks of a lot that fail, for a machine or for every one.
    pub(crate) fn failed(&self, lot: &str, machine: Option<&str>) -> Vec<String> {
        let fails = |judged: &ByMachine| {
            judged.of(machine).or_else(|| judged.best()) == Some(Decision::Fails)
        };
        let checks = self.checks.get(lot).into_iter().flatten();
        checks.filter(|(_, judged)| fails(judged)).map(|(check, _)| check.clone()).collect()
    }

    /// Whether any weighing of what went in or out of a step is known.
    pub(crate) fn has_weighings(&self) -> bool {
        !self.took.is_empty() || !self.spools.lots().is_empty()
    }

    /// What a step does, by its own record or by its balance.
    pub(crate) fn does(&self, step: &str) -> Option<Does> {
        let by_balance = || self.balances.get(step).and_then(|balance| balance.does);
        self.steps.get(step).map(|fact| fact.does).or_else(by_balance)
    }

    /// All steps that are known in any way.
    pub(crate) fn step_names(&self) -> BTreeSet<&str> {
        self.steps.keys().chain(self.balances.keys()).map(String::as_str).collect()
    }

    /// When a step was, in milliseconds since 1970.
    pub(crate) fn at_ms(&self, step: &str) -> Option<i64> {
        self.steps.get(step)?.at_ms
    }

    /// Density of the solid, in g/cm3: by the lab's own card, else the middle of the card that comes
    /// with the program.
    pub(crate) fn density(&self, material: Option<&str>) -> Option<f64> {
        let material = material?;
        let own = self.materials.get(material).and_then(|card| card.density_g_cm3);
        let usual = || {
            cards::card(material)
                .map(|card| f64::midpoint(card.density_g_cm3.min, card.density_g_cm3.max))
        };
        own.or_else(usual)
    }

    /// Drying time, in h, and whose: by the lab's own card, else the longest usual one.
    pub(crate) fn drying_h(&self, material: Option<&str>) -> Option<(f64, &'static str)> {
        let material = material?;
        let own = self.materials.get(material).and_then(|card| card.dry_h);
        let own = own.filter(|h| *h > 0.0).map(|h| (h, "the lab's card of the material"));
        let usual = || {
            let [_, longest] = cards::card(material)?.drying.time_h?;
            Some((longest, "the longest usual drying time of the material"))
        };
        own.or_else(usual)
    }

    /// Whether the balance of a step is known to close.
    pub(crate) fn is_closed(&self, step: &str) -> bool {
        self.closes.get(step) == Some(&Decision::Conforms) && !self.suspected.contains(step)
    }

    /// Whether nothing speaks against the balance of a step.
    pub(crate) fn is_sound(&self, step: &str) -> bool {
        self.closes.get(step) != Some(&Decision::Fails) && !self.suspected.contains(step)
    }
}
