//! Columns that fill no field: which they are, and how they could be used.

use crate::header::plain;
use crate::plan::{Plan, listed};
use crate::settings::Settings;
use secondmelt_record::shape::Shape;
use secondmelt_record::units;

/// Words of headings that say when something was.
const WHEN: [&str; 7] = ["when", "day", "clock", "recorded", "measured", "weighed", "created"];

/// What a person is told of columns that are not used; none where there are none.
pub(crate) fn note(unused: &[String], plan: &Plan, settings: &Settings) -> Option<String> {
    let first = unused.first()?;
    let (kind, what, free) = (settings.kind, listed(unused), plan.free(settings));
    if free.is_empty() {
        return Some(format!("not used, since no field of {kind} is left for them: {what}"));
    }
    let mut ways: Vec<String> =
        [when(unused, &free), number(unused, settings)].into_iter().flatten().collect();
    if ways.is_empty() {
        let field = if let [only] = free.as_slice() { only } else { "FIELD" };
        ways.push(format!("say --column {}", quoted(field, first)));
    }
    Some(format!(
        "not used: {what}; fields of {kind} still empty: {}; to use a column, {}",
        free.join(", "),
        ways.join("; ")
    ))
}

/// How a column that sounds like a time could be used.
fn when(unused: &[String], free: &[String]) -> Option<String> {
    let is_time = |heading: &&String| plain(heading).split(' ').any(|word| WHEN.contains(&word));
    let heading = unused.iter().find(is_time).filter(|_| free.iter().any(|f| f == "at"))?;
    Some(format!("say --column {}", quoted("at", heading)))
}

/// How a column that is named like a number with a unit could be used, in a kind that
/// holds named numbers.
fn number(unused: &[String], settings: &Settings) -> Option<String> {
    let field = settings.kind.fields().iter().find(|f| matches!(f.shape, Shape::Numbers))?.name;
    let heading =
        unused.iter().find(|h| !h.contains([' ', '.']) && units::of_field(h).is_some())?;
    let name = format!("{field}.{heading}");
    Some(format!("name it {name} or say --column {}", quoted(&name, heading)))
}

/// A field and its heading as a shell takes them.
fn quoted(field: &str, heading: &str) -> String {
    let heading: String = heading.trim().chars().take(60).collect();
    if heading.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '-' | '.')) {
        format!("{field}={heading}")
    } else {
        format!("'{field}={heading}'")
    }
}
