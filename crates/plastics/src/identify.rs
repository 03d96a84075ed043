//! Which polymer it may be: candidates by density, and liquids that part two polymers.

use crate::cards::{Card, all};

/// A polymer that a density allows.
#[derive(Debug, Clone, Copy)]
pub struct Candidate {
    /// Its card.
    pub card: &'static Card,
    /// Its share of the likelihood of all cards, 0 to 1. Each card is taken as equally
    /// likely before, and every density of its range, too.
    pub share: f64,
}

/// Unfilled polymers whose range, widened by `reach_g_cm3`, holds a density; the likeliest
/// first. `u_g_cm3` is its standard uncertainty.
#[must_use]
pub fn candidates(density_g_cm3: f64, reach_g_cm3: f64, u_g_cm3: f64) -> Vec<Candidate> {
    let likely: Vec<_> =
        all().iter().map(|card| (card, likelihood(card, density_g_cm3, u_g_cm3))).collect();
    let total: f64 = likely.iter().map(|(_, l)| l).sum();
    let mut found: Vec<_> = likely
        .into_iter()
        .filter(|(card, _)| holds(card, density_g_cm3, reach_g_cm3))
        .map(|(card, l)| Candidate { card, share: if total > 0.0 { l / total } else { 0.0 } })
        .collect();
    found.sort_by(|a, b| b.share.total_cmp(&a.share));
    found
}

/// Whether a card's range, widened by `reach_g_cm3`, holds a density.
#[must_use]
pub fn holds(card: &Card, density_g_cm3: f64, reach_g_cm3: f64) -> bool {
    let range = &card.density_g_cm3;
    (range.min - reach_g_cm3..=range.max + reach_g_cm3).contains(&density_g_cm3)
}

/// Likelihood of a density: even over the card's range, blurred by a normal error.
fn likelihood(card: &Card, x: f64, u: f64) -> f64 {
    let (min, max) = (card.density_g_cm3.min, card.density_g_cm3.max);
    if u <= 0.0 {
        return if (min..=max).contains(&x) { 1.0 / (max - min) } else { 0.0 };
    }
    let below = |z: f64| 0.5 * libm::erfc(-z / std::f64::consts::SQRT_2);
    (below((max - x) / u) - below((min - x) / u)) / (max - min)
}

/// What a piece does in a liquid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Floats {
    /// Its whole range is lighter.
    Up,
    /// Its whole range is heavier.
    Down,
    /// The liquid's density lies within its range.
    Either,
}

/// What unfilled, unfoamed pieces of a range of densities do in a liquid.
#[must_use]
pub fn floats(min_g_cm3: f64, max_g_cm3: f64, liquid_g_cm3: f64) -> Floats {
    if max_g_cm3 < liquid_g_cm3 {
        Floats::Up
    } else if min_g_cm3 > liquid_g_cm3 {
        Floats::Down
    } else {
        Floats::Either
    }
}

/// Liquids for sorting, with their density in g/cm3: water at 23 °C, the others at 20 °C
/// (handbook tables, from memory). The simplest first.
pub const LIQUIDS: [(&str, f64); 5] = [
    ("water", 0.997_54),
    ("salt water, 10 % sodium chloride by mass", 1.0707),
    ("salt water, 15 % sodium chloride by mass", 1.1085),
    ("salt water, 20 % sodium chloride by mass", 1.1478),
    ("salt water, 25 % sodium chloride by mass", 1.1887),
];

/// The first liquid in which one of two polymers floats and the other sinks, and the one
/// that floats; none where their densities do not allow it.
#[must_use]
pub fn parted_by<'a>(a: &'a Card, b: &'a Card) -> Option<(&'static str, f64, &'a Card)> {
    let in_liquid =
        |card: &Card, liquid| floats(card.density_g_cm3.min, card.density_g_cm3.max, liquid);
    LIQUIDS.iter().find_map(|&(name, liquid)| match (in_liquid(a, liquid), in_liquid(b, liquid)) {
        (Floats::Up, Floats::Down) => Some((name, liquid, a)),
        (Floats::Down, Floats::Up) => Some((name, liquid, b)),
        _ => None,
    })
}
