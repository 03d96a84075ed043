//! The smooth background of a spectrum, from which waves stand out.
//!
//! The general shape is fitted first; what it leaves is smoothed by a running median, so
//! that any other smooth shape is followed as well.

use super::shape::{fitted_shape, median_of};

/// Bins on either side that the running median takes in: as many as the bin's number,
/// between these bounds, so that it follows what bends on a logarithmic scale.
const REACH: (usize, usize) = (8, 24);
/// Variance of a mean of neighbouring Hann powers over that of independent ones:
/// 1 + 2 (4/9 + 1/36).
const CLOSE: f64 = 1.94;
/// Variance of a median over that of a mean, rounded up.
const MEDIAN: f64 = 1.7;

/// A smooth background.
#[derive(Debug, Clone)]
pub(super) struct Background {
    /// Mean power expected at each bin, from bin `first` on.
    pub(super) powers: Vec<f64>,
    /// Degrees of freedom of each.
    pub(super) freedoms: Vec<f64>,
}

/// Background of the powers from bin `first` on of segments of `length`, each power with
/// `freedom` degrees. None of fewer than five bins.
pub(super) fn background(
    powers: &[f64],
    first: usize,
    length: usize,
    freedom: f64,
) -> Option<Background> {
    let floor = powers.iter().copied().fold(0.0, f64::max) * 1e-14;
    if powers.len() < 5 || floor <= 0.0 || !floor.is_finite() {
        return None;
    }
    let logs: Vec<f64> = powers.iter().map(|power| power.max(floor).ln()).collect();
    let shape = fitted_shape(&logs, first, length);
    let rest: Vec<f64> = logs.iter().zip(&shape).map(|(log, shape)| log - shape).collect();
    let middle = median_over_mean(freedom).ln();
    let smooth: Vec<(f64, f64)> = (0..rest.len()).map(|k| smoothed(&rest, k, first)).collect();
    let level = |((rest, _), shape): (&(f64, f64), &f64)| (rest + shape - middle).exp();
    Some(Background {
        powers: smooth.iter().zip(&shape).map(level).collect(),
        freedoms: smooth.iter().map(|(_, bins)| freedom * bins / (CLOSE * MEDIAN)).collect(),
    })
}

/// Median of a chi-square variable over its mean (Wilson and Hilferty 1931).
fn median_over_mean(freedom: f64) -> f64 {
    (1.0 - 2.0 / (9.0 * freedom)).powi(3)
}

#[expect(clippy::cast_precision_loss, reason = "a count")]
fn count(bins: usize) -> f64 {
    bins as f64
}

/// Median about a place, and of how many; near an end of the first or last so many.
fn smoothed(values: &[f64], place: usize, first: usize) -> (f64, f64) {
    let reach = (place + first).clamp(REACH.0, REACH.1).min((values.len() - 1) / 2);
    let width = 2 * reach + 1;
    let start = place.saturating_sub(reach).min(values.len() - width);
    let mut window: Vec<f64> = values.iter().skip(start).take(width).copied().collect();
    (median_of(&mut window), count(window.len()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_background_of_an_autoregression_is_its_spectrum_whatever_stands_out() {
        let length = 512;
        let mut powers: Vec<f64> = (3..256)
            .map(|k| {
                let cos = (std::f64::consts::TAU * f64::from(k) / 512.0).cos();
                0.1 + 0.9 * 0.19 / (1.81 - 1.8 * cos)
            })
            .collect();
        let clean = powers.clone();
        for k in [10, 11, 12, 60, 61, 62, 150] {
            powers[k] *= 1000.0;
        }
        let found = background(&powers, 3, length, 1000.0).unwrap();
        for (found, expected) in found.powers.iter().zip(&clean) {
            assert!((found / expected).ln().abs() < 0.05, "{found} {expected}");
        }
    }

    #[test]
    fn nothing_has_no_background() {
        assert!(background(&[0.0; 50], 3, 100, 2.0).is_none());
        assert!(background(&[1.0; 4], 3, 100, 2.0).is_none());
    }

    #[test]
    fn the_median_of_two_degrees_is_near_that_of_an_exponential() {
        assert!((median_over_mean(2.0) - 2_f64.ln()).abs() < 0.01);
    }
}
