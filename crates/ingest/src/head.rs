//! The head of a table: which line is the header, what separates the columns, which
//! sign is the decimal sign.

use crate::cell::Cell;
use crate::header;
use crate::number::{self, Decimal, Hint, Style};
use crate::plan::{Plan, refusal};
use crate::settings::Settings;
use crate::split::{HeadRow, head_rows};
use secondmelt_record::{Code, Count, Problem, Text};

type Refusal = Box<Problem<'static>>;

/// How many rows may stand above a header.
const ROWS_ABOVE: usize = 50;

/// The header of a table.
#[derive(Debug)]
pub(crate) struct Header {
    /// Separator of columns.
    pub(crate) delimiter: u8,
    /// Line it starts on, counted from 1.
    pub(crate) line: u64,
    /// Lines up to its end.
    pub(crate) lines: u64,
    /// Bytes up to its end.
    pub(crate) end: usize,
    /// Its cells.
    pub(crate) cells: Vec<String>,
    /// Lines above it that are not blank.
    pub(crate) above: usize,
    /// Whether all fields that must be there are.
    pub(crate) all: bool,
    /// How many fields it names.
    pub(crate) fields: usize,
}

/// The best header among the first lines: one that names all fields that must be
/// there, else the one that names most; the first of equals.
pub(crate) fn find(head: &[u8], settings: &Settings) -> Option<Header> {
    let signs = settings.delimiter.map_or(vec![b'\t', b';', b','], |d| vec![d]);
    let mut best: Option<Header> = None;
    for delimiter in signs {
        for header in candidates(head, delimiter, settings) {
            let rank = |h: &Header| (h.all, h.fields, h.cells.len());
            let above = match &best {
                Some(best) => rank(&header) > rank(best),
                None => true,
            };
            if above {
                best = Some(header);
            }
        }
    }
    best
}

fn candidates(head: &[u8], delimiter: u8, settings: &Settings) -> Vec<Header> {
    let mut above = 0;
    let mut found = Vec::new();
    for row in head_rows(head, delimiter, ROWS_ABOVE) {
        let blank = row.cells.iter().all(String::is_empty);
        let stated = settings.header_line.map(|n| n == row.line);
        if stated.unwrap_or(!blank && !has_number(&row.cells)) {
            let (all, fields) = header::score(settings, &row.cells);
            let HeadRow { line, lines, end, cells } = row;
            found.push(Header { delimiter, line, lines, end, cells, above, all, fields });
        }
        above += usize::from(!blank);
    }
    found
}

/// A row with a number in it holds data.
fn has_number(cells: &[String]) -> bool {
    let point = |c: &str| number::json(c, Style::PLAIN).is_some();
    let comma =
        |c: &str| number::json(c, Style { decimal: Decimal::Comma, thousands: None }).is_some();
    cells.iter().any(|cell| point(cell) || comma(cell))
}

/// What the number cells say of the decimal sign.
#[derive(Debug, Default)]
pub(crate) struct Signs {
    points: u64,
    commas: u64,
    /// The first cell that can be read in two ways: its line, column, heading and text.
    either: Option<(u64, String, String)>,
}

/// What a look at the cells came to.
#[derive(Debug)]
pub(crate) enum Settled {
    /// The decimal sign.
    Is(Decimal),
    /// No cell needs one so far.
    Open,
    /// There are only cells that can be read in two ways.
    Ambiguous(Refusal),
}

impl Signs {
    /// Takes the number cells of a row.
    pub(crate) fn take(
        &mut self,
        plan: &Plan,
        line: u64,
        cells: &[impl AsRef<str>],
        semicolons: bool,
    ) {
        for slot in plan.slots.iter().chain(&plan.inner) {
            if !matches!(slot.cell, Cell::Number(..) | Cell::Count(..)) {
                continue;
            }
            let Some(cell) = cells.get(slot.column) else { continue };
            match number::hint(cell.as_ref(), semicolons) {
                Hint::None => {}
                Hint::Point => self.points += 1,
                Hint::Comma => self.commas += 1,
                Hint::Either => {
                    self.either.get_or_insert((
                        line,
                        slot.heading.clone(),
                        cell.as_ref().to_owned(),
                    ));
                }
            }
        }
    }

    /// What they come to. A stated sign for thousands is heeded by the caller.
    pub(crate) fn settled(&self) -> Settled {
        match (self.points, self.commas, &self.either) {
            (0, 0, None) => Settled::Open,
            (points, commas, _) if points > commas => Settled::Is(Decimal::Point),
            (points, commas, _) if commas > points => Settled::Is(Decimal::Comma),
            (_, _, either) => Settled::Ambiguous(ambiguous(either.as_ref())),
        }
    }
}

fn ambiguous(cell: Option<&(u64, String, String)>) -> Refusal {
    let found = match cell {
        Some((_, _, text)) => format!("{text:?}, which may be thousands or a decimal fraction"),
        None => "as many numbers with a point as with a comma".to_owned(),
    };
    let mut problem = refusal(
        Code::AmbiguousNumber,
        found,
        "numbers that show the decimal sign of the file",
        "say --decimal comma or --decimal point (and --thousands where digits are grouped)",
    );
    if let Some((line, heading, text)) = cell {
        problem.line = Some(Count(*line));
        problem.column = Some(Text::from(heading.clone()));
        problem.raw = Some(Text::from(text.clone()));
    }
    problem
}

/// The decimal sign of a table by its first rows, where it is not stated.
pub(crate) fn decimal(rows: &[u8], header: &Header, plan: &Plan, settings: &Settings) -> Settled {
    if let Some(stated) = settings.stated_decimal() {
        return Settled::Is(stated);
    }
    let mut signs = Signs::default();
    for row in head_rows(rows, header.delimiter, usize::MAX) {
        signs.take(plan, header.lines + row.line, &row.cells, header.delimiter == b';');
    }
    signs.settled()
}

/// A refusal where the times of the first rows can be read in two ways.
pub(crate) fn ambiguous_time(
    rows: &[u8],
    header: &Header,
    plan: &Plan,
    settings: &Settings,
) -> Option<Refusal> {
    let times: Vec<_> = plan.slots.iter().filter(|s| matches!(s.cell, Cell::Time)).collect();
    if times.is_empty() {
        return None;
    }
    for row in head_rows(rows, header.delimiter, usize::MAX) {
        for slot in &times {
            let cell = row.cells.get(slot.column).map_or("", String::as_str);
            if let Some(refusal) =
                time_refusal(cell, header.lines + row.line, &slot.heading, settings)
            {
                return Some(refusal);
            }
        }
    }
    None
}

/// A refusal where a time can be read in two ways, and a flag would settle it.
pub(crate) fn time_refusal(
    cell: &str,
    line: u64,
    heading: &str,
    settings: &Settings,
) -> Option<Refusal> {
    let settled = settings.clock.zone.is_some() && settings.clock.format.is_some();
    if cell.is_empty() || settled {
        return None;
    }
    let fault = settings.clock.read(cell).err()?;
    // A time that was there twice is the matter of one row.
    let by_flag = fault.code == Code::AmbiguousDate
        && (settings.clock.zone.is_none() || settings.clock.format.is_none() && !cell_is_iso(cell));
    by_flag.then(|| {
        let mut problem =
            refusal(fault.code, fault.found, fault.expected, fault.advice.unwrap_or_default());
        problem.line = Some(Count(line));
        problem.column = Some(Text::from(heading.to_owned()));
        problem.raw = Some(Text::from(cell.to_owned()));
        problem
    })
}

fn cell_is_iso(cell: &str) -> bool {
    cell.as_bytes().get(4) == Some(&b'-')
}
