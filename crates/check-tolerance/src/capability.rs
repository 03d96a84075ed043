//! How a spool as a process fits the tolerance of a machine.

use crate::reading::rounded;
use crate::spool::Spool;
use crate::watch::{Watch, Whole};
use secondmelt_quality::capability::{Limits, Process, confidence};
use secondmelt_quality::distributions::normal;
use secondmelt_quality::mean_interval::{effective_readings, shown_lag1, unbiased_lag1};
use secondmelt_record::findings::{Axis, Capability};
use secondmelt_record::{Name, NonNegative, Number, Percent, Text};

/// Level of the lower bounds.
const CONFIDENCE: f64 = 0.95;

/// Fewest independent readings for a bound (common practice, no source).
const EFFECTIVE_LEAST: f64 = 10.0;
/// Smallest share that is estimated, in per cent.
const SHARE_LEAST_PCT: f64 = 1e-4;

/// The indices of the axis that fits worst; none where its readings do not differ.
pub fn of(spool: &Spool, watch: &Watch, whole: Whole<'_>) -> Option<Capability<'static>> {
    let all = spool.readings();
    let limits = Limits::new(Some(watch.fit.low_mm), Some(watch.fit.high_mm))?;
    let along = |axis| {
        let process = Process::new(all.axis_mean_mm(axis)?, all.axis_sd_mm(axis)?)?;
        Some((axis, process, process.indices(limits)))
    };
    // Each axis must be within, so their mean tells nothing.
    // One whose readings never differ has no index.
    let axes = (0..all.common_axes()).filter_map(along);
    let (axis, overall, indices) = axes.min_by(|a, b| a.2.cpk.total_cmp(&b.2.cpk))?;
    let (mean, sd) = (all.axis_mean_mm(axis)?, all.axis_sd_mm(axis)?);
    let n = count(all.n());
    let lag1 = corrected(n, shown_lag1(n, all.axis_lag1(axis).unwrap_or(0.0)));
    let effective = effective_readings(n, lag1);
    let number = |x: Option<f64>| x.map(rounded).and_then(Number::new);
    let within = (lag1 == 0.0).then(|| Process::new(mean, all.axis_successive_sd_mm(axis)?));
    let within = within.flatten().map(|process| process.indices(limits));
    let outside = overall.outside(limits);
    let target = overall.target_indices(limits, watch.fit.nominal_mm.get());
    let cpm = target.and_then(|target| target.cpm);
    let off_target = (mean - watch.fit.nominal_mm.get()) / sd;
    // Of few independent readings their number is not known well enough for a bound.
    let bounded = effective >= EFFECTIVE_LEAST;
    let ppk_low = confidence::cpk_lower(indices.cpk, effective, effective - 1.0, CONFIDENCE)
        .filter(|_| bounded);
    let estimated = Some(100.0 * (outside.below + outside.above)).filter(|x| *x >= SHARE_LEAST_PCT);
    let at_most = ppk_low.map(|ppk| (200.0 * normal::below(-3.0 * ppk)).max(SHARE_LEAST_PCT));
    let share = |x: Option<f64>| x.and_then(|x| Percent::new(x.min(100.0)));
    Some(Capability {
        lot: Name::from(whole.lot.to_owned()),
        machine: Name::from(watch.fit.machine.clone()),
        axis: Axis::ALL.get(axis).copied().filter(|_| all.common_axes() > 1),
        pp: number(indices.cp)?,
        pp_low: number(
            confidence::cp_lower(indices.cp?, effective - 1.0, CONFIDENCE).filter(|_| bounded),
        ),
        ppk: number(Some(indices.cpk))?,
        ppk_low: number(ppk_low),
        cpm: number(cpm),
        cpm_low: number(
            cpm.and_then(|cpm| confidence::cpm_lower(cpm, effective, off_target, CONFIDENCE))
                .filter(|_| bounded),
        ),
        cp: number(within.and_then(|within| within.cp)),
        cp_low: number(within.and_then(|within| {
            confidence::cp_lower(within.cp?, successive_freedom(n), CONFIDENCE)
        })),
        cpk: number(within.map(|within| within.cpk)),
        cpk_low: number(within.and_then(|within| {
            confidence::cpk_lower(within.cpk, n, successive_freedom(n), CONFIDENCE)
        })),
        warning: (lag1 != 0.0).then(|| Text::from(follows(lag1, bounded))),
        effective_readings: NonNegative::new(effective)?,
        estimated_out_pct: share(estimated),
        estimated_out_high_pct: share(at_most),
        observed_out_pct: Percent::new(100.0 * count(watch.readings_out) / n)?,
        ..Capability::default()
    })
}

/// Degrees of freedom that the mean square successive difference of `n` values has nearly.
pub fn successive_freedom(n: f64) -> f64 {
    2.0 * (n - 1.0).powi(2) / (3.0 * n - 4.0)
}

/// A lag-1 autocorrelation with its bias taken out, below 1; one that few or no readings show stays.
fn corrected(n: f64, lag1: f64) -> f64 {
    if lag1 > 0.0 && n > 4.0 { unbiased_lag1(n, lag1).min(0.999) } else { lag1 }
}

fn follows(lag1: f64, bounded: bool) -> String {
    let end = if bounded {
        "Pp and Ppk hold for what was read."
    } else {
        "Pp and Ppk rest on so few independent readings that they have no bounds."
    };
    format!(
        "Readings follow one another (lag-1 autocorrelation {lag1:.2}), so the spread between neighbours says nothing of \
         the process: Cp and Cpk are left out. {end}"
    )
}

#[expect(clippy::cast_precision_loss, reason = "a count")]
fn count(n: u64) -> f64 {
    n as f64
}
