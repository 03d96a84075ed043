//! Decisions on a measured value whose uncertainty counts.
//!
//! A result is a measured value `y` with standard uncertainty `u`. Three ways to decide:
//! simple acceptance asks only on which side of a limit y lies; guarded acceptance keeps a
//! guard band w inside the limits (ISO 14253-1:2017; ILAC-G8:09/2019, clause 4.2); the
//! conformance probability weighs how much of the result lies within (JCGM 106:2012, clause
//! 7). What a rule costs producer and user over many items is in [`risk`].

pub mod risk;

use crate::distributions::{Split, normal, root, student_t};
use crate::limits::Limits;

/// Factor of the guard band that ISO 14253-1:2017 sets where nothing else is agreed: 1.65
/// standard uncertainties, for a conformance probability of 95 % at one limit.
pub const GUARD_FACTOR: f64 = 1.65;

/// How the true value may lie, given a result.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conformance {
    /// Probability below the lower limit; zero without one.
    pub below: f64,
    /// Probability within the limits: the conformance probability.
    pub within: f64,
    /// Probability above the upper limit; zero without one.
    pub above: f64,
}

/// Probabilities for a normal result (JCGM 106:2012, 7.2 to 7.4). None unless y is finite
/// and u positive.
#[must_use]
pub fn conformance(y: f64, u: f64, limits: Limits) -> Option<Conformance> {
    conformance_by(y, u, limits, normal::tails)
}

/// The same where u rests on few readings: Student's t with `freedom` degrees of freedom,
/// shifted and scaled (JCGM 106:2012, 7.2, note; JCGM 100:2008, annex G).
#[must_use]
pub fn conformance_few(y: f64, u: f64, freedom: f64, limits: Limits) -> Option<Conformance> {
    conformance_by(y, u, limits, |t| student_t::tails(freedom, t))
}

fn conformance_by(
    y: f64,
    u: f64,
    limits: Limits,
    tails: impl Fn(f64) -> Option<Split>,
) -> Option<Conformance> {
    if !(y.is_finite() && u > 0.0 && u.is_finite()) {
        return None;
    }
    let at =
        |limit: Option<f64>, open: Split| limit.map_or(Some(open), |limit| tails((limit - y) / u));
    let lower = at(limits.lower(), Split::ALL_ABOVE)?;
    let upper = at(limits.upper(), Split::ALL_BELOW)?;
    Some(Conformance { below: lower.below, within: between(lower, upper), above: upper.above })
}

/// The share between two points, as the difference of the smaller tails.
fn between(lower: Split, upper: Split) -> f64 {
    let share = if lower.above < 0.5 {
        lower.above - upper.above
    } else if upper.below < 0.5 {
        upper.below - lower.below
    } else {
        1.0 - lower.below - upper.above
    };
    share.clamp(0.0, 1.0)
}

/// Guard band for one limit so that the conformance probability on its inner edge is `p`:
/// the quantile of p times u (JCGM 106:2012, table 1 for the quantiles). Negative for p
/// below one half. None unless 0 < p < 1.
#[must_use]
pub fn guard_band(u: f64, p: f64) -> Option<f64> {
    let band = normal::quantile_below(p)? * u;
    (u >= 0.0 && band.is_finite()).then_some(band)
}

/// Probability that a value accepted on the edge of a guard band `w` lies beyond the limit,
/// one limit being near: the specific risk (JCGM 106:2012, 9.3.2; ILAC-G8:09/2019, table 1).
#[must_use]
pub fn risk_at_edge(w: f64, u: f64) -> Option<f64> {
    normal::tails(w / u).filter(|_| u > 0.0).map(|tails| tails.above)
}

/// Largest distance of a measured value from the middle of two limits, `half_width` away
/// each, at which the conformance probability is still `p`: both limits count. None where
/// even the middle does not reach p.
#[must_use]
pub fn reach_from_middle(half_width: f64, u: f64, p: f64) -> Option<f64> {
    let wanted = Split::with_below(p)?.above;
    let limits = Limits::new(Some(-half_width), Some(half_width))?;
    let outside = |a: f64| conformance(a, u, limits).map(|c| c.below + c.above);
    if outside(0.0)? > wanted {
        return None;
    }
    let slope = |a: f64| {
        normal::density((half_width - a) / u) / u - normal::density((half_width + a) / u) / u
    };
    // Positive values are sought: the share outside is even.
    let start = (half_width - normal::quantile_below(p)? * u).max(0.0);
    let found = root::of_increasing(start, u, |a| {
        if a <= 0.0 {
            return Some((-1.0, f64::NAN));
        }
        let share = outside(a)?;
        Some((share.ln() - wanted.ln(), slope(a) / share))
    })?;
    Some(found.max(0.0))
}

/// Measurement capability index C_m = (upper - lower) / (4 u) (JCGM 106:2012, 7.6). None
/// without two limits.
#[must_use]
pub fn measurement_capability(limits: Limits, u: f64) -> Option<f64> {
    let index = limits.width()? / (4.0 * u);
    (u > 0.0 && index.is_finite()).then_some(index)
}

/// Limits with a guard band: values between the inner edges are accepted, beyond the outer
/// edges refused.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Guarded {
    limits: Limits,
    guard: f64,
}

/// What a guarded rule says of a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Zone {
    /// Within the limits by the guard band or more: conformity is shown.
    Pass,
    /// Within the limits, in the guard band: neither is shown.
    ConditionalPass,
    /// Beyond a limit by no more than the guard band: neither is shown.
    ConditionalFail,
    /// Beyond a limit by more than the guard band: nonconformity is shown.
    Fail,
}

impl Guarded {
    /// A rule with the guard band `guard` inside each limit and outside it; zero is simple
    /// acceptance. None unless it is zero or more.
    #[must_use]
    pub fn new(limits: Limits, guard: f64) -> Option<Self> {
        (guard >= 0.0 && guard.is_finite()).then_some(Self { limits, guard })
    }

    /// The inner edges, lower and upper, between which a value is accepted; each is missing
    /// where its limit is. They cross where the guard bands take all the room.
    #[must_use]
    pub fn acceptance(self) -> (Option<f64>, Option<f64>) {
        self.edges(self.guard)
    }

    /// The outer edges, beyond which a value is refused.
    #[must_use]
    pub fn rejection(self) -> (Option<f64>, Option<f64>) {
        self.edges(-self.guard)
    }

    fn edges(self, guard: f64) -> (Option<f64>, Option<f64>) {
        let (lower, upper) = (self.limits.lower(), self.limits.upper());
        (lower.map(|x| decimal_sum(x, guard)), upper.map(|x| decimal_sum(x, -guard)))
    }

    /// Where a value lies. A value on an edge belongs to the zone inside it. None for what
    /// is not a number.
    #[must_use]
    pub fn zone(self, y: f64) -> Option<Zone> {
        let inside = |(low, high): (Option<f64>, Option<f64>)| {
            low.is_none_or(|low| y >= low) && high.is_none_or(|high| y <= high)
        };
        if y.is_nan() {
            return None;
        }
        Some(if inside(self.acceptance()) {
            Zone::Pass
        } else if self.limits.hold(y) {
            Zone::ConditionalPass
        } else if inside(self.rejection()) {
            Zone::ConditionalFail
        } else {
            Zone::Fail
        })
    }
}

/// A sum of two decimals as the decimal that was meant: 1.8 - 0.008 is 1.792, not the double
/// beside it, so that a reading of 1.792 lies on the edge.
fn decimal_sum(a: f64, b: f64) -> f64 {
    let sum = a + b;
    let near = crate::decimal::nearest(sum);
    let rounding = 2.0 * f64::EPSILON * (a.abs() + b.abs());
    if (near - sum).abs() <= rounding { near } else { sum }
}
