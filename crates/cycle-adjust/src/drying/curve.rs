//! A drying curve through the readings of a lot, and whether it may be believed.

use super::readings::Reading;
use secondmelt_plastics::drying::{Outlook, bounded_confidence, outlook};
use std::fmt;

/// Fewer readings than this leave nothing to tell a curve that flattens from one that does not.
const FEWEST: usize = 4;
/// A time further out than so many times the longest reading is no more than a guess, and so is
/// one whose interval reaches so many times as far (common practice, no source).
const FARTHEST: f64 = 3.0;

/// Hours of drying in all, and the ends of their 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Told {
    pub(super) hours: f64,
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) confidence: f64,
}

/// Why there is no time, and what would help most.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Trouble {
    TooFew(usize),
    NoFall,
    Misfit,
    Flat(f64),
    Open(f64, f64),
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
            Self::Misfit => write!(
                f,
                "its readings follow no curve of drying: whether they are of one lot in one dryer, and their hours, would \
                 help most"
            ),
            Self::Open(low, longest) => write!(
                f,
                "its readings ask for {low:.1} h or more and do not say surely how many at most: a reading after {:.1} h would \
                 help most, or what the dryer leaves in it after a day (`dry_end_pct` of a `material` record)",
                2.0 * longest
            ),
            Self::Flat(end) => write!(
                f,
                "its readings flatten out at {end:.3} % or more, so this dryer does not get there in any time: drier air \
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

/// Hours of drying in all that bring a lot to its limit; `end_pct` is what the dryer leaves in it after any
/// time, where that is known.
pub(super) fn fitted(
    readings: &[Reading],
    last: &Reading,
    limit: f64,
    end_pct: Option<f64>,
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
    let (hours, low, high) = match outlook(None, &points, end_pct, limit) {
        Outlook::Unknown => return Err(Trouble::NoFall),
        Outlook::Misfit => return Err(Trouble::Misfit),
        Outlook::Never { end_low_pct, .. } => return Err(Trouble::Flat(end_low_pct)),
        Outlook::Hours { best: Some(best), low, high: Some(high), .. } => (best, low, high),
        Outlook::Hours { low, .. } => return Err(Trouble::Open(low.max(dried), dried)),
    };
    let confidence = bounded_confidence(end_pct.is_some(), points.len())
        .ok_or(Trouble::Open(low.max(dried), dried))?;
    let mut told = Told { hours, low, high, confidence };
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
