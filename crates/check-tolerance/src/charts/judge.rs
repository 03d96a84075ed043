//! Judges subgroups, one after another.

use super::model::Model;
use super::rules::{CUSUM_LIMIT, CUSUM_SLACK, EWMA_REACH, EWMA_WEIGHT, Signal, Signals};
use super::subgroups::Point;
use secondmelt_quality::chart::{Likeness, Whitener};
use secondmelt_quality::cusum::Cusum;
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
    pub count: u64,
    /// Subgroups at which each signal was given.
    given: [u64; Signal::ALL.len()],
    /// How the subgroups compare with the baseline; none where its figures allow no comparison.
    pub likeness: Option<Likeness>,
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
            given: [0; Signal::ALL.len()],
            likeness: Likeness::new(model.known()),
        })
    }

    /// Judges the next subgroup; one of another number of readings shows nothing, and breaks runs.
    pub fn push(&mut self, point: &Point) -> Signals {
        let unlike = !self.model.as_many(point);
        if point.after_break || unlike {
            self.whitener.restart();
            self.runs.restart();
            self.likeness.iter_mut().for_each(Likeness::restart);
        }
        if unlike {
            return Signals::default();
        }
        let mut signals = Signals::default();
        let spread = self.model.spread.beyond(point.sd_mm());
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
        if let Some(likeness) = &mut self.likeness {
            likeness.push(point.mean_mm, point.sd_mm());
        }
        let signals = signals.and(self.wanted);
        for (given, signal) in self.given.iter_mut().zip(Signal::ALL) {
            *given += u64::from(signals.has(signal));
        }
        signals
    }

    /// Subgroups at which a signal was given.
    pub fn given(&self, signal: Signal) -> u64 {
        self.given.get(signal as usize).copied().unwrap_or_default()
    }

    /// Chance of a signal at a subgroup of a steady process.
    pub fn by_chance(&self, signal: Signal) -> f64 {
        match signal {
            Signal::Spread => self.model.spread_by_chance(),
            _ => signal.by_chance(),
        }
    }
}
