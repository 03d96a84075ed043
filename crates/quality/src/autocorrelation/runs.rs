//! Runs above and below the median.

use crate::tails::normal_above;

/// Runs above and below the median, and how likely so few or so many are by chance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunsTest {
    /// Values above the median.
    pub above: u64,
    /// Values below it.
    pub below: u64,
    /// Runs seen.
    pub runs: u64,
    /// Runs expected in random order.
    pub expected: f64,
    /// Variance of that number.
    pub variance: f64,
    /// Standardised difference; below zero where values hang together.
    pub z: f64,
    /// Two-sided probability by the normal approximation, no continuity correction.
    pub p: f64,
}

/// Runs about the median of the values, those equal to it left out. Needs all values, so
/// it is for samples, not for spools. None where fewer than two lie on either side, or a
/// value is not finite.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "a count")]
pub fn runs_about_median(values: &[f64]) -> Option<RunsTest> {
    let median = median(values)?;
    let sides: Vec<bool> = values.iter().filter(|x| **x != median).map(|x| *x > median).collect();
    let above = sides.iter().filter(|side| **side).count();
    let below = sides.len() - above;
    if above < 2 || below < 2 {
        return None;
    }
    let changes = sides.iter().zip(sides.iter().skip(1)).filter(|(a, b)| a != b).count();
    let (a, b) = (above as f64, below as f64);
    let n = a + b;
    let expected = 2.0 * a * b / n + 1.0;
    let variance = 2.0 * a * b * (2.0 * a * b - n) / (n * n * (n - 1.0));
    let z = ((changes + 1) as f64 - expected) / variance.sqrt();
    Some(RunsTest {
        above: above as u64,
        below: below as u64,
        runs: changes as u64 + 1,
        expected,
        variance,
        z,
        p: 2.0 * normal_above(z.abs()),
    })
}

/// Middle value; of an even number the mean of the middle two.
fn median(values: &[f64]) -> Option<f64> {
    if values.iter().any(|x| !x.is_finite()) {
        return None;
    }
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    let high = *sorted.get(middle)?;
    if sorted.len() % 2 == 1 {
        return Some(high);
    }
    Some(f64::midpoint(*sorted.get(middle.checked_sub(1)?)?, high))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_that_tell_nothing_have_no_test() {
        assert_eq!(runs_about_median(&[]), None);
        assert_eq!(runs_about_median(&[1.0, 1.0, 1.0]), None);
        assert_eq!(runs_about_median(&[1.0, f64::NAN, 2.0, 3.0]), None);
        assert_eq!(runs_about_median(&[1.0, 2.0]), None);
    }

    #[test]
    fn order_counts_and_size_does_not() {
        let xs = [1.0, 3.0, 2.0, 9.0, 4.0, 8.0, 7.0, 0.0];
        let stretched = xs.map(|x| 5.0 * x - 3.0);
        assert_eq!(runs_about_median(&xs), runs_about_median(&stretched));
        let mut back = xs;
        back.reverse();
        assert_eq!(runs_about_median(&xs).unwrap().runs, runs_about_median(&back).unwrap().runs);
    }
}
