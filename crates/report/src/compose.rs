//! From what was collected to a document: first what needs a person, then what changed, the
//! lots, the steps, the machines, the plastic by pass, the trials, what is proposed, and what
//! went in.

mod appendix;
mod attention;
mod changes;
mod input;
mod lots;
mod machines;
mod measures;
mod passes;
mod proposals;
mod steps;
mod trials;
pub(crate) mod verdicts;

use crate::collect::{Collected, Ended};
use crate::document::Document;
use crate::earlier::Earlier;

/// How much of each thing a document shows.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Depth {
    /// Lots shown in detail.
    pub(crate) lots: usize,
    /// Lots whose readings are drawn.
    pub(crate) drawn: usize,
    /// Rows of a table of all lots or steps.
    pub(crate) rows: usize,
    /// Whether findings of every kind follow as tables.
    pub(crate) appendix: bool,
}

impl Depth {
    /// For text and Markdown, which have no drawings.
    pub(crate) const TEXT: Self = Self { lots: 500, drawn: 0, rows: usize::MAX, appendix: false };
    /// For a page, such that it stays below 3 MiB.
    pub(crate) const PAGE: Self = Self { lots: 100, drawn: 40, rows: 500, appendix: true };
}

/// The report.
pub(crate) fn report(
    title: &str,
    collected: &Collected,
    ended: &Ended,
    earlier: Option<&Earlier>,
    depth: Depth,
) -> Document {
    let mut document = Document::default();
    document.heading(1, title);
    attention::section(&mut document, collected, ended);
    changes::section(&mut document, collected, earlier);
    lots::section(&mut document, collected, depth);
    steps::section(&mut document, collected, depth);
    machines::section(&mut document, collected, depth);
    passes::section(&mut document, collected, depth);
    trials::section(&mut document, collected, depth);
    proposals::section(&mut document, collected);
    verdicts::rules(&mut document, collected);
    if depth.appendix {
        appendix::section(&mut document, collected);
    }
    input::section(&mut document, collected, ended);
    document
}

/// A table of at most so many rows; how many are left out is told.
fn capped(
    document: &mut Document,
    columns: Vec<crate::document::Column>,
    mut rows: Vec<Vec<crate::document::Cell>>,
    most: usize,
) {
    let more = rows.len().saturating_sub(most);
    rows.truncate(most);
    document.table(columns, rows);
    if more > 0 {
        let more = crate::numbers::count(more as u64);
        document.paragraph(format!("and {more} more; the tables (--csv, --xlsx) hold all."));
    }
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
