//! The records as tables for a spreadsheet, one file for each kind, written as the
//! records pass: RFC 4180 with CRLF, and a byte order mark so that spreadsheets take
//! the text for what it is, UTF-8.

mod cell;
pub(crate) mod columns;
mod directory;
mod file;

pub(crate) use cell::Format;

use crate::write::said;
use directory::Directory;
use file::TableFile;
use secondmelt_record::Kind;
use std::collections::BTreeMap;
use std::io;
use std::path::Path;

/// Tables on their way into a directory.
#[derive(Debug)]
pub(crate) struct Tables {
    directory: Directory,
    format: Format,
    files: BTreeMap<Kind, TableFile>,
    failure: Option<String>,
}

impl Tables {
    pub(crate) fn new(dir: &Path, format: Format) -> Self {
        Self { directory: Directory::new(dir), format, files: BTreeMap::new(), failure: None }
    }

    /// Writes a record into the table of its kind. A failure is kept for the end.
    pub(crate) fn take(&mut self, kind: Kind, line: &str) {
        if self.failure.is_none()
            && let Err(message) = self.row(kind, line)
        {
            self.failure = Some(message);
        }
    }

    fn row(&mut self, kind: Kind, line: &str) -> Result<(), String> {
        if !self.files.contains_key(&kind) {
            self.directory.prepare()?;
            let path = self.directory.table(kind);
            let file = TableFile::create(kind, &path, self.format).map_err(|e| said(&path, &e))?;
            self.files.insert(kind, file);
        }
        let Some(file) = self.files.get_mut(&kind) else { return Ok(()) };
        file.row(line).map_err(|e| said(&self.directory.table(kind), &e))
    }

    /// Gives all tables their names, with a table of contents, and takes away those that
    /// an earlier report left and this one does not have.
    ///
    /// # Errors
    /// Which table could not be written, and why.
    pub(crate) fn finish(mut self, cut: Option<&str>) -> Result<(), String> {
        if let Some(message) = self.failure {
            self.files.into_values().for_each(TableFile::discard);
            return Err(message);
        }
        self.directory.prepare()?;
        let mut rows = Vec::new();
        for (kind, file) in self.files {
            let path = self.directory.table(kind);
            rows.push((kind, file.rows()));
            file.finish(&path).map_err(|e| said(&path, &e))?;
        }
        self.directory.conclude(&rows, cut, self.format)
    }
}

/// A writer of one table, its byte order mark already written.
fn writer<W: io::Write>(mut to: W, format: Format) -> io::Result<csv::Writer<W>> {
    to.write_all("\u{feff}".as_bytes())?;
    Ok(csv::WriterBuilder::new()
        .delimiter(format.delimiter)
        .terminator(csv::Terminator::CRLF)
        .flexible(true)
        .from_writer(to))
}
