//! Control charts along a spool (ISO 7870-2): means and spreads of subgroups by length, with
//! run rules, a moving average and a cumulative sum on what is left of the means once their
//! autocorrelation is out.
//!
//! Limits of the means come from the variance within and between subgroups, since readings of a
//! spool follow one another and limits from within alone would drown a healthy spool in
//! signals. They are the lot's own, or those of a baseline that came as a `chart_limits` record
//! before its readings; then signals are told as they begin.

mod judge;
mod like;
mod model;
mod rules;
mod subgroups;

use crate::capability::successive_freedom;
use crate::machines::is_near;
use crate::reading::rounded;
use judge::Judge;
use model::Unfit;
pub use model::{Learned, Model};
pub use rules::{Signal, Signals};
use secondmelt_record::facts::Settings;
use secondmelt_record::findings::{Chart, ChartPoint};
use secondmelt_record::{Count, Name, NonNegative, Number, Out, Positive, Text};
pub use subgroups::Point;
use subgroups::Subgroups;

/// Limits that came with the input.
#[derive(Debug)]
pub struct Fed {
    /// Lots they were learned from.
    pub learned_from: String,
    /// The limits.
    pub model: Model,
}

/// The charts of one spool.
#[derive(Debug)]
pub struct Charts {
    subgroups: Subgroups,
    wanted: Signals,
    /// What its subgroups would be as a baseline.
    learned: Learned,
    /// Judge by limits that were fed, and the lots these were learned from.
    fed: Option<(Judge, String)>,
    /// Why the last of the limits that were fed do not fit, where none of them do.
    unfit: Option<(Unfit, String)>,
    /// What signalled at the last subgroup.
    signals: Signals,
    steps: Steps,
}

/// Steps from one subgroup mean to the next.
#[derive(Debug, Default)]
struct Steps {
    before_mm: Option<f64>,
    squares_mm2: f64,
    count: u32,
}

/// A subgroup that has just become full.
#[derive(Debug, Clone, Copy)]
pub struct Filled {
    /// The subgroup.
    pub point: Point,
    /// What signals at it that did not signal at the one before.
    pub begun: Signals,
    /// Standard deviation of a subgroup mean, from steps between neighbours, and its degrees of
    /// freedom; none of fewer than five.
    pub sd_of_mean: Option<(f64, f64)>,
}

impl Charts {
    /// Charts of subgroups of a length, in m, that look for the signals wanted.
    pub fn new(length_m: f64, wanted: Signals) -> Self {
        Self {
            subgroups: Subgroups::new(length_m),
            wanted,
            learned: Learned::default(),
            fed: None,
            unfit: None,
            signals: Signals::default(),
            steps: Steps::default(),
        }
    }

    /// Takes a diameter by area, `along_m` after the one before, none without positions. True
    /// where it fills a subgroup; [`Self::fill`] must follow then.
    #[inline]
    pub fn push(&mut self, diameter_mm: f64, along_m: Option<f64>) -> bool {
        self.subgroups.push(diameter_mm, along_m)
    }

    /// The subgroup that a reading filled, judged.
    pub fn fill(&mut self, reading: u64, at_m: Option<f64>, direction: f64, fed: &[Fed]) -> Filled {
        let mut point = self.subgroups.fill(reading, at_m, direction);
        if self.fed.is_none() && !fed.is_empty() {
            self.choose(&point, fed);
        }
        if let Some((judge, _)) = &mut self.fed {
            point.signals = judge.push(&point);
        }
        let begun = point.signals.without(self.signals);
        self.signals = point.signals;
        self.steps.push(point.mean_mm);
        self.learned.push(point);
        self.subgroups.add(point);
        Filled { point, begun, sd_of_mean: self.steps.sd_of_mean() }
    }

    /// The limits that fit a lot which has this subgroup; the last of several. Where none do, the next
    /// subgroup is asked.
    #[cold]
    fn choose(&mut self, point: &Point, fed: &[Fed]) {
        for fed in fed.iter().rev() {
            let unfit = fed.model.unfit(point, self.subgroups.subgroup_m(), is_near);
            match unfit {
                None => {
                    self.fed = Judge::new(fed.model, self.wanted)
                        .map(|judge| (judge, fed.learned_from.clone()));
                    self.unfit = None;
                    return;
                }
                // A baseline of the same diameter is the one that was meant.
                Some(Unfit::Diameter) if self.unfit.is_some() => {}
                Some(unfit) => self.unfit = Some((unfit, fed.learned_from.clone())),
            }
        }
    }

    /// Drops what is not full yet, as after a gap in the log.
    pub fn restart(&mut self) {
        self.subgroups.restart();
        self.steps.before_mm = None;
    }

    /// Mean diameter over the last full subgroup and what came since.
    pub fn recent_mm(&self) -> Option<f64> {
        self.subgroups.recent_mm()
    }

    /// Variance of the mean of all its subgroups, which allows for how they follow one another; none of fewer
    /// than twenty.
    pub fn variance_of_grand_mean(&self) -> Option<f64> {
        self.learned.variance_of_grand_mean()
    }

    /// Adds its subgroups to a baseline; why they do not fit it, in words that follow the name of the lot.
    pub fn teach(&self, baseline: &mut Learned) -> Result<(), &'static str> {
        baseline.join(&self.learned, self.subgroups.subgroup_m(), is_near)
    }

    /// Writes what the charts show.
    pub fn write(&self, lot: &str, cut: bool, out: &mut Out) {
        let points = self.subgroups.points();
        let own = Learned::of(points, self.subgroups.point_m()).model();
        let between = own.and_then(|model| model.between);
        if let Some((judge, learned_from)) = &self.fed {
            let length_m = self.subgroups.subgroup_m();
            if let Some(chart) = self.chart(lot, judge, Some(learned_from), length_m, between) {
                out.write(&chart);
            }
            let signals: Vec<_> = points.iter().map(|point| point.signals).collect();
            write_points(lot, points, &signals, out);
            out.write(&like::verdict(lot, judge, learned_from, cut));
            return;
        }
        if let Some(mut judge) = own.and_then(|model| Judge::new(model, self.wanted)) {
            let signals: Vec<_> = points.iter().map(|point| judge.push(point)).collect();
            let length_m = self.subgroups.point_m();
            if let Some(chart) = self.chart(lot, &judge, None, length_m, between) {
                out.write(&chart);
            }
            write_points(lot, points, &signals, out);
        }
        if let Some((unfit, learned_from)) = &self.unfit
            && *unfit != Unfit::Diameter
        {
            out.write(&like::not_judged(lot, unfit, learned_from));
        }
    }

    /// The chart of what was judged, by limits of other lots or by its own.
    fn chart<'a>(
        &self,
        lot: &'a str,
        judge: &Judge,
        limits_of: Option<&'a String>,
        length_m: Option<f64>,
        between: Option<f64>,
    ) -> Option<Chart<'a>> {
        let limits = judge.model.record(String::new())?;
        let counted = |each: &dyn Fn(Signal) -> f64| {
            let named =
                |signal: Signal| Some((signal.name().to_owned(), Number::new(each(signal))?));
            Settings(self.wanted.each().filter_map(named).collect())
        };
        #[expect(clippy::cast_precision_loss, reason = "counts")]
        let (signals, by_chance) = (
            counted(&|signal| judge.given(signal) as f64),
            counted(&|signal| rounded(judge.by_chance(signal) * judge.count as f64)),
        );
        Some(Chart {
            lot: Name::from(lot),
            limits_of: limits_of.map(|lots| Text::from(lots.as_str())),
            subgroup_m: length_m.map(rounded).and_then(Positive::new),
            subgroup_readings: limits.subgroup_readings,
            subgroups: Count(judge.count),
            mean_mm: limits.mean_mm,
            mean_sd_mm: limits.mean_sd_mm,
            mean_low_mm: limits.mean_low_mm,
            mean_high_mm: limits.mean_high_mm,
            spread_mm: limits.spread_mm,
            spread_low_mm: limits.spread_low_mm,
            spread_high_mm: limits.spread_high_mm,
            sd_between_mm: between.map(rounded).and_then(NonNegative::new),
            lag1: limits.lag1,
            signals,
            by_chance,
            ..Chart::default()
        })
    }
}

fn write_points(lot: &str, points: &[Point], signals: &[Signals], out: &mut Out) {
    for (point, signals) in points.iter().zip(signals) {
        let finding = || {
            Some(ChartPoint {
                lot: Name::from(lot),
                at_m: point.at_m.map(rounded).and_then(Number::new),
                last_reading: Count(point.last_reading),
                readings: Count(u64::from(point.n)),
                mean_mm: Positive::new(rounded(point.mean_mm))?,
                sd_mm: NonNegative::new(rounded(point.sd_mm()))?,
                signals: signals.names().map(Text::from),
                ..ChartPoint::default()
            })
        };
        if let Some(finding) = finding() {
            out.write(&finding);
        }
    }
}

impl Steps {
    fn push(&mut self, mean_mm: f64) {
        if let Some(before) = self.before_mm.replace(mean_mm) {
            self.squares_mm2 += (mean_mm - before).powi(2);
            self.count = self.count.saturating_add(1);
        }
    }

    fn sd_of_mean(&self) -> Option<(f64, f64)> {
        let steps = f64::from(self.count);
        let variance = self.squares_mm2 / steps / 2.0;
        (self.count >= 5).then(|| (variance.sqrt(), successive_freedom(steps + 1.0)))
    }
}
