//! Weighted straight lines of several families that share one slope and start where they
//! will: lots of different origin that change alike with every pass.
//!
//! Assumption for every interval here: independent normal residuals whose variance is one
//! unknown number over the weight of the point. One family of equal weights is the ordinary
//! straight line.

mod lack_of_fit;
mod weights;

pub use lack_of_fit::{LackOfFit, Shown};
pub use weights::{Spread, spread_between};

use super::line::Inverse;
use crate::distributions::student_t;
use crate::tails::t_within;

/// A point of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Which family it belongs to.
    pub family: usize,
    /// Where it is.
    pub x: f64,
    /// What was read there.
    pub y: f64,
    /// Its weight: the larger, the less it varies.
    pub weight: f64,
}

/// The middle of a family.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Middle {
    weight: f64,
    x: f64,
    y: f64,
}

/// Lines of several families with one slope.
#[derive(Debug, Clone, PartialEq)]
pub struct CommonSlope {
    /// Change of y for one unit of x.
    pub slope: f64,
    /// Degrees of freedom of the residuals.
    pub freedom: f64,
    /// Weighted sum of squares of the residuals.
    pub residual_squares: f64,
    /// Weighted sum of squares of x about the middle of its family.
    squares_x: f64,
    middles: Vec<Middle>,
}

impl CommonSlope {
    /// The lines; none unless x varies within a family and a degree of freedom is left.
    /// Points that are not finite, or of no weight, are left out.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "a count")]
    pub fn fit(points: &[Point]) -> Option<Self> {
        let used: Vec<_> = points.iter().copied().filter(is_usable).collect();
        let middles = middles(&used);
        let about = |p: &Point| (p.x - middles[p.family].x, p.y - middles[p.family].y);
        let sum = |f: &dyn Fn(f64, f64) -> f64| -> f64 {
            used.iter().map(|p| (p.weight, about(p))).map(|(w, (x, y))| w * f(x, y)).sum()
        };
        let squares_x = sum(&|x, _| x * x);
        let slope = sum(&|x, y| x * y) / squares_x;
        let families = middles.iter().filter(|middle| middle.weight > 0.0).count();
        let freedom = used.len().checked_sub(families + 1).filter(|freedom| *freedom > 0)?;
        let residual_squares = sum(&|x, y| (y - slope * x).powi(2));
        let fitted = Self { slope, freedom: freedom as f64, residual_squares, squares_x, middles };
        (slope.is_finite() && residual_squares.is_finite() && squares_x > 0.0).then_some(fitted)
    }

    /// Variance of a point of weight one.
    #[must_use]
    pub fn variance(&self) -> f64 {
        self.residual_squares / self.freedom
    }

    /// Standard error of the slope.
    #[must_use]
    pub fn slope_se(&self) -> f64 {
        (self.variance() / self.squares_x).sqrt()
    }

    /// Interval for the slope.
    #[must_use]
    pub fn slope_interval(&self, confidence: f64) -> Option<(f64, f64)> {
        let half = t_within(confidence, self.freedom)? * self.slope_se();
        Some((self.slope - half, self.slope + half))
    }

    fn middle(&self, family: usize) -> Option<Middle> {
        self.middles.get(family).copied().filter(|middle| middle.weight > 0.0)
    }

    /// y of a family's line at `x`; none for a family without points.
    #[must_use]
    pub fn at(&self, family: usize, x: f64) -> Option<f64> {
        self.middle(family).map(|middle| middle.y + self.slope * (x - middle.x))
    }

    /// Standard error of a family's line at `x`, with the scatter of a new point of some
    /// weight on top where one is given.
    #[must_use]
    pub fn se_at(&self, family: usize, x: f64, new_weight: Option<f64>) -> Option<f64> {
        let middle = self.middle(family)?;
        let line = 1.0 / middle.weight + (x - middle.x).powi(2) / self.squares_x;
        let se = (self.variance() * (line + new_weight.map_or(0.0, f64::recip))).sqrt();
        se.is_finite().then_some(se)
    }

    /// Interval for a family's line at `x`.
    #[must_use]
    pub fn mean_interval(&self, family: usize, x: f64, confidence: f64) -> Option<(f64, f64)> {
        self.interval(family, x, None, confidence)
    }

    /// Interval for a new point of some weight at `x`.
    #[must_use]
    pub fn prediction_interval(
        &self,
        family: usize,
        x: f64,
        weight: f64,
        confidence: f64,
    ) -> Option<(f64, f64)> {
        self.interval(family, x, Some(weight), confidence)
    }

    fn interval(
        &self,
        family: usize,
        x: f64,
        new_weight: Option<f64>,
        confidence: f64,
    ) -> Option<(f64, f64)> {
        let half = t_within(confidence, self.freedom)? * self.se_at(family, x, new_weight)?;
        let y = self.at(family, x)?;
        half.is_finite().then_some((y - half, y + half))
    }

    /// Probability that a new point of some weight at `x` is below `y`. None where the
    /// points lie on their lines exactly, so that nothing is known of their scatter.
    #[must_use]
    pub fn probability_below(&self, family: usize, x: f64, weight: f64, y: f64) -> Option<f64> {
        let se = self.se_at(family, x, Some(weight)).filter(|se| *se > 0.0)?;
        let t = (y - self.at(family, x)?) / se;
        student_t::tails(self.freedom, t).map(|split| split.below)
    }

    /// The x at which a family's line is at `y`, with exact limits (Fieller 1954, Journal of
    /// the Royal Statistical Society B 16:175). None where the slope is so uncertain that
    /// there are no finite limits.
    #[must_use]
    pub fn crossing(&self, family: usize, y: f64, confidence: f64) -> Option<Inverse> {
        let middle = self.middle(family)?;
        let reach = t_within(confidence, self.freedom)? * self.variance().sqrt();
        let g = (reach / self.slope).powi(2) / self.squares_x;
        if !(g < 1.0 && y.is_finite()) {
            return None;
        }
        let distance = (y - middle.y) / self.slope;
        let free = (1.0 - g) / middle.weight + distance * distance / self.squares_x;
        let half = (reach / self.slope).abs() * free.sqrt() / (1.0 - g);
        let centre = middle.x + distance / (1.0 - g);
        Some(Inverse { x: middle.x + distance, low: centre - half, high: centre + half, g })
    }
}

fn is_usable(p: &Point) -> bool {
    p.x.is_finite() && p.y.is_finite() && p.weight.is_finite() && p.weight > 0.0
}

/// Weighted means of each family, about its first point so that no digits are lost.
fn middles(points: &[Point]) -> Vec<Middle> {
    let families = points.iter().map(|p| p.family + 1).max().unwrap_or(0);
    let mut middles = vec![Middle::default(); families];
    for (family, middle) in middles.iter_mut().enumerate() {
        let own = || points.iter().filter(|p| p.family == family);
        let Some(first) = own().next() else { continue };
        let weight: f64 = own().map(|p| p.weight).sum();
        let mean = |f: &dyn Fn(&Point) -> f64| own().map(|p| p.weight * f(p)).sum::<f64>() / weight;
        let (x, y) = (mean(&|p| p.x - first.x), mean(&|p| p.y - first.y));
        *middle = Middle { weight, x: first.x + x, y: first.y + y };
    }
    middles
}
