//! Openings of test sieves.

/// Openings of the series R 40/3 of ISO 565, in mm, 125 mm to 45 µm (in part from memory). Every
/// second one, from the first, is of the principal series R 20/3.
pub const R40_3_MM: [f64; 47] = [
    125.0, 106.0, 90.0, 75.0, 63.0, 53.0, 45.0, 37.5, 31.5, 26.5, 22.4, 19.0, 16.0, 13.2, 11.2,
    9.5, 8.0, 6.7, 5.6, 4.75, 4.0, 3.35, 2.8, 2.36, 2.0, 1.7, 1.4, 1.18, 1.0, 0.85, 0.71, 0.6, 0.5,
    0.425, 0.355, 0.3, 0.25, 0.212, 0.18, 0.15, 0.125, 0.106, 0.09, 0.075, 0.063, 0.053, 0.045,
];

/// Numbers of meshes to the inch of ASTM E11 and their openings in mm (from memory).
pub const MESH: [(u32, f64); 13] = [
    (5, 4.0),
    (7, 2.8),
    (10, 2.0),
    (14, 1.4),
    (18, 1.0),
    (25, 0.71),
    (35, 0.5),
    (45, 0.355),
    (60, 0.25),
    (80, 0.18),
    (120, 0.125),
    (170, 0.09),
    (230, 0.063),
];

/// Openings of the principal series R 20/3, in mm, from the coarsest.
pub fn principal_mm() -> impl Iterator<Item = f64> {
    R40_3_MM.iter().copied().step_by(2)
}

/// Nominal ratio of neighbours in a Renard series, 10 to the `step` over `to_ten`: 20/3 is
/// (3, 20).
#[must_use]
pub fn ratio(step: f64, to_ten: f64) -> f64 {
    libm::exp10(step / to_ten)
}

/// Opening in mm of a mesh number.
#[must_use]
pub fn of_mesh_mm(mesh: u32) -> Option<f64> {
    MESH.iter().find(|(number, _)| *number == mesh).map(|(_, mm)| *mm)
}

/// Whether an opening is one of a test sieve, within the half per cent to which it is rounded.
#[must_use]
pub fn is_standard(opening_mm: f64) -> bool {
    R40_3_MM.iter().any(|mm| (opening_mm / mm - 1.0).abs() < 0.005)
}
