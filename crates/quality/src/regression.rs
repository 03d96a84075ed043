//! Straight lines by least squares, in one pass.
//!
//! The accumulator keeps the triangular factor of the rows (1, x, y) and turns each new
//! row into it by Givens rotations (Gentleman 1973, Journal of the Institute of
//! Mathematics and its Applications 12:329), so that the residual sum of squares is never
//! the difference of two large numbers. Rows are taken about the first point.
//!
//! Assumption for every interval here: independent normal residuals of one variance. For
//! readings along a spool see [`DriftSums`], which allows for residuals that follow one
//! another.

pub mod common_slope;
mod drift;
mod line;

pub use drift::{Drift, DriftSums};
pub use line::{Inverse, Line};

/// Rows (1, x, y), or (x, y) through the origin, folded into a triangle.
#[derive(Debug, Clone)]
pub struct LineSums {
    intercept: bool,
    n: u64,
    origin: (f64, f64),
    /// Rows of the triangle: of 1, of x, of y.
    one: [f64; 3],
    x: [f64; 2],
    y: f64,
}

impl LineSums {
    /// A line with an intercept.
    #[must_use]
    pub fn with_intercept() -> Self {
        Self { intercept: true, n: 0, origin: (0.0, 0.0), one: [0.0; 3], x: [0.0; 2], y: 0.0 }
    }

    /// A line through the origin.
    #[must_use]
    pub fn through_origin() -> Self {
        Self { intercept: false, ..Self::with_intercept() }
    }

    /// Adds a point; one that is not finite is left out.
    pub fn push(&mut self, x: f64, y: f64) {
        if !x.is_finite() || !y.is_finite() {
            return;
        }
        if self.n == 0 && self.intercept {
            self.origin = (x, y);
        }
        self.n += 1;
        let (x, y) = (x - self.origin.0, y - self.origin.1);
        if self.intercept {
            self.fold([1.0, x, y]);
        } else {
            self.fold_slope([x, y]);
        }
    }

    /// Adds the points of another accumulator of the same kind; false, and nothing is
    /// added, where the kinds differ.
    pub fn merge(&mut self, other: &Self) -> bool {
        if self.intercept != other.intercept {
            return false;
        }
        if self.n == 0 {
            *self = other.clone();
            return true;
        }
        let (dx, dy) = (other.origin.0 - self.origin.0, other.origin.1 - self.origin.1);
        let [one, x, y] = other.one;
        self.fold([one, x + dx * one, y + dy * one]);
        self.fold_slope(other.x);
        self.fold_rest(other.y);
        self.n += other.n;
        true
    }

    fn fold(&mut self, row: [f64; 3]) {
        let (c, s, r) = rotation(self.one[0], row[0]);
        let rest = [c * row[1] - s * self.one[1], c * row[2] - s * self.one[2]];
        self.one = [r, c * self.one[1] + s * row[1], c * self.one[2] + s * row[2]];
        self.fold_slope(rest);
    }

    fn fold_slope(&mut self, row: [f64; 2]) {
        let (c, s, r) = rotation(self.x[0], row[0]);
        let rest = c * row[1] - s * self.x[1];
        self.x = [r, c * self.x[1] + s * row[1]];
        self.fold_rest(rest);
    }

    fn fold_rest(&mut self, rest: f64) {
        self.y = length(self.y, rest);
    }

    /// Number of points.
    #[must_use]
    pub fn n(&self) -> u64 {
        self.n
    }

    /// The line; none unless x varies and a degree of freedom is left.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "a count")]
    pub fn line(&self) -> Option<Line> {
        let parameters = if self.intercept { 2 } else { 1 };
        let freedom = self.n.checked_sub(parameters).filter(|freedom| *freedom > 0)?;
        let slope = self.x[1] / self.x[0];
        let (mean_x, mean_y) = if self.intercept {
            let shift = |sum: f64, origin: f64| origin + sum / self.one[0];
            (shift(self.one[1], self.origin.0), shift(self.one[2], self.origin.1))
        } else {
            (0.0, 0.0)
        };
        let line = Line {
            n: self.n,
            freedom: freedom as f64,
            intercept: self.intercept.then_some(mean_y - slope * mean_x),
            slope,
            mean_x,
            mean_y,
            squares_x: self.x[0] * self.x[0],
            regression_squares: self.x[1] * self.x[1],
            residual_squares: self.y * self.y,
        };
        (slope.is_finite() && line.squares_x > 0.0).then_some(line)
    }
}

/// The rotation that takes (a, b) to (r, 0).
fn rotation(a: f64, b: f64) -> (f64, f64, f64) {
    if b == 0.0 {
        return (1.0, 0.0, a);
    }
    let r = length(a, b);
    (a / r, b / r, r)
}

/// Length of (a, b), quickly where no square overflows or vanishes.
fn length(a: f64, b: f64) -> f64 {
    let square = a * a + b * b;
    if (1e-280..1e280).contains(&square) { square.sqrt() } else { a.hypot(b) }
}

#[cfg(test)]
mod tests;
