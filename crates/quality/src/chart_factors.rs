//! Factors that turn ranges and standard deviations of small subgroups into limits of
//! control charts (ISO 7870-2:2013, Table 2; ASTM E2587), computed from the normal
//! distribution and not from a printed table, whose last digits are at times rounded
//! from rounded values.
//!
//! Assumption: readings within a subgroup are independent and normal.

use crate::distributions::normal::{below as normal_below, density as normal_density};
use crate::tails::{half_step_of_gamma, normal_above};
use std::f64::consts::PI;

/// Largest subgroup for which factors are worked out.
pub const SUBGROUP_MAX: u32 = 1_000_000;

/// d2 of a range of two, 2 / sqrt(pi): mean moving range over standard deviation.
pub const D2_OF_TWO: f64 = 2.0 * std::f64::consts::FRAC_2_SQRT_PI / 2.0;

/// Median moving range of two over standard deviation: sqrt(2) times the upper quartile
/// of the standard normal distribution.
pub const MEDIAN_RANGE_OF_TWO: f64 = 0.953_872_552_408_94;

/// Beyond this many standard deviations nothing is left of a sample of [`SUBGROUP_MAX`].
const FAR: f64 = 10.0;
/// Steps per standard deviation of the trapezoidal rule for subgroups of up to a hundred.
/// Its error falls exponentially with the number; the extremes of larger samples vary
/// over shorter distances and need twice as many.
const STEPS: u32 = 12;

/// Nodes and weights of the eight-point Gauss-Legendre rule on -1..1, one half.
const GAUSS: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_48),
    (0.960_289_856_497_536_2, 0.101_228_536_290_376_26),
];

/// The factors of one subgroup size. Worked out once per size; it takes milliseconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChartFactors {
    /// Readings in a subgroup.
    pub n: u32,
    /// Mean of the standard deviation over sigma.
    pub c4: f64,
    /// Mean of the range over sigma.
    pub d2: f64,
    /// Standard deviation of the range over sigma.
    pub d3: f64,
}

impl ChartFactors {
    /// The factors for subgroups of `n`; none unless 2 <= n <= [`SUBGROUP_MAX`].
    #[must_use]
    pub fn of(n: u32) -> Option<Self> {
        if !(2..=SUBGROUP_MAX).contains(&n) {
            return None;
        }
        if n == 2 {
            let d3 = (2.0 - 4.0 / PI).sqrt();
            return Some(Self { n, c4: c4(n)?, d2: D2_OF_TWO, d3 });
        }
        let (d2, d3) = range_mean_and_sd(f64::from(n));
        Some(Self { n, c4: c4(n)?, d2, d3 })
    }

    fn root(&self) -> f64 {
        f64::from(self.n).sqrt()
    }

    /// Three standard deviations of s over its mean.
    fn s_reach(&self) -> f64 {
        3.0 * (1.0 - self.c4 * self.c4).sqrt()
    }

    /// A: limits of the mean from a known sigma.
    #[must_use]
    pub fn a(&self) -> f64 {
        3.0 / self.root()
    }

    /// A2: limits of the mean from the mean range.
    #[must_use]
    pub fn a2(&self) -> f64 {
        3.0 / (self.d2 * self.root())
    }

    /// A3: limits of the mean from the mean standard deviation.
    #[must_use]
    pub fn a3(&self) -> f64 {
        3.0 / (self.c4 * self.root())
    }

    /// B3: lower limit of s from the mean s.
    #[must_use]
    pub fn b3(&self) -> f64 {
        (1.0 - self.s_reach() / self.c4).max(0.0)
    }

    /// B4: upper limit of s from the mean s.
    #[must_use]
    pub fn b4(&self) -> f64 {
        1.0 + self.s_reach() / self.c4
    }

    /// B5: lower limit of s from a known sigma.
    #[must_use]
    pub fn b5(&self) -> f64 {
        (self.c4 - self.s_reach()).max(0.0)
    }

    /// B6: upper limit of s from a known sigma.
    #[must_use]
    pub fn b6(&self) -> f64 {
        self.c4 + self.s_reach()
    }

    /// D1: lower limit of the range from a known sigma.
    #[must_use]
    pub fn d1_lower(&self) -> f64 {
        (self.d2 - 3.0 * self.d3).max(0.0)
    }

    /// D2: upper limit of the range from a known sigma (not the same as [`Self::d2`]).
    #[must_use]
    pub fn d2_upper(&self) -> f64 {
        self.d2 + 3.0 * self.d3
    }

    /// D3: lower limit of the range from the mean range.
    #[must_use]
    pub fn d3_lower(&self) -> f64 {
        (1.0 - 3.0 * self.d3 / self.d2).max(0.0)
    }

    /// D4: upper limit of the range from the mean range.
    #[must_use]
    pub fn d4_upper(&self) -> f64 {
        1.0 + 3.0 * self.d3 / self.d2
    }

    /// E2: limits of individual readings from the mean moving range of n.
    #[must_use]
    pub fn e2(&self) -> f64 {
        3.0 / self.d2
    }
}

/// c4 = sqrt(2 / (n - 1)) Gamma(n / 2) / Gamma((n - 1) / 2), for any `n` from two on.
#[must_use]
pub fn c4(n: u32) -> Option<f64> {
    let freedom = f64::from(n.checked_sub(1).filter(|freedom| *freedom > 0)?);
    Some(half_step_of_gamma(freedom / 2.0) * (2.0 / freedom).sqrt())
}

/// Mean and standard deviation of the range of `n` standard normal values: the mean of
/// W is the integral of P(W > w), that of its square the integral of 2 w P(W > w).
fn range_mean_and_sd(n: f64) -> (f64, f64) {
    let grid = Grid::new(n);
    let (mut first, mut second) = (0.0, 0.0);
    let panels = 40_u32;
    let half = FAR / f64::from(panels);
    for panel in 0..panels {
        let middle = half * f64::from(2 * panel + 1);
        for (node, weight) in GAUSS {
            for w in [middle - half * node, middle + half * node] {
                let part = half * weight * grid.range_above(w);
                first += part;
                second += 2.0 * w * part;
            }
        }
    }
    (first, (second - first * first).max(0.0).sqrt())
}

/// Points at which the smallest of n values may lie.
struct Grid {
    n: f64,
    /// Place, probability below it, n times density times step.
    points: Vec<(f64, f64, f64)>,
}

impl Grid {
    fn new(n: f64) -> Self {
        let steps = if n <= 100.0 { STEPS } else { 2 * STEPS };
        let step = 1.0 / f64::from(steps);
        let count = 20 * steps;
        let point = |i: u32| {
            let x = f64::from(i) * step - FAR;
            (x, normal_below(x), n * normal_density(x) * step)
        };
        Self { n, points: (0..=count).map(point).collect() }
    }

    /// Probability that the range is above `w`: one less the chance that, the smallest
    /// being at x, all others lie between x and x + w.
    fn range_above(&self, w: f64) -> f64 {
        let within = |(x, below, weight): &(f64, f64, f64)| {
            let outside = below + normal_above(x + w);
            if outside >= 1.0 { 0.0 } else { weight * ((self.n - 1.0) * (-outside).ln_1p()).exp() }
        };
        1.0 - self.points.iter().map(within).sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn factors_of_large_subgroups_agree_with_an_independent_integral() {
        // d2 computed with mpmath 1.4 (twice the integral over x > 0 of 1 - Phi^n - (1 - Phi)^n).
        for (n, d2) in [
            (26, 3.96431567952),
            (50, 4.49814725878),
            (100, 5.01518727288),
            (1000, 6.48287153827),
            (100000, 8.76863880622),
            (1000000, 9.72579497239),
        ] {
            let found = ChartFactors::of(n).unwrap().d2;
            assert!((found - d2).abs() < 1e-8, "{n}: {found}, computed {d2}");
        }
    }

    #[test]
    fn a_range_of_two_by_integration_is_the_closed_form() {
        let (d2, d3) = range_mean_and_sd(2.0);
        assert!((d2 - D2_OF_TWO).abs() < 1e-12);
        assert!((d3 - (2.0 - 4.0 / PI).sqrt()).abs() < 1e-10);
        assert!((D2_OF_TWO - 2.0 / PI.sqrt()).abs() < 1e-15);
    }

    #[test]
    fn c4_nears_one_as_subgroups_grow() {
        let n = 1_000_000_u32;
        assert!((1.0 - c4(n).unwrap() - 0.25 / f64::from(n)).abs() < 1e-12);
    }

    #[test]
    fn subgroups_of_one_or_too_many_have_no_factors() {
        assert_eq!(ChartFactors::of(0), None);
        assert_eq!(ChartFactors::of(1), None);
        assert_eq!(ChartFactors::of(SUBGROUP_MAX + 1), None);
        assert_eq!(c4(1), None);
    }
}
