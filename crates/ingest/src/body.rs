//! The rows of a table of separated values, block by block.

use crate::cell::Fault;
use crate::fast::Fast;
use crate::head::{Header, Settled, Signs, Start};
use crate::number::Decimal;
use crate::plan::refusal;
use crate::row::{Row, Rows};
use crate::settings::Settings;
use crate::sink::Sink;
use crate::source::{Source, next_block};
use crate::split::{Quoted, cut, head_rows};
use crate::stop::Stop;
use secondmelt_record::Code;
use secondmelt_record::lines::{Block, LINE_MAX, Lines};
use std::cell::Cell;
use std::rc::Rc;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// The rows of a table.
pub(crate) struct Body<'a> {
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
    /// Set once bytes were met that are not of the encoding of the file.
    malformed: Rc<Cell<bool>>,
    /// Whether a row has been refused for such bytes.
    answered: bool,
    /// Set once following the file ends.
    stop: Option<Arc<AtomicBool>>,
}

impl<'a> Body<'a> {
    pub(crate) fn new(start: &'a Start, settings: &'a Settings, source: &Source) -> Self {
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
            malformed: source.malformed(),
            answered: false,
            stop: source.stop(),
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
    pub(crate) fn next(
        &mut self,
        lines: &mut Lines<Source>,
        sink: &mut Sink<'_>,
    ) -> Result<bool, Stop> {
        let block = next_block(lines, sink.out)?;
        match block {
            None => return Ok(false),
            Some(Block::Lines(block)) => {
                self.block(block, sink)?;
                sink.progress();
            }
            Some(Block::TooLong(start, length)) => {
                self.close(sink);
                self.line += 1;
                sink.too_long(self.line, start, length);
            }
        }
        Ok(true)
    }

    /// Whole lines.
    pub(crate) fn block(&mut self, block: &[u8], sink: &mut Sink<'_>) -> Result<(), Stop> {
        if self.decimal.is_none() {
            self.look(block)?;
        }
        let plain = simdutf8::basic::from_utf8(block).is_ok() && !self.is_torn(block);
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
            sink.too_long(self.line, raw.get(..1024).unwrap_or_default(), raw.len() as u64);
            return;
        }
        let Some(bare) = raw.strip_suffix(b"\n").or_else(|| (!self.stopped()).then_some(raw))
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
        if self.is_torn(bare) {
            return self.torn(self.line, text, sink);
        }
        cut(text, self.delimiter, &mut self.spans);
        self.rows.take(Row { text, spans: &self.spans, line: self.line, raw: text }, sink);
    }

    /// Whether text holds a sign that stands for bytes which could not be decoded.
    fn is_torn(&self, text: &[u8]) -> bool {
        self.malformed.get() && memchr::memmem::find(text, "\u{fffd}".as_bytes()).is_some()
    }

    /// A row that could not be decoded: what it said is not known.
    fn torn(&mut self, line: u64, raw: &str, sink: &mut Sink<'_>) {
        self.answered = true;
        sink.rows += 1;
        sink.row_problem(line, raw.as_bytes(), not_decoded());
    }

    fn stopped(&self) -> bool {
        self.stop.as_ref().is_some_and(|stop| stop.load(Ordering::Relaxed))
    }

    /// The last line where following ended: who writes it may not be done.
    fn half_written(&mut self, raw: &[u8], sink: &mut Sink<'_>) {
        self.close(sink);
        sink.rows += 1;
        let fault = Fault::new(
            Code::RaggedRow,
            "a last line without its line end, when following the file ended",
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
            if self.is_torn(&self.quoted.raw) {
                let line = self.quoted.line;
                let whole = self.quoted.give_back();
                return self.torn(line, String::from_utf8_lossy(&whole).trim_end(), sink);
            }
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

    /// Ends the row in hand. Bytes that could not be decoded above the first row are
    /// told here.
    pub(crate) fn finish(&mut self, sink: &mut Sink<'_>) {
        self.close(sink);
        if self.malformed.get() && !self.answered {
            let Fault { code, found, expected, advice } = not_decoded();
            sink.problem(*refusal(code, found, expected, advice.unwrap_or_default()));
        }
    }
}

/// What is wrong with text that could not be decoded.
pub(crate) fn not_decoded() -> Fault {
    let found = "bytes that do not belong to the encoding of the file, shown as U+FFFD";
    Fault::new(Code::NotUtf8, found, "text in that encoding throughout")
        .advice("name the right encoding by --encoding, or export the file again".to_owned())
}
