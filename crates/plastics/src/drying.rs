//! Drying by diffusion (Crank, The Mathematics of Diffusion): uniform water at the start,
//! the surface held at its end value. A coefficient fitted so belongs to the dryer and the
//! granulate at hand; it is no property of the polymer.

mod curve;
mod outlook;

pub use curve::{Bend, Curve, Reach, fit};
pub use outlook::{LEVEL, Outlook, bounded_confidence, outlook};

use crate::temperature_shift::GAS_CONSTANT_J_MOL_K;
use std::f64::consts::PI;

/// Mass of a mole of water, in g.
pub const WATER_G_MOL: f64 = 18.015;

/// Shape of a granule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Granule {
    /// Size: its radius.
    Sphere,
    /// Flake or film, drying through both faces. Size: its whole thickness.
    Plate,
    /// Long strand. Size: its radius.
    Cylinder,
    /// Cut pellet, drying through its side and both ends. Size: its radius.
    Pellet {
        /// Its length over its diameter.
        slenderness: f64,
    },
}

/// First zeros of the Bessel function J0; later ones follow McMahon's series.
const ZEROS: [f64; 5] = [
    2.404_825_557_695_773,
    5.520_078_110_286_311,
    8.653_727_912_911_013,
    11.791_534_439_014_281,
    14.930_917_708_487_787,
];

fn zero(n: u32) -> f64 {
    if let Some(zero) = ZEROS.get(n as usize) {
        return *zero;
    }
    let beta = (f64::from(n) + 0.75) * PI;
    let b8 = 8.0 * beta;
    beta + 1.0 / b8 - 124.0 / (3.0 * b8.powi(3)) + 120_928.0 / (15.0 * b8.powi(5))
}

impl Granule {
    /// Share of the removable water left at D t / size², 0 or more.
    #[must_use]
    pub fn left(self, f: f64) -> f64 {
        let root = (f / PI).sqrt();
        // What the short-time forms of sphere and plate leave out is below 1e-9 here.
        match self {
            Self::Sphere if f < 0.045 => return 1.0 - (6.0 * root - 3.0 * f),
            Self::Plate if f < 0.011 => return 1.0 - 4.0 * root,
            Self::Cylinder if f < 1e-3 => return 1.0 - (4.0 * root - f - f * root / 3.0),
            _ => {}
        }
        // Terms below exp(-40) of the first are lost in it; at 1e-3 these are all before the
        // hundredth.
        let sum = |term: fn(u32) -> (f64, f64)| -> f64 {
            let first = term(0).1;
            (0..100)
                .map(term)
                .take_while(|(_, rate)| (rate - first) * f < 40.0)
                .map(|(weight, rate)| weight * (-rate * f).exp())
                .sum()
        };
        match self {
            Self::Sphere => sum(|n| {
                let squared = (f64::from(n + 1) * PI).powi(2);
                (6.0 / squared, squared)
            }),
            Self::Plate => sum(|n| {
                let squared = (f64::from(2 * n + 1) * PI).powi(2);
                (8.0 / squared, squared)
            }),
            Self::Cylinder => sum(|n| {
                let squared = zero(n).powi(2);
                (4.0 / squared, squared)
            }),
            Self::Pellet { slenderness } => {
                Self::Cylinder.left(f) * Self::Plate.left(f / (4.0 * slenderness * slenderness))
            }
        }
    }

    /// D t / size² at which a share of the removable water is left; none unless it lies
    /// between 0 and 1.
    #[must_use]
    pub fn when_left(self, share: f64) -> Option<f64> {
        if !(share > 0.0 && share < 1.0) {
            return None;
        }
        let (mut low, mut high) = (-40.0_f64, 6.0_f64);
        for _ in 0..100 {
            let middle = f64::midpoint(low, high);
            if self.left(middle.exp()) > share { low = middle } else { high = middle }
        }
        Some(f64::midpoint(low, high).exp())
    }
}

/// How many times as long a granule takes that is `ratio` times as large.
#[must_use]
pub fn time_ratio(ratio: f64) -> f64 {
    ratio * ratio
}

/// Coefficient of diffusion in m2/s from the straight early part of an uptake curve of a plate:
/// share taken up per root of a second (ISO 62).
#[must_use]
pub fn from_early_slope_m2_s(thickness_m: f64, slope_root_s: f64) -> f64 {
    PI / 16.0 * (thickness_m * slope_root_s).powi(2)
}

/// What a coefficient of diffusion is multiplied by from one temperature to another (Arrhenius).
#[must_use]
pub fn warmer_factor(activation_kj_mol: f64, from_c: f64, to_c: f64) -> f64 {
    let inverse = |c: f64| 1.0 / (c + 273.15);
    (1000.0 * activation_kj_mol / GAS_CONSTANT_J_MOL_K * (inverse(from_c) - inverse(to_c))).exp()
}

/// Water in g that leaves a batch between two contents on the wet basis, and its dry mass in g.
#[must_use]
pub fn water_removed_g(batch_g: f64, from_pct: f64, to_pct: f64) -> Option<(f64, f64)> {
    let dry_g = batch_g * (1.0 - from_pct / 100.0);
    let per_dry = |pct: f64| dry_basis_pct(pct).map(|pct| pct / 100.0);
    Some((dry_g * (per_dry(from_pct)? - per_dry(to_pct)?), dry_g))
}

/// Water taken up in per cent of the dry mass, from the mass before and in the water; where
/// something dissolves, `before` is the mass dried again (ISO 62).
#[must_use]
pub fn taken_up_pct(dry_g: f64, before_g: f64, wet_g: f64) -> f64 {
    (wet_g - before_g) / dry_g * 100.0
}

/// Moisture on the dry basis in per cent, from that on the wet basis; none at 100.
#[must_use]
pub fn dry_basis_pct(wet_pct: f64) -> Option<f64> {
    (wet_pct < 100.0).then(|| wet_pct / (1.0 - wet_pct / 100.0))
}

/// Moisture on the wet basis in per cent, from that on the dry basis.
#[must_use]
pub fn wet_basis_pct(dry_pct: f64) -> f64 {
    dry_pct / (1.0 + dry_pct / 100.0)
}

/// Largest share of its molar mass that a polymer may keep, where all the water left in it
/// cuts chains, one cut a molecule: the real loss is smaller.
#[must_use]
pub fn kept_after_hydrolysis(molar_mass_g_mol: f64, water_fraction: f64) -> f64 {
    1.0 / (1.0 + molar_mass_g_mol * water_fraction / WATER_G_MOL)
}

/// Largest share of water by mass that keeps a share of the molar mass by that bound.
#[must_use]
pub fn water_that_keeps(molar_mass_g_mol: f64, keep: f64) -> f64 {
    (1.0 / keep - 1.0) * WATER_G_MOL / molar_mass_g_mol
}
