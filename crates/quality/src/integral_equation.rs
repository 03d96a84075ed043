//! Integral equations of run lengths, by quadrature and linear equations (Nystroem's
//! method).

/// Points of the quadrature: panels of eight.
const PANEL: [(f64, f64); 8] = [
    (-0.960_289_856_497_536_2, 0.101_228_536_290_376_26),
    (-0.796_666_477_413_626_7, 0.222_381_034_453_374_48),
    (-0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (-0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_48),
    (0.960_289_856_497_536_2, 0.101_228_536_290_376_26),
];

/// Most panels of the quadrature.
const PANELS_MAX: u32 = 100;

/// Nodes and weights from `low` to `high`: eight to each stretch of length `width`, which
/// is that over which the integrand changes, and sixteen at least.
pub(crate) fn nodes(low: f64, high: f64, width: f64) -> Vec<(f64, f64)> {
    let wanted = (high - low) / width;
    let panels = (2..PANELS_MAX).find(|panels| f64::from(*panels) >= wanted).unwrap_or(PANELS_MAX);
    let half = (high - low) / f64::from(2 * panels);
    let panel = |p: u32| {
        let middle = low + half * f64::from(2 * p + 1);
        PANEL.map(|(node, weight)| (middle + half * node, half * weight))
    };
    (0..panels).flat_map(panel).collect()
}

/// Solution of linear equations, each row with its right side last, by elimination with
/// partial pivoting; none where a pivot vanishes.
pub(crate) fn solved(mut rows: Vec<Vec<f64>>) -> Option<Vec<f64>> {
    let size = rows.len();
    for column in 0..size {
        let size_of = |row: &Vec<f64>| row.get(column).map_or(0.0, |x| x.abs());
        let (offset, _) = rows
            .iter()
            .skip(column)
            .enumerate()
            .max_by(|(_, a), (_, b)| size_of(a).total_cmp(&size_of(b)))?;
        rows.swap(column, column + offset);
        let pivot = rows.get(column)?.clone();
        let lead = *pivot.get(column)?;
        if lead == 0.0 || !lead.is_finite() {
            return None;
        }
        for row in rows.iter_mut().skip(column + 1) {
            let factor = *row.get(column)? / lead;
            for (x, p) in row.iter_mut().zip(&pivot).skip(column) {
                *x -= factor * p;
            }
        }
    }
    let mut solution = vec![0.0; size];
    for (i, row) in rows.iter().enumerate().rev() {
        let known: f64 = row.iter().zip(&solution).skip(i + 1).map(|(a, x)| a * x).sum();
        *solution.get_mut(i)? = (row.last()? - known) / row.get(i)?;
    }
    Some(solution)
}
