//! Liquids for sorting by floating and sinking: water, ethanol in water, salt in water.

use crate::cards::Card;

/// Density in g/cm3 at 20 °C of ethanol in water, from 0 to 100 % by mass in steps of ten
/// (handbook of chemistry tables, from memory; water by Tanaka et al. 2001).
const ETHANOL_G_CM3: [f64; 11] = [
    0.998_21, 0.981_87, 0.968_64, 0.953_82, 0.935_18, 0.913_84, 0.891_13, 0.867_66, 0.843_44,
    0.817_97, 0.789_34,
];
/// The same of sodium chloride in water, from 0 to 25 % by mass in steps of five.
const BRINE_G_CM3: [f64; 6] = [0.998_21, 1.034, 1.070_7, 1.108_5, 1.147_8, 1.188_7];
/// Temperature of both tables, in °C.
pub const TABLE_C: f64 = 20.0;
/// Water parts two plastics where it keeps this far from both, in g/cm3; less asks for a mixture.
const EASY_G_CM3: f64 = 0.005;

/// A liquid for sorting.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Liquid {
    /// Water with a trace of detergent.
    Water,
    /// Ethanol in water: a fire hazard.
    Ethanol,
    /// Sodium chloride in water.
    Brine,
}

impl Liquid {
    /// What it is called.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Water => "water",
            Self::Ethanol => "ethanol in water",
            Self::Brine => "salt (sodium chloride) in water",
        }
    }
}

/// A value on a table of even steps, straight between them; none outside.
fn between(table: &[f64], step: f64, at: f64) -> Option<f64> {
    let places = at / step;
    table.windows(2).zip(0_u32..).find_map(|(pair, n)| {
        let part = places - f64::from(n);
        (0.0..=1.0).contains(&part).then(|| pair[0] + part * (pair[1] - pair[0]))
    })
}

/// Where a table of even steps has a value, straight between them; none outside.
fn place_of(table: &[f64], step: f64, value: f64) -> Option<f64> {
    table.windows(2).zip(0_u32..).find_map(|(pair, n)| {
        let part = (value - pair[0]) / (pair[1] - pair[0]);
        (0.0..=1.0).contains(&part).then(|| (f64::from(n) + part) * step)
    })
}

/// Density in g/cm3 of ethanol in water at 20 °C, by its share by mass in per cent; straight
/// between the steps of the table, which errs by up to 0.001. None outside 0 to 100.
#[must_use]
pub fn ethanol_g_cm3(pct: f64) -> Option<f64> {
    between(&ETHANOL_G_CM3, 10.0, pct)
}

/// Share of ethanol in per cent by mass that gives a density at 20 °C; none out of reach.
#[must_use]
pub fn ethanol_pct(density_g_cm3: f64) -> Option<f64> {
    place_of(&ETHANOL_G_CM3, 10.0, density_g_cm3)
}

/// Density in g/cm3 of sodium chloride in water at 20 °C, by its share by mass in per cent;
/// none outside 0 to 25.
#[must_use]
pub fn brine_g_cm3(pct: f64) -> Option<f64> {
    between(&BRINE_G_CM3, 5.0, pct)
}

/// Share of sodium chloride in per cent by mass that gives a density at 20 °C; none out of
/// reach.
#[must_use]
pub fn brine_pct(density_g_cm3: f64) -> Option<f64> {
    place_of(&BRINE_G_CM3, 5.0, density_g_cm3)
}

/// How two plastics are parted.
#[derive(Debug, Clone, Copy)]
pub struct Parting<'a> {
    /// The one that floats.
    pub floats: &'a Card,
    /// The one that sinks.
    pub sinks: &'a Card,
    /// The liquid.
    pub liquid: Liquid,
    /// Its density at 20 °C, in g/cm3.
    pub liquid_g_cm3: f64,
    /// What is in the water, in per cent by mass; 0 for water alone.
    pub added_pct: f64,
    /// Smaller distance to either range, in g/cm3.
    pub margin_g_cm3: f64,
}

/// The liquid in which one of two unfilled plastics floats and the other sinks: water where it
/// keeps clear of both, otherwise a mixture midway between them. None where their ranges meet or
/// no mixture reaches between them.
#[must_use]
pub fn parting<'a>(a: &'a Card, b: &'a Card) -> Option<Parting<'a>> {
    let (floats, sinks) = if a.density_g_cm3.max < b.density_g_cm3.min { (a, b) } else { (b, a) };
    let (below, above) = (floats.density_g_cm3.max, sinks.density_g_cm3.min);
    if below >= above {
        return None;
    }
    let of = |liquid, liquid_g_cm3: f64, added_pct| Parting {
        floats,
        sinks,
        liquid,
        liquid_g_cm3,
        added_pct,
        margin_g_cm3: (liquid_g_cm3 - below).min(above - liquid_g_cm3),
    };
    let water = of(Liquid::Water, ETHANOL_G_CM3[0], 0.0);
    if water.margin_g_cm3 >= EASY_G_CM3 {
        return Some(water);
    }
    // As far into the gap as a mixture reaches.
    let middle = f64::midpoint(below, above)
        .clamp(ETHANOL_G_CM3[ETHANOL_G_CM3.len() - 1], BRINE_G_CM3[BRINE_G_CM3.len() - 1]);
    let mixed = match ethanol_pct(middle) {
        Some(pct) => of(Liquid::Ethanol, middle, pct),
        None => of(Liquid::Brine, middle, brine_pct(middle)?),
    };
    (mixed.margin_g_cm3 > 0.0).then_some(mixed)
}
