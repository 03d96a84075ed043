//! What a handful of readings shows, such as those of a caliper.

use crate::machines::Fit;
use crate::reading::rounded;
use secondmelt_quality::readings::Readings;
use secondmelt_quality::tolerance_interval::{two_sided, two_sided_factor, values_needed};
use secondmelt_record::findings::Decision;

/// Few readings speak for a spool where they stand so far apart on average, in m; closer ones may follow one
/// another, which few of them do not show (common practice, no source).
pub const APART_M: f64 = 1.0;

/// Fewer readings than this give no interval that anybody could use.
const FEWEST: u64 = 3;

/// Whether the share `share` of the spool is within the tolerance at the confidence, by the
/// normal tolerance interval of each axis (ISO 16269-6:2014, exact two-sided factors), and the
/// end of a sentence that says so. `enough` readings would do without the assumption. None
/// where there are too few readings, or they do not differ and so show no spread.
pub fn by_interval(
    readings: &Readings,
    fit: &Fit,
    (share, confidence): (f64, f64),
    enough: u64,
) -> Option<(Decision, String)> {
    let n = readings.n();
    let axes = (n >= FEWEST).then(|| readings.common_axes())?;
    let (mut low, mut high, mut needed) = (f64::INFINITY, f64::NEG_INFINITY, n);
    for axis in 0..axes {
        let (mean, sd) = (readings.axis_mean_mm(axis)?, readings.axis_sd_mm(axis)?);
        let interval = (sd > 0.0).then(|| two_sided(n, mean, sd, share, confidence))??;
        (low, high) = (low.min(interval.low), high.max(interval.high));
        let room = (fit.high_mm - mean).min(mean - fit.low_mm) / sd;
        let fits = values_needed(room, share, confidence, enough, two_sided_factor);
        needed = needed.max(fits.unwrap_or(enough));
    }
    let reach = format!("{:.3} to {:.3} mm", rounded(low), rounded(high));
    let percent = |x: f64| format!("{} %", rounded(100.0 * x));
    let (share, confidence) = (percent(share), percent(confidence));
    let inside = low >= fit.low_mm && high <= fit.high_mm;
    Some(if inside {
        let end = format!(
            "and were they normal, {share} of the spool lies within {reach} at {confidence} confidence"
        );
        (Decision::Conforms, end)
    } else {
        let end = format!(
            "but were they normal, {share} of the spool may reach over {reach} at {confidence} confidence; about \
             {needed} readings in all of the same mean and spread would settle it"
        );
        (Decision::Undecided, end)
    })
}
