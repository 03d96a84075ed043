//! Workbooks: cells to text, then the same way as rows of a table.

use crate::cell::{Cell, Fault, shown};
use crate::head::{self, Header, Start};
use crate::number::Decimal;
use crate::options::Format;
use crate::plan::{Plan, Slot, refusal};
use crate::row::{Row, Rows};
use crate::settings::Settings;
use crate::sink::Sink;
use crate::source::Source;
use crate::split::HeadRow;
use crate::stop::Stop;
use crate::table::{announce, no_rows};
use crate::workbook::{BYTES_MAX, SheetCell, Workbook};
use calamine::Data;
use secondmelt_record::Code;

/// How many rows are looked at for the header and the decimal sign.
const ROWS_LOOKED_AT: usize = 1000;
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
            let cell = cells.get(column).map(|cell| cell.text(decimal)).unwrap_or_default();
            let from = text.len();
            text.push_str(&cell);
            spans.push((from, text.len()));
            if column > 0 {
                raw.push('\t');
            }
            raw.push_str(&cell);
        }
        let row = Row { text: &text, spans: &spans, line, raw: &raw };
        match uncounted(cells, &start.plan) {
            Some((slot, formula)) => rows.refuse(row, slot, formula_fault(slot, formula), sink),
            None => rows.take(row, sink),
        }
        Ok(sink.open())
    })
}

/// The first cell that is used and holds a formula that nobody has worked out.
fn uncounted<'a>(cells: &'a [SheetCell], plan: &'a Plan) -> Option<(&'a Slot, &'a str)> {
    plan.slots.iter().chain(&plan.inner).find_map(|slot| match cells.get(slot.column) {
        Some(SheetCell::Uncounted(formula)) => Some((slot, formula.as_str())),
        _ => None,
    })
}

/// Why such a cell is not taken for an empty one: what it stands for would vanish.
fn formula_fault(slot: &Slot, formula: &str) -> Fault {
    let code = match slot.cell {
        Cell::Number(..) | Cell::Count(..) => Code::NotANumber,
        _ => Code::WrongType,
    };
    Fault::new(
        code,
        format!("a formula without a stored value, {}", shown(formula)),
        "a cell with its value",
    )
    .advice("open the workbook in a spreadsheet program and save it, which works it out".to_owned())
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
fn head_text(cell: &SheetCell) -> String {
    match cell {
        SheetCell::Stored(Data::Float(_) | Data::Int(_)) => "0".to_owned(),
        SheetCell::Stored(_) => cell.text(Decimal::Point),
        SheetCell::Uncounted(_) => String::new(),
    }
}
