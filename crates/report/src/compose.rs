//! From what was collected to a document: first what needs a person, then what changed, the
//! lots, the plastic as it comes, the steps, the machines, the plastic by pass, the trials, the batch to come, what is proposed, and what
//! went in.

mod appendix;
mod attention;
mod changes;
mod designs;
mod feed;
mod input;
mod lots;
mod machines;
mod measures;
mod passes;
mod pieces;
mod plan;
mod proposals;
mod steps;
mod trials;
pub(crate) mod verdicts;

use crate::collect::{Collected, Ended};
use crate::document::{Cell, Column, Document};
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
    /// Rows of a table of findings of one kind; none where there are no such tables.
    pub(crate) of_kind: usize,
}

impl Depth {
    /// For text and Markdown, which have no drawings.
    pub(crate) const TEXT: Self = Self { lots: 500, drawn: 0, rows: usize::MAX, of_kind: 0 };
    /// For a page.
    pub(crate) const PAGE: Self = Self { lots: 100, drawn: 40, rows: 500, of_kind: 60 };

    /// Half as much of each.
    pub(crate) fn half(self) -> Self {
        let half = |n: usize| (n / 2).max(1);
        Self {
            lots: half(self.lots),
            drawn: half(self.drawn),
            rows: half(self.rows),
            of_kind: half(self.of_kind),
        }
    }
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
    feed::section(&mut document, collected, depth);
    steps::section(&mut document, collected, depth);
    machines::section(&mut document, collected, depth);
    passes::section(&mut document, collected, depth);
    trials::section(&mut document, collected, depth);
    plan::section(&mut document, collected, depth);
    proposals::section(&mut document, collected);
    verdicts::rules(&mut document, collected);
    if depth.of_kind > 0 {
        appendix::section(&mut document, collected, depth);
    }
    input::section(&mut document, collected, ended, depth);
    document
}

/// A table of at most so many rows; how many are left out is told.
fn capped(document: &mut Document, columns: Vec<Column>, mut rows: Vec<Vec<Cell>>, most: usize) {
    let more = rows.len().saturating_sub(most);
    rows.truncate(most);
    document.table(columns, rows);
    if more > 0 {
        let more = crate::numbers::count(more as u64);
        document.paragraph(format!("and {more} more; the tables (--csv, --xlsx) hold all."));
    }
}

/// A table under its heading, of at most so many rows.
fn titled(
    document: &mut Document,
    heading: &str,
    columns: Vec<Column>,
    rows: impl ExactSizeIterator<Item = Vec<Cell>>,
    total: u64,
    depth: Depth,
) {
    if rows.len() == 0 {
        return;
    }
    let shown: Vec<_> = rows.take(depth.rows).collect();
    let more = total.saturating_sub(shown.len() as u64);
    document.heading(3, heading);
    document.table(columns, shown);
    if more > 0 {
        let more = crate::numbers::count(more);
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
