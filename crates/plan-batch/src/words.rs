//! Words and figures that several modules share.

pub(crate) use secondmelt_record::words::{joined, plural};
use secondmelt_record::{Count, NonNegative, Positive};

/// Five figures, beyond which no plan is known.
pub(crate) fn figures(x: f64) -> f64 {
    if x == 0.0 || !x.is_finite() {
        return x;
    }
    let scale = 10_f64.powf((4.0 - x.abs().log10().floor()).clamp(-12.0, 12.0));
    (x * scale).round() / scale
}

pub(crate) fn positive(x: f64) -> Option<Positive> {
    Positive::new(figures(x))
}

pub(crate) fn amount(x: f64) -> Option<NonNegative> {
    NonNegative::new(figures(x))
}

/// A whole number of things, rounded up; none beyond what a record counts.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked before")]
pub(crate) fn up(x: f64) -> Option<Count> {
    let x = (x - 1e-9).ceil();
    (0.0..=9e15).contains(&x).then_some(Count(x as u64))
}

/// Grams or kilograms as a person says them.
pub(crate) fn mass(g: f64) -> String {
    let said = |x: f64| {
        let scale = 10_f64.powf((3.0 - x.abs().max(1e-12).log10().floor()).clamp(0.0, 12.0));
        (x * scale).round() / scale
    };
    if g < 1000.0 { format!("{} g", said(g)) } else { format!("{} kg", said(g / 1000.0)) }
}
