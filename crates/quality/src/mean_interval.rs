//! An interval for a mean of readings that follow one another.

use crate::tails::t_within;

/// Level of confidence of every interval here.
pub const CONFIDENCE: f64 = 0.95;
/// 0.975 quantile of the standard normal distribution.
const Z: f64 = 1.959_963_984_540_054;
/// Fewer readings than this, counted as independent, give no interval.
const FEWEST: f64 = 3.0;
/// An interval for a mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Half its width, in the unit of the readings.
    pub half: f64,
    /// Independent readings that would fix the mean as well.
    pub effective: f64,
}

impl Interval {
    /// The interval once a standard uncertainty that all readings share, such as that of
    /// their gauge, comes in as well: it does not shrink with their number, so the half
    /// widths at 95 % add up as root sum of squares (JCGM 100:2008, 5.1.2; the shared one
    /// taken as normal).
    #[must_use]
    pub fn with_standard_uncertainty(self, u: f64) -> Self {
        Self { half: self.half.hypot(Z * u), ..self }
    }
}

/// Independent readings that fix a mean as well as `n` readings of a first-order
/// autoregression do: n (1 - r) / (1 + r), for many readings (Bayley and Hammersley
/// 1946). A negative `r` is not taken as a gain.
pub fn effective_readings(n: f64, lag1: f64) -> f64 {
    let r = lag1.clamp(0.0, 1.0);
    n * (1.0 - r) / (1.0 + r)
}

/// A lag-1 autocorrelation as far as it shows: none where `n` independent readings would
/// give as much in one case out of twenty (standard error 1/sqrt(n), Bartlett 1946).
pub fn shown_lag1(n: f64, lag1: f64) -> f64 {
    if lag1.abs() > Z / n.sqrt() { lag1 } else { 0.0 }
}

/// A lag-1 autocorrelation of `n` readings, more than four, with its bias taken out, which makes few of them
/// look more independent than they are (Kendall 1954, Biometrika 41:403). It may come out above 1.
pub fn unbiased_lag1(n: f64, lag1: f64) -> f64 {
    (n * lag1 + 1.0) / (n - 4.0)
}

/// The interval at 95 % for the mean of `n` readings, by Student's t with as many degrees
/// of freedom as independent readings less one. None where those are too few.
pub fn of_mean(sd: f64, n: f64, lag1: f64) -> Option<Interval> {
    let effective = effective_readings(n, lag1);
    let t = (effective >= FEWEST).then(|| t_within(CONFIDENCE, effective - 1.0))??;
    Some(Interval { half: t * sd / effective.sqrt(), effective })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_are_those_of_the_printed_table() {
        // NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, column 0.975.
        let printed = [
            (2.0, 4.303),
            (3.0, 3.182),
            (4.0, 2.776),
            (5.0, 2.571),
            (10.0, 2.228),
            (20.0, 2.086),
            (29.0, 2.045),
            (30.0, 2.042),
            (60.0, 2.000),
            (100.0, 1.984),
        ];
        for (freedom, t) in printed {
            let found = t_within(CONFIDENCE, freedom).unwrap();
            assert!((found - t).abs() < 5e-4, "{freedom}: {found}, printed {t}");
        }
    }

    #[test]
    fn quantiles_agree_with_a_general_library_between_and_beyond_the_table() {
        // Computed with scipy 1.17, scipy.stats.t.ppf(0.975, df).
        let computed = [
            (2.5, 3.574_654_842_004),
            (7.3, 2.345_066_736_548),
            (120.0, 1.979_930_405_082),
            (1000.0, 1.962_339_080_826),
            (1e4, 1.960_201_239_891),
            (1e6, 1.959_966_356_814),
            (1e8, 1.959_964_008_263),
        ];
        for (freedom, t) in computed {
            let found = t_within(CONFIDENCE, freedom).unwrap();
            assert!((found - t).abs() < 1e-9, "{freedom}: {found}, computed {t}");
        }
    }

    #[test]
    fn quantiles_fall_without_a_jump_as_freedom_grows() {
        let mut freedom = 2.0;
        let mut before = f64::INFINITY;
        while freedom < 1200.0 {
            let t = t_within(CONFIDENCE, freedom).unwrap();
            assert!(t < before && t > Z, "{freedom}: {t} after {before}");
            before = t;
            freedom += 0.37;
        }
    }

    #[test]
    fn effective_readings_are_those_of_a_first_order_autoregression() {
        // Case ar1-neff of the reference data, for many readings; a negative r counts as none.
        let rows = [
            (10.0, 0.5, 3.33333333333333),
            (50.0, 0.3, 26.9230769230769),
            (100.0, 0.9, 5.26315789473684),
            (25.0, 0.0, 25.0),
            (1000.0, 0.7, 176.470588235294),
            (200.0, -0.4, 200.0),
        ];
        for (n, r, expected) in rows {
            let found = effective_readings(n, r);
            assert!((found - expected).abs() < 1e-10 * expected, "{n} {r}: {found}");
        }
    }

    #[test]
    fn a_shared_uncertainty_does_not_shrink_with_the_number_of_readings() {
        let few = of_mean(0.01, 100.0, 0.0).unwrap();
        let many = of_mean(0.01, 1e8, 0.0).unwrap();
        assert_eq!(few.with_standard_uncertainty(0.0), few);
        // Half widths 3 and 4 make 5.
        let three = Interval { half: 3.0, effective: 10.0 };
        assert!((three.with_standard_uncertainty(4.0 / Z).half - 5.0).abs() < 1e-12);
        assert!((many.with_standard_uncertainty(0.001).half - Z * 0.001).abs() < 1e-8);
    }

    #[test]
    fn an_autocorrelation_that_chance_explains_is_none() {
        assert_eq!(shown_lag1(100.0, 0.19), 0.0);
        assert_eq!(shown_lag1(100.0, 0.2), 0.2);
        assert_eq!(shown_lag1(100.0, -0.5), -0.5);
    }

    #[test]
    fn too_few_independent_readings_give_no_interval() {
        assert_eq!(of_mean(0.01, 2.0, 0.0), None);
        assert_eq!(of_mean(0.01, 100.0, 0.99), None);
        assert!(of_mean(0.01, 3.0, -0.5).is_some());
    }
}
