//! How the melt flow rate drifts from pass to pass, what the next pass may bring, and how many
//! passes are left before a limit.

mod records;

pub(crate) use records::{no_limit, too_few};

use crate::lab::Lab;
use crate::limits::{Ends, MFR, Of};
use crate::series::{SCATTERS, Series, Tested};
use secondmelt_quality::mean_interval::CONFIDENCE;
use secondmelt_quality::regression::common_slope::CommonSlope;

/// Passes are not counted beyond this.
const FARTHEST: u64 = 100;
/// A lack of fit that chance explains in fewer cases than this is taken for one.
pub(crate) const SHOWN: f64 = 0.05;

/// The drift of one family.
#[derive(Debug)]
pub(crate) struct Drift<'a> {
    pub(crate) series: &'a Series<'a>,
    pub(crate) line: &'a CommonSlope,
    pub(crate) latest: &'a Tested<'a>,
    /// Limits for the latest lot.
    pub(crate) limit: Ends,
    /// Whether there is a limit, and nothing says for which of several test conditions.
    pub(crate) limit_is_ambiguous: bool,
    /// Logarithms of the rate at the next pass, and the ends of its prediction interval.
    next: (f64, f64, f64),
    /// Change of the logarithm with every pass, and the ends of its interval.
    pub(crate) slope: (f64, f64, f64),
}

/// Which limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Bound {
    Max,
    Min,
}

/// One for each family of a series that was tested after at least one pass.
pub(crate) fn drifts<'a>(series: &'a Series<'a>, lab: &Lab) -> Vec<Drift<'a>> {
    let Some(line) = &series.line else { return Vec::new() };
    (0..series.families).filter_map(|family| drift(series, line, family, lab)).collect()
}

fn drift<'a>(
    series: &'a Series<'a>,
    line: &'a CommonSlope,
    family: usize,
    lab: &Lab,
) -> Option<Drift<'a>> {
    let latest = series.latest(family).filter(|lot| lot.passes > 0)?;
    // Points on their line to the last digit say nothing of their scatter.
    if line.variance() <= SCATTERS {
        return None;
    }
    let weight = series.weight(series.usual_results());
    let x = after(latest.passes + 1);
    let (low, high) = line.prediction_interval(family, x, weight, CONFIDENCE)?;
    let (slope_low, slope_high) = line.slope_interval(CONFIDENCE)?;
    let of = Of {
        lot: Some(latest.lot),
        material: Some(series.material),
        condition: Some((series.temp_c, series.load_kg)),
        ..Of::default()
    };
    let limit_is_ambiguous = series.has_rival && lab.limits.is_of_any_condition(of);
    Some(Drift {
        series,
        line,
        latest,
        limit: lab.limits.of(MFR, of).filter(|_| !limit_is_ambiguous).unwrap_or_default(),
        limit_is_ambiguous,
        next: (line.at(family, x)?, low, high),
        slope: (line.slope, slope_low, slope_high),
    })
}

#[expect(clippy::cast_precision_loss, reason = "a count of passes")]
fn after(passes: u64) -> f64 {
    passes as f64
}

impl Drift<'_> {
    /// Whether the rate changes with the passes at all, as far as is shown.
    pub(crate) fn is_shown(&self) -> bool {
        self.slope.1 > 0.0 || self.slope.2 < 0.0
    }

    /// Half the width of the prediction interval for the next pass, in logarithms.
    pub(crate) fn next_half(&self) -> f64 {
        self.next.2 - self.next.0
    }

    /// Whether the whole prediction interval for the next pass keeps a limit.
    pub(crate) fn holds(&self, bound: Bound, limit: f64) -> bool {
        match bound {
            Bound::Max => self.next.2 <= limit.ln(),
            Bound::Min => self.next.1 >= limit.ln(),
        }
    }

    /// Whether the line is shown to be none.
    fn bends(&self) -> bool {
        self.series.lack_of_fit.is_some_and(|fit| fit.p < SHOWN)
    }

    /// The limits that are set, in g/10 min.
    pub(crate) fn bounds(&self) -> impl Iterator<Item = (Bound, f64)> {
        let max = self.limit.max.map(|max| (Bound::Max, max));
        max.into_iter().chain(self.limit.min.map(|min| (Bound::Min, min)))
    }

    /// Probability that one lot keeps a limit at the next pass.
    fn keeps(&self, bound: Bound, limit: f64) -> Option<f64> {
        let weight = self.series.weight(self.series.usual_results());
        let x = after(self.latest.passes + 1);
        let below = self.line.probability_below(self.latest.family, x, weight, limit.ln())?;
        Some(if bound == Bound::Max { below } else { 1.0 - below })
    }

    /// Passes for which the whole prediction interval keeps a limit, one after another.
    fn passes_left(&self, bound: Bound, limit: f64) -> u64 {
        let weight = self.series.weight(self.series.usual_results());
        let kept = |more: u64| {
            let x = after(self.latest.passes + more);
            let interval = self.line.prediction_interval(self.latest.family, x, weight, CONFIDENCE);
            interval.is_some_and(|(low, high)| match bound {
                Bound::Max => high <= limit.ln(),
                Bound::Min => low >= limit.ln(),
            })
        };
        (1..=FARTHEST).take_while(|more| kept(*more)).count() as u64
    }
}
