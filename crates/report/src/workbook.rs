//! The records as a workbook (.xlsx), one sheet for each kind. Rows wait in tables of a hidden
//! folder beside it, so that memory stays bounded. Cells are numbers or texts, never formulas.

use crate::keep;
use crate::tables::columns::{self, Holds};
use crate::tables::{Format as CellFormat, Tables};
use crate::write::{beside, made, said};
use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, Workbook as Book, Worksheet, XlsxError,
};
use secondmelt_record::Kind;
use secondmelt_record::contract::visible;
use std::collections::HashMap;
use std::fs::{self, File};
use std::io::{self, BufReader};
use std::path::{Path, PathBuf};

/// Rows and characters that a sheet and a cell can hold (ECMA-376 applications commonly:
/// 1,048,576 and 32,767).
const ROWS_MAX: u32 = 1_048_576;
const TEXT_MAX: usize = 32_000;

/// A workbook on its way.
#[derive(Debug)]
pub(crate) struct Workbook {
    path: PathBuf,
    folder: PathBuf,
    tables: Option<Tables>,
    rows: HashMap<Kind, u64>,
}

impl Workbook {
    pub(crate) fn new(path: &Path) -> Self {
        let folder = beside(path).with_extension("tables");
        // What an earlier run that was killed left there is ours, as its name says.
        let _ = fs::remove_dir_all(&folder);
        let tables = Some(Tables::new(&folder, CellFormat::plain()));
        Self { path: path.to_owned(), folder, tables, rows: HashMap::new() }
    }

    /// Keeps a record for the sheet of its kind.
    pub(crate) fn take(&mut self, kind: Kind, line: &str) {
        *self.rows.entry(kind).or_default() += 1;
        if let Some(tables) = &mut self.tables {
            tables.take(kind, line);
        }
    }

    /// Writes the workbook.
    ///
    /// # Errors
    /// Why it could not be written.
    pub(crate) fn finish(mut self, cut: Option<&str>) -> Result<(), String> {
        let written = match self.tables.take().map_or(Ok(()), |tables| tables.finish(cut)) {
            Ok(()) => made(&self.path, |part| self.write(part, cut))
                .map_err(|error| said(&self.path, &error)),
            Err(why) => Err(format!("{}: {why}", visible(&self.path.to_string_lossy()))),
        };
        let _ = fs::remove_dir_all(&self.folder);
        written
    }

    fn write(&self, to: &Path, cut: Option<&str>) -> io::Result<()> {
        let mut book = Book::new();
        // The same records give the same workbook, whenever it is made.
        let epoch = ExcelDateTime::from_ymd(2000, 1, 1).map_err(other)?;
        book.set_properties(&DocProperties::new().set_creation_datetime(&epoch));
        let kinds = || Kind::ALL.iter().filter_map(|k| Some((*k, *self.rows.get(k)?)));
        let sheet = book.add_worksheet_with_constant_memory().map_err(other)?;
        contents(sheet, kinds(), cut).map_err(other)?;
        for (kind, _) in kinds() {
            let file = File::open(self.folder.join(format!("{kind}.csv")))?;
            let sheet = book.add_worksheet_with_constant_memory().map_err(other)?;
            fill(sheet, kind, BufReader::new(file))?;
        }
        book.save(to).map_err(other)
    }
}

fn other(error: XlsxError) -> io::Error {
    io::Error::other(error)
}

/// The sheet that says what is in the others.
fn contents(
    sheet: &mut Worksheet,
    kinds: impl Iterator<Item = (Kind, u64)>,
    cut: Option<&str>,
) -> Result<(), XlsxError> {
    sheet.set_name("contents")?;
    for (column, width) in [(0, 26.0), (1, 10.0), (2, 90.0)] {
        sheet.set_column_width(column, width)?;
    }
    let bold = Format::new().set_bold();
    let stream = cut.map_or_else(
        || "The stream is whole.".to_owned(),
        |why| format!("CUT SHORT: {why}. These are all records that arrived."),
    );
    sheet.write_string_with_format(0, 0, visible(&stream), &bold)?;
    for (column, head) in [(0, "sheet"), (1, "rows"), (2, "holds")] {
        sheet.write_string_with_format(1, column, head, &bold)?;
    }
    for (row, (kind, rows)) in (2..).zip(kinds) {
        sheet.write_string(row, 0, kind.name())?;
        sheet.write_number(row, 1, rows as f64)?;
        let full = rows >= u64::from(ROWS_MAX);
        let more = if full { " More than a sheet holds: --csv writes all of them." } else { "" };
        sheet.write_string(row, 2, format!("{}{more}", kind.text()))?;
    }
    Ok(())
}

/// Fills the sheet of a kind from its table.
fn fill(sheet: &mut Worksheet, kind: Kind, table: impl io::Read) -> io::Result<()> {
    let mut rows = csv::ReaderBuilder::new().has_headers(false).from_reader(table);
    let mut record = csv::StringRecord::new();
    let mut numbers = Vec::new();
    sheet.set_name(kind.name()).map_err(other)?;
    sheet.set_freeze_panes(1, 0).map_err(other)?;
    let mut row = 0;
    while row < ROWS_MAX && rows.read_record(&mut record)? {
        if row == 0 {
            numbers = head(sheet, kind, &record).map_err(other)?;
        } else {
            for (column, text) in (0..).zip(record.iter()) {
                let number = numbers.get(usize::from(column)).copied().unwrap_or(false);
                cell(sheet, row, column, text, number).map_err(other)?;
            }
        }
        row += 1;
    }
    Ok(())
}

/// Writes the heading; which columns hold numbers.
fn head(
    sheet: &mut Worksheet,
    kind: Kind,
    record: &csv::StringRecord,
) -> Result<Vec<bool>, XlsxError> {
    let known = columns::of(kind);
    let bold = Format::new().set_bold();
    let mut numbers = Vec::new();
    let heads = record.iter().map(|h| h.trim_start_matches('\u{feff}'));
    for (column, head) in (0..).zip(heads) {
        let width = head.chars().count().clamp(8, 40) as f64 + 2.0;
        sheet.set_column_width(column, width)?;
        sheet.write_string_with_format(0, column, clean(head), &bold)?;
        // A column that is not one of the kind's is a name within one of them.
        let holds = known.iter().find(|c| c.heading() == head).map(|c| c.holds);
        let named = holds.is_none() && !head.ends_with(')');
        numbers.push(named || holds == Some(Holds::Number));
    }
    Ok(numbers)
}

fn cell(
    sheet: &mut Worksheet,
    row: u32,
    column: u16,
    text: &str,
    number: bool,
) -> Result<(), XlsxError> {
    if text.is_empty() {
        return Ok(());
    }
    match (number, text, text.parse::<f64>()) {
        (true, _, Ok(x)) if x.is_finite() => sheet.write_number(row, column, x)?,
        (true, "true" | "false", _) => sheet.write_boolean(row, column, text == "true")?,
        _ => sheet.write_string(row, column, clean(text))?,
    };
    Ok(())
}

/// A text that a sheet can hold, and shows as it is.
fn clean(text: &str) -> String {
    keep::start(&visible(text), TEXT_MAX).replace(['\u{fffe}', '\u{ffff}'], "\u{fffd}")
}
