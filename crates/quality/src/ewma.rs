//! Exponentially weighted moving average (Roberts 1959, Technometrics 1:239;
//! NIST/SEMATECH e-Handbook 6.3.2.4; ISO 7870-6). Sees small lasting shifts sooner than
//! single points do.
//!
//! Assumption: readings are independent with standard deviation `sigma`; with readings
//! that follow one another closely, feed it subgroup means or residuals.

use crate::distributions::normal::density;
use crate::integral_equation::{nodes, solved};

/// An average that forgets, with its limits.
#[derive(Debug, Clone)]
pub struct Ewma {
    start: f64,
    sigma: f64,
    lambda: f64,
    k: f64,
    value: f64,
    /// (1 - lambda)^(2 i) after i readings.
    fading: f64,
}

/// The average after a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EwmaPoint {
    /// The average, in the unit of the readings.
    pub value: f64,
    /// Lower limit at this reading.
    pub lower: f64,
    /// Upper limit at this reading.
    pub upper: f64,
}

impl EwmaPoint {
    /// Whether the average lies beyond a limit.
    #[must_use]
    pub fn beyond(&self) -> bool {
        self.value > self.upper || self.value < self.lower
    }
}

impl Ewma {
    /// Starts at `start`, the target; `sigma` is the standard deviation of a reading,
    /// `lambda` the weight of a new reading (0 < lambda <= 1), `k` the reach of the limits
    /// in standard deviations of the average.
    #[must_use]
    pub fn new(start: f64, sigma: f64, lambda: f64, k: f64) -> Option<Self> {
        let sound = start.is_finite() && sigma > 0.0 && sigma.is_finite();
        let sound = sound && lambda > 0.0 && lambda <= 1.0 && k > 0.0 && k.is_finite();
        sound.then_some(Self { start, sigma, lambda, k, value: start, fading: 1.0 })
    }

    /// Adds a reading: the average with the limits that hold for so many readings,
    /// variance sigma^2 lambda / (2 - lambda) (1 - (1 - lambda)^(2 i)). What is not finite
    /// is left out.
    pub fn push(&mut self, x: f64) -> Option<EwmaPoint> {
        if !x.is_finite() {
            return None;
        }
        self.value = self.lambda * x + (1.0 - self.lambda) * self.value;
        self.fading *= (1.0 - self.lambda).powi(2);
        let reach = self.steady_reach() * (1.0 - self.fading).sqrt();
        Some(self.point(reach))
    }

    /// The average with the limits of the long run.
    #[must_use]
    pub fn steady(&self) -> EwmaPoint {
        self.point(self.steady_reach())
    }

    fn steady_reach(&self) -> f64 {
        self.k * self.sigma * (self.lambda / (2.0 - self.lambda)).sqrt()
    }

    fn point(&self, reach: f64) -> EwmaPoint {
        EwmaPoint { value: self.value, lower: self.start - reach, upper: self.start + reach }
    }
}

/// Longest run that is told; beyond it the equations lose their digits.
const LENGTH_MAX: f64 = 1e12;

/// Average number of readings until the average goes beyond its steady limits, for weight
/// `lambda` (0.01 to 1), reach `k` and a lasting `shift` of the mean in standard deviations
/// of a reading, from a start on target (Crowder 1987, Technometrics 29:401). None for
/// settings that make no sense or a length beyond 1e12.
#[must_use]
pub fn run_length(lambda: f64, k: f64, shift: f64) -> Option<f64> {
    let sound = (0.01..=1.0).contains(&lambda) && k > 0.0 && k <= 10.0 && shift.is_finite();
    if !sound {
        return None;
    }
    let reach = k * (lambda / (2.0 - lambda)).sqrt();
    let nodes = nodes(-reach, reach, lambda.min(1.0));
    let kernel = |from: f64, (to, weight): &(f64, f64)| {
        weight / lambda * density((to - (1.0 - lambda) * from) / lambda - shift)
    };
    let row = |(i, (from, _)): (usize, &(f64, f64))| {
        let entry = |(j, node): (usize, &(f64, f64))| {
            let own = if i == j { 1.0 } else { 0.0 };
            own - kernel(*from, node)
        };
        nodes.iter().enumerate().map(entry).chain(std::iter::once(1.0)).collect()
    };
    let lengths = solved(nodes.iter().enumerate().map(row).collect())?;
    let rest: f64 = nodes.iter().zip(&lengths).map(|(node, l)| l * kernel(0.0, node)).sum();
    let length = 1.0 + rest;
    (1.0..LENGTH_MAX).contains(&length).then_some(length)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Lucas and Saccucci (1990), Technometrics 32:1; from memory, and to the digits
    /// printed there.
    #[test]
    fn run_lengths_are_those_printed() {
        for (lambda, k, shift, printed, within) in [
            (0.4, 3.054, 0.0, 500.0, 1.5),
            (0.4, 3.054, 0.5, 71.2, 0.06),
            (0.4, 3.054, 1.0, 14.3, 0.06),
            (0.25, 2.998, 0.0, 500.0, 1.5),
            (0.25, 2.998, 1.0, 11.1, 0.06),
            (0.1, 2.814, 0.0, 500.0, 1.5),
            (0.1, 2.814, 0.5, 31.3, 0.06),
            (0.1, 2.814, 1.0, 10.3, 0.06),
            (0.05, 2.615, 0.0, 500.0, 1.5),
            (0.05, 2.615, 1.0, 11.4, 0.06),
        ] {
            let found = run_length(lambda, k, shift).unwrap();
            assert!(
                (found - printed).abs() <= within,
                "{lambda} {shift}: {found}, printed {printed}"
            );
        }
    }

    #[test]
    fn with_all_weight_on_the_last_reading_it_is_a_chart_of_single_points() {
        let expected = 1.0 / (2.0 * crate::tails::normal_above(3.0));
        assert!((run_length(1.0, 3.0, 0.0).unwrap() / expected - 1.0).abs() < 1e-9);
        assert_eq!(run_length(0.0, 3.0, 0.0), None);
        assert_eq!(run_length(0.2, 10.0, 0.0), None);
        assert_eq!(run_length(0.2, 3.0, f64::NAN), None);
    }

    #[test]
    fn settings_that_make_no_sense_give_no_chart() {
        assert!(Ewma::new(1.75, 0.0, 0.2, 3.0).is_none());
        assert!(Ewma::new(1.75, 0.01, 0.0, 3.0).is_none());
        assert!(Ewma::new(1.75, 0.01, 1.1, 3.0).is_none());
        assert!(Ewma::new(f64::NAN, 0.01, 0.2, 3.0).is_none());
        assert!(Ewma::new(1.75, 0.01, 0.2, 3.0).unwrap().push(f64::NAN).is_none());
    }

    proptest! {
        #[test]
        fn the_average_lies_between_the_smallest_and_the_largest(xs in prop::collection::vec(1.0_f64..2.0, 1..100), lambda in 0.01_f64..=1.0) {
            let mut ewma = Ewma::new(1.5, 0.1, lambda, 3.0).unwrap();
            for x in xs {
                let point = ewma.push(x).unwrap();
                prop_assert!((1.0..=2.0).contains(&point.value));
                prop_assert!(point.upper <= ewma.steady().upper + 1e-12);
            }
        }
    }
}
