//! One-way analysis of variance: groups against what is within them.

use super::crossed::{Line, sd_bounds};
use super::{from_first, mean, square, sum};
use crate::distributions::fisher_f;

/// The table of a one-way analysis of variance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OneWay {
    /// Sum of squares between groups.
    pub ss_between: f64,
    /// Sum of squares within groups.
    pub ss_within: f64,
    /// Degrees of freedom between groups.
    pub df_between: f64,
    /// Degrees of freedom within groups.
    pub df_within: f64,
    /// Mean square between groups.
    pub ms_between: f64,
    /// Mean square within groups.
    pub ms_within: f64,
    /// Their ratio; none where nothing varies within.
    pub f: Option<f64>,
    /// Probability of so large a ratio if the groups had one mean, for normal values of one
    /// variance; none where there is no ratio.
    pub p_value: Option<f64>,
    /// Standard deviation within groups.
    pub residual_sd: f64,
    /// Share of the sum of squares that lies between groups; none where nothing varies.
    pub r_squared: Option<f64>,
    /// Variance of the group means beyond what is within, for groups drawn at random: the
    /// estimate (ms_between - ms_within) / n0, zero where that is negative.
    pub between_variance: f64,
    /// The estimate was negative and was set to zero.
    pub between_clipped: bool,
}

impl OneWay {
    /// Lower and upper bound of the standard deviation within groups, each at the confidence given, by
    /// chi square for normal values; none of a confidence outside 0 to 1.
    #[must_use]
    pub fn residual_bounds(&self, confidence: f64) -> Option<(f64, f64)> {
        let within = Line { ss: self.ss_within, df: self.df_within };
        sd_bounds(&[(within, 1.0)], confidence)
    }
}

/// Analyses groups of any sizes (NIST/SEMATECH e-Handbook, 7.4.3). Sums of squares are those
/// of deviations, worked out from differences to the first value, so that a large common
/// part cancels nothing. None of fewer than two groups, an empty group, no group of two, or
/// a value that is not finite.
#[must_use]
pub fn analyse(groups: &[Vec<f64>]) -> Option<OneWay> {
    let all: Vec<f64> = groups.iter().flatten().copied().collect();
    let (k, n) = (groups.len() as f64, all.len() as f64);
    let empty = groups.iter().any(Vec::is_empty);
    if groups.len() < 2 || empty || all.len() <= groups.len() || !all.iter().all(|x| x.is_finite())
    {
        return None;
    }
    let deviations = from_first(&all);
    let grand = mean(deviations.iter().copied());
    let mut rest = deviations.as_slice();
    let (mut between, mut within) = (Vec::new(), Vec::new());
    for group in groups {
        let (own, others) = rest.split_at_checked(group.len())?;
        let centre = mean(own.iter().copied());
        between.push(own.len() as f64 * square(centre - grand));
        within.extend(own.iter().map(|x| square(x - centre)));
        rest = others;
    }
    let (ss_between, ss_within) = (sum(between.into_iter()), sum(within.into_iter()));
    let (df_between, df_within) = (k - 1.0, n - k);
    let (ms_between, ms_within) = (ss_between / df_between, ss_within / df_within);
    let f = Some(ms_between / ms_within).filter(|f| f.is_finite());
    let squares: f64 = groups.iter().map(|group| square(group.len() as f64)).sum();
    let component = (ms_between - ms_within) * df_between / (n - squares / n);
    Some(OneWay {
        ss_between,
        ss_within,
        df_between,
        df_within,
        ms_between,
        ms_within,
        f,
        p_value: f.and_then(|f| fisher_f::tails(df_between, df_within, f)).map(|s| s.above),
        residual_sd: ms_within.sqrt(),
        r_squared: Some(ss_between / (ss_between + ss_within)).filter(|r| r.is_finite()),
        between_variance: component.max(0.0),
        between_clipped: component < 0.0,
    })
}
