//! The two parts that keep the digits of gamma and beta densities for large arguments
//! (Loader, Fast and accurate computation of binomial probabilities, 2000).

use std::f64::consts::PI;

/// ln Gamma(x + 1) - (x + 1/2) ln x + x - ln sqrt(2 pi), for x > 0: the error of Stirling's
/// formula. By its series (Abramowitz and Stegun 6.1.41) from 15 on, by steps up to there
/// below.
pub(crate) fn stirling_error(x: f64) -> f64 {
    let mut x = x;
    let mut sum = 0.0;
    while x < 15.0 {
        sum += (x + 0.5) * (1.0 / x).ln_1p() - 1.0;
        x += 1.0;
    }
    let r = 1.0 / (x * x);
    let terms = [
        1.0 / 12.0,
        -1.0 / 360.0,
        1.0 / 1260.0,
        -1.0 / 1680.0,
        1.0 / 1188.0,
        -691.0 / 360_360.0,
        1.0 / 156.0,
    ];
    sum + terms.iter().rev().fold(0.0, |sum, term| sum * r + term) / x
}

/// x ln(x / m) + m - x, for x > 0 and m > 0, without cancellation where they are close.
pub(crate) fn deviance(x: f64, m: f64) -> f64 {
    let d = x - m;
    if d.abs() >= 0.1 * (x + m) {
        return x * (x / m).ln() + m - x;
    }
    let v = d / (x + m);
    let (mut sum, mut power) = (d * v, 2.0 * x * v);
    // Each term is a hundredth of the one before at most.
    for j in 1..20 {
        power *= v * v;
        let next = sum + power / f64::from(2 * j + 1);
        if next == sum {
            break;
        }
        sum = next;
    }
    sum
}

/// x^a e^-x / Gamma(a): the density of the logarithm of a gamma variable of shape a.
pub(crate) fn gamma_density(shape: f64, x: f64) -> f64 {
    (-stirling_error(shape) - deviance(shape, x)).exp() * (shape / (2.0 * PI)).sqrt()
}

/// x^a y^b / B(a, b) with y = 1 - x: the density of ln(x / y) of a beta variable.
pub(crate) fn beta_density(a: f64, b: f64, x: f64, y: f64) -> f64 {
    let n = a + b;
    let error = stirling_error(n) - stirling_error(a) - stirling_error(b);
    let exponent = error - deviance(a, n * x) - deviance(b, n * y);
    exponent.exp() * (a / n * b / (2.0 * PI)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stirling_error_of_a_whole_number_follows_from_its_factorial() {
        let mut log = 0.0;
        for n in 1..=30 {
            let x = f64::from(n);
            log += x.ln();
            let exact = log - (x + 0.5) * x.ln() + x - 0.5 * (2.0 * PI).ln();
            assert!((stirling_error(x) - exact).abs() < 5e-14, "{n}");
        }
    }

    #[test]
    fn deviance_is_the_same_on_both_ways_where_they_meet() {
        for x in [1e-3, 1.0, 1e6_f64] {
            for ratio in [1.2, 1.22, 1.3, 0.8, 0.81_f64] {
                let m = x * ratio;
                let plain = x * (x / m).ln() + m - x;
                assert!((deviance(x, m) / plain - 1.0).abs() < 1e-13);
            }
        }
        assert_eq!(deviance(3.0, 3.0), 0.0);
    }
}
