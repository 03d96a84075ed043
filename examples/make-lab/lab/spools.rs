//! The spools: how thick each one is, metre by metre.

use super::chance::{Chance, sine};

/// Density of PETG, in g/cm3.
const DENSITY_G_CM3: f64 = 1.27;
/// Speed of the line for 1.75 mm filament, in m/min.
pub const LINE_SPEED_M_MIN: f64 = 4.5;
/// Filament made per turn of the screw at that speed and 15 rpm, in m.
const SCREW_PERIOD_M: f64 = LINE_SPEED_M_MIN / 15.0;

/// What is hidden in a spool.
#[derive(Clone, Copy)]
enum Shape {
    /// Nothing.
    Even,
    /// A wave of one screw turn; amplitude in mm.
    Pulsation(f64),
    /// A lump: middle in m, height in mm, length in m.
    Lump(f64, f64, f64),
    /// A straight drift over the whole spool, in mm.
    Drift(f64),
}

/// How a spool comes to be.
struct Plan {
    lot: &'static str,
    start_mm: f64,
    shape: Shape,
    readings: u32,
    every_m: f64,
    /// Standard deviation of the slow wander, in mm.
    wander_mm: f64,
    /// Half the difference of the axes, in mm.
    oval_mm: f64,
}

/// Standard deviation from one reading to the next, in mm.
const NOISE_MM: f64 = 0.0022;

const PLANS: [Plan; 6] = [
    Plan {
        lot: "spool-1a",
        start_mm: 1.7505,
        shape: Shape::Even,
        readings: 3000,
        every_m: 0.04,
        wander_mm: 0.0035,
        oval_mm: 0.003,
    },
    Plan {
        lot: "spool-1b",
        start_mm: 2.8450,
        shape: Shape::Even,
        readings: 2000,
        every_m: 0.02,
        wander_mm: 0.0060,
        oval_mm: 0.006,
    },
    Plan {
        lot: "spool-2a",
        start_mm: 1.7490,
        shape: Shape::Pulsation(0.028),
        readings: 2400,
        every_m: 0.0375,
        wander_mm: 0.0040,
        oval_mm: 0.004,
    },
    Plan {
        lot: "spool-2b",
        start_mm: 1.7515,
        shape: Shape::Lump(41.30, 0.11, 0.6),
        readings: 1500,
        every_m: 0.04,
        wander_mm: 0.0035,
        oval_mm: 0.004,
    },
    // Wound on a card and read by hand; the trace is what the caliper is put on.
    Plan {
        lot: "spool-2c",
        start_mm: 1.7560,
        shape: Shape::Even,
        readings: 500,
        every_m: 0.04,
        wander_mm: 0.0035,
        oval_mm: 0.004,
    },
    Plan {
        lot: "spool-3a",
        start_mm: 1.7555,
        shape: Shape::Drift(0.030),
        readings: 3000,
        every_m: 0.04,
        wander_mm: 0.0040,
        oval_mm: 0.004,
    },
];

/// A place on a spool.
pub struct Place {
    /// In m.
    pub position_m: f64,
    /// Diameter along the first axis, in mm.
    pub dx_mm: f64,
    /// Diameter along the second axis, in mm.
    pub dy_mm: f64,
}

/// A spool and its trace.
pub struct Spool {
    /// Its name.
    pub lot: &'static str,
    /// Its places, evenly spaced.
    pub places: Vec<Place>,
    every_m: f64,
}

impl Spool {
    /// Its mass, in tenths of a gram: area times length times density.
    pub fn mass_dg(&self) -> i64 {
        let areas: f64 = self.places.iter().map(|p| p.dx_mm * p.dy_mm).sum();
        let grams = areas * std::f64::consts::FRAC_PI_4 * self.every_m * DENSITY_G_CM3;
        (grams * 10.0).round() as i64
    }
}

/// All spools, made with this chance.
pub fn made(chance: &mut Chance) -> Vec<Spool> {
    PLANS.iter().map(|plan| plan.made(chance)).collect()
}

impl Plan {
    fn made(&self, chance: &mut Chance) -> Spool {
        let keep = 0.97_f64;
        let kick = (1.0 - keep * keep).sqrt() * self.wander_mm;
        let mut wander = chance.normal() * self.wander_mm;
        let places = (0..self.readings).map(|n| {
            wander = keep * wander + kick * chance.normal();
            let position_m = f64::from(n) * self.every_m;
            let mean = self.start_mm + self.shape_mm(position_m) + wander;
            // The filament turns slowly between the axes of the gauge.
            let oval = self.oval_mm * sine(position_m / 7.3);
            Place {
                position_m,
                dx_mm: mean + oval + NOISE_MM * chance.normal(),
                dy_mm: mean - oval + NOISE_MM * chance.normal(),
            }
        });
        Spool { lot: self.lot, places: places.collect(), every_m: self.every_m }
    }

    fn shape_mm(&self, position_m: f64) -> f64 {
        match self.shape {
            Shape::Even => 0.0,
            Shape::Pulsation(amplitude) => amplitude * sine(position_m / SCREW_PERIOD_M),
            Shape::Drift(whole) => whole * position_m / (f64::from(self.readings) * self.every_m),
            Shape::Lump(middle, height, length) => {
                let x = (position_m - middle) / length;
                if x.abs() < 0.5 { height * 0.5 * (1.0 + sine(x + 0.25)) } else { 0.0 }
            }
        }
    }
}
