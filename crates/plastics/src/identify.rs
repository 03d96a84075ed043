//! Which plastic it may be by its density, and what floats.

/// Shares of the likelihood of a density, 0 to 1, one for each range of densities in g/cm3; none
/// for a range that does not hold it when widened by `reach_g_cm3`. Each plastic is taken as
/// equally likely before, and every density of its range, too. `u_g_cm3` is the standard
/// uncertainty of the density.
#[must_use]
pub fn shares(
    ranges: &[(f64, f64)],
    density_g_cm3: f64,
    reach_g_cm3: f64,
    u_g_cm3: f64,
) -> Vec<Option<f64>> {
    let likely: Vec<f64> =
        ranges.iter().map(|&range| likelihood(range, density_g_cm3, u_g_cm3)).collect();
    let total: f64 = likely.iter().sum();
    let share = |likely: f64| if total > 0.0 { likely / total } else { 0.0 };
    ranges
        .iter()
        .zip(likely)
        .map(|(&range, l)| holds(range, density_g_cm3, reach_g_cm3).then(|| share(l)))
        .collect()
}

/// Whether a range, widened by `reach_g_cm3`, holds a density.
#[must_use]
pub fn holds((min, max): (f64, f64), density_g_cm3: f64, reach_g_cm3: f64) -> bool {
    (min - reach_g_cm3..=max + reach_g_cm3).contains(&density_g_cm3)
}

/// Likelihood of a density: even over the range, blurred by a normal error.
fn likelihood((min, max): (f64, f64), x: f64, u: f64) -> f64 {
    if u <= 0.0 || max <= min {
        return if (min..=max).contains(&x) { 1.0 / (max - min).max(1e-6) } else { 0.0 };
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
