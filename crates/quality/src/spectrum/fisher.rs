//! Fisher's test for the largest ordinate of a periodogram (Fisher 1929, Proceedings of
//! the Royal Society A 125:54). Evenly spaced readings; the noise is taken as independent
//! and normal.

use num_bigint::BigInt;
use num_traits::ToPrimitive;
use rustfft::{FftPlanner, num_complex::Complex};

/// Largest ordinate and its share of all.
#[derive(Debug, Clone, PartialEq)]
pub struct FisherTest {
    /// Ordinates |sum x exp(-2 pi i k j / n)|^2 / n at k = 1 .. (n - 1) / 2, mean removed.
    pub ordinates: Vec<f64>,
    /// k of the largest.
    pub peak: usize,
    /// Waves for each step between readings, k / n.
    pub frequency: f64,
    /// Amplitude of the wave.
    pub amplitude: f64,
    /// Largest ordinate over the sum of all.
    pub g: f64,
    /// Chance of so large a share in noise.
    pub p: f64,
}

/// The test of evenly spaced values. None of fewer than five, where one is not finite, or
/// nothing varies.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "a count")]
pub fn fisher_test(values: &[f64]) -> Option<FisherTest> {
    let n = values.len();
    if n < 5 || values.iter().any(|x| !x.is_finite()) {
        return None;
    }
    let mean = values.iter().sum::<f64>() / n as f64;
    let mut buffer: Vec<_> = values.iter().map(|x| Complex::new(x - mean, 0.0)).collect();
    FftPlanner::new().plan_fft_forward(n).process(&mut buffer);
    let ordinates: Vec<f64> =
        buffer.iter().skip(1).take((n - 1) / 2).map(|x| x.norm_sqr() / n as f64).collect();
    let (place, largest) = ordinates.iter().enumerate().max_by(|(_, a), (_, b)| a.total_cmp(b))?;
    let g = largest / ordinates.iter().sum::<f64>();
    let p = fisher_p(u32::try_from(ordinates.len()).ok()?, g)?;
    let (peak, amplitude) = (place + 1, 2.0 * (largest / n as f64).sqrt());
    Some(FisherTest { frequency: peak as f64 / n as f64, ordinates, peak, amplitude, g, p })
}

/// Beyond this expected number of ordinates over g the probability is one to all digits.
const CERTAIN: f64 = 40.0;
/// Up to it plain floating point keeps twelve digits in the alternating sum.
const PLAIN: f64 = 6.0;

/// Chance that the largest of `m` ordinates of noise has share `g` or more of all:
/// sum (-1)^(j-1) C(m, j) (1 - j g)^(m-1) over j g < 1. None unless `m` is above zero and
/// `g` a number.
#[must_use]
pub fn fisher_p(m: u32, g: f64) -> Option<f64> {
    if m == 0 || g.is_nan() {
        return None;
    }
    let count = f64::from(m);
    if g * count <= 1.0 {
        return Some(1.0);
    }
    if g >= 1.0 {
        return Some(if m == 1 && g == 1.0 { 1.0 } else { 0.0 });
    }
    let over = count * ((count - 1.0) * (-g).ln_1p()).exp();
    if over > CERTAIN {
        return Some(1.0);
    }
    let p = if over > PLAIN { by_whole_numbers(m, g)? } else { by_doubles(count, g) };
    Some(p.clamp(0.0, 1.0))
}

fn by_doubles(count: f64, g: f64) -> f64 {
    let (mut sum, mut ways, mut j) = (0.0, 1.0, 1.0);
    while j <= count && j * g < 1.0 {
        ways *= -(count - j + 1.0) / j;
        let term: f64 = ways * ((count - 1.0) * (-j * g).ln_1p()).exp();
        sum -= term;
        if term.abs() < 1e-18 * sum.abs() {
            break;
        }
        j += 1.0;
    }
    sum
}

/// The same sum in fixed point with so many bits that what cancels does not matter.
fn by_whole_numbers(m: u32, g: f64) -> Option<f64> {
    let most = (1.0 / g).ceil().min(f64::from(m)).min(400.0);
    let bits = 160 + (most * f64::from(m).log2()).to_u32()?;
    let one = BigInt::from(1) << bits;
    // A double is a whole number of 2^-1074 at most; 2^53 times g is a whole number of
    // what g's exponent leaves, and g is above 1/m here.
    let scaled = BigInt::from((g * 2_f64.powi(80)).to_u128()?) << (bits - 80);
    let (mut sum, mut ways) = (BigInt::ZERO, BigInt::from(1));
    for j in 1..=most.to_u32()? {
        ways = ways * (m - j + 1) / j;
        let base = &one - &scaled * j;
        if base <= BigInt::ZERO {
            break;
        }
        let term = &ways * fixed_power(&base, m - 1, bits);
        if term < (BigInt::from(1) << (bits - 100)) && j > 1 {
            break;
        }
        if j % 2 == 1 { sum += term } else { sum -= term }
    }
    (sum >> (bits - 100)).to_f64().map(|p| p / 2_f64.powi(100))
}

fn fixed_power(base: &BigInt, exponent: u32, bits: u32) -> BigInt {
    let (mut result, mut base, mut left) = (BigInt::from(1) << bits, base.clone(), exponent);
    while left > 0 {
        if left & 1 == 1 {
            result = (result * &base) >> bits;
        }
        base = (&base * &base) >> bits;
        left >>= 1;
    }
    result
}

/// The share that the largest of `m` ordinates of noise exceeds with probability `alpha`.
/// None unless 0 < alpha < 1 and m > 1.
#[must_use]
pub fn fisher_critical(m: u32, alpha: f64) -> Option<f64> {
    if !(alpha > 0.0 && alpha < 1.0) || m < 2 {
        return None;
    }
    let (mut low, mut high) = (1.0 / f64::from(m), 1.0);
    for _ in 0..100 {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            break;
        }
        if fisher_p(m, middle)? > alpha { low = middle } else { high = middle }
    }
    Some(f64::midpoint(low, high))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ways_of_summing_agree_where_they_meet() {
        for (m, g) in [(50_u32, 0.09), (200, 0.03), (1000, 0.008), (5000, 0.0018)] {
            let (a, b) = (by_doubles(f64::from(m), g), by_whole_numbers(m, g).unwrap());
            assert!((a - b).abs() < 1e-9 * b, "{m} {g}: {a} {b}");
        }
    }

    #[test]
    fn the_probability_falls_from_one_to_nothing() {
        for m in [2, 10, 77, 1000] {
            let mut before = 1.0;
            for i in 1..400 {
                let p = fisher_p(m, f64::from(i) / 400.0).unwrap();
                assert!((0.0..=before + 1e-12).contains(&p), "{m} {i}: {p} after {before}");
                before = p;
            }
        }
    }

    /// Two ordinates: the larger share g is uniform on 1/2..1, so p = 2 (1 - g).
    #[test]
    fn of_two_ordinates_the_probability_is_that_of_a_stick_broken_once() {
        for g in [0.5, 0.6, 0.75, 0.99] {
            assert!((fisher_p(2, g).unwrap() - 2.0 * (1.0 - g)).abs() < 1e-12);
        }
    }

    #[test]
    fn what_makes_no_sense_has_no_test() {
        assert_eq!(fisher_test(&[1.0; 20]), None);
        assert_eq!(fisher_test(&[1.0, 2.0]), None);
        assert_eq!(fisher_p(0, 0.5), None);
        assert_eq!(fisher_critical(1, 0.05), None);
        assert_eq!(fisher_critical(10, 1.0), None);
    }
}
