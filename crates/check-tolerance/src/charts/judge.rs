//! Judges subgroups, one after another.

use super::model::Model;
use super::rules::{CUSUM_LIMIT, CUSUM_SLACK, EWMA_REACH, EWMA_WEIGHT, Signal, Signals};
use super::subgroups::Point;
use secondmelt_quality::chart::Whitener;
use secondmelt_quality::cusum::Cusum;
use secondmelt_quality::distributions::normal;
use secondmelt_quality::ewma::Ewma;
use secondmelt_quality::run_rules::RunRules;

/// Follows a spool by a model.
#[derive(Debug)]
pub struct Judge {
    /// The model.
    pub model: Model,
    wanted: Signals,
    /// The run rules among the signals, in the order of [`RunRules`].
    rules: Vec<Signal>,
    runs: RunRules,
    whitener: Whitener,
    ewma: Ewma,
    cusum: Cusum,
    /// Subgroups judged.
    pub count: u32,
    /// Means, residuals and spreads beyond three standard deviations.
    pub far: u32,
    /// Smallest probability of what one of the statistics shows at one subgroup.
    pub least: f64,
}

impl Judge {
    /// Nothing judged yet.
    pub fn new(model: Model, wanted: Signals) -> Option<Self> {
        let rules: Vec<Signal> = wanted.each().filter(|signal| signal.rule().is_some()).collect();
        let run_rules: Vec<_> = rules.iter().filter_map(|signal| signal.rule()).collect();
        Some(Self {
            model,
            wanted,
            rules,
            runs: RunRules::new(&run_rules),
            whitener: Whitener::new(model.mean.centre, model.mean.sd, model.lag1)?,
            ewma: Ewma::new(0.0, 1.0, EWMA_WEIGHT, EWMA_REACH)?,
            cusum: Cusum::new(0.0, CUSUM_SLACK, CUSUM_LIMIT, 0.0)?,
            count: 0,
            far: 0,
            least: 1.0,
        })
    }

    /// Judges the next subgroup.
    pub fn push(&mut self, point: &Point) -> Signals {
        if point.after_break {
            self.whitener.restart();
            self.runs.restart();
        }
        let mut signals = Signals::default();
        let spread = self.model.spread.beyond(point.sd_mm());
        let z = self.model.mean.standardised(point.mean_mm);
        let residual = self.whitener.push(point.mean_mm);
        for place in self.runs.push(residual).places() {
            if let Some(signal) = self.rules.get(place) {
                signals.put(*signal);
            }
        }
        let average = self.ewma.push(residual);
        let sum = self.cusum.push(residual);
        for (signal, fires) in [
            (Signal::Mean, self.model.mean.beyond(point.mean_mm)),
            (Signal::Spread, spread),
            (Signal::Ewma, average.is_some_and(|average| average.beyond())),
            (Signal::Cusum, sum.is_some_and(|sum| sum.above || sum.below)),
        ] {
            if fires {
                signals.put(signal);
            }
        }
        if signals.has(Signal::Cusum) {
            self.cusum.restart();
        }
        self.count += 1;
        self.far +=
            [z.abs() > 3.0, residual.abs() > 3.0, spread].into_iter().map(u32::from).sum::<u32>();
        // The centre of the baseline is itself known no better than its subgroups tell.
        let steady = EWMA_WEIGHT / (2.0 - EWMA_WEIGHT) + 1.0 / self.model.subgroups.max(1.0);
        let lasting = average.map_or(0.0, |average| average.value / steady.sqrt());
        for z in [z, residual, lasting] {
            self.least = self.least.min(2.0 * normal::below(-z.abs()));
        }
        signals.and(self.wanted)
    }
}
