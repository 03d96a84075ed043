//! One row of cells to one record, or to the problems that say why not.

use crate::cell::{Cell, Fault, Reading, text_into};
use crate::plan::{Plan, Slot};
use crate::sink::{Sink, row_problem};
use secondmelt_record::shape::Shape;
use secondmelt_record::{Code, Problem, Text};

/// A row of cells.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Row<'a> {
    /// Text of the cells.
    pub(crate) text: &'a str,
    /// Start and end of each cell in it.
    pub(crate) spans: &'a [(usize, usize)],
    /// Line of the file or row of the sheet, counted from 1.
    pub(crate) line: u64,
    /// The row as it stands in the file, for problems.
    pub(crate) raw: &'a str,
}

impl<'a> Row<'a> {
    /// The text of one cell, without the spaces around it.
    pub(crate) fn cell(&self, column: usize) -> &'a str {
        let span = self.spans.get(column);
        span.and_then(|(start, end)| self.text.get(*start..*end)).map_or("", str::trim)
    }

    /// Whether all its cells are empty.
    pub(crate) fn is_blank(&self) -> bool {
        (0..self.spans.len()).all(|column| self.cell(column).is_empty())
    }
}

/// Turns rows into records.
pub(crate) struct Rows<'a> {
    pub(crate) plan: &'a Plan,
    pub(crate) reading: Reading,
    /// The record in hand.
    buffer: Vec<u8>,
}

impl<'a> Rows<'a> {
    pub(crate) fn new(plan: &'a Plan, reading: Reading) -> Self {
        Self { plan, reading, buffer: Vec::new() }
    }

    /// Writes the record of a row, or its problems.
    pub(crate) fn take(&mut self, row: Row<'_>, sink: &mut Sink<'_>) {
        if row.is_blank() {
            return;
        }
        sink.rows += 1;
        if let Some(fault) = self.ragged(row) {
            sink.row_problem(row.line, row.raw.as_bytes(), fault);
            return;
        }
        let mut buffer = std::mem::take(&mut self.buffer);
        buffer.clear();
        if self.fill(row, &mut buffer, sink) {
            sink.record(self.plan.kind, &buffer);
        }
        self.buffer = buffer;
    }

    /// Writes the problem of a row that is not used because of one of its cells.
    pub(crate) fn refuse(&self, row: Row<'_>, slot: &Slot, fault: Fault, sink: &mut Sink<'_>) {
        sink.rows += 1;
        sink.problem(cell_problem(row, slot, fault));
    }

    /// What is wrong with the number of cells. Empty ones at the end hold nothing that
    /// could be lost.
    pub(crate) fn ragged(&self, row: Row<'_>) -> Option<Fault> {
        let (found, expected) = (row.spans.len(), self.plan.columns);
        let fits = found == expected
            || (found > expected && (expected..found).all(|column| row.cell(column).is_empty()));
        (!fits).then(|| {
            Fault::new(
                Code::RaggedRow,
                format!("{found} cell{}", if found == 1 { "" } else { "s" }),
                format!("{expected} cells, as many as the header has"),
            )
        })
    }

    /// Puts the record together; false where a problem has been written instead.
    pub(crate) fn fill(&self, row: Row<'_>, buffer: &mut Vec<u8>, sink: &mut Sink<'_>) -> bool {
        let mut troubles = Vec::new();
        buffer.extend_from_slice(&self.plan.prefix);
        for slot in &self.plan.slots {
            self.value(slot, row, buffer, &mut troubles);
        }
        self.object(row, buffer, &mut troubles);
        for field in &self.plan.missing {
            let fault = Fault::new(Code::MissingField, "no such key", field.shape.to_string());
            let mut problem = row_problem(row.line, row.raw.as_bytes(), fault);
            problem.field = Some(Text::from(field.name));
            troubles.push(Trouble { nameless: matches!(field.shape, Shape::Name), problem });
        }
        if self.plan.src {
            source(row.line, sink, buffer);
        }
        buffer.extend_from_slice(b"}\n");
        let good = troubles.is_empty();
        answer(troubles, sink);
        good
    }

    /// The nested object, where it holds anything.
    fn object(&self, row: Row<'_>, buffer: &mut Vec<u8>, troubles: &mut Vec<Trouble>) {
        if self.plan.open.is_empty() {
            return;
        }
        let start = buffer.len();
        buffer.extend_from_slice(&self.plan.open);
        // Every member starts with its comma; the first gives it back.
        let members = buffer.len();
        if let Some((_, constants)) = self.plan.inner_prefix.split_last() {
            buffer.push(b',');
            buffer.extend_from_slice(constants);
        }
        for slot in &self.plan.inner {
            self.value(slot, row, buffer, troubles);
        }
        if buffer.len() == members {
            buffer.truncate(start);
        } else {
            buffer.remove(members);
            buffer.push(b'}');
        }
    }

    fn value(&self, slot: &Slot, row: Row<'_>, buffer: &mut Vec<u8>, troubles: &mut Vec<Trouble>) {
        let cell = row.cell(slot.column);
        let written = if cell.is_empty() {
            if !slot.required {
                return;
            }
            Err(Fault::new(Code::MissingField, "an empty cell", expected(&slot.cell)))
        } else {
            buffer.extend_from_slice(&slot.key);
            slot.cell.write(cell, &self.reading, buffer)
        };
        if let Err(fault) = written {
            let nameless = cell.is_empty() && matches!(slot.cell, Cell::Name);
            troubles.push(Trouble { nameless, problem: cell_problem(row, slot, fault) });
        }
    }
}

/// Something wrong with a row.
struct Trouble {
    /// Whether it is a name that is missing.
    nameless: bool,
    problem: Problem<'static>,
}

/// Writes the problems of a row. A row that lacks a name is no record of its kind
/// whatever else it holds, so that one problem says it all.
fn answer(mut troubles: Vec<Trouble>, sink: &mut Sink<'_>) {
    let nameless = troubles.iter().position(|t| t.nameless).filter(|_| troubles.len() > 1);
    let Some(first) = nameless else {
        troubles.into_iter().for_each(|trouble| sink.problem(trouble.problem));
        return;
    };
    let mut problem = troubles.remove(first).problem;
    let others: Vec<String> = troubles
        .iter()
        .map(|t| {
            format!("for {} {}", t.problem.field.as_ref().map_or("", Text::as_str), t.problem.found)
        })
        .collect();
    problem.found = Text::from(format!("{}; and {}", problem.found, others.join(", ")));
    problem.advice = Some(Text::from("leave the row out, if it is a total or a remark"));
    sink.problem(problem);
}

/// The problem of a cell.
fn cell_problem(row: Row<'_>, slot: &Slot, fault: Fault) -> Problem<'static> {
    let mut problem = row_problem(row.line, row.raw.as_bytes(), fault);
    problem.column = Some(Text::from(slot.heading.clone()));
    problem.field = Some(Text::from(slot.target.name()));
    problem
}

/// What a cell that is empty should hold.
fn expected(cell: &Cell) -> String {
    match cell {
        Cell::Number(range, _) => range.to_string(),
        Cell::Count(min, _) => format!("a whole number from {min}"),
        Cell::Name | Cell::Text => "text that is not empty".to_owned(),
        Cell::OneOf(words) => format!("one of: {}", words.join(", ")),
        Cell::Flag => "true or false".to_owned(),
        Cell::Time => "a time".to_owned(),
    }
}

/// Where a record came from.
fn source(line: u64, sink: &Sink<'_>, buffer: &mut Vec<u8>) {
    buffer.extend_from_slice(b",\"src\":{\"file\":");
    text_into(sink.file, buffer);
    buffer.extend_from_slice(format!(",\"line\":{line}").as_bytes());
    if let Some(sheet) = &sink.sheet {
        buffer.extend_from_slice(b",\"sheet\":");
        text_into(sheet, buffer);
    }
    buffer.push(b'}');
}
