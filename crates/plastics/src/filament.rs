//! Filament: area, length, output, and the speeds that set its diameter.

use std::f64::consts::PI;

/// Area over the area of another diameter: what a printer that feeds by length puts out
/// against what it means to. Flow follows area.
#[must_use]
pub fn area_ratio(diameter_mm: f64, nominal_mm: f64) -> f64 {
    let ratio = diameter_mm / nominal_mm;
    ratio * ratio
}

/// The diameter, in mm, whose area is so many times that of the nominal one.
#[must_use]
pub fn diameter_of_area_ratio_mm(nominal_mm: f64, ratio: f64) -> f64 {
    nominal_mm * ratio.sqrt()
}

/// The puller speed, in m/min, that brings the diameter to its target while the output
/// stays: mass continuity, v2 = v1 (d1 / target)^2.
#[must_use]
pub fn puller_speed_m_min(speed_m_min: f64, diameter_mm: f64, target_mm: f64) -> f64 {
    speed_m_min * area_ratio(diameter_mm, target_mm)
}

/// The factor on the screw speed that does the same while the puller speed stays. Output
/// is taken as proportional to screw speed, which holds over a small range only.
#[must_use]
pub fn screw_factor(diameter_mm: f64, target_mm: f64) -> f64 {
    area_ratio(target_mm, diameter_mm)
}

/// Length of one kilogram of filament, in m.
#[must_use]
pub fn length_per_kg_m(density_g_cm3: f64, diameter_mm: f64) -> f64 {
    1000.0 / grams_per_metre(density_g_cm3, diameter_mm)
}

/// Output, in g/min, at a line speed. The density is that of the cooled solid.
#[must_use]
pub fn mass_rate_g_min(density_g_cm3: f64, diameter_mm: f64, speed_m_min: f64) -> f64 {
    grams_per_metre(density_g_cm3, diameter_mm) * speed_m_min
}

/// Line speed, in m/min, at an output in kg/h.
#[must_use]
pub fn speed_of_output_m_min(density_g_cm3: f64, diameter_mm: f64, output_kg_h: f64) -> f64 {
    output_kg_h * 1000.0 / 60.0 / grams_per_metre(density_g_cm3, diameter_mm)
}

/// Mass of a metre, in g: one mm2 by one m is one cm3.
fn grams_per_metre(density_g_cm3: f64, diameter_mm: f64) -> f64 {
    density_g_cm3 * PI / 4.0 * diameter_mm * diameter_mm
}

/// Area of the die over that of the filament: how far the melt is drawn down. The change of
/// density on cooling is left out. With die swell, give the diameter of the swollen strand.
#[must_use]
pub fn draw_down(die_mm: f64, filament_mm: f64) -> f64 {
    area_ratio(die_mm, filament_mm)
}

/// Speed of the melt in the die, in m/min, when the line runs at a speed: what goes through
/// the die goes into the filament, by mass.
#[must_use]
pub fn melt_speed_m_min(
    line_speed_m_min: f64,
    filament_mm: f64,
    die_mm: f64,
    solid_over_melt_density: f64,
) -> f64 {
    line_speed_m_min * area_ratio(filament_mm, die_mm) * solid_over_melt_density
}

/// Output, in kg/h, at a line speed. The density is that of the cooled solid.
#[must_use]
pub fn output_kg_h(density_g_cm3: f64, diameter_mm: f64, speed_m_min: f64) -> f64 {
    mass_rate_g_min(density_g_cm3, diameter_mm, speed_m_min) * 60.0 / 1000.0
}
