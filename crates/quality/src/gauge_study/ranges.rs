//! A crossed gauge study by averages and ranges (AIAG, Measurement Systems Analysis, 4th
//! ed., chapter III section B, figures III-B 15 and 16): quick by hand, blind to the
//! interaction.

use super::{Study, Variation, mean, square};
use crate::chart_factors::ChartFactors;

/// Factors that turn ranges into standard deviations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Factors {
    /// K1, for the mean range of the trials: 1 / d2.
    pub trials: f64,
    /// K2, for the range of the appraisers' averages: 1 / d2* of a single range.
    pub appraisers: f64,
    /// K3, for the range of the parts' averages: 1 / d2* of a single range.
    pub parts: f64,
}

impl Factors {
    /// Exact factors for a study, d2* = sqrt(d2^2 + d3^2) for a single range (Duncan, Quality
    /// Control and Industrial Statistics, appendix; printed tables round d2* first). None for
    /// studies beyond a million in one direction.
    #[must_use]
    pub fn exact(study: &Study) -> Option<Self> {
        let of = |n: usize| ChartFactors::of(u32::try_from(n).ok()?);
        let single = |n: usize| of(n).map(|factors| 1.0 / factors.d2.hypot(factors.d3));
        Some(Self {
            trials: 1.0 / of(study.trials())?.d2,
            appraisers: single(study.appraisers())?,
            parts: single(study.parts())?,
        })
    }
}

/// What averages and ranges say.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranges {
    /// Mean range of the trials, by appraiser.
    pub mean_range: Vec<f64>,
    /// Mean of those.
    pub mean_range_of_all: f64,
    /// Average, by appraiser.
    pub average: Vec<f64>,
    /// Range of those.
    pub range_of_averages: f64,
    /// Range of the averages of the parts.
    pub range_of_parts: f64,
    /// Components; the interaction is not told apart.
    pub variation: Variation,
    /// The appraisers' variance less what repeats explain was negative, and set to zero.
    pub reproducibility_clipped: bool,
}

/// Works out a study with the factors given.
#[must_use]
pub fn analyse(study: &Study, factors: Factors) -> Ranges {
    let all = &study.deviations;
    let mean_range: Vec<f64> = all
        .iter()
        .map(|trials| mean((0..study.parts()).map(|part| range(Study::cell(trials, part)))))
        .collect();
    let mean_range_of_all = mean(mean_range.iter().copied());
    let averages: Vec<f64> =
        all.iter().map(|trials| mean(trials.iter().flatten().copied())).collect();
    let range_of_averages = range(averages.iter().copied());
    let range_of_parts = range(
        (0..study.parts())
            .map(|part| mean(all.iter().flat_map(move |trials| Study::cell(trials, part)))),
    );
    let repeats = square(mean_range_of_all * factors.trials);
    let each = (study.parts() * study.trials()) as f64;
    let appraisers = square(range_of_averages * factors.appraisers) - repeats / each;
    let parts = square(range_of_parts * factors.parts);
    Ranges {
        mean_range,
        mean_range_of_all,
        average: averages.iter().map(|x| study.origin + x).collect(),
        range_of_averages,
        range_of_parts,
        variation: Variation::of(repeats, appraisers.max(0.0), 0.0, parts),
        reproducibility_clipped: appraisers < 0.0,
    }
}

/// Largest less smallest.
fn range(values: impl Iterator<Item = f64>) -> f64 {
    let ends = |(low, high): (f64, f64), x: f64| (low.min(x), high.max(x));
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), ends);
    high - low
}
