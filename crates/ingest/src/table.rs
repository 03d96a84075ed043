//! Tables of separated values, from a head that is looked at to rows that stream.

use crate::body::Body;
use crate::head::{self, Header, Start};
use crate::plan::{Plan, listed, refusal};
use crate::settings::Settings;
use crate::sink::Sink;
use crate::source::{Source, next_block};
use crate::split::head_rows;
use crate::stop::Stop;
use crate::unused;
use secondmelt_record::lines::{Block, Lines};
use secondmelt_record::{Code, Count, Problem};

/// How much of a file is looked at before it is refused.
const HEAD_MAX: usize = 128 << 10;

/// Reads a table to its end.
///
/// # Errors
/// Why it was refused or could not be read on.
pub(crate) fn read(
    lines: &mut Lines<Source>,
    settings: &Settings,
    sink: &mut Sink<'_>,
) -> Result<(), Stop> {
    let mut head = Vec::new();
    let mut end = false;
    let start = loop {
        if let Some(start) = start(&head, end, settings)? {
            break start;
        }
        if end {
            if sink.rows == 0 {
                sink.problem(*empty_file());
            }
            return Ok(());
        }
        end = !more(lines, &mut head, sink)?;
    };
    announce(&start, settings, sink);
    let mut body = Body::new(&start, settings, lines.source());
    body.block(head.get(start.header.end..).unwrap_or_default(), sink)?;
    drop(head);
    while sink.open() && body.next(lines, sink)? {}
    body.finish(sink);
    no_rows(&start.header, sink);
    Ok(())
}

/// Says so where a header had no row below it.
pub(crate) fn no_rows(header: &Header, sink: &mut Sink<'_>) {
    if sink.rows == 0 {
        sink.problem(*refusal(
            Code::NoRows,
            format!("a header in line {} and no row", header.line),
            "rows below the header",
            "look whether the export was complete",
        ));
    }
}

/// What the head of a file settles; none where more must be read.
fn start(head: &[u8], end: bool, settings: &Settings) -> Result<Option<Start>, Stop> {
    let full = end || head.len() >= HEAD_MAX;
    let Some(header) = head::find(head, settings) else {
        return if full && !is_blank(head) { Err(no_header(head, settings)) } else { Ok(None) };
    };
    let below = head.get(header.end..).unwrap_or_default();
    if !full && (!header.all || below.is_empty()) {
        return Ok(None);
    }
    if header.fields == 0 {
        return Err(no_header(head, settings));
    }
    let mut rows = head_rows(below, header.delimiter, usize::MAX);
    rows.iter_mut().for_each(|row| row.line += header.lines);
    head::settle(header, &rows, full, settings)
}

/// Appends the next block to the head; false at the end. The line count is kept where
/// a line is too long to be kept itself.
fn more(lines: &mut Lines<Source>, head: &mut Vec<u8>, sink: &mut Sink<'_>) -> Result<bool, Stop> {
    let block = next_block(lines, sink.out)?;
    match block {
        None => return Ok(false),
        Some(Block::Lines(block)) => head.extend_from_slice(block),
        Some(Block::TooLong(start, length)) => {
            let line = head.iter().filter(|b| **b == b'\n').count() as u64 + 1;
            sink.too_long(line, start, length);
            head.push(b'\n');
        }
    }
    Ok(true)
}

fn is_blank(head: &[u8]) -> bool {
    head.iter().all(u8::is_ascii_whitespace)
}

/// The problem of a file that holds nothing.
pub(crate) fn empty_file() -> Box<Problem<'static>> {
    refusal(Code::EmptyFile, "nothing", "a header and rows", "look whether the export was complete")
}

/// Why a file without any known heading is refused.
fn no_header(head: &[u8], settings: &Settings) -> Stop {
    if let Some(line) = settings.header_line {
        return Stop::Refused(refusal(
            Code::MissingColumn,
            format!("no heading of a field of {} in line {line}", settings.kind),
            "the header in that line",
            "put --header-line right, or leave it out",
        ));
    }
    let rows = [b'\t', b';', b',']
        .iter()
        .filter(|d| settings.delimiter.is_none_or(|stated| stated == **d))
        .map(|d| crate::split::head_rows(head, *d, 50))
        .filter_map(|rows| rows.into_iter().find(|r| r.cells.iter().any(|c| !c.is_empty())))
        .max_by_key(|row| row.cells.len());
    let (line, cells) = rows.map_or((1, Vec::new()), |row| (row.line, row.cells));
    let nothing =
        Plan::new(&Settings { columns: Vec::new(), units: Vec::new(), ..settings.clone() }, &[]);
    match nothing.ok().and_then(|plan| plan.missing_column(&cells)) {
        Some(mut problem) => {
            problem.line = Some(Count(line));
            Stop::Refused(problem)
        }
        None => Stop::Refused(refusal(
            Code::MissingColumn,
            listed(&cells),
            format!("columns with names of fields of {}", settings.kind),
            "name them by --column FIELD=HEADER",
        )),
    }
}

/// Tells what was skipped and what is ignored.
pub(crate) fn announce(start: &Start, settings: &Settings, sink: &Sink<'_>) {
    let header = &start.header;
    if header.above > 0 {
        let lines = if header.above == 1 { "line" } else { "lines" };
        sink.tell(&format!(
            "{} {lines} above the header (line {}) skipped",
            header.above, header.line
        ));
    }
    if let Some(cell) = &start.assumed {
        sink.tell(&format!(
            "every number is like {cell:?}; its point is taken for a decimal point (if it groups digits, say --thousands point)"
        ));
    }
    if settings.speed.is_some() && start.plan.has_positions() {
        sink.tell("line speed not used, since there is a column for position_m");
    }
    if let Some(what) = unused::note(&start.plan.unmatched, &start.plan, settings) {
        sink.tell(&what);
    }
}
