//! Lists for a person.

/// Names joined by commas.
pub(crate) fn list<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    names.into_iter().collect::<Vec<_>>().join(", ")
}

/// Diameters joined by commas.
pub(crate) fn diameters(list: &[f64]) -> String {
    list.iter().map(|mm| format!("{mm} mm")).collect::<Vec<_>>().join(", ")
}
