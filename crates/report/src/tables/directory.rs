//! The directory of the tables. It is ours alone: a lab's own `weighing.csv` must never
//! be overwritten by a table of the same name.

use super::cell::{self, Format};
use super::writer;
use crate::write::{beside, publish, said};
use secondmelt_record::Kind;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

/// The table of contents. Its presence says that a report wrote the directory.
const CONTENTS: &str = "contents.csv";
const HEAD: [&str; 5] = ["table", "kind", "rows", "holds", "stream"];

/// A directory for tables.
#[derive(Debug)]
pub(super) struct Directory {
    path: PathBuf,
    ready: bool,
}

impl Directory {
    pub(super) fn new(path: &Path) -> Self {
        Self { path: path.to_owned(), ready: false }
    }

    /// Where the table of a kind goes.
    pub(super) fn table(&self, kind: Kind) -> PathBuf {
        self.path.join(format!("{kind}.csv"))
    }

    /// Makes the directory, once.
    ///
    /// # Errors
    /// Where it cannot be made, or holds files of others.
    pub(super) fn prepare(&mut self) -> Result<(), String> {
        if self.ready {
            return Ok(());
        }
        let ours = self.make().map_err(|error| said(&self.path, &error))?;
        if !ours {
            let path = secondmelt_record::contract::visible(&self.path.to_string_lossy());
            return Err(format!(
                "{path} holds files that no report wrote; name a new or empty directory for --csv"
            ));
        }
        self.ready = true;
        Ok(())
    }

    /// Makes the directory; whether nobody else's files are in it.
    fn make(&self) -> io::Result<bool> {
        fs::create_dir_all(&self.path)?;
        if written_by_us(&self.path.join(CONTENTS)) {
            return Ok(true);
        }
        for entry in fs::read_dir(&self.path)? {
            if !entry?.file_name().to_string_lossy().starts_with('.') {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Writes the table of contents and takes away tables of an earlier report.
    pub(super) fn conclude(
        &self,
        rows: &[(Kind, u64)],
        cut: Option<&str>,
        format: Format,
    ) -> Result<(), String> {
        for kind in Kind::ALL.iter().filter(|k| rows.iter().all(|(kind, _)| kind != *k)) {
            let stale = self.table(*kind);
            for path in [&stale, &beside(&stale)] {
                match fs::remove_file(path) {
                    Err(error) if error.kind() != io::ErrorKind::NotFound => {
                        return Err(said(path, &error));
                    }
                    _ => {}
                }
            }
        }
        let path = self.path.join(CONTENTS);
        contents(&path, rows, cut, format).map_err(|error| said(&path, &error))
    }
}

fn written_by_us(contents: &Path) -> bool {
    fs::read_to_string(contents).is_ok_and(|text| {
        let head = text.lines().next().unwrap_or_default().trim_start_matches('\u{feff}');
        [",", ";", "\t"].iter().any(|delimiter| head.trim_end() == HEAD.join(delimiter))
    })
}

fn contents(path: &Path, rows: &[(Kind, u64)], cut: Option<&str>, f: Format) -> io::Result<()> {
    let part = beside(path);
    let mut out = writer(File::create(&part)?, f)?;
    let stream = cut.map_or_else(|| "whole".to_owned(), |why| format!("cut short: {why}"));
    out.write_record(HEAD)?;
    for (kind, n) in rows {
        let table = format!("{kind}.csv");
        let row = [table, kind.to_string(), n.to_string(), kind.text(), stream.clone()];
        out.write_record(row.map(|text| cell::text(&text)))?;
    }
    let file = out.into_inner().map_err(|e| io::Error::from(e.error().kind()))?;
    publish(&file, &part, path)
}
