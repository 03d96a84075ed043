//! The activation energy of flow, from a lab's own tests at several temperatures.

use crate::lab::Lab;
use crate::melt::Melts;
use crate::series::SCATTERS;
use secondmelt_plastics::temperature_shift::GAS_CONSTANT_J_MOL_K;
use secondmelt_quality::mean_interval::CONFIDENCE;
use secondmelt_quality::regression::common_slope::{CommonSlope, Point};
use secondmelt_record::findings::FlowActivation;
use secondmelt_record::{Celsius, Count, Name, Number, Positive};
use std::collections::{BTreeMap, BTreeSet};

/// 0 degrees Celsius, in K.
const ZERO_C_K: f64 = 273.15;

/// An activation energy that a lab has measured, in kJ/mol.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Activation<'a> {
    pub(crate) material: &'a str,
    load_kg: f64,
    lots: usize,
    freedom: f64,
    test_c: (f64, f64),
    /// The energy and the ends of its interval.
    pub(crate) kj_mol: (f64, f64, f64),
}

/// Lot, temperature in degrees Celsius and flow rate of a filling.
type Test<'a> = (&'a str, f64, f64);

/// The energies, by material and load: one slope of the logarithms over -1/(R T) for all
/// lots, each filling a point. None for a material whose lots were not tested at two
/// temperatures each, or too few times for an interval.
pub(crate) fn activations<'a>(melts: &'a Melts, lab: &'a Lab) -> Vec<Activation<'a>> {
    let mut tests: BTreeMap<(&str, u64), Vec<Test<'_>>> = BTreeMap::new();
    for filling in melts.fillings().filter(|filling| !filling.is_discarded()) {
        let Some(fact) = lab.lot_fact(filling.lot()) else { continue };
        let Some(mfr) = filling.mfr_g_10min().filter(|mfr| *mfr > 0.0) else { continue };
        let key = (fact.material.as_str(), filling.load_kg().to_bits());
        tests.entry(key).or_default().push((filling.lot(), filling.temp_c(), mfr));
    }
    tests.into_iter().filter_map(|((material, load), tests)| of(material, load, tests)).collect()
}

fn of<'a>(material: &'a str, load: u64, mut tests: Vec<Test<'a>>) -> Option<Activation<'a>> {
    // Only lots that were tested at two temperatures say anything.
    let all = tests.clone();
    tests.retain(|(lot, temp_c, _)| all.iter().any(|(l, t, _)| l == lot && t != temp_c));
    let lots: BTreeSet<_> = tests.iter().map(|(lot, ..)| *lot).collect();
    let family = |lot: &str| lots.iter().position(|known| *known == lot).unwrap_or_default();
    let points: Vec<_> = tests
        .iter()
        .map(|(lot, temp_c, mfr)| {
            let x = -1000.0 / (GAS_CONSTANT_J_MOL_K * (temp_c + ZERO_C_K));
            Point { family: family(lot), x, y: mfr.ln(), weight: 1.0 }
        })
        .collect();
    let line = CommonSlope::fit(&points).filter(|line| line.variance() > SCATTERS)?;
    let (low, high) = line.slope_interval(CONFIDENCE)?;
    let temps = || tests.iter().map(|(_, temp_c, _)| *temp_c);
    Some(Activation {
        material,
        load_kg: f64::from_bits(load),
        lots: lots.len(),
        freedom: line.freedom,
        test_c: (temps().reduce(f64::min)?, temps().reduce(f64::max)?),
        kj_mol: (line.slope, low, high),
    })
}

impl Activation<'_> {
    /// Whether it is known well enough to be used: flow that grows with temperature for sure.
    pub(crate) fn is_usable(&self) -> bool {
        self.kj_mol.1 > 0.0
    }

    /// How far its load is from another, in logarithms.
    pub(crate) fn load_apart(&self, load_kg: f64) -> f64 {
        (self.load_kg / load_kg).ln().abs()
    }

    /// It as a record.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count")]
    pub(crate) fn finding(&self) -> Option<FlowActivation<'_>> {
        Some(FlowActivation {
            material: Name::from(self.material),
            load_kg: Positive::new(self.load_kg)?,
            lots: Count::from(self.lots),
            freedom: Count(self.freedom as u64),
            from_c: Celsius::new(self.test_c.0)?,
            to_c: Celsius::new(self.test_c.1)?,
            energy_kj_mol: Number::new(self.kj_mol.0)?,
            low_kj_mol: Number::new(self.kj_mol.1)?,
            high_kj_mol: Number::new(self.kj_mol.2)?,
            ..FlowActivation::default()
        })
    }
}
