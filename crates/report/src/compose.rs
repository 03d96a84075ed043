//! From what was collected to a document: first what needs a person, then the lots,
//! the steps, the machines, what is proposed, and what went in.

mod attention;
mod charts;
mod input;
mod lots;
mod machines;
mod measures;
mod proposals;
mod steps;
mod verdicts;

use crate::collect::{Collected, Ended};
use crate::document::Document;

/// The report.
pub(crate) fn report(title: &str, collected: &Collected, ended: &Ended) -> Document {
    let mut document = Document::default();
    document.heading(1, title);
    attention::section(&mut document, collected, ended);
    lots::section(&mut document, collected);
    steps::section(&mut document, collected);
    machines::section(&mut document, collected);
    proposals::section(&mut document, collected);
    verdicts::rules(&mut document, collected);
    input::section(&mut document, collected, ended);
    document
}

/// "1 problem", "2 problems".
fn plural(n: u64, one: &str) -> String {
    let s = if n == 1 { "" } else { "s" };
    format!("{} {one}{s}", crate::numbers::count(n))
}

/// "a", "a and b", "a, b and c".
fn joined(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
