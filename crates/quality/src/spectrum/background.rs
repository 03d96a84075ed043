//! The smooth background of a spectrum, from which waves stand out.
//!
//! First the spectrum of a first-order autoregression with white noise upon it is fitted
//! to the logarithms of the powers, by least absolute deviations so that waves do not pull
//! at it (after Mann and Lees 1996, Climatic Change 33:409). What the fit leaves is
//! smoothed by a running median, so that any other smooth shape is followed as well.

/// Bins on either side that the running median takes in: as many as the bin's number,
/// between these bounds, so that it follows what bends on a logarithmic scale.
const REACH: (usize, usize) = (8, 24);
/// Autocorrelations tried, from -0.5 to 0.999, closer together near one.
const TRIED: u32 = 100;
/// Shares of white noise tried.
const WHITE: [f64; 10] = [0.0, 1e-3, 3e-3, 0.01, 0.03, 0.1, 0.2, 0.35, 0.5, 0.7];
/// Bins that are fitted together: as many as a twelfth of the bin's number.
const BUNCH: usize = 12;
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

/// Logarithm of the spectrum that fits best, but for its level.
fn fitted_shape(logs: &[f64], first: usize, length: usize) -> Vec<f64> {
    let bunches = bunches(logs, first);
    let mut best = (f64::INFINITY, (0.0, 0.0));
    for i in 0..=TRIED {
        for white in WHITE {
            let tried = (autocorrelation(i), white);
            let off = |(bin, log, _): &(f64, f64, f64)| log - shape_at(tried, *bin, length);
            let mut rest: Vec<f64> = bunches.iter().map(off).collect();
            let level = median_of(&mut rest.clone());
            rest.iter_mut().for_each(|x| *x = (*x - level).abs());
            let misfit: f64 = rest.iter().zip(&bunches).map(|(x, (_, _, weight))| x * weight).sum();
            if misfit < best.0 {
                best = (misfit, tried);
            }
        }
    }
    (0..logs.len()).map(|k| shape_at(best.1, count(k + first), length)).collect()
}

/// Bins bunched together where they are close on a logarithmic scale: middle, median, and
/// the root of their number as weight.
fn bunches(logs: &[f64], first: usize) -> Vec<(f64, f64, f64)> {
    let mut found = Vec::new();
    let mut start = 0;
    while start < logs.len() {
        let width = ((start + first) / BUNCH).max(1);
        let mut bunch: Vec<f64> = logs.iter().skip(start).take(width).copied().collect();
        let middle = count(start + first) + 0.5 * (count(bunch.len()) - 1.0);
        let weight = count(bunch.len()).sqrt();
        found.push((middle, median_of(&mut bunch), weight));
        start += width;
    }
    found
}

#[expect(clippy::cast_precision_loss, reason = "a count")]
fn count(bins: usize) -> f64 {
    bins as f64
}

/// The autocorrelations tried, up to 0.999.
fn autocorrelation(i: u32) -> f64 {
    let share = f64::from(i) / f64::from(TRIED);
    1.0 - 1.5 * (1.0 - share).powi(2) - 0.001
}

/// Logarithm of the spectrum of an autoregression and white noise, variance one.
fn shape_at((r, white): (f64, f64), bin: f64, length: usize) -> f64 {
    let turn = std::f64::consts::TAU * bin / count(length);
    let red = (1.0 - r * r) / (1.0 + r * r - 2.0 * r * turn.cos());
    ((1.0 - white) * red + white).ln()
}

/// Median about a place, and of how many; near an end of the first or last so many.
fn smoothed(values: &[f64], place: usize, first: usize) -> (f64, f64) {
    let reach = (place + first).clamp(REACH.0, REACH.1).min((values.len() - 1) / 2);
    let width = 2 * reach + 1;
    let start = place.saturating_sub(reach).min(values.len() - width);
    let mut window: Vec<f64> = values.iter().skip(start).take(width).copied().collect();
    (median_of(&mut window), count(window.len()))
}

/// Middle value, the upper one of two; zero of nothing.
fn median_of(values: &mut [f64]) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_background_of_an_autoregression_is_its_spectrum_whatever_stands_out() {
        let length = 512;
        let mut powers: Vec<f64> =
            (3..256).map(|k| shape_at((0.9, 0.1), f64::from(k), length).exp()).collect();
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
