//! Tables of separated values, from a head that is looked at to rows that stream.

use crate::cell::Fault;
use crate::fast::Fast;
use crate::head::{self, Header, Settled, Signs, Start};
use crate::number::Decimal;
use crate::plan::{Plan, refusal};
use crate::row::{Row, Rows};
use crate::settings::Settings;
use crate::sink::Sink;
use crate::source::Source;
use crate::split::{Quoted, cut, head_rows};
use crate::stop::Stop;
use secondmelt_record::lines::{Block, LINE_MAX, Lines};
use secondmelt_record::{Code, Count, Problem};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

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
    let mut body = Body::new(&start, settings, lines.source().interrupt());
    body.block(head.get(start.header.end..).unwrap_or_default(), sink)?;
    drop(head);
    while sink.open() && body.next(lines, sink)? {}
    body.finish(lines.source(), sink);
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
    let out = &mut *sink.out;
    let block = lines.next_block(|source| {
        source.before_read(out);
        Ok(())
    })?;
    match block {
        None => return Ok(false),
        Some(Block::Lines(block)) => head.extend_from_slice(block),
        Some(Block::TooLong(start, length)) => {
            let line = head.iter().filter(|b| **b == b'\n').count() as u64 + 1;
            too_long(line, start, length, sink);
            head.push(b'\n');
        }
    }
    Ok(true)
}

pub(crate) fn too_long(line: u64, start: &[u8], length: u64, sink: &mut Sink<'_>) {
    let fault =
        Fault::new(Code::TooLong, format!("a line of {length} bytes"), "at most 1 MiB a line");
    let mut problem = crate::sink::row_problem(line, start, fault);
    problem.raw_bytes = Some(Count(length));
    sink.problem(problem);
    sink.rows += 1;
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
            format!("the columns {}", cells.join(", ")),
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
    tell_unmatched(&start.plan.unmatched, settings, sink);
}

/// Tells which columns are ignored.
pub(crate) fn tell_unmatched(unmatched: &[String], settings: &Settings, sink: &Sink<'_>) {
    if !unmatched.is_empty() {
        let columns = if unmatched.len() == 1 { "column" } else { "columns" };
        let kind = settings.kind;
        sink.tell(&format!(
            "{columns} not used, since no field of {kind} is left for it: {}",
            unmatched.join(", ")
        ));
    }
}

/// The rows of a table.
struct Body<'a> {
    settings: &'a Settings,
    rows: Rows<'a>,
    /// The short way, once the decimal sign is settled.
    fast: Option<Fast>,
    /// The decimal sign; none while no number has shown it.
    decimal: Option<Decimal>,
    quoted: Quoted,
    spans: Vec<(usize, usize)>,
    delimiter: u8,
    /// Lines so far.
    line: u64,
    /// Set where following the file was interrupted.
    interrupt: Option<Arc<AtomicBool>>,
}

impl<'a> Body<'a> {
    fn new(start: &'a Start, settings: &'a Settings, interrupt: Option<Arc<AtomicBool>>) -> Self {
        let Header { delimiter, lines, .. } = start.header;
        let mut body = Self {
            settings,
            rows: Rows::new(&start.plan, settings.reading(Decimal::Point)),
            fast: None,
            decimal: None,
            quoted: Quoted::new(delimiter),
            spans: Vec::new(),
            delimiter,
            line: lines,
            interrupt,
        };
        if let Some(decimal) = start.decimal {
            body.settle(decimal);
        }
        body
    }

    fn settle(&mut self, decimal: Decimal) {
        self.decimal = Some(decimal);
        self.rows.reading = self.settings.reading(decimal);
        self.fast = Fast::new(self.rows.plan, &self.rows.reading, self.delimiter);
    }

    /// Looks for the decimal sign in a block, while no number has shown it.
    fn look(&mut self, block: &[u8]) -> Result<(), Stop> {
        let mut signs = Signs::default();
        for row in head_rows(block, self.delimiter, usize::MAX) {
            signs.take(self.rows.plan, self.line + row.line, &row.cells, self.delimiter);
        }
        match signs.settled() {
            Settled::Is(decimal) => self.settle(decimal),
            Settled::Open => {}
            Settled::Ambiguous(refusal) => return Err(Stop::Refused(refusal)),
        }
        Ok(())
    }

    /// Reads one more block; false at the end.
    fn next(&mut self, lines: &mut Lines<Source>, sink: &mut Sink<'_>) -> Result<bool, Stop> {
        let out = &mut *sink.out;
        let block = lines.next_block(|source| {
            source.before_read(out);
            Ok(())
        })?;
        match block {
            None => return Ok(false),
            Some(Block::Lines(block)) => self.block(block, sink)?,
            Some(Block::TooLong(start, length)) => {
                self.close(sink);
                self.line += 1;
                too_long(self.line, start, length, sink);
            }
        }
        Ok(true)
    }

    /// Whole lines.
    fn block(&mut self, block: &[u8], sink: &mut Sink<'_>) -> Result<(), Stop> {
        if self.decimal.is_none() {
            self.look(block)?;
        }
        let plain = simdutf8::basic::from_utf8(block).is_ok();
        let mut at = 0;
        while at < block.len() {
            if plain && !self.quoted.is_open() {
                at = self.fast_rows(block, at, sink);
            }
            let rest = block.get(at..).unwrap_or_default();
            let end = memchr::memchr(b'\n', rest).map_or(rest.len(), |n| n + 1);
            if let Some(raw) = rest.get(..end).filter(|raw| !raw.is_empty()) {
                self.one_line(raw, sink);
            }
            at += end;
        }
        Ok(())
    }

    /// Takes rows the short way as long as it goes; where it ended.
    fn fast_rows(&mut self, block: &[u8], mut at: usize, sink: &mut Sink<'_>) -> usize {
        let Some(fast) = &mut self.fast else { return at };
        let before = sink.records;
        while let Some(next) = fast.row(block, at) {
            sink.record(self.rows.plan.kind, fast.record());
            at = next;
        }
        let rows = sink.records - before;
        sink.rows += rows;
        self.line += rows;
        at
    }

    fn one_line(&mut self, raw: &[u8], sink: &mut Sink<'_>) {
        self.line += 1;
        if raw.len() > LINE_MAX {
            self.close(sink);
            too_long(self.line, raw.get(..1024).unwrap_or_default(), raw.len() as u64, sink);
            return;
        }
        let Some(bare) = raw.strip_suffix(b"\n").or_else(|| (!self.interrupted()).then_some(raw))
        else {
            return self.half_written(raw, sink);
        };
        let text = match std::str::from_utf8(bare) {
            Ok(text) => text.strip_suffix('\r').unwrap_or(text),
            Err(error) => {
                self.close(sink);
                sink.rows += 1;
                let found =
                    format!("a byte that is not UTF-8, at column {}", error.valid_up_to() + 1);
                let fault = Fault::new(Code::NotUtf8, found, "UTF-8").advice(
                    "if the file has another encoding, say so, e.g. --encoding windows-1252"
                        .to_owned(),
                );
                sink.row_problem(self.line, bare, fault);
                return;
            }
        };
        if self.quoted.is_open() || memchr::memchr(b'"', bare).is_some() {
            return self.quoted_line(raw, sink);
        }
        cut(text, self.delimiter, &mut self.spans);
        self.rows.take(Row { text, spans: &self.spans, line: self.line, raw: text }, sink);
    }

    fn interrupted(&self) -> bool {
        self.interrupt.as_ref().is_some_and(|stop| stop.load(Ordering::Relaxed))
    }

    /// The last line where the reading was interrupted: who writes it may not be done.
    fn half_written(&mut self, raw: &[u8], sink: &mut Sink<'_>) {
        self.close(sink);
        sink.rows += 1;
        let fault = Fault::new(
            Code::RaggedRow,
            "a last line without its line end, when the reading was interrupted",
            "a whole line",
        );
        sink.row_problem(self.line, raw, fault);
    }

    /// A line with quotes, or within them.
    fn quoted_line(&mut self, raw: &[u8], sink: &mut Sink<'_>) {
        if self.quoted.raw.len() + raw.len() > LINE_MAX {
            self.close(sink);
            self.line -= 1;
            return self.one_line(raw, sink);
        }
        if !self.quoted.is_open() {
            self.quoted.line = self.line;
        }
        if self.quoted.feed(raw) {
            let text = self.quoted.cells(&mut self.spans);
            let whole = String::from_utf8_lossy(&self.quoted.raw);
            let row = Row {
                text,
                spans: &self.spans,
                line: self.quoted.line,
                raw: whole.trim_end_matches(['\n', '\r']),
            };
            self.rows.take(row, sink);
            self.quoted.give_back();
        }
    }

    /// Ends a row whose quote was never closed: its first line is a problem, and the
    /// others are read on their own.
    fn close(&mut self, sink: &mut Sink<'_>) {
        while self.quoted.is_open() {
            let (line, after) = (self.quoted.line, self.line);
            let lines = self.quoted.give_back();
            let cut = memchr::memchr(b'\n', &lines).map_or(lines.len(), |n| n + 1);
            let (first, rest) = lines.split_at_checked(cut).unwrap_or((&lines, &[]));
            let fault = Fault::new(
                Code::RaggedRow,
                "a quote that is not closed",
                "a closing quote before the end of the file, and within 1 MiB",
            );
            sink.rows += 1;
            sink.row_problem(line, first.trim_ascii_end(), fault);
            self.line = line;
            for raw in rest.split_inclusive(|b| *b == b'\n') {
                self.one_line(raw, sink);
            }
            self.line = after.max(self.line);
        }
    }

    fn finish(&mut self, source: &Source, sink: &mut Sink<'_>) {
        self.close(sink);
        if source.malformed {
            sink.problem(*refusal(
                Code::NotUtf8,
                "bytes that do not belong to the encoding of the file",
                "text in that encoding throughout",
                "they were read as U+FFFD; name the right encoding by --encoding",
            ));
        }
    }
}
