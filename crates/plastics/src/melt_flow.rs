//! Melt flow from cut-offs and piston travel, by ISO 1133-1.

/// Seconds in the ten minutes that rates are stated over.
const TEN_MINUTES_S: f64 = 600.0;

/// The standard area of piston and bore, in cm2: the mean of the two, rounded (ISO 1133-1).
pub const AREA_CM2: f64 = 0.711;

/// cm2 times seconds in ten minutes, as ISO 1133-1 rounds it: 427 where the rounded area
/// gives 426.6.
pub const VOLUME_FACTOR: f64 = 427.0;

/// A filling is discarded where its largest and smallest cut-off differ by more than
/// this, in per cent of their mean (ISO 1133-1).
pub const SPREAD_MAX_PCT: f64 = 15.0;

/// Melt mass-flow rate, in g/10 min, of a cut-off (ISO 1133-1: 600 m / t).
#[must_use]
pub fn mfr_g_10min(cut_g: f64, cut_s: f64) -> f64 {
    TEN_MINUTES_S * cut_g / cut_s
}

/// Melt volume-flow rate, in cm3/10 min, of a piston travel (ISO 1133-1: 427 l / t).
#[must_use]
pub fn mvr_cm3_10min(travel_cm: f64, time_s: f64) -> f64 {
    VOLUME_FACTOR * travel_cm / time_s
}

/// Density of the melt, in g/cm3, from its mass flow and its volume flow.
#[must_use]
pub fn melt_density_g_cm3(mfr_g_10min: f64, mvr_cm3_10min: f64) -> f64 {
    mfr_g_10min / mvr_cm3_10min
}

/// Density of the melt, in g/cm3, from the mass that a piston travel pressed out.
#[must_use]
pub fn melt_density_of_travel_g_cm3(mass_g: f64, travel_cm: f64) -> f64 {
    mass_g / (AREA_CM2 * travel_cm)
}

/// Largest minus smallest, in per cent of the mean. None for no values, or a mean of zero.
#[must_use]
pub fn spread_pct(values: &[f64]) -> Option<f64> {
    let largest = values.iter().copied().reduce(f64::max)?;
    let smallest = values.iter().copied().reduce(f64::min)?;
    let mean = mean(values)?;
    (mean != 0.0).then(|| 100.0 * (largest - smallest) / mean)
}

/// Arithmetic mean. None for no values.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "a filling has a handful of cut-offs")]
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// Standard deviation with divisor n - 1. None for fewer than two values.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "a filling has a handful of cut-offs")]
pub fn standard_deviation(values: &[f64]) -> Option<f64> {
    let mean = mean(values).filter(|_| values.len() > 1)?;
    let squares: f64 = values.iter().map(|x| (x - mean) * (x - mean)).sum();
    Some((squares / (values.len() - 1) as f64).sqrt())
}

/// Factor from the standard deviation within one laboratory to the repeatability limit, which
/// two results differ by less than in 95 of 100 cases: 1.96 times the root of 2, as rounded
/// in ISO 5725 practice.
pub const REPEATABILITY_FACTOR: f64 = 2.8;

/// The same, before it is rounded to one figure after the point: 1.96 times the root of 2.
pub const REPEATABILITY_FACTOR_EXACT: f64 = 1.96 * std::f64::consts::SQRT_2;
