//! The sheets of a workbook: which there are, and their rows of cells as text.

use crate::number::Decimal;
use crate::options::Format;
use crate::plan::refusal;
use crate::stop::Stop;
use calamine::{Data, ExcelDateTime, Ods, OdsError, Reader, Xlsx, XlsxError, XlsxFormulaMetadata};
use secondmelt_record::Code;
use std::io::Cursor;

/// The largest workbook that is read.
pub(crate) const BYTES_MAX: usize = 64 << 20;
/// The most that a workbook may unpack to: its parts are held in memory.
const UNPACKED_MAX: u64 = 256 << 20;
/// How many columns a sheet may have.
const COLUMNS_MAX: usize = 1000;

type Book = Cursor<Vec<u8>>;

/// A workbook of either format.
pub(crate) enum Workbook {
    /// Office Open XML.
    Xlsx(Box<Xlsx<Book>>),
    /// OpenDocument.
    Ods(Box<Ods<Book>>),
}

/// What a row is handed to: its number, its cells; whether to go on.
pub(crate) type TakeRow<'a> = dyn FnMut(u64, &[SheetCell]) -> Result<bool, Stop> + 'a;

/// A cell of a sheet.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum SheetCell {
    /// What is stored in it.
    Stored(Data),
    /// A formula that nobody has worked out: its text.
    Uncounted(String),
}

impl SheetCell {
    const EMPTY: Self = Self::Stored(Data::Empty);

    /// A cell of a value and the formula that it may have.
    fn of(value: Data, formula: Option<String>) -> Self {
        match (value, formula) {
            (Data::Empty, Some(formula)) => Self::Uncounted(formula),
            (value, _) => Self::Stored(value),
        }
    }

    /// Its text. Numbers get the decimal sign of the file, so that they are read like
    /// the texts beside them.
    pub(crate) fn text(&self, decimal: Decimal) -> String {
        match self {
            Self::Stored(data) => cell_text(data, decimal),
            Self::Uncounted(formula) => formula.clone(),
        }
    }
}

impl Workbook {
    /// Opens a workbook.
    ///
    /// # Errors
    /// Why it could not be read.
    pub(crate) fn open(bytes: Vec<u8>, format: Format) -> Result<Self, Stop> {
        if bytes.starts_with(&[0xd0, 0xcf, 0x11, 0xe0]) {
            return Err(Stop::Unreadable(
                "it is an old binary workbook or a locked one; save it as .xlsx, .ods or CSV"
                    .to_owned(),
            ));
        }
        if unpacked(&bytes).is_some_and(|size| size > UNPACKED_MAX) {
            return Err(Stop::Unreadable(format!(
                "it unpacks to more than {} MiB; export the sheet as CSV",
                UNPACKED_MAX >> 20
            )));
        }
        let cursor = Cursor::new(bytes);
        match format {
            Format::Ods => Ods::new(cursor).map(|b| Self::Ods(Box::new(b))).map_err(|e| match e {
                OdsError::Password => locked(),
                _ => damaged("no workbook, or a damaged one"),
            }),
            _ => Xlsx::new(cursor)
                .map(|b| Self::Xlsx(Box::new(b)))
                .map_err(|_| damaged("no workbook, or a damaged one")),
        }
    }

    /// Names of its sheets, in order.
    pub(crate) fn names(&self) -> Vec<String> {
        match self {
            Self::Xlsx(book) => book.sheet_names(),
            Self::Ods(book) => book.sheet_names(),
        }
    }

    /// Hands on the rows of a sheet that hold anything, in order.
    pub(crate) fn each_row(&mut self, sheet: &str, take: &mut TakeRow<'_>) -> Result<(), Stop> {
        match self {
            Self::Xlsx(book) => xlsx_rows(book, sheet, take),
            Self::Ods(book) => ods_rows(book, sheet, take),
        }
    }
}

/// Why a workbook, or a sheet of it, could not be read.
fn damaged(found: impl Into<String>) -> Stop {
    Stop::Refused(refusal(
        Code::Unreadable,
        found,
        "a whole workbook of the format that its name says (.xlsx or .ods)",
        "open it in a spreadsheet program and save it again, or export the sheet as CSV",
    ))
}

fn locked() -> Stop {
    Stop::Refused(refusal(
        Code::Unreadable,
        "a workbook that is locked by a password",
        "one that is open",
        "save it without the password, or export the sheet as CSV",
    ))
}

/// What the parts of a workbook say they unpack to, in bytes.
fn unpacked(bytes: &[u8]) -> Option<u64> {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).ok()?;
    (0..archive.len()).try_fold(0_u64, |sum, part| {
        let size = archive.by_index_raw(part).ok()?.size();
        Some(sum.saturating_add(size))
    })
}

/// Cell by cell, since the corners of a sheet may lie far apart.
fn xlsx_rows(book: &mut Xlsx<Book>, sheet: &str, take: &mut TakeRow<'_>) -> Result<(), Stop> {
    let wrong = |_| damaged(format!("a damaged sheet {sheet:?}"));
    let mut cells = match book.worksheet_cells_reader(sheet) {
        // A chart on a sheet of its own has no cells.
        Err(XlsxError::NotAWorksheet(_)) => return Ok(()),
        other => other.map_err(wrong)?,
    };
    let (mut number, mut row): (u32, Vec<SheetCell>) = (0, Vec::new());
    while let Some(cell) = cells.next_cell_with_formula_metadata().map_err(wrong)? {
        let (at, column) = cell.pos;
        if at != number {
            if !row.is_empty() && !take(u64::from(number) + 1, &row)? {
                return Ok(());
            }
            row.clear();
            number = at;
        }
        let formula = cell.formula.map(formula_text);
        place(&mut row, column as usize, SheetCell::of(cell.value.into(), formula))?;
    }
    if !row.is_empty() {
        take(u64::from(number) + 1, &row)?;
    }
    Ok(())
}

/// The text of a formula; one that is shared with other cells stands in the first of them.
fn formula_text(formula: XlsxFormulaMetadata) -> String {
    match formula {
        XlsxFormulaMetadata::Normal { formula } | XlsxFormulaMetadata::Shared { formula, .. } => {
            format!("={formula}")
        }
        _ => "= (as in a cell above)".to_owned(),
    }
}

fn place(row: &mut Vec<SheetCell>, column: usize, cell: SheetCell) -> Result<(), Stop> {
    if cell == SheetCell::EMPTY {
        return Ok(());
    }
    if column >= COLUMNS_MAX {
        return Err(Stop::Unreadable(format!("it has more than {COLUMNS_MAX} columns")));
    }
    if row.len() <= column {
        row.resize(column + 1, SheetCell::EMPTY);
    }
    if let Some(slot) = row.get_mut(column) {
        *slot = cell;
    }
    Ok(())
}

fn ods_rows(book: &mut Ods<Book>, sheet: &str, take: &mut TakeRow<'_>) -> Result<(), Stop> {
    let wrong = |_| damaged(format!("a damaged sheet {sheet:?}"));
    let values = book.worksheet_range(sheet).map_err(wrong)?;
    let formulas = book.worksheet_formula(sheet).map_err(wrong)?;
    // Each covers its own part of the sheet.
    let ends = [values.end(), formulas.end()].into_iter().flatten();
    let starts = [values.start(), formulas.start()].into_iter().flatten();
    let Some((bottom, right)) = ends.reduce(|a, b| (a.0.max(b.0), a.1.max(b.1))) else {
        return Ok(());
    };
    let top = starts.map(|(row, _)| row).min().unwrap_or(0);
    for number in top..=bottom {
        let mut row = Vec::new();
        for column in 0..=right {
            let at = (number, column);
            let formula = formulas.get_value(at).filter(|f| !f.is_empty());
            let formula = formula.map(|f| f.trim_start_matches("of:").to_owned());
            let value = values.get_value(at).cloned().unwrap_or_default();
            place(&mut row, column as usize, SheetCell::of(value, formula))?;
        }
        if !take(u64::from(number) + 1, &row)? {
            return Ok(());
        }
    }
    Ok(())
}

fn cell_text(cell: &Data, decimal: Decimal) -> String {
    match cell {
        Data::Empty => String::new(),
        Data::String(text) => text.trim().to_owned(),
        Data::Int(n) => n.to_string(),
        Data::Float(x) if decimal == Decimal::Comma => x.to_string().replace('.', ","),
        Data::Float(x) => x.to_string(),
        Data::Bool(flag) => flag.to_string(),
        Data::DateTime(when) => date_text(when),
        Data::DateTimeIso(text) | Data::DurationIso(text) => text.clone(),
        Data::Error(error) => error.to_string(),
    }
}

/// A date cell as ISO 8601, a time of day or duration as hours, minutes and seconds.
fn date_text(when: &ExcelDateTime) -> String {
    if when.is_duration() || when.as_f64() < 1.0 {
        let seconds = (when.as_f64() * 86_400.0).round();
        let (hours, rest) = ((seconds / 3600.0).floor(), seconds % 3600.0);
        return format!("{hours}:{:02}:{:02}", (rest / 60.0).floor(), rest % 60.0);
    }
    let (year, month, day, hour, minute, second, milli) = when.to_ymd_hms_milli();
    let fraction = if milli == 0 { String::new() } else { format!(".{milli:03}") };
    format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}{fraction}")
}
