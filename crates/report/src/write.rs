//! Writing files so that a reader finds the old one or the whole new one.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Writes a whole file: under another name beside it, then renamed. What exists and is
/// no ordinary file (a device, a pipe) is written as it is.
///
/// # Errors
/// Which file could not be written, and why.
pub(crate) fn whole(path: &Path, text: &str) -> Result<(), String> {
    replace(path, text).map_err(|error| said(path, &error))
}

/// What could not be written, and why.
pub(crate) fn said(path: &Path, error: &io::Error) -> String {
    let path = secondmelt_record::contract::visible(&path.to_string_lossy());
    format!("{path} could not be written: {error}")
}

fn replace(path: &Path, text: &str) -> io::Result<()> {
    if fs::metadata(path).is_ok_and(|m| !m.is_file()) {
        return File::options().write(true).open(path)?.write_all(text.as_bytes());
    }
    made(path, |part| {
        let mut file = File::create(part)?;
        file.write_all(text.as_bytes())
    })
}

/// Makes a file under a hidden name beside it, and then gives it its own.
///
/// # Errors
/// Those of making it.
pub(crate) fn made(path: &Path, make: impl FnOnce(&Path) -> io::Result<()>) -> io::Result<()> {
    // Through a link to the file itself, so that the link stays one.
    let path = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let part = beside(&path);
    let written = make(&part).and_then(|()| publish(&File::open(&part)?, &part, &path));
    if written.is_err() {
        // Half a report is of no use; that it may stay is no new fault.
        let _ = fs::remove_file(&part);
    }
    written
}

/// A hidden name in the same directory, for a file that is not whole yet.
pub(crate) fn beside(path: &Path) -> PathBuf {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    path.with_file_name(format!(".{name}.part"))
}

/// Gives a finished file its name, once its content is safe.
pub(crate) fn publish(file: &File, part: &Path, path: &Path) -> io::Result<()> {
    file.sync_all()?;
    fs::rename(part, path)
}
