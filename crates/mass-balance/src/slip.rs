//! Slips of the hand that would explain a wrong weighing.

use secondmelt_record::findings::Slip;

/// Powers of ten that are tried: a decimal point, or g for kg.
const FACTORS: [f64; 6] = [0.001, 0.01, 0.1, 10.0, 100.0, 1000.0];

/// The slip that turns what was written into what was meant, within what is known of that,
/// and the number that was meant.
/// `tares` are the containers of the lab, in g.
pub(crate) fn explain(written: f64, meant: f64, within: f64, tares: &[f64]) -> (Slip, Option<f64>) {
    let near = |x: &f64| (x - meant).abs() <= within;
    let nearest = |all: Vec<f64>| {
        let fits = all.into_iter().filter(near);
        fits.min_by(|a, b| (a - meant).abs().total_cmp(&(b - meant).abs()))
    };
    if near(&written) {
        return (Slip::None, None);
    }
    if let Some(found) = nearest(FACTORS.iter().map(|factor| rounded(written * factor)).collect()) {
        return (Slip::PowerOfTen, Some(found));
    }
    if let Some(found) = nearest(transposed(written)) {
        return (Slip::Transposition, Some(found));
    }
    // Weighed with its container, or the container taken off twice.
    let with = |tare: &f64| [rounded(written - tare), rounded(written + tare)];
    match nearest(tares.iter().flat_map(with).filter(|mass| *mass >= 0.0).collect()) {
        Some(found) => (Slip::Tare, Some(found)),
        None => (Slip::None, None),
    }
}

/// Takes off what the multiplication left behind.
fn rounded(x: f64) -> f64 {
    format!("{x:.12e}").parse().unwrap_or(x)
}

/// A number with two neighbouring digits in each other's place, one place after the other.
fn transposed(x: f64) -> Vec<f64> {
    let text = x.to_string();
    let places: Vec<usize> =
        text.match_indices(|c: char| c.is_ascii_digit()).map(|(at, _)| at).collect();
    let swapped = |pair: &[usize]| {
        let mut bytes = text.clone().into_bytes();
        bytes.swap(pair[0], pair[1]);
        String::from_utf8(bytes).ok()?.parse::<f64>().ok()
    };
    places.windows(2).filter_map(swapped).filter(|y| *y != x).collect()
}

#[cfg(test)]
mod tests {
    use super::explain;
    use secondmelt_record::findings::Slip;

    #[test]
    fn slips_are_told_apart() {
        assert_eq!(explain(568.0, 585.7, 1.0, &[]), (Slip::Transposition, Some(586.0)));
        assert_eq!(explain(412.0, 142.0, 1.0, &[]), (Slip::Transposition, Some(142.0)));
        assert_eq!(explain(412.0, 300.0, 1.0, &[]), (Slip::None, None));
        assert_eq!(explain(0.586, 585.7, 1.0, &[]), (Slip::PowerOfTen, Some(586.0)));
        assert_eq!(explain(12.43, 124.0, 1.0, &[]), (Slip::PowerOfTen, Some(124.3)));
        assert_eq!(explain(586.0, 585.7, 1.0, &[]), (Slip::None, None));
        assert_eq!(explain(635.9, 585.7, 1.0, &[12.0, 50.2]), (Slip::Tare, Some(585.7)));
        assert_eq!(explain(535.5, 585.7, 1.0, &[50.2]), (Slip::Tare, Some(585.7)));
        assert_eq!(explain(635.9, 585.7, 1.0, &[12.0]), (Slip::None, None));
    }
}
