//! How closely readings follow one another, and what that takes from their number.
//!
//! Sources: Bayley and Hammersley (1946), Journal of the Royal Statistical Society
//! Supplement 8:184, for the mean of correlated readings; Ljung and Box (1978), Biometrika
//! 65:297; von Neumann (1941), Annals of Mathematical Statistics 12:367; Wald and Wolfowitz
//! (1940), Annals of Mathematical Statistics 11:147; Geyer (1992), Statistical Science
//! 7:473, for the sum over estimated autocorrelations.

mod lags;
mod runs;

pub use lags::{LAGS_MAX, Lags};
pub use runs::{RunsTest, runs_about_median};

use crate::tails::chi_square_above;

/// Readings up to which the sum over lags is taken term by term.
const TERMS_MAX: f64 = 1e7;

/// Sum over the lags of a first-order autoregression: n times the variance of the mean of
/// `n` readings with lag-1 autocorrelation `rho` over the variance of one,
/// 1 + 2 sum (1 - k/n) rho^k. None unless n >= 1 and -1 <= rho <= 1.
fn sum_over_lags(n: f64, rho: f64) -> Option<f64> {
    if !(n >= 1.0 && n.is_finite() && rho.abs() <= 1.0) {
        return None;
    }
    let gap = 1.0 - rho;
    let x = n * gap;
    if x > 1e-2 {
        let closed = (1.0 + rho) / gap - 2.0 * rho * (1.0 - rho.powf_of_count(n)) / (x * gap);
        return Some(closed.max(0.0));
    }
    // Close to rho = 1 the closed form loses its digits; terms there are alike and few
    // steps apart.
    if n <= TERMS_MAX {
        let (mut sum, mut power, mut k) = (1.0, 1.0, 1.0);
        while k < n {
            power *= rho;
            sum += 2.0 * (1.0 - k / n) * power;
            k += 1.0;
        }
        return Some(sum);
    }
    Some(n * (1.0 - x / 3.0 + x * x / 12.0 - x * x * x / 60.0))
}

/// A power whose exponent is a count, for negative bases as well.
trait PowerOfCount {
    fn powf_of_count(self, n: f64) -> f64;
}

impl PowerOfCount for f64 {
    fn powf_of_count(self, n: f64) -> f64 {
        let size = self.abs().powf(n);
        if self < 0.0 && n % 2.0 == 1.0 { -size } else { size }
    }
}

/// Variance of the mean of `n` readings of a first-order autoregression over the variance
/// of one reading.
#[must_use]
pub fn variance_of_mean_ratio(n: f64, rho: f64) -> Option<f64> {
    Some(sum_over_lags(n, rho)? / n)
}

/// Independent readings that fix the mean as well as `n` readings of a first-order
/// autoregression do. A negative `rho` makes it more than n. None where the mean does not
/// vary at all.
#[must_use]
pub fn effective_readings(n: f64, rho: f64) -> Option<f64> {
    let effective = n / sum_over_lags(n, rho)?;
    effective.is_finite().then_some(effective)
}

/// The same for many readings: n (1 - rho) / (1 + rho). None unless -1 < rho <= 1.
#[must_use]
pub fn effective_of_many(n: f64, rho: f64) -> Option<f64> {
    let effective = n * (1.0 - rho) / (1.0 + rho);
    (n >= 1.0 && rho > -1.0 && rho <= 1.0).then_some(effective)
}

/// Mean of the sample variance (divisor n - 1) over the true variance, for a first-order
/// autoregression. None of fewer than two readings.
#[must_use]
pub fn expected_variance_ratio(n: f64, rho: f64) -> Option<f64> {
    let of_mean = variance_of_mean_ratio(n, rho)?;
    (n > 1.0).then(|| (1.0 - of_mean) * n / (n - 1.0))
}

/// Independent readings that fix the mean as well as `n` readings with these
/// autocorrelations, r1 first, whatever the process: n over 1 + 2 sum (1 - k/n) r_k, the
/// sum ending before the first pair of neighbouring lags whose sum is not above zero
/// (Geyer's initial positive sequence), where estimates are noise. At most n, since a gain
/// would rest on noise as well. None where n < 1.
#[must_use]
pub fn effective_by_lags(n: f64, r: &[f64]) -> Option<f64> {
    if !(n >= 1.0 && n.is_finite()) {
        return None;
    }
    let at = |k: usize| if k == 0 { Some(1.0) } else { r.get(k - 1).copied() };
    let mut sum = -1.0;
    let mut lag = 0.0;
    for pair in 0..=r.len() / 2 {
        let (even, odd) = (at(2 * pair), at(2 * pair + 1).unwrap_or(0.0));
        let Some(even) = even.filter(|even| even + odd > 0.0) else { break };
        sum += 2.0 * ((1.0 - lag / n) * even + (1.0 - (lag + 1.0) / n) * odd);
        lag += 2.0;
    }
    Some((n / sum).clamp(1.0, n)).filter(|effective| effective.is_finite())
}

/// Ljung and Box's statistic of the autocorrelations r_1..r_m of `n` readings, and the
/// probability of so large a one were the readings independent. None where n is not
/// above m.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "a count")]
pub fn ljung_box(r: &[f64], n: f64) -> Option<(f64, f64)> {
    if r.is_empty() || n.is_nan() || n <= r.len() as f64 {
        return None;
    }
    let term = |(k, r): (usize, &f64)| r * r / (n - (k + 1) as f64);
    let q = n * (n + 2.0) * r.iter().enumerate().map(term).sum::<f64>();
    Some((q, chi_square_above(q, r.len() as f64)?))
}

/// Half width of the band that holds 95 % of the autocorrelations of `n` independent
/// readings, 1.96 / sqrt(n).
#[must_use]
pub fn band_95(n: f64) -> Option<f64> {
    (n >= 1.0).then(|| 1.959_963_984_540_054 / n.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The sum as it is written down.
    fn by_terms(n: u32, rho: f64) -> f64 {
        let term = |k: u32| (1.0 - f64::from(k) / f64::from(n)) * rho.powi(k as i32);
        1.0 + 2.0 * (1..n).map(term).sum::<f64>()
    }

    #[test]
    fn the_sum_over_lags_holds_near_one_and_for_many_readings() {
        for (n, rho) in [(1000, 0.999_999_9), (1000, 0.99999), (1000, 1.0), (999, -0.99), (5, -1.0)]
        {
            let found = sum_over_lags(f64::from(n), rho).unwrap();
            assert!((found - by_terms(n, rho)).abs() < 1e-9 * found.max(1.0), "{n} {rho}: {found}");
        }
        let limit = sum_over_lags(1e9, 0.5).unwrap();
        assert!((limit - 3.0).abs() < 1e-8);
        let many = sum_over_lags(1e8, 1.0 - 1e-11).unwrap();
        assert!((many / 1e8 - (1.0 - 1e-3 / 3.0)).abs() < 1e-6);
    }

    #[test]
    fn what_makes_no_sense_has_no_value() {
        assert_eq!(effective_readings(0.0, 0.5), None);
        assert_eq!(effective_readings(10.0, 1.5), None);
        assert_eq!(effective_readings(10.0, f64::NAN), None);
        assert_eq!(effective_readings(10.0, -1.0), None);
        assert_eq!(effective_by_lags(f64::NAN, &[]), None);
        assert_eq!(effective_by_lags(50.0, &[]), Some(50.0));
        assert_eq!(ljung_box(&[], 10.0), None);
        assert_eq!(ljung_box(&[0.1, 0.1], 2.0), None);
    }

    proptest! {
        #[test]
        fn the_closed_form_is_the_sum_of_its_terms(n in 1_u32..400, rho in -1.0_f64..=1.0) {
            let (found, terms) = (sum_over_lags(f64::from(n), rho).unwrap(), by_terms(n, rho));
            prop_assert!((found - terms).abs() <= 1e-9 * terms.max(1.0));
        }

        #[test]
        fn lags_of_an_autoregression_give_its_effective_number(n in 200_u32..5000, rho in 0.0_f64..0.95) {
            let r: Vec<f64> = (1..200).map(|k| rho.powi(k)).collect();
            let (a, b) = (effective_by_lags(f64::from(n), &r).unwrap(), effective_readings(f64::from(n), rho).unwrap());
            prop_assert!((a / b - 1.0).abs() < 0.01);
        }
    }
}
