//! Process capability: how a normal process fits its limits, and how sure that is.
//!
//! With the overall standard deviation the indices are called Pp and Ppk, with one from
//! within subgroups or moving ranges Cp and Cpk (ISO 22514-1, -2; NIST/SEMATECH e-Handbook,
//! 6.1.6). The second pair means something only if the process is stable and readings do not
//! follow one another. Assumption: normal, independent values.

pub mod confidence;

use crate::distributions::{Split, normal};
pub use crate::limits::Limits;
use std::f64::consts::PI;

/// Mean and standard deviation of a process, or estimates of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Process {
    mean: f64,
    sd: f64,
}

/// Capability indices; those that need a limit that is missing are none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Indices {
    /// Width of the limits over six standard deviations: Cp, or Pp.
    pub cp: Option<f64>,
    /// Distance from mean to upper limit over three standard deviations: Cpu, Ppu.
    pub cpu: Option<f64>,
    /// Distance from lower limit to mean over three standard deviations: Cpl, Ppl.
    pub cpl: Option<f64>,
    /// The smaller of the two: Cpk, Ppk. Negative where the mean lies outside.
    pub cpk: f64,
    /// Distance of the mean from the middle over half the width: k.
    pub off_centre: Option<f64>,
}

/// Indices that count a distance from the target as spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TargetIndices {
    /// Width over six times the root mean square distance from the target: Cpm.
    pub cpm: Option<f64>,
    /// Distance from mean to the nearer limit over three times that: Cpmk.
    pub cpmk: f64,
}

impl Process {
    /// A process; none unless the mean is finite and the standard deviation positive.
    #[must_use]
    pub fn new(mean: f64, sd: f64) -> Option<Self> {
        (mean.is_finite() && sd > 0.0 && sd.is_finite()).then_some(Self { mean, sd })
    }

    /// Indices by their definitions (NIST/SEMATECH e-Handbook, 6.1.6).
    #[must_use]
    pub fn indices(self, limits: Limits) -> Indices {
        let over = |distance: f64| distance / (3.0 * self.sd);
        let cpu = limits.upper().map(|upper| over(upper - self.mean));
        let cpl = limits.lower().map(|lower| over(self.mean - lower));
        let off = |middle: f64| Some((self.mean - middle).abs() / (0.5 * limits.width()?));
        Indices {
            cp: limits.width().map(|width| width / (6.0 * self.sd)),
            cpu,
            cpl,
            cpk: self.nearest(limits) / (3.0 * self.sd),
            off_centre: limits.middle().and_then(off),
        }
    }

    /// Cpm (Taguchi; Chan, Cheng and Spiring 1988, Journal of Quality Technology 20:162) and
    /// Cpmk. None unless the target is finite.
    #[must_use]
    pub fn target_indices(self, limits: Limits, target: f64) -> Option<TargetIndices> {
        let spread = self.sd.hypot(self.mean - target);
        let width = limits.width().map(|width| width / (6.0 * spread));
        let cpmk = self.nearest(limits) / (3.0 * spread);
        spread.is_finite().then_some(TargetIndices { cpm: width, cpmk })
    }

    /// Distance from the mean to the nearer limit, negative outside.
    fn nearest(self, limits: Limits) -> f64 {
        let above = limits.upper().map(|upper| upper - self.mean);
        let below = limits.lower().map(|lower| self.mean - lower);
        above.into_iter().chain(below).fold(f64::INFINITY, f64::min)
    }

    /// Estimated shares of the values below the lower and above the upper limit; zero on a
    /// side without a limit. An estimate says nothing of how sure it is: see
    /// [`crate::tolerance_interval`].
    #[must_use]
    pub fn outside(self, limits: Limits) -> Split {
        let z = |limit: f64| (limit - self.mean) / self.sd;
        Split {
            below: limits.lower().map_or(0.0, |lower| normal::below(z(lower))),
            above: limits.upper().map_or(0.0, |upper| normal::below(-z(upper))),
        }
    }
}

/// Short-term standard deviation from moving ranges of two: their mean times sqrt(pi) / 2
/// (1 / d2 of ISO 7870-2, Table 2). Too small where neighbours are alike. None of fewer than
/// two values.
#[must_use]
pub fn moving_range_sd(values: &[f64]) -> Option<f64> {
    let pairs = values.windows(2).map(|pair| match pair {
        [a, b] => (b - a).abs(),
        _ => f64::NAN,
    });
    let steps = values.len().checked_sub(1).filter(|n| *n > 0)?;
    let sd = pairs.sum::<f64>() / steps as f64 * PI.sqrt() / 2.0;
    sd.is_finite().then_some(sd)
}
