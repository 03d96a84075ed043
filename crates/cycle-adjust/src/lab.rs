//! What the stream said of lots and materials.

use crate::kelvin;
use crate::limits::Limits;
use secondmelt_plastics::cards;
use secondmelt_record::facts::{Form, Limit, Lot, Material, Origin};
use secondmelt_record::findings::{Decision, Verdict};
use secondmelt_record::units::limit_fault;
use secondmelt_record::{Line, Problem};
use std::collections::{BTreeMap, BTreeSet};

/// The check that says what is never melted, here and in the filters before.
pub(crate) const NEVER_MELTED: &str = "never-melted";

/// What is kept of a lot.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LotFact {
    pub(crate) material: String,
    pub(crate) passes: Option<u64>,
    pub(crate) virgin: bool,
    pub(crate) form: Option<Form>,
}

/// What the lab's own card says of a material.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct MaterialFact {
    pub(crate) melt_min_c: Option<f64>,
    pub(crate) melt_max_c: Option<f64>,
    activation_min_kj_mol: Option<f64>,
    activation_max_kj_mol: Option<f64>,
    /// Drying temperatures, in degrees Celsius.
    pub(crate) dry_c: Option<(f64, f64)>,
    /// What the lab's dryer leaves in it after any time, in per cent.
    pub(crate) dry_end_pct: Option<f64>,
    /// Usual drying times, in h.
    pub(crate) dry_h: Option<(f64, f64)>,
    /// Moisture above which it is not melted, in per cent.
    pub(crate) moisture_max_pct: Option<f64>,
    /// Whether it takes up enough water to need drying.
    pub(crate) takes_up_water: Option<bool>,
    /// Density of the solid, in g/cm3, and the range it may lie in: (low, at, high).
    pub(crate) density_g_cm3: Option<(f64, f64, f64)>,
}

impl MaterialFact {
    /// Range of the activation energy of flow, in kJ/mol; none where it is not a range.
    pub(crate) fn activation_kj_mol(self) -> Option<(f64, f64)> {
        let range = self.activation_min_kj_mol.zip(self.activation_max_kj_mol);
        range.filter(|(low, high)| low <= high)
    }
}

/// What the stream said.
#[derive(Debug, Default)]
pub(crate) struct Lab {
    lots: BTreeMap<String, LotFact>,
    materials: BTreeMap<String, MaterialFact>,
    pub(crate) limits: Limits,
    /// Lots that an earlier filter refused to have melted.
    refused: BTreeSet<String>,
}

impl Lab {
    /// Takes a lot; a problem where it contradicts an earlier one of the same name.
    pub(crate) fn lot(&mut self, lot: &Lot<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        let fact = LotFact {
            material: lot.material.to_string(),
            passes: lot.passes.map(|passes| passes.0),
            virgin: lot.origin == Some(Origin::Virgin),
            form: lot.form,
        };
        let first = self.lots.entry(lot.lot.to_string()).or_insert_with(|| fact.clone());
        (*first != fact).then(|| line.contradiction("lot", &lot.lot))
    }

    /// Takes a material; a problem where it contradicts an earlier one of the same name.
    pub(crate) fn material(
        &mut self,
        m: &Material<'_>,
        line: Line<'_>,
    ) -> Option<Problem<'static>> {
        if let Some(problem) = kelvin::in_material(m, line) {
            return Some(problem);
        }
        let one = |x: f64| (x, x);
        let fact = MaterialFact {
            melt_min_c: m.melt_min_c.map(Into::into),
            melt_max_c: m.melt_max_c.map(Into::into),
            activation_min_kj_mol: m.activation_min_kj_mol.map(Into::into),
            activation_max_kj_mol: m.activation_max_kj_mol.map(Into::into),
            dry_c: m.dry_c.map(f64::from).map(one),
            dry_h: m.dry_h.map(f64::from).map(one),
            dry_end_pct: m.dry_end_pct.map(Into::into),
            moisture_max_pct: m.moisture_max_pct.map(Into::into),
            takes_up_water: m.hygroscopic,
            density_g_cm3: m.density_g_cm3.map(|x| own_density(x.get())),
        };
        let first = *self.materials.entry(m.material.to_string()).or_insert(fact);
        (first != fact).then(|| line.contradiction("material", &m.material))
    }

    /// Takes a limit.
    pub(crate) fn limit(&mut self, limit: &Limit<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        limit_fault(limit, line).or_else(|| self.limits.take(limit, line))
    }

    pub(crate) fn lot_fact(&self, lot: &str) -> Option<&LotFact> {
        self.lots.get(lot)
    }

    /// Takes what an earlier filter decided.
    pub(crate) fn verdict(&mut self, verdict: &Verdict<'_>) {
        if verdict.check.as_str() == NEVER_MELTED
            && verdict.result == Decision::Fails
            && let Some(lot) = &verdict.lot
        {
            self.refused.insert(lot.to_string());
        }
    }

    /// Whether a lot is not to be melted, so that nothing is proposed for it.
    pub(crate) fn is_refused(&self, lot: &str) -> bool {
        self.refused.contains(lot)
    }

    /// Every material that some lot is of that was not refused, by name.
    pub(crate) fn materials(&self) -> impl Iterator<Item = &str> {
        let kept = self.lots.iter().filter(|(lot, _)| !self.refused.contains(*lot));
        let all: BTreeSet<_> = kept.map(|(_, fact)| fact.material.as_str()).collect();
        all.into_iter()
    }

    pub(crate) fn passes(&self, lot: &str) -> Option<u64> {
        self.lots.get(lot)?.passes
    }

    /// What is known of a material: the lab's own card, and for what that leaves out the card that
    /// comes with the program. None of a material of neither.
    pub(crate) fn material_fact(&self, material: &str) -> Option<MaterialFact> {
        let (own, usual) = (self.materials.get(material).copied(), cards::card(material));
        if own.is_none() && usual.is_none() {
            return None;
        }
        let own = own.unwrap_or_default();
        let window = usual.map(|card| (card.extrusion.min, card.extrusion.max));
        let energy = usual.and_then(|card| card.flow_activation.as_ref()?.range);
        // Half of one card and half of another is no range.
        let (own_window, own_energy) = (
            own.melt_min_c.or(own.melt_max_c).is_some(),
            own.activation_min_kj_mol.or(own.activation_max_kj_mol).is_some(),
        );
        Some(MaterialFact {
            melt_min_c: if own_window { own.melt_min_c } else { window.map(|ends| ends.0) },
            melt_max_c: if own_window { own.melt_max_c } else { window.map(|ends| ends.1) },
            activation_min_kj_mol: if own_energy {
                own.activation_min_kj_mol
            } else {
                energy.map(|ends| ends.0)
            },
            activation_max_kj_mol: if own_energy {
                own.activation_max_kj_mol
            } else {
                energy.map(|ends| ends.1)
            },
            dry_c: own.dry_c.or(usual.and_then(|card| card.drying.temperature_c.map(Into::into))),
            dry_h: own.dry_h.or(usual.and_then(|card| card.drying.time_h.map(Into::into))),
            dry_end_pct: own.dry_end_pct,
            moisture_max_pct: own.moisture_max_pct.or(usual.map(|c| c.drying.max_moisture_pct)),
            takes_up_water: own.takes_up_water.or(usual.map(cards::Card::takes_up_water)),
            density_g_cm3: density(own.density_g_cm3, usual.map(|card| &card.density_g_cm3)),
        })
    }
}

/// What a lab's own density may be off where nothing else is known of the polymer, as a share
/// (common practice, no source).
const OWN_DENSITY: f64 = 0.02;

fn own_density(at: f64) -> (f64, f64, f64) {
    (at * (1.0 - OWN_DENSITY), at, at * (1.0 + OWN_DENSITY))
}

/// The lab's own density within the range of the usual card, which it widens where it lies
/// outside; the middle of that range where the lab has none.
fn density(
    own: Option<(f64, f64, f64)>,
    usual: Option<&cards::Density>,
) -> Option<(f64, f64, f64)> {
    let Some(cards::Density { min, max, .. }) = usual else { return own };
    let at = own.map_or(f64::midpoint(*min, *max), |own| own.1);
    Some((min.min(at), at, max.max(at)))
}
