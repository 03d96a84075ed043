//! Control charts: from readings to subgroups, from subgroups of a baseline to limits,
//! from limits to signals.
//!
//! Sources: ISO 7870-2:2013; ASTM E2587; NIST/SEMATECH e-Handbook 6.3.2. Readings of a
//! spool follow one another closely, so subgroups differ by more than the spread within
//! them explains, and limits drawn from that spread alone ([`Basis::Ranges`],
//! [`Basis::Deviations`]) drown a healthy spool in signals. Three bases allow for it:
//! [`Basis::MovingRange`] (means as individual values; right when means are
//! independent), [`Basis::MovingRangeCorrected`] (the same divided by sqrt(1 - r), r the
//! lag-1 autocorrelation of the means, since successive differences understate the
//! spread by that factor) and [`Basis::Components`] (variance within and between
//! subgroups from one-way analysis of variance). Run rules, which count points in a row,
//! need independent points as well: feed them the residuals of a [`Whitener`] (Alwan and
//! Roberts 1988, Journal of Business and Economic Statistics 6:87).
//!
//! Every accumulator keeps a fixed amount of memory.

mod baseline;
mod individuals;
mod likeness;
mod spread_tail;
mod subgroup;
mod whitener;

pub use baseline::{Baseline, Basis};
pub use individuals::Individuals;
pub use likeness::{Answer, BASELINE_LEAST, Known, Likeness, Question};
pub use spread_tail::beyond_three_sigma;
pub use subgroup::{Subgroup, Subgrouper};
pub use whitener::Whitener;

use crate::chart_factors::ChartFactors;
use crate::run_rules::{Fired, Rule, RunRules};

/// Centre and limits of a chart: all that has to be kept to judge later readings by it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Centre line, in the unit of the readings.
    pub centre: f64,
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
    /// Standard deviation of a plotted point.
    pub sigma: f64,
    /// Readings in a point.
    pub n: u32,
}

impl Limits {
    /// Limits three standard deviations about the centre; none unless `sigma` is above
    /// zero and all is finite.
    #[must_use]
    pub fn three_sigma(centre: f64, sigma: f64, n: u32) -> Option<Self> {
        let sound = centre.is_finite() && sigma > 0.0 && sigma.is_finite();
        let reach = 3.0 * sigma;
        sound.then_some(Self { centre, lower: centre - reach, upper: centre + reach, sigma, n })
    }

    /// The same for what cannot be below zero, such as a range.
    fn of_spread(centre: f64, sigma: f64, n: u32) -> Option<Self> {
        Self::three_sigma(centre, sigma, n)
            .map(|limits| Self { lower: limits.lower.max(0.0), ..limits })
    }

    /// Distance from the centre in standard deviations of a point.
    #[must_use]
    pub fn standardised(&self, value: f64) -> f64 {
        (value - self.centre) / self.sigma
    }

    /// Whether a point lies beyond a limit; on it is not beyond.
    #[must_use]
    pub fn beyond(&self, value: f64) -> bool {
        value > self.upper || value < self.lower
    }
}

/// Limits for the means and the spread of subgroups of one size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SubgroupLimits {
    /// For the mean.
    pub mean: Limits,
    /// For the standard deviation, or for the range with [`Basis::Ranges`].
    pub spread: Limits,
    /// Whether `spread` judges ranges.
    pub by_range: bool,
    /// Standard deviation of a single reading within a subgroup.
    pub sigma_within: f64,
    /// Standard deviation between subgroups beyond what `sigma_within` explains.
    pub sigma_between: f64,
}

impl SubgroupLimits {
    /// Limits from a mean and a standard deviation of a reading that are known (factors A,
    /// B5 and B6, or D1 and D2 for ranges). None unless `sigma` is above zero and there are
    /// factors for `n`.
    #[must_use]
    pub fn known(mean: f64, sigma: f64, n: u32, by_range: bool) -> Option<Self> {
        let factors = ChartFactors::of(n)?;
        let spread = if by_range {
            Limits::of_spread(factors.d2 * sigma, factors.d3 * sigma, n)?
        } else {
            let width = (1.0 - factors.c4 * factors.c4).sqrt();
            Limits::of_spread(factors.c4 * sigma, width * sigma, n)?
        };
        let mean = Limits::three_sigma(mean, sigma / f64::from(n).sqrt(), n)?;
        Some(Self { mean, spread, by_range, sigma_within: sigma, sigma_between: 0.0 })
    }
}

/// What a chart says of one subgroup.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Signals {
    /// Rules that fired for the mean.
    pub mean: Fired,
    /// Whether the spread lies beyond a limit.
    pub spread: bool,
}

/// Judges subgroups by limits that are known.
#[derive(Debug, Clone)]
pub struct Monitor {
    limits: SubgroupLimits,
    rules: RunRules,
    whitener: Option<Whitener>,
}

impl Monitor {
    /// Judges by `limits` and `rules`. With a whitener the rules see the residuals of the
    /// means instead of the means.
    #[must_use]
    pub fn new(limits: SubgroupLimits, rules: &[Rule], whitener: Option<Whitener>) -> Self {
        Self { limits, rules: RunRules::new(rules), whitener }
    }

    /// The limits.
    #[must_use]
    pub fn limits(&self) -> &SubgroupLimits {
        &self.limits
    }

    /// Judges the next subgroup; none where it is not of the size the limits are for.
    pub fn push(&mut self, subgroup: &Subgroup) -> Option<Signals> {
        if subgroup.n != self.limits.mean.n {
            return None;
        }
        let z = match &mut self.whitener {
            Some(whitener) => whitener.push(subgroup.mean),
            None => self.limits.mean.standardised(subgroup.mean),
        };
        let spread = if self.limits.by_range { subgroup.range } else { subgroup.sd };
        Some(Signals { mean: self.rules.push(z), spread: self.limits.spread.beyond(spread) })
    }
}
