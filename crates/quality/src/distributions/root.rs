//! Roots of increasing functions.

/// Most evaluations; a bisection of all doubles between two of them takes fewer.
const MOST: usize = 400;
/// Relative step at which a root counts as found.
const FINE: f64 = 3e-16;
/// Most of a value at which a short step is believed; values are of order one.
const SMALL: f64 = 1e-8;
/// Relative step below which steps that no longer shrink are rounding noise.
const NOISE: f64 = 1e-10;

/// The root of an increasing function: Newton's steps, kept within a bracket, with
/// bisection where they do not shrink (Press et al., Numerical Recipes, 9.4). `f` gives
/// value, such as the logarithm of a ratio, and slope; the slope only guides the steps. The
/// search goes out from `start`, at first by `reach`. None where `f` is none or not a number, or no root is found.
pub(crate) fn of_increasing(
    start: f64,
    reach: f64,
    mut f: impl FnMut(f64) -> Option<(f64, f64)>,
) -> Option<f64> {
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    let (mut x, mut reach, mut last) = (start, reach, f64::INFINITY);
    for _ in 0..MOST {
        let (value, slope) = f(x)?;
        if value.is_nan() || !x.is_finite() {
            return None;
        }
        if value == 0.0 {
            return Some(x);
        }
        if value < 0.0 {
            low = x
        } else {
            high = x
        }
        let newton = x - value / slope;
        let step = (newton - x).abs();
        let scale = 1.0 + x.abs();
        let inside = newton >= low && newton <= high;
        let still = step <= FINE * scale || (step <= NOISE * scale && step >= 0.5 * last);
        if inside && still && value.abs() <= SMALL {
            return Some(newton);
        }
        let bracketed = low.is_finite() && high.is_finite();
        let most = if bracketed { 0.7 * last } else { reach };
        let next = if inside && !still && step <= most {
            newton
        } else if bracketed {
            f64::midpoint(low, high)
        } else {
            reach *= 2.0;
            x - value.signum() * reach / 2.0
        };
        last = (next - x).abs();
        if last <= FINE * scale {
            return Some(next);
        }
        x = next;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_are_found_from_far_away_and_with_useless_slopes() {
        for slope in [f64::NAN, 0.0, -1.0, 1e-300, 1e300] {
            let root = of_increasing(-1e6, 1.0, |x| Some((x.powi(3) - 2.0, slope))).unwrap();
            assert!((root - 2_f64.cbrt()).abs() < 1e-8, "{slope}: {root}");
        }
        let root = of_increasing(0.0, 1.0, |x| Some((x.exp() - 5.0, x.exp()))).unwrap();
        assert!((root - 5_f64.ln()).abs() < 1e-15);
    }

    #[test]
    fn what_has_no_root_is_none_and_ends() {
        assert_eq!(of_increasing(0.0, 1.0, |x| Some((x.exp() + 1.0, x.exp()))), None);
        assert_eq!(of_increasing(0.0, 1.0, |_| Some((f64::NAN, 1.0))), None);
        assert_eq!(of_increasing(0.0, 1.0, |_| None), None);
    }
}
