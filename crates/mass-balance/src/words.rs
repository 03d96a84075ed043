//! Sentences for a person.

use crate::book::{Book, Weighing};

/// How many weighings a sentence names.
const NAMED: usize = 3;

/// A mass for a person: at least three digits, at most a tenth of a gram for large ones.
pub(crate) fn grams(mass_g: f64) -> String {
    let size = mass_g.abs();
    if size >= 10.0 || size == 0.0 {
        // Adding zero takes the sign off a negative zero.
        return format!("{:.1} g", mass_g + 0.0);
    }
    let decimals = (2.0 - size.log10().floor()).clamp(2.0, 9.0);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "2 to 9")]
    let decimals = decimals as usize;
    format!("{mass_g:.decimals$} g")
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
