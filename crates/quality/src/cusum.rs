//! Two-sided tabular cumulative sum (Page 1954, Biometrika 41:100; NIST/SEMATECH
//! e-Handbook 6.3.2.3; ISO 7870-4), with head start (Lucas and Crosier 1982,
//! Technometrics 24:199), and its average run length.
//!
//! Assumption: readings are independent and normal.

use crate::distributions::normal::{below as normal_below, density as normal_density};
use crate::integral_equation::{nodes, solved};

/// Sums of what goes beyond the slack on either side of the target.
#[derive(Debug, Clone)]
pub struct Cusum {
    target: f64,
    k: f64,
    h: f64,
    head: f64,
    point: CusumPoint,
}

/// The sums after a reading, in the unit of the readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CusumPoint {
    /// Sum of what went above target + k.
    pub high: f64,
    /// Sum of what went below target - k.
    pub low: f64,
    /// Plain sum of deviations from the target.
    pub deviation: f64,
    /// Whether `high` is above h.
    pub above: bool,
    /// Whether `low` is above h.
    pub below: bool,
}

impl Cusum {
    /// About `target`, with slack `k` (half the shift that matters) and decision interval
    /// `h`, all in the unit of the readings. Both sums start at `head`: zero, or h / 2 for
    /// a fast initial response.
    #[must_use]
    pub fn new(target: f64, k: f64, h: f64, head: f64) -> Option<Self> {
        let sound = target.is_finite() && k >= 0.0 && k.is_finite() && h > 0.0 && h.is_finite();
        let point =
            CusumPoint { high: head, low: head, deviation: 0.0, above: false, below: false };
        (sound && (0.0..=h).contains(&head)).then_some(Self { target, k, h, head, point })
    }

    /// Adds a reading. Sums go on after a signal; see [`Self::restart`]. What is not
    /// finite is left out.
    pub fn push(&mut self, x: f64) -> Option<CusumPoint> {
        if !x.is_finite() {
            return None;
        }
        let deviation = x - self.target;
        let high = (self.point.high + deviation - self.k).max(0.0);
        let low = (self.point.low - deviation - self.k).max(0.0);
        let (above, below) = (high > self.h, low > self.h);
        self.point =
            CusumPoint { high, low, deviation: self.point.deviation + deviation, above, below };
        Some(self.point)
    }

    /// Starts the sums again, as after the cause of a signal has been dealt with.
    pub fn restart(&mut self) {
        let point = CusumPoint {
            high: self.head,
            low: self.head,
            above: false,
            below: false,
            ..self.point
        };
        self.point = point;
    }
}

/// Average number of readings until a two-sided sum signals; `k`, `h`, the head start and
/// the lasting `shift` of the mean in standard deviations of a reading. One-sided lengths
/// solve Page's integral equation; both sides join as Lucas and Crosier (1982) give it.
/// None for settings that make no sense or a length beyond 1e12.
#[must_use]
pub fn run_length(k: f64, h: f64, shift: f64, head: f64) -> Option<f64> {
    let sound = k >= 0.0 && k.is_finite() && h > 0.0 && h <= REACH_MAX && shift.is_finite();
    if !sound || !(0.0..=h).contains(&head) {
        return None;
    }
    let up = OneSided::solve(k, h, shift)?;
    let down = OneSided::solve(k, h, -shift)?;
    let (up_head, down_head) = (up.length(head), down.length(head));
    let joined = up_head * down.at_zero + down_head * up.at_zero - up.at_zero * down.at_zero;
    let length = joined / (up.at_zero + down.at_zero);
    (length.is_finite() && length < LENGTH_MAX).then_some(length)
}

/// Longest run that is told; beyond it the equations lose their digits.
const LENGTH_MAX: f64 = 1e12;
/// Largest decision interval, in standard deviations.
const REACH_MAX: f64 = 100.0;
/// Run lengths of a one-sided sum from any start:
/// L(z) = 1 + L(0) P(x <= k - z) + integral over 0..h of L(y) f(y + k - z) dy.
struct OneSided {
    drift: f64,
    at_zero: f64,
    /// Node, weight, length from there.
    nodes: Vec<(f64, f64, f64)>,
}

impl OneSided {
    fn solve(k: f64, h: f64, shift: f64) -> Option<Self> {
        let drift = k - shift;
        let nodes = nodes(0.0, h, 1.0);
        let size = nodes.len() + 1;
        let starts: Vec<f64> =
            std::iter::once(0.0).chain(nodes.iter().map(|node| node.0)).collect();
        let row = |(i, z): (usize, &f64)| {
            let mut row = vec![0.0; size + 1];
            let kernel = nodes.iter().map(|(y, weight)| -weight * normal_density(y + drift - z));
            let entries = std::iter::once(-normal_below(drift - z)).chain(kernel);
            for (place, entry) in row.iter_mut().zip(entries) {
                *place = entry;
            }
            if let Some(own) = row.get_mut(i) {
                *own += 1.0;
            }
            if let Some(right) = row.last_mut() {
                *right = 1.0;
            }
            row
        };
        let lengths = solved(starts.iter().enumerate().map(row).collect())?;
        let (at_zero, rest) = lengths.split_first()?;
        let nodes = nodes.iter().zip(rest).map(|((y, w), l)| (*y, *w, *l)).collect();
        (*at_zero >= 1.0).then_some(Self { drift, at_zero: *at_zero, nodes })
    }

    fn length(&self, start: f64) -> f64 {
        let kernel = |(y, weight, length): &(f64, f64, f64)| {
            length * weight * normal_density(y + self.drift - start)
        };
        let rest: f64 = self.nodes.iter().map(kernel).sum();
        1.0 + self.at_zero * normal_below(self.drift - start) + rest
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Lucas and Crosier (1982), head start h / 2, k = 0.5; from memory, and the number of
    /// digits printed there.
    #[test]
    fn a_head_start_shortens_runs_as_printed() {
        for (h, shift, printed, within) in [
            (4.0, 0.0, 149.0, 0.5),
            (4.0, 1.0, 5.29, 0.005),
            (5.0, 0.0, 430.0, 0.5),
            (5.0, 1.0, 6.35, 0.005),
        ] {
            let found = run_length(0.5, h, shift, h / 2.0).unwrap();
            assert!((found - printed).abs() <= within, "{h} {shift}: {found}, printed {printed}");
        }
    }

    #[test]
    fn settings_that_make_no_sense_have_no_run_length() {
        assert_eq!(run_length(0.5, 0.0, 0.0, 0.0), None);
        assert_eq!(run_length(0.5, 4.0, f64::NAN, 0.0), None);
        assert_eq!(run_length(0.5, 4.0, 0.0, 5.0), None);
        assert_eq!(run_length(3.0, 20.0, 0.0, 0.0), None);
        assert!(Cusum::new(0.0, -1.0, 1.0, 0.0).is_none());
    }

    #[test]
    fn without_memory_the_run_length_is_that_of_single_points() {
        // A tiny h and slack k: a signal is a point beyond k + h on either side, almost.
        let found = run_length(2.0, 1e-6, 0.0, 0.0).unwrap();
        let expected = 1.0 / (2.0 * crate::tails::normal_above(2.0 + 1e-6));
        assert!((found / expected - 1.0).abs() < 1e-4, "{found} {expected}");
    }

    proptest! {
        #[test]
        fn sums_scale_with_the_unit(xs in prop::collection::vec(-3.0_f64..3.0, 1..60)) {
            let mut one = Cusum::new(0.0, 0.5, 4.0, 2.0).unwrap();
            let mut thousand = Cusum::new(0.0, 512.0, 4096.0, 2048.0).unwrap();
            for x in xs {
                let (a, b) = (one.push(x).unwrap(), thousand.push(x * 1024.0).unwrap());
                prop_assert_eq!(a.high * 1024.0, b.high);
                prop_assert_eq!((a.above, a.below), (b.above, b.below));
            }
        }
    }
}
