//! Whether straight lines do for the points.

use super::{CommonSlope, Point, is_usable, middles};
use crate::tails::f_above;

/// What a lack of fit would show by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shown {
    /// Points of one family at one x differ less than the lines are off: an F test against
    /// the pure error.
    Replicates,
    /// The points follow a bend: an F test of a square term. For want of replicates.
    Curvature,
}

/// A test of whether straight lines do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LackOfFit {
    /// What it goes by.
    pub shown: Shown,
    /// The F value.
    pub f: f64,
    /// Degrees of freedom of what the lines miss.
    pub freedom: f64,
    /// Degrees of freedom of the error.
    pub error_freedom: f64,
    /// Probability of so large an F were the lines straight.
    pub p: f64,
}

impl LackOfFit {
    /// The test; none where there is nothing to test by: neither replicates at more x than
    /// the lines need, nor a degree of freedom left for a bend.
    #[must_use]
    pub fn test(points: &[Point]) -> Option<Self> {
        let used: Vec<_> = points.iter().copied().filter(is_usable).collect();
        let line = CommonSlope::fit(&used)?;
        against_replicates(&used, &line).or_else(|| against_bend(&used, &line))
    }
}

fn against_replicates(points: &[Point], line: &CommonSlope) -> Option<LackOfFit> {
    let mut cells: Vec<(usize, u64)> = points.iter().map(cell).collect();
    cells.sort_unstable();
    cells.dedup();
    let index = |p: &Point| cells.binary_search(&cell(p)).unwrap_or_default();
    let in_cells: Vec<_> = points.iter().map(|p| Point { family: index(p), ..*p }).collect();
    let middles = middles(&in_cells);
    let squares: f64 =
        in_cells.iter().map(|p| p.weight * (p.y - middles[p.family].y).powi(2)).sum();
    #[expect(clippy::cast_precision_loss, reason = "a count")]
    let error_freedom = (points.len() - cells.len()) as f64;
    let freedom = line.freedom - error_freedom;
    ratio(Shown::Replicates, (line.residual_squares - squares, freedom), (squares, error_freedom))
}

fn cell(p: &Point) -> (usize, u64) {
    (p.family, p.x.to_bits())
}

/// The square term, cleared of what the lines explain already, against the rest. One bend
/// for all families, so squares are taken about one middle.
fn against_bend(points: &[Point], line: &CommonSlope) -> Option<LackOfFit> {
    let middle = middles(&points.iter().map(|p| Point { family: 0, ..*p }).collect::<Vec<_>>());
    let middle = middle.first()?.x;
    let square = |p: &Point| Point { y: (p.x - middle).powi(2), ..*p };
    let squared: Vec<_> = points.iter().map(square).collect();
    let own = CommonSlope::fit(&squared)?;
    let residual = |of: &CommonSlope, p: &Point| of.at(p.family, p.x).map(|y| p.y - y);
    let (mut both, mut alone) = (0.0, 0.0);
    for (p, q) in points.iter().zip(&squared) {
        let (y, z) = (residual(line, p)?, residual(&own, q)?);
        both += p.weight * y * z;
        alone += p.weight * z * z;
    }
    // A square that the lines explain to the last digit, as over two x, shows no bend.
    let scale: f64 = squared.iter().map(|q| q.weight * q.y * q.y).sum();
    let explained = (alone > 1e-9 * scale).then(|| both * both / alone)?;
    let rest = (line.residual_squares - explained).max(0.0);
    ratio(Shown::Curvature, (explained, 1.0), (rest, line.freedom - 1.0))
}

fn ratio(shown: Shown, missed: (f64, f64), error: (f64, f64)) -> Option<LackOfFit> {
    let ((squares, freedom), (error_squares, error_freedom)) = (missed, error);
    if !(freedom >= 1.0 && error_freedom >= 1.0 && error_squares > 0.0) {
        return None;
    }
    let f = squares.max(0.0) / freedom / (error_squares / error_freedom);
    Some(LackOfFit { shown, f, freedom, error_freedom, p: f_above(f, freedom, error_freedom)? })
}
