//! Flow and melt temperature, by an activation energy (Arrhenius).
//!
//! Melt-flow tests are made at constant stress, so the energy here is the one at constant
//! stress. The one at constant shear rate is smaller by the factor of the power-law index.
//! Styrenics and other amorphous melts follow it over a small range only.

/// Molar gas constant, in J/(mol K) (exact since 2019: SI Brochure, 9th edition).
pub const GAS_CONSTANT_J_MOL_K: f64 = 8.314_462_618_153_24;
/// 0 degrees Celsius, in K (exact).
const ZERO_C_K: f64 = 273.15;

/// What a flow rate is multiplied by when the melt goes from one temperature to another, both in
/// degrees Celsius: exp(E/R (1/T1 - 1/T2)) with the temperatures in K.
#[must_use]
pub fn flow_factor(activation_kj_mol: f64, from_c: f64, to_c: f64) -> f64 {
    let (from_k, to_k) = (from_c + ZERO_C_K, to_c + ZERO_C_K);
    let inverse = (to_k - from_k) / (from_k * to_k);
    (1000.0 * activation_kj_mol / GAS_CONSTANT_J_MOL_K * inverse).exp()
}

/// The temperature, in degrees Celsius, at which the flow rate is `factor` times that at
/// `from_c`. None where no temperature does that.
#[must_use]
pub fn temperature_of_factor_c(activation_kj_mol: f64, from_c: f64, factor: f64) -> Option<f64> {
    let per_k = GAS_CONSTANT_J_MOL_K / (1000.0 * activation_kj_mol);
    let inverse_k = 1.0 / (from_c + ZERO_C_K) - factor.ln() * per_k;
    let to_c = 1.0 / inverse_k - ZERO_C_K;
    (inverse_k > 0.0 && to_c.is_finite()).then_some(to_c)
}

/// The activation energy, in kJ/mol, that two flow rates at one load show, each with its
/// temperature in degrees Celsius. None for one temperature.
#[must_use]
pub fn activation_kj_mol(first: (f64, f64), second: (f64, f64)) -> Option<f64> {
    let per_log = activation_of_log_kj_mol(first.1, second.1)?;
    let energy = per_log * (second.0 / first.0).ln();
    energy.is_finite().then_some(energy)
}

/// kJ/mol for each unit of the logarithm of the ratio of flow rates between two
/// temperatures, in degrees Celsius. None where they are the same.
#[must_use]
pub fn activation_of_log_kj_mol(from_c: f64, to_c: f64) -> Option<f64> {
    let (from_k, to_k) = (from_c + ZERO_C_K, to_c + ZERO_C_K);
    let energy = GAS_CONSTANT_J_MOL_K / 1000.0 * from_k * to_k / (to_k - from_k);
    energy.is_finite().then_some(energy)
}
