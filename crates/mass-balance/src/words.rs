//! Sentences for a person.

use crate::book::{Book, Weighing};
use std::collections::BTreeSet;

/// How many weighings a sentence names.
const NAMED: usize = 3;

/// A mass for a person: at least three digits, at most a tenth of a gram for large ones.
pub(crate) fn grams(mass_g: f64) -> String {
    // Adding zero takes the sign off a negative zero.
    format!("{:.*} g", decimals(mass_g), mass_g + 0.0)
}

fn decimals(mass_g: f64) -> usize {
    let size = mass_g.abs();
    if size >= 10.0 || size == 0.0 { 1 } else { below_first_digit(size, 2).max(2) }
}

/// Decimals that show as many digits after the first one of a size above zero.
fn below_first_digit(size: f64, digits: i32) -> usize {
    let first = size.log10().floor().clamp(-9.0, 9.0);
    #[expect(clippy::cast_possible_truncation, reason = "-9 to 9")]
    let decimals = (digits - first as i32).clamp(0, 9);
    decimals.unsigned_abs() as usize
}

/// A mass and its uncertainty: two digits of the uncertainty at most, and the mass to the
/// same decimals (JCGM 100:2008, 7.2.6).
pub(crate) fn grams_and_u(mass_g: f64, u_g: f64) -> String {
    let decimals = if u_g > 0.0 { below_first_digit(u_g, 1) } else { decimals(mass_g) };
    format!("{:.decimals$} g ± {u_g:.decimals$} g", mass_g + 0.0)
}

/// A rule and a reason, and where scales are known by their display step alone, what is
/// not in them.
pub(crate) fn with_scales(rule: &str, why: String, scales: &BTreeSet<&str>) -> (String, String) {
    if scales.is_empty() {
        return (rule.to_owned(), why);
    }
    let names = scales.iter().copied().collect::<Vec<_>>().join(", ");
    let scales = if scales.len() == 1 { "scale" } else { "scales" };
    (
        format!("{rule}; u holds rounding to the display step only for {scales} {names}"),
        format!(
            "{why}; only the display step of {scales} {names} is known, so repeatability and calibration \
             are not in this"
        ),
    )
}

/// Some weighings by role, lot and place: the first few, and how many more there are.
pub(crate) fn list(weighings: &[&Weighing], book: &Book) -> String {
    let name =
        |w: &&Weighing| format!("{} of lot {} ({})", w.role, book.name(w.lot), book.place(w));
    let mut sorted: Vec<_> = weighings.iter().map(name).collect();
    sorted.sort();
    let more = sorted.len().saturating_sub(NAMED);
    sorted.truncate(NAMED);
    let named = sorted.join(", ");
    if more == 0 { named } else { format!("{named} and {more} more") }
}

/// What to do where the uncertainty of weighings is not known.
pub(crate) fn unsure(weighings: &[&Weighing], book: &Book) -> String {
    format!(
        "the uncertainty of {} is not known: give `u_g`, or a `scale` record with `u_g` or `resolution_g`",
        list(weighings, book)
    )
}
