//! The head of a table: which line is the header, what separates the columns, which
//! sign is the decimal sign.

use crate::cell::Cell;
use crate::header;
use crate::number::{self, Decimal, Hint, Style};
use crate::plan::{Plan, missing_time, refusal};
use crate::settings::Settings;
use crate::split::{HeadRow, head_rows};
use crate::stop::Stop;
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

/// The best header among the first lines of a table of separated values.
pub(crate) fn find(head: &[u8], settings: &Settings) -> Option<Header> {
    let signs = settings.delimiter.map_or(vec![b'\t', b';', b','], |d| vec![d]);
    best(signs.into_iter().flat_map(|d| candidates(&head_rows(head, d, ROWS_ABOVE), d, settings)))
}

/// The header that names all fields that must be there, else the one that names most;
/// the first of equals.
pub(crate) fn best(candidates: impl IntoIterator<Item = Header>) -> Option<Header> {
    let rank = |h: &Header| (h.all, h.fields, h.cells.len());
    candidates.into_iter().reduce(|best, next| if rank(&next) > rank(&best) { next } else { best })
}

/// The rows that may be the header.
pub(crate) fn candidates(rows: &[HeadRow], delimiter: u8, settings: &Settings) -> Vec<Header> {
    let mut above = 0;
    let mut found = Vec::new();
    for row in rows.iter().take(ROWS_ABOVE) {
        let blank = row.cells.iter().all(String::is_empty);
        let stated = settings.header_line.map(|n| n == row.line);
        if stated.unwrap_or(!blank && !has_number(&row.cells)) {
            let (all, fields) = header::score(settings, &row.cells);
            let HeadRow { line, lines, end, ref cells } = *row;
            found.push(Header {
                delimiter,
                line,
                lines,
                end,
                cells: cells.clone(),
                above,
                all,
                fields,
            });
        }
        above += usize::from(!blank);
    }
    found
}

/// What is settled before the first row.
#[derive(Debug)]
pub(crate) struct Start {
    /// The header.
    pub(crate) header: Header,
    /// How its rows become records.
    pub(crate) plan: Plan,
    /// The decimal sign; none while no number has shown it.
    pub(crate) decimal: Option<Decimal>,
    /// A number that has a point which is taken for a decimal point, where nothing else
    /// shows the decimal sign.
    pub(crate) assumed: Option<String>,
}

/// Settles how the rows below a header are read, by a look at the first of them; none
/// where more of them must be seen and there are more.
///
/// # Errors
/// Why the file is refused.
pub(crate) fn settle(
    header: Header,
    rows: &[HeadRow],
    full: bool,
    settings: &Settings,
) -> Result<Option<Start>, Stop> {
    let at = |mut problem: Refusal| {
        problem.line = problem.line.or(Some(Count(header.line)));
        Stop::Refused(problem)
    };
    let plan = Plan::new(settings, &header.cells).map_err(at)?;
    let missing = plan.missing_column(&header.cells);
    if let Some(refusal) = missing.or_else(|| missing_time(&plan, settings, &header.cells)) {
        return Err(at(refusal));
    }
    if let Some(refusal) = ambiguous_time(rows, &plan, settings) {
        return Err(at(refusal));
    }
    let mut signs = Signs::default();
    if settings.stated_decimal().is_none() {
        rows.iter().for_each(|row| signs.take(&plan, row.line, &row.cells, header.delimiter));
    }
    let decimal = match (settings.stated_decimal(), signs.settled()) {
        (Some(stated), _) => Some(stated),
        (None, Settled::Is(decimal)) => Some(decimal),
        (None, Settled::Open) => None,
        (None, Settled::Ambiguous(_)) if !full => return Ok(None),
        (None, Settled::Ambiguous(refusal)) => return Err(at(refusal)),
    };
    Ok(Some(Start { header, plan, decimal, assumed: signs.assumed() }))
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
    likely_points: u64,
    /// Numbers that say nothing of the decimal sign.
    silent: u64,
    /// The first cell with a point that is likely a decimal point.
    likely: Option<String>,
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
    pub(crate) fn take(&mut self, plan: &Plan, line: u64, cells: &[String], delimiter: u8) {
        for slot in plan.slots.iter().chain(&plan.inner) {
            if !matches!(slot.cell, Cell::Number(..) | Cell::Count(..)) {
                continue;
            }
            let Some(cell) = cells.get(slot.column) else { continue };
            match number::hint(cell, delimiter == b',') {
                Hint::None => self.silent += u64::from(!cell.is_empty()),
                Hint::Point => self.points += 1,
                Hint::Comma => self.commas += 1,
                Hint::LikelyPoint => {
                    self.likely_points += 1;
                    self.likely.get_or_insert_with(|| cell.clone());
                }
                Hint::Either => {
                    self.either.get_or_insert((line, slot.heading.clone(), cell.clone()));
                }
            }
        }
    }

    /// A cell with the sign that is assumed, where every number is of that shape.
    fn assumed(self) -> Option<String> {
        let shown = self.points + self.commas + self.silent > 0 || self.either.is_some();
        self.likely.filter(|_| !shown)
    }

    /// What they come to. A stated sign for thousands is heeded by the caller.
    pub(crate) fn settled(&self) -> Settled {
        match (self.points, self.commas, &self.either) {
            (0, 0, None) if self.likely_points > 0 => Settled::Is(Decimal::Point),
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

/// A refusal where the times of the first rows can be read in two ways.
fn ambiguous_time(rows: &[HeadRow], plan: &Plan, settings: &Settings) -> Option<Refusal> {
    let times: Vec<_> = plan.slots.iter().filter(|s| matches!(s.cell, Cell::Time)).collect();
    let cell = |row: &HeadRow, column: usize| row.cells.get(column).cloned().unwrap_or_default();
    rows.iter().find_map(|row| {
        times.iter().find_map(|slot| {
            time_refusal(&cell(row, slot.column), row.line, &slot.heading, settings)
        })
    })
}

/// A refusal where a time can be read in two ways, and a flag would settle it.
fn time_refusal(cell: &str, line: u64, heading: &str, settings: &Settings) -> Option<Refusal> {
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
