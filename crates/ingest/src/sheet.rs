//! Workbooks: cells to text, then the same way as rows of a table.

use crate::head::{self, Header, Start};
use crate::number::Decimal;
use crate::options::Format;
use crate::plan::refusal;
use crate::row::{Row, Rows};
use crate::settings::Settings;
use crate::sink::Sink;
use crate::source::Source;
use crate::split::HeadRow;
use crate::stop::Stop;
use crate::table::{announce, no_rows};
use calamine::{Data, ExcelDateTime, Ods, Reader, Xlsx};
use secondmelt_record::Code;
use std::io::Cursor;

/// The largest workbook that is read.
const BYTES_MAX: usize = 64 << 20;
/// The most that a workbook may unpack to: its parts are held in memory.
const UNPACKED_MAX: u64 = 256 << 20;
/// How many rows are looked at for the header and the decimal sign.
const ROWS_LOOKED_AT: usize = 1000;
/// How many columns a sheet may have.
const COLUMNS_MAX: usize = 1000;

type Book = Cursor<Vec<u8>>;

/// A workbook of either format.
enum Workbook {
    Xlsx(Box<Xlsx<Book>>),
    Ods(Box<Ods<Book>>),
}

/// What a row is handed to: its number, its cells; whether to go on.
type TakeRow<'a> = dyn FnMut(u64, &[Data]) -> Result<bool, Stop> + 'a;

/// Reads a sheet of a workbook to its end.
///
/// # Errors
/// Why it was refused or could not be read.
pub(crate) fn read(
    source: &mut Source,
    format: Format,
    settings: &Settings,
    sink: &mut Sink<'_>,
) -> Result<(), Stop> {
    if settings.follow {
        return Err(Stop::Unreadable("a workbook cannot be followed".to_owned()));
    }
    let bytes = source.all(BYTES_MAX)?;
    if bytes.is_empty() {
        sink.problem(*crate::table::empty_file());
        return Ok(());
    }
    let mut book = Workbook::open(bytes, format)?;
    let (sheet, header, head) = chosen(&mut book, settings)?;
    sink.sheet = Some(sheet.clone());
    let below = head.iter().position(|row| row.line > header.line).unwrap_or(head.len());
    let start = head::settle(header, head.get(below..).unwrap_or_default(), true, settings)?;
    let Some(start) = start else { return Ok(()) };
    announce(&start, settings, sink);
    rows(&mut book, &sheet, &start, settings, sink)?;
    no_rows(&start.header, sink);
    Ok(())
}

/// Hands every row below the header on.
fn rows(
    book: &mut Workbook,
    sheet: &str,
    start: &Start,
    settings: &Settings,
    sink: &mut Sink<'_>,
) -> Result<(), Stop> {
    let decimal = start.decimal.unwrap_or(Decimal::Point);
    let mut rows = Rows::new(&start.plan, settings.reading(decimal));
    let (mut text, mut raw, mut spans) = (String::new(), String::new(), Vec::new());
    book.each_row(sheet, &mut |line, cells| {
        if line <= start.header.line {
            return Ok(true);
        }
        text.clear();
        raw.clear();
        spans.clear();
        for column in 0..cells.len().max(start.plan.columns) {
            let cell = cells.get(column).map(|data| cell_text(data, decimal)).unwrap_or_default();
            let from = text.len();
            text.push_str(&cell);
            spans.push((from, text.len()));
            if column > 0 {
                raw.push('\t');
            }
            raw.push_str(&cell);
        }
        rows.take(Row { text: &text, spans: &spans, line, raw: &raw }, sink);
        Ok(sink.open())
    })
}

/// The sheet that is named, else the one that fits; its header and first rows.
fn chosen(
    book: &mut Workbook,
    settings: &Settings,
) -> Result<(String, Header, Vec<HeadRow>), Stop> {
    let names = book.names();
    let wanted: Vec<String> = match &settings.sheet {
        Some(sheet) if names.contains(sheet) => vec![sheet.clone()],
        Some(sheet) => {
            return Err(Stop::Refused(refusal(
                Code::Unreadable,
                format!("the sheets {}", names.join(", ")),
                format!("a sheet {sheet:?}"),
                "put --sheet right",
            )));
        }
        None => names,
    };
    let mut found: Vec<(String, Header, Vec<HeadRow>)> = Vec::new();
    for sheet in wanted {
        let rows = first_rows(book, &sheet)?;
        if let Some(header) = head::best(head::candidates(&rows, 0, settings)) {
            found.push((sheet, header, rows));
        }
    }
    let fitting: Vec<String> =
        found.iter().filter(|(_, h, _)| h.all).map(|(name, ..)| name.clone()).collect();
    if fitting.len() > 1 {
        return Err(Stop::Refused(refusal(
            Code::Unreadable,
            format!("more than one sheet that fits: {}", fitting.join(", ")),
            "one sheet",
            format!("say which, e.g. --sheet '{}'", fitting.first().map_or("", String::as_str)),
        )));
    }
    found
        .into_iter()
        .max_by_key(|(_, header, _)| (header.all, header.fields))
        .ok_or_else(|| Stop::Refused(crate::table::empty_file()))
}

/// The first rows of a sheet as text, their numbers with a decimal point: what is no
/// text shows nothing of how numbers are written by hand.
fn first_rows(book: &mut Workbook, sheet: &str) -> Result<Vec<HeadRow>, Stop> {
    let mut rows = Vec::new();
    book.each_row(sheet, &mut |line, cells| {
        let mut cells: Vec<String> = cells.iter().map(head_text).collect();
        while cells.last().is_some_and(String::is_empty) {
            cells.pop();
        }
        rows.push(HeadRow { line, lines: line, end: 0, cells });
        Ok(rows.len() < ROWS_LOOKED_AT)
    })?;
    Ok(rows)
}

/// A cell for the look at the head: numbers as whole numbers, which hint at nothing.
fn head_text(cell: &Data) -> String {
    match cell {
        Data::Float(_) | Data::Int(_) => "0".to_owned(),
        other => cell_text(other, Decimal::Point),
    }
}

/// The text of a cell. Numbers get the decimal sign of the file, so that they are
/// read like the texts beside them.
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

impl Workbook {
    fn open(bytes: Vec<u8>, format: Format) -> Result<Self, Stop> {
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
        let unreadable = |error: String| Stop::Unreadable(format!("as a workbook: {error}"));
        match format {
            Format::Ods => Ods::new(cursor)
                .map(|b| Self::Ods(Box::new(b)))
                .map_err(|e| unreadable(e.to_string())),
            _ => Xlsx::new(cursor)
                .map(|b| Self::Xlsx(Box::new(b)))
                .map_err(|e| unreadable(e.to_string())),
        }
    }

    fn names(&self) -> Vec<String> {
        match self {
            Self::Xlsx(book) => book.sheet_names(),
            Self::Ods(book) => book.sheet_names(),
        }
    }

    /// Hands on the rows of a sheet that hold anything, in order.
    fn each_row(&mut self, sheet: &str, take: &mut TakeRow<'_>) -> Result<(), Stop> {
        match self {
            Self::Xlsx(book) => xlsx_rows(book, sheet, take),
            Self::Ods(book) => ods_rows(book, sheet, take),
        }
    }
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
    let wrong = |e: calamine::XlsxError| Stop::Unreadable(format!("sheet {sheet}: {e}"));
    let mut cells = book.worksheet_cells_reader(sheet).map_err(wrong)?;
    let (mut number, mut row): (u32, Vec<Data>) = (0, Vec::new());
    while let Some(cell) = cells.next_cell().map_err(wrong)? {
        let (at, column) = cell.get_position();
        if at != number {
            if !row.is_empty() && !take(u64::from(number) + 1, &row)? {
                return Ok(());
            }
            row.clear();
            number = at;
        }
        place(&mut row, column as usize, cell.get_value().clone().into())?;
    }
    if !row.is_empty() {
        take(u64::from(number) + 1, &row)?;
    }
    Ok(())
}

fn place(row: &mut Vec<Data>, column: usize, cell: Data) -> Result<(), Stop> {
    if cell == Data::Empty {
        return Ok(());
    }
    if column >= COLUMNS_MAX {
        return Err(Stop::Unreadable(format!("it has more than {COLUMNS_MAX} columns")));
    }
    if row.len() <= column {
        row.resize(column + 1, Data::Empty);
    }
    if let Some(slot) = row.get_mut(column) {
        *slot = cell;
    }
    Ok(())
}

fn ods_rows(book: &mut Ods<Book>, sheet: &str, take: &mut TakeRow<'_>) -> Result<(), Stop> {
    let range =
        book.worksheet_range(sheet).map_err(|e| Stop::Unreadable(format!("sheet {sheet}: {e}")))?;
    let (top, left) = range.start().unwrap_or((0, 0));
    for (number, cells) in (u64::from(top) + 1..).zip(range.rows()) {
        let mut row = vec![Data::Empty; left as usize];
        row.extend_from_slice(cells);
        if !take(number, &row)? {
            return Ok(());
        }
    }
    Ok(())
}
