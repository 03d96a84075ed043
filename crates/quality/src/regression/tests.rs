use super::*;
use proptest::prelude::*;

fn fitted(points: &[(f64, f64)]) -> Option<Line> {
    let mut sums = LineSums::with_intercept();
    points.iter().for_each(|(x, y)| sums.push(*x, *y));
    sums.line()
}

fn near(a: f64, b: f64, scale: f64) -> bool {
    (a - b).abs() <= 1e-9 * scale.abs().max(1e-9)
}

#[test]
fn a_line_far_from_the_origin_keeps_its_residuals() {
    let points: Vec<_> = (0..50)
        .map(|i| {
            (1e6 + f64::from(i), 1e7 + f64::from(2 * i) + if i % 2 == 0 { 1e-3 } else { -1e-3 })
        })
        .collect();
    let near_by: Vec<_> = points.iter().map(|(x, y)| (x - 1e6, y - 1e7)).collect();
    let (far, near_by) = (fitted(&points).unwrap(), fitted(&near_by).unwrap());
    assert!((far.residual_sd() / near_by.residual_sd() - 1.0).abs() < 1e-9);
    assert!((far.slope / near_by.slope - 1.0).abs() < 1e-12);
}

#[test]
fn too_few_points_or_one_x_have_no_line() {
    assert!(fitted(&[]).is_none());
    assert!(fitted(&[(1.0, 1.0), (2.0, 2.0)]).is_none());
    assert!(fitted(&[(1.0, 1.0), (1.0, 2.0), (1.0, 3.0)]).is_none());
    assert!(LineSums::through_origin().line().is_none());
    assert!(DriftSums::default().drift().is_none());
}

#[test]
fn a_perfect_line_has_no_f_and_no_panic() {
    let line = fitted(&[(0.0, 1.0), (1.0, 1.0), (2.0, 1.0)]).unwrap();
    assert_eq!((line.f(), line.r_squared()), (None, None));
    assert_eq!(line.inverse(1.0, 1.0, 0.95), None);
    let mut drift = DriftSums::default();
    (0..10).for_each(|i| drift.push(f64::from(i), 1.75));
    assert_eq!(drift.drift(), None);
}

#[test]
fn products_of_neighbouring_residuals_are_those_of_the_definition() {
    let points: Vec<(f64, f64)> = (0..40)
        .map(|i| {
            let i = f64::from(i);
            (50.0 + 0.1 * i, 1.75 + 0.001 * i + 0.01 * (1.7 * i * i).cos())
        })
        .collect();
    let mut sums = DriftSums::default();
    points.iter().for_each(|(x, y)| sums.push(*x, *y));
    let line = fitted(&points).unwrap();
    let residuals: Vec<f64> = points.iter().map(|(x, y)| y - line.at(*x)).collect();
    let expected: f64 = residuals.windows(2).map(|pair| pair[0] * pair[1]).sum();
    assert!((sums.neighbours(&line) - expected).abs() < 1e-12);
}

proptest! {
    #[test]
    fn a_stream_split_anywhere_and_merged_gives_the_same_line(
        points in prop::collection::vec((-100.0_f64..100.0, -5.0_f64..5.0), 4..60), at in 0_usize..60,
    ) {
        for start in [LineSums::with_intercept, LineSums::through_origin] {
            let (head, tail) = points.split_at(at.min(points.len()));
            let (mut whole, mut left, mut right) = (start(), start(), start());
            points.iter().for_each(|(x, y)| whole.push(*x, *y));
            head.iter().for_each(|(x, y)| left.push(*x, *y));
            tail.iter().for_each(|(x, y)| right.push(*x, *y));
            prop_assert!(left.merge(&right));
            let (Some(a), Some(b)) = (whole.line(), left.line()) else { return Ok(()) };
            prop_assume!(a.squares_x > 1.0);
            prop_assert!(near(a.slope, b.slope, 1.0) && near(a.at(1.0), b.at(1.0), 10.0));
            prop_assert!(near(a.residual_squares, b.residual_squares, a.residual_squares + 1.0));
        }
    }

    #[test]
    fn an_inverse_prediction_takes_the_line_back(
        points in prop::collection::vec((-100.0_f64..100.0, -5.0_f64..5.0), 4..60), x in -50.0_f64..50.0,
    ) {
        let points: Vec<_> = points.iter().map(|(x, e)| (*x, 3.0 * x + e)).collect();
        let Some(line) = fitted(&points) else { return Ok(()) };
        if let Some(inverse) = line.inverse(line.at(x), 1.0, 0.95) {
            prop_assert!(near(inverse.x, x, 100.0));
            prop_assert!(inverse.low <= inverse.x && inverse.x <= inverse.high);
        }
    }
}
