//! The gamma distribution with rate one, and chi-square, which is twice it.

use super::integral::far_tail;
use super::saddle::gamma_density;
use super::{Split, normal, point_of};

/// Shape from which on the tail is integrated: series and fraction need more terms than
/// that takes.
const LARGE: f64 = 200.0;
/// Most terms of series and fraction; below `LARGE` some hundreds suffice.
const TERMS: u32 = 10_000;
/// Where a fraction would divide by zero.
const TINY: f64 = 1e-300;

/// Shares of a gamma variable of shape `shape` below and above `x`: the regularized
/// incomplete gamma functions P and Q (Abramowitz and Stegun 6.5.1). None unless the shape
/// is positive and finite and x is a number.
#[must_use]
pub fn tails(shape: f64, x: f64) -> Option<Split> {
    if !(shape > 0.0 && shape.is_finite()) || x.is_nan() {
        return None;
    }
    if x <= 0.0 {
        return Some(Split::ALL_ABOVE);
    }
    if x == f64::INFINITY {
        return Some(Split::ALL_BELOW);
    }
    if shape >= LARGE {
        large(shape, x)
    } else if x < shape + 1.0 {
        Split::of_below(series(shape, x)?)
    } else {
        Split::of_above(fraction(shape, x)?)
    }
}

/// The tail away from the mode, integrated.
fn large(shape: f64, x: f64) -> Option<Split> {
    let density = |t: f64| if t > 0.0 { gamma_density(shape, t) / t } else { 0.0 };
    let rise = (shape - 1.0) / x - 1.0;
    if x < shape {
        Split::of_below(far_tail(x, -1.0, rise, shape.sqrt(), &density))
    } else {
        Split::of_above(far_tail(x, 1.0, -rise, shape.sqrt(), &density))
    }
}

/// P by its series (Abramowitz and Stegun 6.5.29), all terms positive.
fn series(shape: f64, x: f64) -> Option<f64> {
    let (mut term, mut sum) = (1.0, 1.0);
    for n in 1..TERMS {
        term *= x / (shape + f64::from(n));
        sum += term;
        if term <= 1e-17 * sum {
            return Some(gamma_density(shape, x) / shape * sum);
        }
    }
    None
}

/// Q by its continued fraction (Abramowitz and Stegun 6.5.31, contracted to its even part;
/// evaluated from the front by Lentz's way).
fn fraction(shape: f64, x: f64) -> Option<f64> {
    let mut b = x + 1.0 - shape;
    let mut c = 1.0 / TINY;
    let mut d = 1.0 / b;
    let mut product = d;
    for n in 1..TERMS {
        let n = f64::from(n);
        let a = -n * (n - shape);
        b += 2.0;
        let nonzero = |v: f64| if v.abs() < TINY { TINY } else { v };
        d = 1.0 / nonzero(a * d + b);
        c = nonzero(b + a / c);
        product *= d * c;
        if (d * c - 1.0).abs() < 3e-16 {
            return Some(gamma_density(shape, x) * product);
        }
    }
    None
}

/// The point of a gamma variable with the shares `split` below and above it.
#[must_use]
pub fn quantile(shape: f64, split: Split) -> Option<f64> {
    if !(shape > 0.0 && shape.is_finite()) {
        return None;
    }
    let log = point_of(split, start(shape, split)?, 1.0, |u| {
        let x = u.exp();
        Some((tails(shape, x)?, gamma_density(shape, x)))
    })?;
    Some(log.exp())
}

/// A first guess of the logarithm: Wilson and Hilferty's, or the first term of the series.
fn start(shape: f64, split: Split) -> Option<f64> {
    let z = normal::quantile(split)?;
    let root = 1.0 - 1.0 / (9.0 * shape) + z / (3.0 * shape.sqrt());
    if root > 0.3 {
        return Some(shape.ln() + 3.0 * root.ln());
    }
    // P is about x^a / Gamma(a + 1), and gamma_density at x = 1 is 1 / (e Gamma(a)).
    let log_gamma = -1.0 - gamma_density(shape, 1.0).max(TINY).ln() + shape.ln();
    Some((split.below.ln() + log_gamma) / shape)
}

/// Shares of a chi-square variable below and above `x`, for `freedom` > 0 degrees.
#[must_use]
pub fn chi_square_tails(freedom: f64, x: f64) -> Option<Split> {
    tails(0.5 * freedom, 0.5 * x)
}

/// The point of a chi-square variable with the shares `split` below and above it.
#[must_use]
pub fn chi_square_quantile(freedom: f64, split: Split) -> Option<f64> {
    quantile(0.5 * freedom, split).map(|x| 2.0 * x)
}
