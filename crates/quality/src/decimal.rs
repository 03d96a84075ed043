//! Numbers as they were written: a gauge writes decimals, and a decimal of up to
//! fifteen digits can be told from its double. Sums of decimals are then exact.

/// Most decimals that are looked for.
pub const SCALE_MAX: usize = 9;

/// Largest whole number up to which every whole number is a double, 2^53.
const WHOLE_MAX: f64 = 9_007_199_254_740_992.0;

/// Powers of ten that are exact, from 10^0.
const POWERS: [f64; SCALE_MAX + 1] = [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9];

/// Ten to the power of a scale.
#[must_use]
#[inline]
pub fn power(scale: usize) -> f64 {
    POWERS[scale.min(SCALE_MAX)]
}

/// The whole number m with `x` the double nearest to m / 10^`scale`; none where
/// there is none. Both m and the power are exact doubles, so their quotient is
/// rounded correctly and the comparison proves it.
#[must_use]
#[inline]
pub fn mantissa(x: f64, scale: usize) -> Option<i64> {
    let power = *POWERS.get(scale)?;
    let near = x * power;
    if near.is_nan() || near.abs() >= WHOLE_MAX {
        return None;
    }
    // Rounds half away from zero; which way a half goes does not matter, since the
    // quotient then differs from x.
    #[expect(clippy::cast_possible_truncation, reason = "below 2^53")]
    let whole = (near + 0.5_f64.copysign(near)) as i64;
    #[expect(clippy::cast_precision_loss, reason = "below 2^53")]
    let back = whole as f64 / power;
    (back == x).then_some(whole)
}

/// The smallest scale from `scale` on at which `x` is a decimal; none beyond
/// [`SCALE_MAX`].
#[must_use]
pub fn scale_of(x: f64, scale: usize) -> Option<usize> {
    (scale..=SCALE_MAX).find(|scale| mantissa(x, *scale).is_some())
}

/// The double nearest to a value that is meant as a decimal of at most nine places,
/// such as a limit worked out as 1.75 + 0.05. Zero has no sign.
#[must_use]
pub fn nearest(x: f64) -> f64 {
    let near = (x * POWERS[SCALE_MAX]).round() / POWERS[SCALE_MAX];
    if near.is_finite() && (near - x).abs() <= 1e-9 { near + 0.0 } else { x }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_limit_is_the_decimal_that_was_meant() {
        assert_ne!(0.1 + 0.2, 0.3);
        assert_eq!(nearest(0.1 + 0.2), 0.3);
        assert_eq!(nearest(1.75 + 0.05), 1.8);
        assert_eq!(nearest(2.85 - 0.05), 2.8);
    }

    #[test]
    fn what_is_no_decimal_has_no_mantissa() {
        assert_eq!(mantissa(1.0 / 3.0, 9), None);
        assert_eq!(mantissa(f64::NAN, 3), None);
        assert_eq!(mantissa(f64::INFINITY, 3), None);
        assert_eq!(mantissa(1e300, 0), None);
        assert_eq!(mantissa(1.0, 10), None);
        assert_eq!(scale_of(std::f64::consts::PI, 0), None);
    }

    proptest! {
        #[test]
        fn a_decimal_of_fifteen_digits_comes_back(m in -999_999_999_999_999_i64..=999_999_999_999_999, scale in 0_usize..=9) {
            let x: f64 = format!("{m}e-{scale}").parse().unwrap();
            prop_assert_eq!(mantissa(x, scale), Some(m));
            prop_assert!(scale_of(x, 0).unwrap() <= scale);
        }
    }
}
