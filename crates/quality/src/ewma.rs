//! Exponentially weighted moving average (Roberts 1959, Technometrics 1:239;
//! NIST/SEMATECH e-Handbook 6.3.2.4; ISO 7870-6). Sees small lasting shifts sooner than
//! single points do.
//!
//! Assumption: readings are independent with standard deviation `sigma`; with readings
//! that follow one another closely, feed it subgroup means or residuals.

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

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

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
