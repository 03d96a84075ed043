//! The beta distribution.

use super::integral::far_tail;
use super::saddle::beta_density;
use super::{Split, normal, point_of};

/// Parameters from which on the tail is integrated.
const LARGE: f64 = 200.0;
/// Most terms of the fraction; below `LARGE` some hundreds suffice.
const TERMS: u32 = 10_000;
/// Where a fraction would divide by zero.
const TINY: f64 = 1e-300;

/// A share with what is left of one, both to full precision.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// The value.
    pub x: f64,
    /// One less the value.
    pub rest: f64,
}

impl Point {
    /// A share and what is left of one; none unless 0 <= x <= 1.
    #[must_use]
    pub fn new(x: f64) -> Option<Self> {
        (0.0..=1.0).contains(&x).then_some(Self { x, rest: 1.0 - x })
    }

    /// The share whose logit ln(x / (1 - x)) is `u`.
    fn of_logit(u: f64) -> Self {
        let share = |u: f64| 1.0 / (1.0 + (-u).exp());
        Self { x: share(u), rest: share(-u) }
    }

    fn swapped(self) -> Self {
        Self { x: self.rest, rest: self.x }
    }
}

/// Shares of a beta variable below and above a point: the regularized incomplete beta
/// functions I_x(a, b) and I_(1-x)(b, a) (Abramowitz and Stegun 26.5.1). None unless both
/// parameters are positive and finite.
#[must_use]
pub fn tails(a: f64, b: f64, at: Point) -> Option<Split> {
    if !(a > 0.0 && b > 0.0 && (a + b).is_finite()) || at.x.is_nan() || at.rest.is_nan() {
        return None;
    }
    if at.x <= 0.0 {
        return Some(Split::ALL_ABOVE);
    }
    if at.rest <= 0.0 {
        return Some(Split::ALL_BELOW);
    }
    if a.min(b) >= LARGE {
        large(a, b, at)
    } else if at.x < (a + 1.0) / (a + b + 2.0) {
        Split::of_below(fraction(a, b, at)?)
    } else {
        Split::of_above(fraction(b, a, at.swapped())?)
    }
}

/// The tail away from the mode, integrated over the logit.
fn large(a: f64, b: f64, at: Point) -> Option<Split> {
    let density = |u: f64| {
        let Point { x, rest } = Point::of_logit(u);
        beta_density(a, b, x, rest)
    };
    let logit = (at.x / at.rest).ln();
    let spread = (1.0 / a + 1.0 / b).sqrt();
    let rise = a * at.rest - b * at.x;
    if rise > 0.0 {
        Split::of_below(far_tail(logit, -1.0, rise, spread, &density))
    } else {
        Split::of_above(far_tail(logit, 1.0, -rise, spread, &density))
    }
}

/// I_x(a, b) by a continued fraction, quick for x below the mean (DiDonato and Morris 1992,
/// ACM Transactions on Mathematical Software 18:360, function BFRAC; evaluated from the front
/// by Lentz's way). Its terms take what is left of x by itself, so that nothing cancels where
/// a is large and x near one.
fn fraction(a: f64, b: f64, Point { x, rest }: Point) -> Option<f64> {
    let nonzero = |v: f64| if v.abs() < TINY { TINY } else { v };
    let below_mean = a * rest - b * x;
    let mut product = nonzero(a * (below_mean + 1.0) / (a + 1.0));
    let (mut c, mut d) = (product, 0.0);
    for m in 1..TERMS {
        let m = f64::from(m);
        let near = a + 2.0 * m - 1.0;
        let above = (a + m - 1.0) / near * ((a + b + m - 1.0) / near) * m * (b - m) * x * x;
        let far = (a + m) * (below_mean + 1.0 + m * (1.0 + rest)) / (a + 2.0 * m + 1.0);
        let under = m + m * (b - m) * x / near + far;
        d = 1.0 / nonzero(under + above * d);
        c = nonzero(under + above / c);
        product *= c * d;
        if (c * d - 1.0).abs() < 3e-16 {
            return Some(beta_density(a, b, x, rest) / product);
        }
    }
    None
}

/// The point of a beta variable with the shares `split` below and above it.
#[must_use]
pub fn quantile(a: f64, b: f64, split: Split) -> Option<Point> {
    if !(a > 0.0 && b > 0.0 && (a + b).is_finite()) {
        return None;
    }
    let spread = (1.0 / a + 1.0 / b).sqrt();
    let start = (a / b).ln() + normal::quantile(split)?.clamp(-3.0, 3.0) * spread;
    let logit = point_of(split, start, spread, |u| {
        let at = Point::of_logit(u);
        Some((tails(a, b, at)?, beta_density(a, b, at.x, at.rest)))
    })?;
    Some(Point::of_logit(logit))
}
