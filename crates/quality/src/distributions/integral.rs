//! Integrals of smooth functions by Gauss-Legendre quadrature.

/// Positive nodes and their weights of the rule of 20 points on (-1, 1): the roots of the
/// Legendre polynomial P20 (Abramowitz and Stegun, table 25.4; recomputed to 18 digits and rounded to doubles).
const NODES: [(f64, f64); 10] = [
    (0.076_526_521_133_497_34, 0.152_753_387_130_725_84),
    (0.227_785_851_141_645_07, 0.149_172_986_472_603_74),
    (0.373_706_088_715_419_55, 0.142_096_109_318_382_04),
    (0.510_867_001_950_827_1, 0.131_688_638_449_176_64),
    (0.636_053_680_726_515, 0.118_194_531_961_518_41),
    (0.746_331_906_460_150_8, 0.101_930_119_817_240_44),
    (0.839_116_971_822_218_8, 0.083_276_741_576_704_75),
    (0.912_234_428_251_326, 0.062_672_048_334_109_07),
    (0.963_971_927_277_913_8, 0.040_601_429_800_386_94),
    (0.993_128_599_185_094_9, 0.017_614_007_139_152_118),
];

/// Most panels of a tail.
const PANELS: usize = 400;
/// Most halvings of a panel.
const HALVINGS: u32 = 30;

/// The integral of `f` from `a` to `b` by one panel of 20 points.
pub(crate) fn panel(a: f64, b: f64, f: &impl Fn(f64) -> f64) -> f64 {
    let (middle, half) = (f64::midpoint(a, b), 0.5 * (b - a));
    let pairs = NODES.iter().map(|(x, w)| w * (f(middle - half * x) + f(middle + half * x)));
    half * pairs.sum::<f64>()
}

/// The integral of `f` from `a` to `b`, panels halved until halving one changes it by no more
/// than 1e-14 of the whole as first guessed.
pub(crate) fn adaptive(a: f64, b: f64, f: &impl Fn(f64) -> f64) -> f64 {
    let pieces = 8;
    let at = |i: i32| a + (b - a) * f64::from(i) / f64::from(pieces);
    let guesses: Vec<f64> = (0..pieces).map(|i| panel(at(i), at(i + 1), f)).collect();
    let size: f64 = guesses.iter().map(|x| x.abs()).sum();
    let parts = guesses.iter().zip(0..);
    parts.map(|(guess, i)| refined(at(i), at(i + 1), *guess, 1e-14 * size, HALVINGS, f)).sum()
}

fn refined(a: f64, b: f64, guess: f64, error: f64, left: u32, f: &impl Fn(f64) -> f64) -> f64 {
    let middle = f64::midpoint(a, b);
    let (first, second) = (panel(a, middle, f), panel(middle, b, f));
    let change = (first + second - guess).abs();
    // Not a number compares false and ends here, too.
    if left == 0 || !(change > error && change > 1e-15 * guess.abs()) {
        return first + second;
    }
    refined(a, middle, first, error, left - 1, f) + refined(middle, b, second, error, left - 1, f)
}

/// The integral of a density from `from` to where nothing is left of it, on a side where
/// its logarithm falls ever faster: `fall` is how fast it falls at `from` and `spread` the
/// standard deviation near the mode. `direction` is 1 for upwards and -1 for downwards.
pub(crate) fn far_tail(
    from: f64,
    direction: f64,
    fall: f64,
    spread: f64,
    density: &impl Fn(f64) -> f64,
) -> f64 {
    let width = 6.0 / (fall.max(0.0) + 2.0 / spread);
    let (mut sum, mut near) = (0.0, 0.0);
    for _ in 0..PANELS {
        let far = near + width;
        let part = panel(near, far, &|t| density(from + direction * t));
        sum += part;
        if part <= 1e-17 * sum {
            break;
        }
        near = far;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn polynomials_up_to_degree_39_are_exact() {
        for degree in 0..40 {
            let found = panel(0.0, 2.0, &|x: f64| x.powi(degree));
            let exact = 2_f64.powi(degree + 1) / f64::from(degree + 1);
            assert!((found / exact - 1.0).abs() < 1e-14, "{degree}");
        }
        let high = panel(-1.0, 1.0, &|x: f64| x.powi(40));
        assert!((high * 41.0 / 2.0 - 1.0).abs() > 1e-12, "degree 40 is not");
    }

    #[test]
    fn a_narrow_peak_is_not_missed() {
        let peak = |x: f64| 1.0 / (1e-6 + (x - 0.3).powi(2));
        let exact = ((0.7 / 1e-3_f64).atan() + (0.3 / 1e-3_f64).atan()) / 1e-3;
        assert!((adaptive(0.0, 1.0, &peak) / exact - 1.0).abs() < 1e-12);
        assert!(adaptive(0.0, 1.0, &|_| f64::NAN).is_nan());
    }
}
