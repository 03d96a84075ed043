//! The general shape of a spectrum: two first-order autoregressions, one of them slower,
//! and white noise, fitted to the logarithms of the powers by least absolute deviations,
//! so that waves do not pull at it (after Mann and Lees 1996, Climatic Change 33:409).

use std::f64::consts::TAU;

/// Autocorrelations tried, from -0.5 to 0.999, closer together near one.
const TRIED: u32 = 60;
/// Shares of variance tried.
const SHARES: [f64; 10] = [0.0, 1e-3, 0.01, 0.03, 0.1, 0.2, 0.35, 0.5, 0.7, 0.9];
/// Times that the parts are fitted in turn.
const ROUNDS: u32 = 3;
/// Bins that are fitted together: as many as a twelfth of the bin's number.
const BUNCH: usize = 12;

/// Bins that are close on a logarithmic scale, taken together.
struct Bunch {
    /// Cosine of the middle frequency.
    cos: f64,
    /// Median of the logarithms.
    log: f64,
    weight: f64,
}

/// Parts of the variance, all together one.
#[derive(Debug, Clone, Copy)]
struct Shape {
    r: f64,
    slow_r: f64,
    slow_share: f64,
    white_share: f64,
}

impl Shape {
    /// Logarithm of the power at a frequency, by its cosine.
    fn at(&self, cos: f64) -> f64 {
        let red = |r: f64| (1.0 - r * r) / (1.0 + r * r - 2.0 * r * cos);
        let both = (1.0 - self.slow_share) * red(self.r) + self.slow_share * red(self.slow_r);
        ((1.0 - self.white_share) * both + self.white_share).ln()
    }

    /// Sum of absolute deviations about their median.
    fn misfit(&self, bunches: &[Bunch], room: &mut Vec<f64>) -> f64 {
        room.clear();
        room.extend(bunches.iter().map(|bunch| bunch.log - self.at(bunch.cos)));
        let rest = room.clone();
        let level = median_of(room);
        rest.iter().zip(bunches).map(|(x, bunch)| (x - level).abs() * bunch.weight).sum()
    }
}

/// Logarithms of the shape that fits best, but for its level; `logs` begin at bin `first`
/// of segments of `length`.
pub(super) fn fitted_shape(logs: &[f64], first: usize, length: usize) -> Vec<f64> {
    let bunches = bunches(logs, first, length);
    let mut best = Shape { r: 0.0, slow_r: 0.0, slow_share: 0.0, white_share: 0.0 };
    let mut room = Vec::with_capacity(bunches.len());
    let mut least = best.misfit(&bunches, &mut room);
    for round in 0..2 * ROUNDS {
        let from = best;
        for (i, share) in (0..=TRIED).flat_map(|i| SHARES.map(|share| (i, share))) {
            let r = autocorrelation(i);
            let tried = if round % 2 == 0 {
                Shape { r, white_share: share, ..from }
            } else {
                Shape { slow_r: r, slow_share: share, ..from }
            };
            let misfit = tried.misfit(&bunches, &mut room);
            if misfit < least {
                (least, best) = (misfit, tried);
            }
        }
    }
    (0..logs.len()).map(|k| best.at((TAU * count(k + first) / count(length)).cos())).collect()
}

fn bunches(logs: &[f64], first: usize, length: usize) -> Vec<Bunch> {
    let mut found = Vec::new();
    let mut start = 0;
    while start < logs.len() {
        let width = ((start + first) / BUNCH).max(1);
        let mut bunch: Vec<f64> = logs.iter().skip(start).take(width).copied().collect();
        let middle = count(start + first) + 0.5 * (count(bunch.len()) - 1.0);
        found.push(Bunch {
            cos: (TAU * middle / count(length)).cos(),
            weight: count(bunch.len()).sqrt(),
            log: median_of(&mut bunch),
        });
        start += width;
    }
    found
}

/// The autocorrelations tried.
fn autocorrelation(i: u32) -> f64 {
    let share = f64::from(i) / f64::from(TRIED);
    0.999 - 1.5 * (1.0 - share).powi(2)
}

#[expect(clippy::cast_precision_loss, reason = "a count")]
fn count(bins: usize) -> f64 {
    bins as f64
}

/// Middle value, the upper one of two; zero of nothing.
pub(super) fn median_of(values: &mut [f64]) -> f64 {
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
    fn a_shape_of_three_parts_is_found_again() {
        let length = 1000;
        let made = Shape { r: 0.7, slow_r: 0.99, slow_share: 0.5, white_share: 0.1 };
        let logs: Vec<f64> =
            (3..500).map(|k| made.at((TAU * f64::from(k) / 1000.0).cos()) + 2.0).collect();
        let found = fitted_shape(&logs, 3, length);
        for (k, (log, shape)) in logs.iter().zip(&found).enumerate() {
            assert!((log - shape - (logs[100] - found[100])).abs() < 0.3, "{k}: {log} {shape}");
        }
    }
}
