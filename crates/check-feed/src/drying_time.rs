//! How long a lot still has to dry, from its readings.
//!
//! A curve of diffusion (Crank) is fitted to the readings of one temperature, and the time to the
//! limit follows with an interval by the profile of the sum of squares. Where the shape of the
//! granules is not known, the interval takes in plate, cylinder, sphere and
//! pellet. Where the moisture
//! that the dryer leaves behind is not known, it is fitted; the readings often do not bound the
//! time above then, and that is what is said.
//!
//! # Coverage
//!
//! How often the 95 % interval holds the true time, in per cent of 2,000 simulated dryings for
//! each number of readings, and in brackets how often it has an upper end. Readings are evenly
//! spaced from the start and scatter by 3 % of their value; at the last one
//! 12 to 35 % of the removable water is left, and at the limit 10 %. The end moisture is 0
//! or 5 % of the start and not known, or known.
//! Where the shape is not said, the interval holds the truth in 95.6 to 99.5 %.
//! `cargo test -p secondmelt-check-feed --test drying_coverage -- --nocapture` prints it.
//!
//! | pieces | readings | end 0, not known | end 5 %, not known | end 5 %, known |
//! |---|---|---|---|---|
//! | plate | 4 | 95.2 (15) | 96.3 (10) | 95.0 (100) |
//! | plate | 5 | 95.9 (32) | 96.0 (25) | 94.8 (100) |
//! | plate | 6 | 95.4 (41) | 95.6 (36) | 94.0 (100) |
//! | plate | 7 | 95.0 (45) | 95.2 (40) | 93.8 (100) |
//! | plate | 8 | 95.4 (50) | 94.9 (44) | 95.0 (100) |
//! | plate | 9 | 94.2 (50) | 95.4 (48) | 94.6 (100) |
//! | plate | 10 | 94.8 (52) | 94.9 (48) | 94.9 (100) |
//! | plate | 11 | 95.1 (56) | 94.9 (53) | 95.3 (100) |
//! | plate | 12 | 95.2 (56) | 93.6 (53) | 95.6 (100) |
//! | cylinder | 4 | 95.5 (15) | 95.2 (10) | 94.9 (100) |
//! | cylinder | 5 | 95.2 (27) | 95.6 (23) | 95.3 (100) |
//! | cylinder | 6 | 94.3 (34) | 94.4 (31) | 94.9 (100) |
//! | cylinder | 7 | 94.5 (40) | 94.5 (34) | 95.0 (100) |
//! | cylinder | 8 | 95.7 (42) | 94.5 (37) | 95.4 (100) |
//! | cylinder | 9 | 95.9 (47) | 94.9 (40) | 95.5 (100) |
//! | cylinder | 10 | 95.2 (45) | 94.3 (40) | 94.8 (100) |
//! | cylinder | 11 | 95.1 (46) | 95.2 (45) | 94.2 (100) |
//! | cylinder | 12 | 95.1 (49) | 94.6 (47) | 95.6 (100) |
//! | sphere | 4 | 96.1 (13) | 96.5 (10) | 95.0 (100) |
//! | sphere | 5 | 95.6 (27) | 95.3 (21) | 95.3 (100) |
//! | sphere | 6 | 95.6 (36) | 95.7 (30) | 94.6 (100) |
//! | sphere | 7 | 95.5 (41) | 95.7 (34) | 95.3 (100) |
//! | sphere | 8 | 96.0 (45) | 95.4 (38) | 95.3 (100) |
//! | sphere | 9 | 95.6 (44) | 94.2 (39) | 94.9 (100) |
//! | sphere | 10 | 95.5 (48) | 94.4 (43) | 94.7 (100) |
//! | sphere | 11 | 93.9 (52) | 95.0 (47) | 95.3 (100) |
//! | sphere | 12 | 96.1 (52) | 95.3 (45) | 95.2 (100) |
//! | pellet | 4 | 96.0 (12) | 95.0 (12) | 95.0 (100) |
//! | pellet | 5 | 94.8 (26) | 94.7 (23) | 95.2 (100) |
//! | pellet | 6 | 94.7 (36) | 95.9 (29) | 95.6 (100) |
//! | pellet | 7 | 94.3 (42) | 94.7 (35) | 95.3 (100) |
//! | pellet | 8 | 95.7 (44) | 95.7 (39) | 94.9 (100) |
//! | pellet | 9 | 95.2 (47) | 95.9 (41) | 94.8 (100) |
//! | pellet | 10 | 96.1 (48) | 94.9 (44) | 94.8 (100) |
//! | pellet | 11 | 95.1 (49) | 94.9 (47) | 94.5 (100) |
//! | pellet | 12 | 95.4 (53) | 94.8 (49) | 94.7 (100) |

use secondmelt_plastics::drying::{Curve, Granule, Reach, fit};
use secondmelt_quality::distributions::{Split, fisher_f, student_t};

/// Level of the intervals.
pub const LEVEL: f64 = 0.95;
/// A curve that chance would leave so far from the readings less often than this does not fit.
const MISFIT: f64 = 0.01;
/// Shapes that are tried where none is known, from the one that dries most evenly to the one
/// whose corners dry far ahead of its middle.
const SHAPES: [Granule; 4] =
    [Granule::Plate, Granule::Cylinder, Granule::Sphere, Granule::Pellet { slenderness: 1.0 }];

/// What the readings say of the time to the limit.
#[derive(Debug, Clone, PartialEq)]
pub enum Outlook {
    /// Too few of them, or they do not fall.
    Unknown,
    /// No curve of diffusion goes through them.
    Misfit,
    /// It ends above the limit, at a moisture between two, in per cent.
    Never {
        /// Lower end of the interval.
        end_low_pct: f64,
        /// Upper end.
        end_high_pct: f64,
    },
    /// It takes some hours from the start.
    Hours {
        /// By the best curve; none where that one ends above the limit.
        best: Option<f64>,
        /// Lower end of the 95 % interval.
        low: f64,
        /// Upper end; none where the readings do not bound it.
        high: Option<f64>,
        /// The best curve.
        curve: Box<Curve>,
        /// Its shape.
        granule: Granule,
    },
}

/// The two-sided quantile of Student's t.
fn t_of(freedom: u32, outside: f64) -> Option<f64> {
    student_t::quantile(f64::from(freedom), Split::with_above(outside / 2.0)?)
}

/// Whether the readings bend where the curve does not, or fall to below nothing.
fn misfits(curve: &Curve, end_known: bool) -> bool {
    let bends = curve.bend.is_some_and(|bend| {
        fisher_f::tails(1.0, f64::from(bend.freedom), bend.f).is_some_and(|p| p.above < MISFIT)
    });
    let below_nothing =
        || t_of(curve.freedom, MISFIT).is_some_and(|t| curve.end_interval_pct(t).1 < 0.0);
    bends || !end_known && below_nothing()
}

/// When a lot meets its limit, from readings (hours dried, per cent) of one temperature.
#[must_use]
pub fn outlook(
    shape: Option<Granule>,
    readings: &[(f64, f64)],
    end_pct: Option<f64>,
    limit_pct: f64,
) -> Outlook {
    let given = shape.map(|shape| [shape]);
    let shapes: &[Granule] = given.as_ref().map_or(&SHAPES, |one| one);
    let curves: Vec<(Granule, Curve)> =
        shapes.iter().filter_map(|&g| Some((g, fit(g, readings, end_pct)?))).collect();
    if curves.is_empty() {
        return Outlook::Unknown;
    }
    let mut found: Option<Outlook> = None;
    let mut best_squares = f64::INFINITY;
    for (shape, curve) in curves.into_iter().filter(|(_, c)| !misfits(c, end_pct.is_some())) {
        let Some(t) = t_of(curve.freedom, 1.0 - LEVEL) else { continue };
        let scatter = curve.scatter;
        let here = match curve.hours_to(limit_pct, t) {
            Reach::Never { end_low_pct, end_high_pct } => {
                Outlook::Never { end_low_pct, end_high_pct }
            }
            Reach::Hours { best, low, high } => {
                // Where the best curve ends below nothing, the one that ends at nothing.
                let at_least_nothing = || {
                    let dry = fit(shape, readings, Some(0.0))?;
                    match dry.hours_to(limit_pct, t) {
                        Reach::Hours { best, .. } => best,
                        Reach::Never { .. } => None,
                    }
                };
                let best = if end_pct.is_none() && curve.end_pct < 0.0 {
                    at_least_nothing().map(|h| h.clamp(low, high.unwrap_or(f64::INFINITY)))
                } else {
                    best
                };
                Outlook::Hours { best, low, high, curve: Box::new(curve), granule: shape }
            }
        };
        found = Some(match found {
            None => here,
            Some(before) => together(before, here, scatter < best_squares),
        });
        best_squares = best_squares.min(scatter);
    }
    found.unwrap_or(Outlook::Misfit)
}

/// Both outlooks in one, the better one's best guess.
fn together(before: Outlook, here: Outlook, better: bool) -> Outlook {
    use Outlook::{Hours, Never};
    match (before, here) {
        (
            Hours { best: b1, low: l1, high: h1, curve: c1, granule: g1 },
            Hours { best: b2, low: l2, high: h2, curve: c2, granule: g2 },
        ) => {
            let (best, curve, granule) = if better { (b2, c2, g2) } else { (b1, c1, g1) };
            let high = h1.zip(h2).map(|(a, b)| a.max(b));
            Hours { best, low: l1.min(l2), high, curve, granule }
        }
        // One shape allows it, the other does not: it may take for ever.
        (Hours { best, low, curve, granule, .. }, Never { .. })
        | (Never { .. }, Hours { best, low, curve, granule, .. }) => {
            Hours { best, low, high: None, curve, granule }
        }
        (
            Never { end_low_pct: l1, end_high_pct: h1 },
            Never { end_low_pct: l2, end_high_pct: h2 },
        ) => Never { end_low_pct: l1.min(l2), end_high_pct: h1.max(h2) },
        (_, other) => other,
    }
}
