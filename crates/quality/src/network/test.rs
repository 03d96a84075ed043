//! Critical values of the tests for gross errors, and leaks.

use crate::distributions::{Split, gamma, normal};

/// A loss at a node that nobody weighed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leak {
    /// Size that explains the imbalance best; negative where something came in.
    pub size: f64,
    /// Signed square root of its generalised likelihood ratio (the node test in its most
    /// powerful form).
    pub z: f64,
}

impl Leak {
    pub(super) fn new(multiplier: f64, variance: f64) -> Self {
        Self { size: multiplier / variance, z: multiplier / variance.sqrt() }
    }

    /// Its generalised likelihood ratio: chi-square with one degree of freedom.
    #[must_use]
    pub fn statistic(&self) -> f64 {
        self.z * self.z
    }
}

/// Largest objective that chance explains, with `alpha` the risk of a false alarm. None
/// without a degree of freedom.
#[must_use]
pub fn chi_square_critical(freedom: usize, alpha: f64) -> Option<f64> {
    #[expect(clippy::cast_precision_loss, reason = "a count of balances")]
    let freedom = freedom as f64;
    gamma::chi_square_quantile(freedom, Split::with_above(alpha)?)
}

/// Largest |z| that chance explains among `n` measurements together (Sidak 1967).
#[must_use]
pub fn sidak_critical(n: usize, alpha: f64) -> Option<f64> {
    #[expect(clippy::cast_precision_loss, reason = "a count of measurements")]
    let each = -((-alpha).ln_1p() / n as f64).exp_m1();
    normal::quantile(Split::with_above(each / 2.0)?)
}

/// The same by Bonferroni's inequality, which asks a little more.
#[must_use]
pub fn bonferroni_critical(n: usize, alpha: f64) -> Option<f64> {
    #[expect(clippy::cast_precision_loss, reason = "a count of measurements")]
    let each = alpha / n as f64;
    normal::quantile(Split::with_above(each / 2.0)?)
}
