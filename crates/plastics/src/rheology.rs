//! Stress, shear rate and viscosity in the die of a melt-flow tester (ISO 1133-1).
//!
//! All are apparent values at the wall of the die: the loss of pressure at its entrance is
//! not taken off, and the melt is taken as one whose viscosity does not depend on the rate
//! (see [`rate_correction`]). They compare lots; they do not predict an extruder, whose
//! rates are far higher.

use crate::melt_flow::AREA_CM2;
use std::f64::consts::PI;

/// Standard acceleration of free fall, in m/s2 (exact). Loads are given as masses.
pub const G_M_S2: f64 = 9.806_65;

/// The die of a melt-flow tester.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Die {
    /// Bore, in mm.
    pub diameter_mm: f64,
    /// Length, in mm.
    pub length_mm: f64,
}

/// The standard die: bore 2.095 mm, length 8.000 mm (ISO 1133-1; from memory).
pub const STANDARD_DIE: Die = Die { diameter_mm: 2.095, length_mm: 8.0 };

/// Shear stress at the wall, in Pa: the force of the load over the area of piston and bore,
/// times bore over four times length.
#[must_use]
pub fn wall_stress_pa(load_kg: f64, die: Die, area_cm2: f64) -> f64 {
    let pressure_pa = load_kg * G_M_S2 / (area_cm2 * 1e-4);
    pressure_pa * die.diameter_mm / (4.0 * die.length_mm)
}

/// Shear stress at the wall of the standard die with the standard area, in Pa.
#[must_use]
pub fn standard_wall_stress_pa(load_kg: f64) -> f64 {
    wall_stress_pa(load_kg, STANDARD_DIE, AREA_CM2)
}

/// Shear rate at the wall, in 1/s, of a volume-flow rate: 4 Q / (pi R^3).
#[must_use]
pub fn shear_rate_per_s(mvr_cm3_10min: f64, die_diameter_mm: f64) -> f64 {
    let flow_mm3_s = mvr_cm3_10min * 1000.0 / 600.0;
    let radius_mm = die_diameter_mm / 2.0;
    4.0 * flow_mm3_s / (PI * radius_mm.powi(3))
}

/// Viscosity, in Pa s: stress over rate.
#[must_use]
pub fn viscosity_pa_s(stress_pa: f64, shear_rate_per_s: f64) -> f64 {
    stress_pa / shear_rate_per_s
}

/// What the apparent rate is multiplied by to get that of a melt with the power-law index
/// `n`: (3 n + 1) / (4 n) (Weissenberg and Rabinowitsch).
#[must_use]
pub fn rate_correction(n: f64) -> f64 {
    (3.0 * n + 1.0) / (4.0 * n)
}

/// The power-law index from two loads on one melt at one temperature: ln(ratio of loads) over
/// ln(ratio of flow rates). None where the rates do not differ the way the loads do.
#[must_use]
pub fn power_law_index(low: (f64, f64), high: (f64, f64)) -> Option<f64> {
    let ((load_low, mfr_low), (load_high, mfr_high)) = (low, high);
    let n = (load_high / load_low).ln() / (mfr_high / mfr_low).ln();
    (n.is_finite() && n > 0.0).then_some(n)
}

/// The flow rate at another load. An extrapolation: a measured value wins.
#[must_use]
pub fn mfr_at_load(mfr_g_10min: f64, from_kg: f64, to_kg: f64, n: f64) -> f64 {
    mfr_g_10min * (to_kg / from_kg).powf(1.0 / n)
}
