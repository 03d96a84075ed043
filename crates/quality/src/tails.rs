//! Tail probabilities in the shape the charts, lines and spectra of this crate ask for.

use crate::distributions::{Split, fisher_f, gamma, normal, student_t};

/// Degrees of freedom from which on the series around the normal quantile is exact to
/// double precision.
const FREEDOM_LARGE: f64 = 1e5;

/// Probability that a standard normal value is above `z`.
pub(crate) fn normal_above(z: f64) -> f64 {
    normal::below(-z)
}

/// Gamma(x + 1/2) / Gamma(x) for x > 0, to double precision: its asymptotic series
/// (Abramowitz and Stegun 6.1.47) after the recursion has taken x far enough up.
pub(crate) fn half_step_of_gamma(x: f64) -> f64 {
    let (mut x, mut factor) = (x, 1.0);
    while x < 40.0 {
        factor *= x / (x + 0.5);
        x += 1.0;
    }
    let u = 1.0 / x;
    let series = 1.0
        + u * (-1.0 / 8.0
            + u * (1.0 / 128.0
                + u * (5.0 / 1024.0
                    + u * (-21.0 / 32768.0 + u * (-399.0 / 262_144.0 + u * 869.0 / 4_194_304.0)))));
    factor * x.sqrt() * series
}

/// Probability that |Student's t| is above |`t`| with `freedom` degrees, whole or not.
pub(crate) fn t_outside(t: f64, freedom: f64) -> Option<f64> {
    student_t::tails(freedom, t.abs()).map(|split| 2.0 * split.above)
}

/// The t that |Student's t| stays within with probability `confidence`.
pub(crate) fn t_within(confidence: f64, freedom: f64) -> Option<f64> {
    if !(confidence > 0.0 && confidence < 1.0) || freedom.is_nan() {
        return None;
    }
    let outside = Split::with_above(0.5 * (1.0 - confidence))?;
    if freedom > FREEDOM_LARGE {
        return Some(t_of_many(normal::quantile(outside)?, freedom));
    }
    student_t::quantile(freedom, outside)
}

/// The quantile of t around the normal one (Abramowitz and Stegun 26.7.5).
fn t_of_many(z: f64, freedom: f64) -> f64 {
    let g1 = (z.powi(3) + z) / 4.0;
    let g2 = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0;
    z + g1 / freedom + g2 / (freedom * freedom)
}

/// Probability that an F value with `above` and `below` degrees is over `f`.
pub(crate) fn f_above(f: f64, above: f64, below: f64) -> Option<f64> {
    fisher_f::tails(above, below, f).map(|split| split.above)
}

/// Probability that a chi-square value with `freedom` degrees is over `x`.
pub(crate) fn chi_square_above(x: f64, freedom: f64) -> Option<f64> {
    gamma::chi_square_tails(freedom, x).map(|split| split.above)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, expected: f64, relative: f64) {
        assert!(
            (found - expected).abs() <= relative * expected.abs(),
            "{found:e}, computed {expected:e}"
        );
    }

    // All values computed with scipy 1.17.1.
    #[test]
    fn normal_tails_and_quantiles_agree_with_a_general_library() {
        close(normal_above(-3.0), 0.9986501019683699, 1e-12);
        close(normal_above(-0.5), 0.6914624612740131, 1e-12);
        close(normal_above(0.0), 0.5, 1e-12);
        close(normal_above(0.1), 0.460172162722971, 1e-12);
        close(normal_above(1.0), 0.15865525393145707, 1e-12);
        close(normal_above(2.5), 0.006209665325776132, 1e-12);
        close(normal_above(6.0), 9.865876450376946e-10, 1e-12);
        close(normal_above(12.0), 1.776482112077653e-33, 1e-12);
        close(normal_above(30.0), 4.906713927147908e-198, 1e-12);
        close(half_step_of_gamma(0.5), 0.5641895835477563, 1e-14);
        close(half_step_of_gamma(1.0), 0.886226925452758, 1e-14);
        close(half_step_of_gamma(3.25), 1.7350108161726976, 1e-14);
        close(half_step_of_gamma(39.5), 6.265045578899851, 1e-14);
        close(half_step_of_gamma(40.0), 6.3048224474268295, 1e-14);
        close(half_step_of_gamma(1000.0), 31.618824001815913, 1e-14);
        close(half_step_of_gamma(1000000.0), 999.999_875_000_007_8, 1e-14);
    }

    #[test]
    fn t_and_f_and_chi_square_agree_with_a_general_library() {
        close(t_outside(2.0, 1.0).unwrap(), 0.2951672353008665, 1e-9);
        close(t_outside(0.001, 3.5).unwrap(), 0.9992564554718667, 1e-9);
        close(t_outside(2331.6, 34.0).unwrap(), 4.654433533943951e-90, 1e-9);
        close(t_outside(11.35, 18.0).unwrap(), 1.2302865841588213e-09, 1e-9);
        close(t_outside(5.0, 10000.0).unwrap(), 5.830326613662659e-07, 1e-9);
        close(t_outside(1.5, 2000000.0).unwrap(), 0.13361456038727018, 1e-9);
        close(t_outside(40.0, 7.0).unwrap(), 1.5902179984850364e-09, 1e-9);
        close(t_within(0.95, 1.0).unwrap(), 12.706204736174694, 1e-10);
        close(t_within(0.95, 2.5).unwrap(), 3.5746548420036817, 1e-10);
        close(t_within(0.9, 6.0).unwrap(), 1.9431802805153056, 1e-10);
        close(t_within(0.95, 34.0).unwrap(), 2.0322445093177186, 1e-10);
        close(t_within(0.99, 18.0).unwrap(), 2.8784404727386077, 1e-10);
        close(t_within(0.5, 4.0).unwrap(), 0.7406970841126829, 1e-10);
        close(t_within(0.999, 1000.0).unwrap(), 3.300282648423913, 1e-10);
        close(t_within(0.95, 99999.0).unwrap(), 1.9599877077718442, 1e-10);
        close(t_within(0.95, 100001.0).unwrap(), 1.9599877072973786, 1e-10);
        close(t_within(0.95, 100000000.0).unwrap(), 1.9599640082627663, 1e-10);
        close(t_within(0.9973, 0.7).unwrap(), 2368.93934117784, 1e-10);
        close(f_above(1.0, 2.0, 30.0).unwrap(), 0.3798124058152456, 1e-10);
        close(f_above(12.0, 2.0, 30.0).unwrap(), 0.00014822191618709912, 1e-10);
        close(f_above(5.0, 11.5, 150.2).unwrap(), 8.771552350995971e-07, 1e-10);
        close(f_above(0.2, 4.0, 4.0).unwrap(), 0.9259259259259259, 1e-10);
        close(f_above(300.0, 2.0, 60.0).unwrap(), 5.730855330116813e-32, 1e-10);
        close(f_above(1.1, 500.0, 900.0).unwrap(), 0.11111205477552247, 1e-10);
        close(chi_square_above(425.8, 12.0).unwrap(), 1.2902482747905434e-83, 1e-10);
        close(chi_square_above(40.0, 5.0).unwrap(), 1.493367900050393e-07, 1e-10);
        close(chi_square_above(0.1, 1.0).unwrap(), 0.7518296340458492, 1e-10);
        close(chi_square_above(3.0, 3.0).unwrap(), 0.3916251762710877, 1e-10);
        close(chi_square_above(1100.0, 1000.0).unwrap(), 0.014614408126295192, 1e-10);
        close(chi_square_above(0.5, 60.0).unwrap(), 1.0, 1e-10);
    }

    #[test]
    fn what_makes_no_sense_has_no_value() {
        assert_eq!(t_within(1.0, 5.0), None);
        assert_eq!(t_within(0.95, 0.0), None);
        assert_eq!(t_within(0.95, f64::NAN), None);
        assert_eq!(t_outside(1.0, -1.0), None);
        assert_eq!(t_outside(f64::INFINITY, 3.0), Some(0.0));
        assert_eq!(f_above(f64::NAN, 1.0, 1.0), None);
        assert_eq!(chi_square_above(-1.0, 3.0), Some(1.0));
    }
}
