//! How often the standard deviation within a subgroup lies beyond three of its own standard deviations, when
//! readings follow one another.
//!
//! Of independent readings its square is a chi square; of readings that follow one another it is a sum of chi
//! squares with unlike weights, whose upper tail is heavier. With readings taken as a first-order
//! autoregression, the weights follow from the number of readings and the autocorrelation, and that from how much
//! the standard deviations scatter. The sum is taken as a shifted gamma variable with the same first three
//! cumulants (Hall 1983, Australian Journal of Statistics 25:385; Buckley and Eagleson 1988, 30A:150).

use crate::distributions::{Split, gamma};
use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

/// Readings that a subgroup is reckoned with at the most: of more, neighbours are taken as one.
const READINGS_MAX: u32 = 24;
/// Autocorrelations of readings at which the tail is worked out.
const GRID: [f64; 12] = [0.0, 0.2, 0.35, 0.5, 0.6, 0.7, 0.8, 0.87, 0.92, 0.95, 0.97, 0.99];
/// Points of an average over quantiles.
const POINTS: u32 = 200;
const REACH: f64 = 3.0;

thread_local! {
    static KNOWN: RefCell<HashMap<u32, Rc<[Tail]>>> = RefCell::default();
}

/// At one autocorrelation.
#[derive(Debug, Clone, Copy)]
struct Tail {
    /// Relative scatter of the standard deviation.
    scatter: f64,
    /// Probability beyond its limits.
    beyond: f64,
}

/// Probability that the standard deviation of `n` readings lies more than three of its standard deviations
/// from its mean, where these are the share `scatter` of the mean. None of fewer than three
/// readings or a scatter that is not above zero.
#[must_use]
pub fn beyond_three_sigma(n: u32, scatter: f64) -> Option<f64> {
    if n < 3 || scatter.is_nan() || scatter <= 0.0 {
        return None;
    }
    let n = n.min(READINGS_MAX);
    let tails = KNOWN.with_borrow_mut(|known| {
        let fresh = || GRID.iter().filter_map(|r| tail(n, *r)).collect::<Vec<_>>().into();
        Rc::clone(known.entry(n).or_insert_with(fresh))
    });
    let next = tails.iter().position(|tail| tail.scatter >= scatter);
    let between = match next {
        Some(0) => return tails.first().map(|tail| tail.beyond),
        None => return tails.last().map(|tail| tail.beyond),
        Some(next) => tails.get(next - 1..=next)?,
    };
    let [low, high] = between else { return None };
    let share = (scatter - low.scatter) / (high.scatter - low.scatter);
    Some(low.beyond + share * (high.beyond - low.beyond))
}

fn tail(n: u32, r: f64) -> Option<Tail> {
    let [one, two, three] = traces(n as usize, r);
    // Cumulants of the sum over its mean: 1, 2 two / one^2, 8 three / one^3.
    let freedom = two.powi(3) / three.powi(2);
    let step = (two / freedom).sqrt() / one;
    let at = |chi: f64| 1.0 + step * (chi - freedom);
    let quantile = |i: u32| {
        let p = (f64::from(i) + 0.5) / f64::from(POINTS);
        let chi = gamma::chi_square_quantile(freedom, Split::with_below(p)?)?;
        Some(at(chi).max(0.0).sqrt())
    };
    let roots: Option<f64> = (0..POINTS).map(quantile).sum();
    let mean = roots? / f64::from(POINTS);
    let scatter = (1.0 - mean * mean).max(0.0).sqrt() / mean;
    let chi = |times: f64| freedom + ((times * mean).powi(2) - 1.0) / step;
    let above = gamma::chi_square_tails(freedom, chi(1.0 + REACH * scatter))?.above;
    let low = chi((1.0 - REACH * scatter).max(0.0));
    let below = if low > 0.0 { gamma::chi_square_tails(freedom, low)?.below } else { 0.0 };
    Some(Tail { scatter, beyond: above + if REACH * scatter < 1.0 { below } else { 0.0 } })
}

/// Traces of the first three powers of the covariance of `n` readings about their mean.
fn traces(n: usize, r: f64) -> [f64; 3] {
    let apart = |i: usize, j: usize| i32::try_from(i.abs_diff(j)).unwrap_or(i32::MAX);
    let of = |i: usize, j: usize| r.powi(apart(i, j));
    let count = n as f64;
    let means: Vec<f64> = (0..n).map(|i| (0..n).map(|j| of(i, j)).sum::<f64>() / count).collect();
    let grand = means.iter().sum::<f64>() / count;
    let row = |(i, mean): (usize, &f64)| -> Vec<f64> {
        means.iter().enumerate().map(|(j, other)| of(i, j) - mean - other + grand).collect()
    };
    let matrix: Vec<Vec<f64>> = means.iter().enumerate().map(row).collect();
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let one = matrix.iter().enumerate().filter_map(|(i, row)| row.get(i)).sum();
    // It is symmetric, so its square's trace is the sum of all squares.
    let two = matrix.iter().map(|row| dot(row, row)).sum();
    let square = |i: &Vec<f64>| matrix.iter().map(|j| dot(i, j)).collect::<Vec<_>>();
    let three = matrix.iter().map(|row| dot(&square(row), row)).sum();
    [one, two, three]
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test fails by panicking")]
    use super::*;

    #[test]
    fn independent_readings_have_the_chi_square_they_are_known_for() {
        // c4 of 5 readings is 0.9400 (ASTM E2587, table of factors): scatter sqrt(1 - c4^2) / c4. Above
        // x = 4 (c4 + 3 sqrt(1 - c4^2))^2 = 15.42 chi square with 4 degrees of freedom has
        // (1 + x/2) exp(-x/2) = 0.0039.
        let found = tail(5, 0.0).unwrap();
        assert!((found.scatter - (1.0 - 0.94_f64.powi(2)).sqrt() / 0.94).abs() < 3e-3, "{found:?}");
        assert!((found.beyond - 0.003_9).abs() < 3e-4, "{found:?}");
    }

    #[test]
    fn traces_are_those_of_the_centred_covariance() {
        // Independent readings: n - 1 eigenvalues of one.
        for trace in traces(7, 0.0) {
            assert!((trace - 6.0).abs() < 1e-12);
        }
        // Two readings: one eigenvalue of 1 - r.
        let [one, two, three] = traces(2, 0.5);
        assert!((one - 0.5).abs() < 1e-12 && (two - 0.25).abs() < 1e-12);
        assert!((three - 0.125).abs() < 1e-12);
    }
}
