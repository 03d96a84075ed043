//! Weights of points that are means of different numbers of results.
//!
//! The variance of such a mean is that between the things that were tested plus that of a
//! result over the number of results. The second is pooled over all that were tested more
//! than once; the first is chosen so that the weighted residuals of the lines come out as
//! they should (Paule and Mandel 1982, Journal of Research of the NBS 87:377).

use super::{CommonSlope, Point};

/// Where the variance between things is looked for, in multiples of that of a result.
const LARGEST_RATIO: f64 = 1e6;
const STEPS: usize = 60;

/// How results scatter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Variance of a result about the mean of what was tested.
    pub within: f64,
    /// Variance between things of one kind.
    pub between: f64,
}

impl Spread {
    /// The weight of a mean of so many results.
    #[must_use]
    pub fn weight(self, results: f64) -> f64 {
        1.0 / (self.between + self.within / results)
    }
}

/// The variance between things, from points that are means of so many results each, by the
/// residuals of their lines. None where no line can be fitted, or where the results of no
/// thing differ. `points` bring their own weights, which are not used.
#[must_use]
pub fn spread_between(points: &[(Point, f64)], within: f64) -> Option<Spread> {
    if !(within > 0.0 && within.is_finite()) {
        return None;
    }
    let excess = |between: f64| {
        let spread = Spread { within, between };
        let weighted: Vec<_> = points
            .iter()
            .map(|(point, results)| Point { weight: spread.weight(*results), ..*point })
            .collect();
        CommonSlope::fit(&weighted).map(|line| line.residual_squares - line.freedom)
    };
    if excess(0.0)? <= 0.0 {
        return Some(Spread { within, between: 0.0 });
    }
    let (mut low, mut high) = (0.0, within * LARGEST_RATIO);
    for _ in 0..STEPS {
        let middle = f64::midpoint(low, high);
        if excess(middle)? > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(Spread { within, between: f64::midpoint(low, high) })
}
