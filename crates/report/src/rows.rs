//! Findings of every kind as plain rows, worked out from the tables of their fields, so that
//! a kind that is new needs no code here.

use crate::clock;
use crate::document::{Cell, Column as Heading};
use crate::keep;
use crate::tables::columns::{self, Column, Holds, Object};
use secondmelt_record::Kind;
use std::collections::BTreeMap;

/// Rows kept of one kind.
const ROWS_MAX: usize = 60;
/// Characters of a cell.
const CELL_MAX: usize = 160;

/// The first findings of each kind.
#[derive(Debug, Default)]
pub(crate) struct Rows {
    kinds: BTreeMap<Kind, First>,
}

/// Findings of one kind: the first of them, and how many there are.
#[derive(Debug, Default)]
struct First {
    rows: Vec<Vec<String>>,
    total: u64,
}

/// A table of one kind.
#[derive(Debug)]
pub(crate) struct OfKind {
    pub(crate) kind: Kind,
    pub(crate) columns: Vec<Heading>,
    pub(crate) rows: Vec<Vec<Cell>>,
    pub(crate) total: u64,
}

impl Rows {
    /// Takes one record, given as its line.
    pub(crate) fn take(&mut self, kind: Kind, line: &str) {
        let some = self.kinds.entry(kind).or_default();
        some.total += 1;
        if some.rows.len() < ROWS_MAX
            && let Ok(object) = serde_json::from_str::<Object<'_>>(line)
        {
            some.rows.push(shown(kind).map(|column| cell(&column, &object)).collect());
        }
    }

    /// The tables, in the order in which kinds are described.
    pub(crate) fn tables(&self) -> impl Iterator<Item = OfKind> {
        self.kinds.iter().map(|(kind, some)| OfKind {
            kind: *kind,
            columns: shown(*kind).map(heading).collect(),
            rows: some
                .rows
                .iter()
                .map(|row| row.iter().map(|c| c.as_str().into()).collect())
                .collect(),
            total: some.total,
        })
    }
}

/// Columns for a reader: without those that only lead back to a run or a file.
fn shown(kind: Kind) -> impl Iterator<Item = Column> {
    columns::of(kind).into_iter().filter(|c| !matches!(c.path.first(), Some(&("by" | "src"))))
}

fn heading(column: Column) -> Heading {
    match column.holds {
        Holds::Number => Heading::number(column.heading(), ""),
        _ => Heading::text(column.heading()),
    }
}

fn cell(column: &Column, object: &Object<'_>) -> String {
    let Some(json) = columns::find(object, &column.path) else { return String::new() };
    let text = match column.holds {
        Holds::Text => serde_json::from_str::<String>(json.get()).unwrap_or_default(),
        Holds::Time => clock::maybe(serde_json::from_str(json.get()).ok().as_ref()),
        Holds::Number => number(json.get()),
        Holds::Names => names(json.get()),
        Holds::Json => list(json.get()),
    };
    keep::start(&text, CELL_MAX)
}

/// A number, without digits that nobody reads.
fn number(json: &str) -> String {
    match json.parse::<f64>() {
        Ok(x) if json.len() > 9 => crate::numbers::significant(x, 7),
        _ => json.to_owned(),
    }
}

/// Named numbers as "name 1; other 2".
fn names(json: &str) -> String {
    let object: Object<'_> = serde_json::from_str(json).unwrap_or_default();
    let pairs = object.iter().map(|(name, value)| format!("{name} {}", number(value.get())));
    pairs.collect::<Vec<_>>().join("; ")
}

/// A list of texts as sentences; any other as it stands.
fn list(json: &str) -> String {
    serde_json::from_str::<Vec<String>>(json).map_or_else(|_| json.to_owned(), |l| l.join("; "))
}
