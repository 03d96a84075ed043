//! One table on its way. Where a kind has fields with free names (`settings`), the names
//! are known only at the end: such rows wait in a file of their own and are spread over
//! their columns then, so that memory stays bounded.

use super::cell::Format;
use super::columns::{self, Column, Holds, Object, find};
use super::writer;
use crate::write::{beside, publish};
use secondmelt_record::Kind;
use serde_json::value::RawValue;
use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{self, BufReader, BufWriter};
use std::path::{Path, PathBuf};

/// Columns that free names may add to one field, and bytes of such a name; what is
/// beyond goes into one last column.
const NAMES_MAX: usize = 200;
const NAME_MAX: usize = 200;

/// Free names of one field.
#[derive(Debug, Default)]
struct Names {
    known: BTreeSet<String>,
    others: bool,
}

/// A table that is being written.
#[derive(Debug)]
pub(super) struct TableFile {
    columns: Vec<Column>,
    /// Names that turned up, for each column with free names.
    names: BTreeMap<usize, Names>,
    out: csv::Writer<BufWriter<File>>,
    part: PathBuf,
    format: Format,
    rows: u64,
}

impl TableFile {
    pub(super) fn create(kind: Kind, path: &Path, format: Format) -> io::Result<Self> {
        let columns = columns::of(kind);
        let names = columns
            .iter()
            .enumerate()
            .filter(|(_, c)| c.holds == Holds::Names)
            .map(|(i, _)| (i, Names::default()))
            .collect();
        let part = beside(path);
        let mut out = writer(BufWriter::new(File::create(&part)?), format)?;
        out.write_record(columns.iter().map(Column::heading))?;
        Ok(Self { columns, names, out, part, format, rows: 0 })
    }

    pub(super) fn rows(&self) -> u64 {
        self.rows
    }

    /// Writes one record, given as its line.
    pub(super) fn row(&mut self, line: &str) -> io::Result<()> {
        let object: Object<'_> = serde_json::from_str(line)?;
        for (i, column) in self.columns.iter().enumerate() {
            let value = find(&object, &column.path);
            let text = match (value, column.holds) {
                (None, _) => String::new(),
                (Some(json), Holds::Text | Holds::Time) => self.format.string(json),
                (Some(json), Holds::Number) => self.format.number(json.get()),
                (Some(json), Holds::Json) => json.get().to_owned(),
                (Some(json), Holds::Names) => {
                    if let Some(names) = self.names.get_mut(&i) {
                        names.note(json);
                    }
                    json.get().to_owned()
                }
            };
            self.out.write_field(text)?;
        }
        self.rows += 1;
        Ok(self.out.write_record(None::<&[u8]>)?)
    }

    /// Gives the table its name.
    pub(super) fn finish(self, path: &Path) -> io::Result<()> {
        let file = done(self.out)?;
        if self.names.is_empty() {
            return publish(&file, &self.part, path);
        }
        let spread = self.part.with_extension("spread");
        let whole = Spread { columns: &self.columns, names: &self.names, format: self.format }
            .write(&self.part, &spread)?;
        publish(&whole, &spread, path)?;
        std::fs::remove_file(&self.part)
    }

    /// Takes away what has been written so far.
    pub(super) fn discard(self) {
        let part = self.part.clone();
        drop(self);
        // It is hidden, and the next report writes it anew.
        let _ = std::fs::remove_file(part);
    }
}

impl Names {
    /// Notes the names in an object, as many as get columns.
    fn note(&mut self, json: &RawValue) {
        let Ok(object) = serde_json::from_str::<Object<'_>>(json.get()) else { return };
        for name in object.keys() {
            if self.known.contains(name.as_ref()) {
                continue;
            }
            if self.known.len() < NAMES_MAX && name.len() <= NAME_MAX {
                self.known.insert(name.to_string());
            } else {
                self.others = true;
            }
        }
    }
}

fn done(out: csv::Writer<BufWriter<File>>) -> io::Result<File> {
    let buffer = out.into_inner().map_err(|e| io::Error::from(e.error().kind()))?;
    buffer.into_inner().map_err(io::IntoInnerError::into_error)
}

/// Spreads objects with free names over columns.
struct Spread<'a> {
    columns: &'a [Column],
    names: &'a BTreeMap<usize, Names>,
    format: Format,
}

impl Spread<'_> {
    fn write(&self, from: &Path, to: &Path) -> io::Result<File> {
        let mut rows = csv::ReaderBuilder::new()
            .delimiter(self.format.delimiter)
            .from_reader(BufReader::new(File::open(from)?));
        let mut out = writer(BufWriter::new(File::create(to)?), self.format)?;
        out.write_record(self.headings())?;
        for row in rows.records() {
            out.write_record(self.cells(&row?))?;
        }
        done(out)
    }

    fn headings(&self) -> Vec<String> {
        let mut headings = Vec::new();
        for (i, column) in self.columns.iter().enumerate() {
            let heading = column.heading();
            match self.names.get(&i) {
                None => headings.push(heading),
                Some(names) => {
                    headings.extend(names.known.iter().map(|name| format!("{heading}.{name}")));
                    if names.others {
                        headings.push(format!("{heading} (all others)"));
                    }
                }
            }
        }
        headings
    }

    fn cells(&self, row: &csv::StringRecord) -> Vec<String> {
        let mut cells = Vec::new();
        for (i, text) in row.iter().enumerate() {
            let Some(names) = self.names.get(&i) else {
                cells.push(text.to_owned());
                continue;
            };
            let mut object: Object<'_> = serde_json::from_str(text).unwrap_or_default();
            cells.extend(names.known.iter().map(|name| {
                object
                    .remove(name.as_str())
                    .map(|n| self.format.number(n.get()))
                    .unwrap_or_default()
            }));
            if names.others {
                cells.push(if object.is_empty() {
                    String::new()
                } else {
                    serde_json::to_string(&object).unwrap_or_default()
                });
            }
        }
        cells
    }
}
