//! A drying curve through the readings of a lot, and whether it may be believed.

use super::readings::Reading;
use secondmelt_plastics::drying::{Curve, Granule, fit};
use secondmelt_quality::distributions::{Split, fisher_f, student_t};
use secondmelt_quality::mean_interval::CONFIDENCE;
use std::fmt;

/// Fewer readings than this leave nothing to tell a curve that flattens from one that does not.
const FEWEST: usize = 4;
/// A time further out than so many times the longest reading is no more than a guess, and so is
/// one whose interval reaches so many times as far (common practice, no source).
const FARTHEST: f64 = 3.0;
/// End moistures that are tried, as parts of the lowest reading.
const ENDS: u32 = 16;

/// Hours of drying in all, and the ends of their 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Told {
    pub(super) hours: f64,
    pub(super) low: f64,
    pub(super) high: f64,
}

/// Why there is no time, and what would help most.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Trouble {
    TooFew(usize),
    NoFall,
    Flat(f64),
    Far(f64, f64),
    Wide(Told, f64),
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooFew(n) => write!(
                f,
                "{n} reading{s} at a known drying time (`dried_h`) and one temperature {is} too few for a curve: \
                 {FEWEST} readings along one drying would help most",
                s = if *n == 1 { "" } else { "s" },
                is = if *n == 1 { "is" } else { "are" }
            ),
            Self::NoFall => write!(
                f,
                "its readings do not fall as those of a drying do: look at the dryer, and a reading after twice the \
                 time would help most"
            ),
            Self::Flat(end) => write!(
                f,
                "its readings flatten out at about {end:.3} %, so this dryer does not get there in any time: drier air \
                 or a higher temperature within the window is needed; the dew point of its air would help most"
            ),
            Self::Far(hours, longest) => write!(
                f,
                "the curve asks for {hours:.1} h, too far beyond the {longest} h that were read: a reading after {:.1} h \
                 would help most",
                2.0 * longest
            ),
            Self::Wide(told, longest) => write!(
                f,
                "the curve gives {:.1} h with an interval of {:.1} to {:.1} h, which is too wide to set a dryer by: a \
                 reading after {:.1} h would help most",
                told.hours,
                told.low,
                told.high,
                2.0 * longest
            ),
        }
    }
}

/// Hours of drying in all that bring a lot to its limit.
pub(super) fn fitted(
    readings: &[Reading],
    last: &Reading,
    limit: f64,
    granule: Granule,
) -> Result<Told, Trouble> {
    // A curve is one of one temperature.
    let same = |r: &&Reading| r.dry_c.map(f64::to_bits) == last.dry_c.map(f64::to_bits);
    let mut points: Vec<_> =
        readings.iter().filter(same).filter_map(|r| Some((r.dried_h?, r.pct))).collect();
    points.retain(|(_, pct)| *pct > 0.0);
    points.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let mut times: Vec<_> = points.iter().map(|point| point.0).collect();
    times.dedup();
    if points.len() < FEWEST || times.len() < 3 {
        return Err(Trouble::TooFew(points.len()));
    }
    let dried = last.dried_h.ok_or(Trouble::TooFew(points.len()))?;
    let best = fit(granule, &points, 0.0).ok_or(Trouble::NoFall)?;
    if let Some(end) = flattens(granule, &points).filter(|end| *end >= limit) {
        return Err(Trouble::Flat(end));
    }
    let hours = best.hours_to(limit).ok_or(Trouble::NoFall)?.0;
    let mut told = Told { hours, low: hours, high: hours };
    for granule in [Granule::Plate, Granule::Cylinder, Granule::Sphere] {
        let Some(curve) = fit(granule, &points, 0.0) else { continue };
        let (low, high) = interval(&curve, limit).ok_or(Trouble::NoFall)?;
        told.low = told.low.min(low);
        told.high = told.high.max(high);
    }
    // It is still wet now, whatever the curve has it.
    told.low = told.low.max(dried);
    if hours <= dried {
        return Err(Trouble::NoFall);
    }
    if hours > FARTHEST * dried {
        return Err(Trouble::Far(hours, dried));
    }
    if told.high.is_nan() || told.high > FARTHEST * hours {
        return Err(Trouble::Wide(told, dried));
    }
    Ok(told)
}

fn interval(curve: &Curve, limit: f64) -> Option<(f64, f64)> {
    let (hours, u) = curve.hours_to(limit)?;
    let above = Split::with_above(0.5 * (1.0 - CONFIDENCE))?;
    let far = (student_t::quantile(f64::from(curve.freedom), above)? * u).exp();
    (far >= 1.0).then_some((hours / far, hours * far))
}

/// The end moisture that the readings show, where none at all fits them clearly worse (F test of
/// one more parameter, at 5 %).
fn flattens(granule: Granule, points: &[(f64, f64)]) -> Option<f64> {
    let lowest = points.iter().map(|point| point.1).reduce(f64::min)?;
    let squares = |end: f64| {
        let curve = fit(granule, points, end)?;
        let of = |&(h, pct): &(f64, f64)| {
            let left = granule.left(curve.rate_h * h);
            let on_curve = curve.end_pct + (curve.start_pct - curve.end_pct) * left;
            (pct.ln() - on_curve.ln()).powi(2)
        };
        let sum: f64 = points.iter().map(of).sum();
        sum.is_finite().then_some((end, sum))
    };
    let none = squares(0.0)?.1;
    let ends = (1..ENDS).map(|n| lowest * f64::from(n) / f64::from(ENDS));
    // The lowest reading may itself be low by chance, so that the end lies just above it at times.
    let ends = ends.chain([0.97, 0.99, 0.998].map(|share| share * lowest));
    let (end, least) = ends.filter_map(squares).min_by(|a, b| a.1.total_cmp(&b.1))?;
    let freedom = f64::from(u32::try_from(points.len()).ok()?) - 3.0;
    let f = (none - least) / least * freedom;
    let critical = fisher_f::quantile(1.0, freedom, Split::with_above(0.05)?)?;
    (f > critical).then_some(end)
}
