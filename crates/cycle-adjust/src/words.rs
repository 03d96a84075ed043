//! Sentences and problems for a person.

use secondmelt_record::{Code, Line, Problem};

/// A fact that differs from an earlier one of the same name.
pub(crate) fn contradiction(line: Line<'_>, what: &str, name: &str) -> Problem<'static> {
    let found = format!("another {what} named {name}");
    let mut problem = line.problem(Code::Contradiction, found, format!("one record a {what}"));
    problem.advice = Some("the first one is used; give each its own name or remove one".into());
    problem
}

/// Names joined by commas.
pub(crate) fn list<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    names.into_iter().collect::<Vec<_>>().join(", ")
}

/// Diameters joined by commas.
pub(crate) fn diameters(list: &[f64]) -> String {
    list.iter().map(|mm| format!("{mm} mm")).collect::<Vec<_>>().join(", ")
}
