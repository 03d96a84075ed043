//! Roots of positive definite matrices.

/// The lower triangle L of a positive definite matrix L L'.
pub(super) struct Cholesky(Vec<Vec<f64>>);

impl Cholesky {
    /// None where the matrix is not positive definite, or only by rounding.
    pub(super) fn new(a: &[Vec<f64>]) -> Option<Self> {
        let n = a.len();
        let mut l = vec![vec![0.0; n]; n];
        for i in 0..n {
            for j in 0..=i {
                let below: f64 = (0..j).map(|k| l[i][k] * l[j][k]).sum();
                let left = a[i][j] - below;
                if i == j {
                    if left.is_nan() || left <= 1e-12 * a[i][i] || left < f64::MIN_POSITIVE {
                        return None;
                    }
                    l[i][i] = left.sqrt();
                } else {
                    l[i][j] = left / l[j][j];
                }
            }
        }
        Some(Self(l))
    }

    /// x with L L' x = b.
    pub(super) fn solve(&self, b: &[f64]) -> Vec<f64> {
        let (l, n) = (&self.0, b.len());
        let mut x = b.to_vec();
        for i in 0..n {
            let below: f64 = (0..i).map(|k| l[i][k] * x[k]).sum();
            x[i] = (x[i] - below) / l[i][i];
        }
        for i in (0..n).rev() {
            let above: f64 = (i + 1..n).map(|k| l[k][i] * x[k]).sum();
            x[i] = (x[i] - above) / l[i][i];
        }
        x
    }

    /// Logarithm of the determinant of L L'.
    pub(super) fn ln_determinant(&self) -> f64 {
        self.0.iter().enumerate().map(|(i, row)| 2.0 * row[i].ln()).sum()
    }
}
