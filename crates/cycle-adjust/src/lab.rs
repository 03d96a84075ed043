//! What the stream said of lots, materials and limits.

use secondmelt_plastics::cards;
use secondmelt_record::facts::{Limit, Lot, Material, Origin};
use secondmelt_record::{Line, Problem};
use std::collections::BTreeMap;

/// The quantity that limits of the melt mass-flow rate name.
pub(crate) const MFR: &str = "mfr_g_10min";

/// What is kept of a lot.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LotFact {
    pub(crate) material: String,
    pub(crate) passes: Option<u64>,
    pub(crate) virgin: bool,
}

/// What the lab's own card says of a material.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct MaterialFact {
    pub(crate) melt_min_c: Option<f64>,
    pub(crate) melt_max_c: Option<f64>,
    activation_min_kj_mol: Option<f64>,
    activation_max_kj_mol: Option<f64>,
}

impl MaterialFact {
    /// Range of the activation energy of flow, in kJ/mol; none where it is not a range.
    pub(crate) fn activation_kj_mol(self) -> Option<(f64, f64)> {
        let range = self.activation_min_kj_mol.zip(self.activation_max_kj_mol);
        range.filter(|(low, high)| low <= high)
    }
}

/// Limits and target of the melt flow rate, in g/10 min.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct FlowLimit {
    pub(crate) min: Option<f64>,
    pub(crate) max: Option<f64>,
    pub(crate) target: Option<f64>,
}

/// What the stream said.
#[derive(Debug, Default)]
pub(crate) struct Lab {
    lots: BTreeMap<String, LotFact>,
    materials: BTreeMap<String, MaterialFact>,
    /// By lot and by material; neither for a limit of all.
    flow_limits: BTreeMap<(Option<String>, Option<String>), FlowLimit>,
}

impl Lab {
    /// Takes a lot; a problem where it contradicts an earlier one of the same name.
    pub(crate) fn lot(&mut self, lot: &Lot<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        let fact = LotFact {
            material: lot.material.to_string(),
            passes: lot.passes.map(|passes| passes.0),
            virgin: lot.origin == Some(Origin::Virgin),
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
        let fact = MaterialFact {
            melt_min_c: m.melt_min_c.map(Into::into),
            melt_max_c: m.melt_max_c.map(Into::into),
            activation_min_kj_mol: m.activation_min_kj_mol.map(Into::into),
            activation_max_kj_mol: m.activation_max_kj_mol.map(Into::into),
        };
        let first = *self.materials.entry(m.material.to_string()).or_insert(fact);
        (first != fact).then(|| line.contradiction("material", &m.material))
    }

    /// Takes a limit of the melt flow rate; others are no business of this filter.
    pub(crate) fn limit(&mut self, limit: &Limit<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        if limit.what.as_str() != MFR || limit.machine.is_some() {
            return None;
        }
        let above_zero =
            |x: Option<secondmelt_record::Number>| x.map(f64::from).filter(|x| *x > 0.0);
        let fact = FlowLimit {
            min: above_zero(limit.min),
            max: above_zero(limit.max),
            target: above_zero(limit.target),
        };
        let name = |x: &Option<secondmelt_record::Name<'_>>| x.as_ref().map(ToString::to_string);
        let first =
            *self.flow_limits.entry((name(&limit.lot), name(&limit.material))).or_insert(fact);
        (first != fact).then(|| line.contradiction("limit", MFR))
    }

    pub(crate) fn lot_fact(&self, lot: &str) -> Option<&LotFact> {
        self.lots.get(lot)
    }

    /// Every lot with its material, by name.
    pub(crate) fn lots(&self) -> impl Iterator<Item = (&str, &LotFact)> {
        self.lots.iter().map(|(lot, fact)| (lot.as_str(), fact))
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
        })
    }

    /// The limit that holds for a lot: its own, else that of its material, else that of all.
    pub(crate) fn flow_limit(&self, lot: &str, material: &str) -> Option<FlowLimit> {
        let (lot, material) = (Some(lot.to_owned()), Some(material.to_owned()));
        let keys = [(lot.clone(), material.clone()), (lot, None), (None, material), (None, None)];
        keys.iter().find_map(|key| self.flow_limits.get(key)).copied()
    }
}
