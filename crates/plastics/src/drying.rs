//! Drying by diffusion (Crank, The Mathematics of Diffusion): uniform water at the start,
//! the surface held at its end value. A coefficient fitted so belongs to the dryer and the
//! granulate at hand; it is no property of the polymer.

use std::f64::consts::PI;

/// Mass of a mole of water, in g.
pub const WATER_G_MOL: f64 = 18.015;

/// Shape of a granule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Granule {
    /// Size: its radius.
    Sphere,
    /// Flake or film, drying through both faces. Size: its whole thickness.
    Plate,
    /// Long strand. Size: its radius.
    Cylinder,
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
        if f < 1e-3 {
            return match self {
                Self::Sphere => 1.0 - (6.0 * root - 3.0 * f),
                Self::Plate => 1.0 - 4.0 * root,
                Self::Cylinder => 1.0 - (4.0 * root - f - f * root / 3.0),
            };
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

/// Share of the removable water left in a cut pellet: the product of cylinder and plate.
#[must_use]
pub fn pellet_left(d_m2_s: f64, time_s: f64, diameter_m: f64, length_m: f64) -> f64 {
    let radius = diameter_m / 2.0;
    Granule::Cylinder.left(d_m2_s * time_s / (radius * radius))
        * Granule::Plate.left(d_m2_s * time_s / (length_m * length_m))
}

/// A drying curve fitted to readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curve {
    /// Moisture at the start, in per cent.
    pub start_pct: f64,
    /// Moisture at which it ends, in per cent; given, not fitted.
    pub end_pct: f64,
    /// D / size², per hour.
    pub rate_h: f64,
    /// Standard deviation of the readings about the curve, as a share of the reading.
    pub scatter: f64,
    /// Degrees of freedom of that.
    pub freedom: u32,
    granule: Granule,
    covariance: [f64; 3],
}

/// Share of change of what is left, for a share of change of D t / size².
fn slope(granule: Granule, f: f64) -> f64 {
    if f <= 0.0 {
        return 0.0;
    }
    let step = 1e-4_f64;
    (granule.left(f * step.exp()).ln() - granule.left(f * (-step).exp()).ln()) / (2.0 * step)
}

/// Fits start and rate to readings (hours dried, per cent), by least squares on the
/// logarithm of what is above `end_pct`: the readings are taken to scatter by the same
/// share of their value, independently. None below three readings, without two different
/// times, or where the readings do not fall.
#[must_use]
pub fn fit(granule: Granule, readings: &[(f64, f64)], end_pct: f64) -> Option<Curve> {
    let usable: Vec<_> = readings
        .iter()
        .filter(|&&(h, pct)| h >= 0.0 && pct > end_pct)
        .map(|&(h, pct)| (h, (pct - end_pct).ln()))
        .collect();
    let count = u32::try_from(usable.len()).ok()?;
    if count < 3 {
        return None;
    }
    let longest = usable.iter().map(|r| r.0).fold(0.0, f64::max);
    if longest <= 0.0 {
        return None;
    }
    // For a rate, the best start is a mean; so the fit is a search along one line.
    let start = |rate: f64| {
        usable.iter().map(|&(h, y)| y - granule.left(rate * h).ln()).sum::<f64>() / f64::from(count)
    };
    let squares = |log_rate: f64| {
        let rate = log_rate.exp();
        let a = start(rate);
        usable.iter().map(|&(h, y)| (y - a - granule.left(rate * h).ln()).powi(2)).sum::<f64>()
    };
    let (from, to, steps) = (-12.0 - longest.ln(), 3.0 - longest.ln(), 150_u32);
    let at = |n: u32| from + (to - from) * f64::from(n) / f64::from(steps);
    let best = (0..=steps).min_by(|&a, &b| squares(at(a)).total_cmp(&squares(at(b))))?;
    if best == 0 || best == steps {
        return None;
    }
    let (mut low, mut high) = (at(best - 1), at(best + 1));
    for _ in 0..80 {
        let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if squares(a) < squares(b) { high = b } else { low = a }
    }
    let log_rate = f64::midpoint(low, high);
    let rate_h = log_rate.exp();
    let freedom = count - 2;
    let variance = squares(log_rate) / f64::from(freedom);
    let slopes: Vec<_> = usable.iter().map(|&(h, _)| slope(granule, rate_h * h)).collect();
    let (g, gg) = slopes.iter().fold((0.0, 0.0), |(g, gg), s| (g + s, gg + s * s));
    let det = f64::from(count) * gg - g * g;
    (det > 0.0).then(|| Curve {
        start_pct: start(rate_h).exp() + end_pct,
        end_pct,
        rate_h,
        scatter: variance.sqrt(),
        freedom,
        granule,
        covariance: [variance * gg / det, -variance * g / det, variance * f64::from(count) / det],
    })
}

impl Curve {
    /// Hours of drying from the start to a moisture, and the standard uncertainty of their
    /// logarithm; none where the curve never comes there.
    #[must_use]
    pub fn hours_to(&self, target_pct: f64) -> Option<(f64, f64)> {
        let share = (target_pct - self.end_pct) / (self.start_pct - self.end_pct);
        let f = self.granule.when_left(share)?;
        let slope = slope(self.granule, f);
        let by_start = -1.0 / slope;
        let [start, both, rate] = self.covariance;
        let variance = by_start * by_start * start - 2.0 * by_start * both + rate;
        Some((f / self.rate_h, variance.max(0.0).sqrt()))
    }
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
