//! Lomb-Scargle periodogram for a few readings at uneven places.
//!
//! Power is the share of the squares about the mean that a sine of a frequency explains:
//! fitted together with a mean (Zechmeister and Kuerster 2009, Astronomy and Astrophysics
//! 496:577), or classic on centred readings (Lomb 1976, Astrophysics and Space Science
//! 39:447; Scargle 1982, Astrophysical Journal 263:835). The chance that noise alone
//! reaches a power takes the noise as independent and normal (Baluev 2008, Monthly Notices
//! of the Royal Astronomical Society 385:1279).

use crate::tails::half_step_of_gamma;
use std::f64::consts::{PI, TAU};

/// Frequencies tried for each reciprocal of the length covered.
const OVERSAMPLING: f64 = 10.0;
/// Most frequencies tried.
const TRIED_MAX: f64 = 200_000.0;
/// Highest places of the coarse search that are looked at closely.
const CLOSE_LOOKS: usize = 3;

/// Readings at their places.
#[derive(Debug, Clone)]
pub struct LombScargle {
    points: Vec<(f64, f64)>,
    squares: f64,
    variance_t: f64,
    span: f64,
}

/// The highest peak.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LombPeak {
    /// Waves per unit of place.
    pub frequency: f64,
    /// Share of the squares explained, with a fitted mean.
    pub power: f64,
    /// Half the height of the wave, in the unit of the readings.
    pub amplitude: f64,
    /// Chance of so high a power at one frequency given in advance.
    pub single: f64,
    /// Chance of so high a power anywhere up to the highest frequency searched.
    pub false_alarm: f64,
}

impl LombScargle {
    /// Takes readings as (place, value). None of fewer than five, where a number is not
    /// finite, or where places or values do not vary.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "a count")]
    pub fn new(readings: &[(f64, f64)]) -> Option<Self> {
        let n = readings.len() as f64;
        let mean = |part: fn(&(f64, f64)) -> f64| readings.iter().map(part).sum::<f64>() / n;
        let (t, y) = (mean(|p| p.0), mean(|p| p.1));
        let points: Vec<_> = readings.iter().map(|p| (p.0 - t, p.1 - y)).collect();
        let sum = |part: fn(&(f64, f64)) -> f64| points.iter().map(part).sum::<f64>();
        let (squares, variance_t) = (sum(|p| p.1 * p.1), sum(|p| p.0 * p.0) / n);
        let low = points.iter().map(|p| p.0).fold(f64::INFINITY, f64::min);
        let high = points.iter().map(|p| p.0).fold(f64::NEG_INFINITY, f64::max);
        let span = high - low;
        let sound = points.len() >= 5 && squares > 0.0 && span > 0.0;
        let sound = sound && squares.is_finite() && variance_t.is_finite() && span.is_finite();
        sound.then_some(Self { points, squares, variance_t, span })
    }

    #[expect(clippy::cast_precision_loss, reason = "a count")]
    fn n(&self) -> f64 {
        self.points.len() as f64
    }

    /// Power at a frequency, with a fitted mean.
    #[must_use]
    pub fn power(&self, frequency: f64) -> f64 {
        self.fit(frequency, true).0
    }

    /// Power at a frequency, classic.
    #[must_use]
    pub fn power_classic(&self, frequency: f64) -> f64 {
        self.fit(frequency, false).0
    }

    /// Power, and the fitted cosine and sine.
    fn fit(&self, frequency: f64, with_mean: bool) -> (f64, f64, f64) {
        let (mut c1, mut s1, mut cc, mut ss, mut cs, mut yc, mut ys) =
            (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
        for (t, y) in &self.points {
            let (sin, cos) = (TAU * frequency * t).sin_cos();
            c1 += cos;
            s1 += sin;
            cc += cos * cos;
            ss += sin * sin;
            cs += cos * sin;
            yc += y * cos;
            ys += y * sin;
        }
        if with_mean {
            let n = self.n();
            cc -= c1 * c1 / n;
            ss -= s1 * s1 / n;
            cs -= c1 * s1 / n;
        }
        let (a, b) = solved(cc, ss, cs, yc, ys, self.n());
        let power = (a * yc + b * ys) / self.squares;
        (power.clamp(0.0, 1.0), a, b)
    }

    /// Cosine and sine parts of the wave fitted at a frequency, about the mean place.
    pub(super) fn parts(&self, frequency: f64) -> (f64, f64) {
        let (_, a, b) = self.fit(frequency, true);
        (a, b)
    }

    /// One wave in the length covered.
    pub(super) fn lowest(&self) -> f64 {
        1.0 / self.span
    }

    /// The readings with waves taken off; none where nothing is left that varies.
    pub(super) fn without(&self, waves: impl Iterator<Item = (f64, (f64, f64))>) -> Option<Self> {
        let mut points = self.points.clone();
        for (frequency, (a, b)) in waves {
            for (t, y) in &mut points {
                let (sin, cos) = (TAU * frequency * *t).sin_cos();
                *y -= a * cos + b * sin;
            }
        }
        Self::new(&points)
    }

    /// Amplitude of the wave fitted with a mean at a frequency.
    #[must_use]
    pub fn amplitude(&self, frequency: f64) -> f64 {
        let (_, a, b) = self.fit(frequency, true);
        a.hypot(b)
    }

    /// The highest peak with frequency above `lowest` and up to `highest`. None where
    /// `highest` is not above `lowest`, or asks for more than 200 000 frequencies.
    #[must_use]
    pub fn peak(&self, lowest: f64, highest: f64) -> Option<LombPeak> {
        let step = 1.0 / (OVERSAMPLING * self.span);
        let tried = (highest - lowest) / step;
        if !(tried > 0.0 && tried < TRIED_MAX && lowest >= 0.0) {
            return None;
        }
        let start = if lowest > 0.0 { lowest } else { step.min(highest) };
        let mut best: Vec<(f64, f64)> = Vec::with_capacity(CLOSE_LOOKS + 1);
        let mut frequency = start;
        while frequency < highest + step {
            let f = frequency.min(highest);
            best.push((self.power(f), f));
            best.sort_by(|a, b| b.0.total_cmp(&a.0));
            best.truncate(CLOSE_LOOKS);
            frequency += step;
        }
        let closely = |(_, f): (f64, f64)| {
            self.climbed((f - step).max(start.min(f)), (f + step).min(highest))
        };
        let frequency = best
            .into_iter()
            .map(closely)
            .max_by(|a, b| self.power(*a).total_cmp(&self.power(*b)))?;
        let (power, a, b) = self.fit(frequency, true);
        Some(LombPeak {
            frequency,
            power,
            amplitude: a.hypot(b),
            single: self.single(power),
            false_alarm: self.false_alarm(power, highest),
        })
    }

    /// Frequency of the highest power between two, by golden sections.
    pub(super) fn climbed(&self, low: f64, high: f64) -> f64 {
        let ratio = 0.5 * (5.0_f64.sqrt() - 1.0);
        let (mut low, mut high) = (low, high);
        let mut left = high - ratio * (high - low);
        let mut right = low + ratio * (high - low);
        let (mut at_left, mut at_right) = (self.power(left), self.power(right));
        for _ in 0..60 {
            if at_left < at_right {
                (low, left, at_left) = (left, right, at_right);
                right = low + ratio * (high - low);
                at_right = self.power(right);
            } else {
                (high, right, at_right) = (right, left, at_left);
                left = high - ratio * (high - low);
                at_left = self.power(left);
            }
        }
        f64::midpoint(low, high)
    }

    /// Chance that noise reaches a power at one frequency: (1 - z)^((n - 3) / 2).
    #[must_use]
    pub fn single(&self, power: f64) -> f64 {
        (1.0 - power).powf(0.5 * (self.n() - 3.0))
    }

    /// Bound on the chance that noise reaches a power at any frequency up to `highest`.
    #[must_use]
    pub fn false_alarm(&self, power: f64, highest: f64) -> f64 {
        let n = self.n();
        let width = highest * (4.0 * PI * self.variance_t).sqrt();
        let gamma = (2.0 / (n - 1.0)).sqrt() * half_step_of_gamma(0.5 * (n - 2.0));
        let left = (1.0 - power).powf(0.5 * (n - 4.0));
        let tau = gamma * width * left * (0.5 * (n - 1.0) * power).sqrt();
        let single = self.single(power);
        (single - (1.0 - single) * (-tau).exp_m1()).clamp(0.0, 1.0)
    }
}

/// Solution of the two normal equations; of one where sine or cosine vanishes at all
/// places, as at half the rate of even spacing.
fn solved(cc: f64, ss: f64, cs: f64, yc: f64, ys: f64, n: f64) -> (f64, f64) {
    let determinant = cc * ss - cs * cs;
    if determinant > 1e-12 * n * n {
        return ((ss * yc - cs * ys) / determinant, (cc * ys - cs * yc) / determinant);
    }
    let sum = cc + ss;
    if sum <= 1e-12 * n {
        return (0.0, 0.0);
    }
    // All places see the same mixture; take the part along it.
    let (c, s) = if cc >= ss { (cc, cs) } else { (cs, ss) };
    let length = c.hypot(s);
    let (c, s) = (c / length, s / length);
    let along = (c * yc + s * ys) / sum;
    (c * along, s * along)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_does_not_vary_or_is_too_little_has_no_periodogram() {
        assert!(LombScargle::new(&[]).is_none());
        assert!(LombScargle::new(&[(0.0, 1.0); 10]).is_none());
        let flat: Vec<_> = (0..10).map(|i| (f64::from(i), 1.0)).collect();
        assert!(LombScargle::new(&flat).is_none());
        let nan: Vec<_> = (0..10).map(|i| (f64::from(i), f64::NAN)).collect();
        assert!(LombScargle::new(&nan).is_none());
        let good: Vec<_> = (0..10).map(|i| (f64::from(i), f64::from(i * i % 7))).collect();
        let good = LombScargle::new(&good).unwrap();
        assert!(good.peak(0.5, 0.5).is_none() && good.peak(0.0, 1e9).is_none());
    }

    #[test]
    fn half_the_rate_of_even_spacing_is_seen_and_does_not_blow_up() {
        let readings: Vec<_> =
            (0..20).map(|i| (f64::from(i), if i % 2 == 0 { 1.0 } else { -1.0 })).collect();
        let found = LombScargle::new(&readings).unwrap();
        assert!((found.power(0.5) - 1.0).abs() < 1e-9);
        assert!((found.amplitude(0.5) - 1.0).abs() < 1e-6);
    }

    proptest! {
        #[test]
        fn power_does_not_change_with_unit_or_origin(
            ys in prop::collection::vec(-1.0_f64..1.0, 8..30), shift in -50.0_f64..50.0, scale in 0.1_f64..10.0, f in 0.02_f64..0.45,
        ) {
            let places = |k: usize| k as f64 + 0.3 * (k as f64).sin();
            let plain: Vec<_> = ys.iter().enumerate().map(|(k, y)| (places(k), *y)).collect();
            let moved: Vec<_> = plain.iter().map(|(t, y)| (t + shift, 5.0 + scale * y)).collect();
            let (Some(a), Some(b)) = (LombScargle::new(&plain), LombScargle::new(&moved)) else { return Ok(()) };
            prop_assert!((a.power(f) - b.power(f)).abs() < 1e-7);
            prop_assert!((a.amplitude(f) * scale - b.amplitude(f)).abs() < 1e-6 * scale);
        }
    }
}
