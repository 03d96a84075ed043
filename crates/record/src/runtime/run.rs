//! One run of a filter: its input line by line, its output, its exit status.

use super::{Filter, Gate, Input, Line, broken, by_problems, failure, open};
use crate::contract::{Code, Place, Problem};
use crate::diagnose::{Trouble, diagnose};
use crate::kind::{Kind, Record};
use crate::lines::{Block, LINE_MAX, Lines};
use crate::output::{Out, State};
use crate::scan::{self, Peek};
use crate::whole::Whole;
use std::fs::File;
use std::io;
use std::process::ExitCode;

/// A filter with its input and output.
pub(super) struct Run<F> {
    filter: F,
    out: Out,
    whole: Whole,
    input: Input,
    /// Ids seen before this run signed its start; none until it has.
    begun: Option<usize>,
    line: u64,
    /// Number of a last line that breaks off.
    torn: Option<u64>,
}

/// What a line turned out to be.
#[expect(clippy::large_enum_variant, reason = "lives on the stack, one at a time")]
enum Seen<'a> {
    /// A record that the filter or the runtime reads.
    Read(Record<'a>),
    /// A record of a known kind that nobody here reads.
    Known(Kind),
    /// A record of another kind.
    Stranger(crate::text::Text<'a>),
    /// Nothing but white space.
    Blank,
    /// Not a record, or not one of its kind.
    Bad(Trouble),
}

impl<F: Filter> Run<F> {
    pub(super) fn new(filter: F, out: Out) -> Self {
        let (whole, input) = (Whole::default(), Input::default());
        Self { filter, out, whole, input, begun: None, line: 0, torn: None }
    }

    /// Reads all files, and returns the exit status.
    pub(super) fn all(mut self, files: &[String], strict: bool) -> ExitCode {
        let mut bytes = 0;
        let stdin = ["-".to_owned()];
        for name in if files.is_empty() { &stdin } else { files } {
            self.line = 0;
            let read = open(name).and_then(|file| self.source((name != "-").then_some(name), file));
            match read {
                Ok(n) => bytes += n,
                Err(error) => {
                    let place = if name == "-" { "standard input" } else { name };
                    self.input.cut.get_or_insert(format!("{place} could not be read: {error}"));
                }
            }
            if !matches!(self.out.state(), State::Open) {
                return broken(&self.out);
            }
        }
        self.sign();
        let fault = self.whole.fault();
        let torn = self.torn.map(|line| format!("line {line} breaks off"));
        let empty = (bytes == 0).then(|| {
            "it is empty, not even signed: whatever should have written it did not".to_owned()
        });
        self.input.cut = self.input.cut.take().or(fault).or(torn).or(empty);
        self.finish(strict)
    }

    fn finish(mut self, strict: bool) -> ExitCode {
        let gate = self.filter.finish(&self.input, &mut self.out);
        let cut = self.input.cut.as_deref();
        if let Some(why) = cut {
            self.out.tell(&format!("input cut short: {why}"));
        }
        self.out.end(&self.whole, self.begun.unwrap_or(0), &self.input.read, cut, None);
        self.out.flush();
        if !matches!(self.out.state(), State::Open) {
            return broken(&self.out);
        }
        let met = self.out.problem_total() + self.input.read.of(Kind::Problem);
        match gate {
            Err(message) => failure(F::ABOUT.name, &message),
            Ok(_) if cut.is_some() => ExitCode::from(3),
            Ok(Gate::Shut(why)) => {
                self.out.tell(&why);
                ExitCode::from(1)
            }
            Ok(Gate::Open) => by_problems(&self.out, met, strict),
        }
    }

    /// Signs the start, once.
    fn sign(&mut self) {
        if self.begun.is_none() {
            self.begun = Some(self.whole.seen().len());
            self.out.begin(&self.whole, None);
        }
    }

    /// Reads one source to its end; the number of bytes in it.
    fn source(&mut self, name: Option<&String>, file: File) -> io::Result<u64> {
        let mut lines = Lines::new(file);
        let mut bytes = 0;
        let name = name.map(String::as_str);
        loop {
            let out = &mut self.out;
            let block = lines.next_block(|file| {
                out.flush_before_wait(file);
                Ok(())
            })?;
            match block {
                None => return Ok(bytes),
                Some(Block::TooLong(head, length)) => {
                    bytes += length;
                    self.line += 1;
                    self.too_long(Place { file: name, line: self.line }, head, length);
                }
                Some(Block::Lines(block)) => {
                    bytes += block.len() as u64;
                    match simdutf8::basic::from_utf8(block) {
                        Ok(text) => self.lines(name, text),
                        Err(_) => self.odd_lines(name, block),
                    }
                }
            }
            if !matches!(self.out.state(), State::Open) {
                return Ok(bytes);
            }
        }
    }

    fn too_long(&mut self, place: Place<'_>, head: &[u8], length: u64) {
        self.sign();
        let mut problem = over_long(length).problem(place, head);
        problem.raw_bytes = Some(crate::quantity::Count(length));
        self.answer(&problem);
    }

    /// Answers a line that could not be used.
    fn answer(&mut self, problem: &Problem<'_>) {
        self.out.problem(problem);
        self.filter.answered(problem);
    }

    /// Lines of which at least one is not UTF-8.
    fn odd_lines(&mut self, name: Option<&str>, block: &[u8]) {
        for line in block.split_inclusive(|b| *b == b'\n') {
            match std::str::from_utf8(line) {
                Ok(text) => self.lines(name, text),
                Err(error) => {
                    self.line += 1;
                    self.sign();
                    if !line.ends_with(b"\n") {
                        self.torn.get_or_insert(self.line);
                    }
                    let found =
                        format!("a byte that is not UTF-8, at column {}", error.valid_up_to() + 1);
                    let trouble = Trouble::new(Code::NotUtf8, found, "UTF-8");
                    let place = Place { file: name, line: self.line };
                    let raw = line.strip_suffix(b"\n").unwrap_or(line);
                    self.answer(&trouble.problem(place, raw));
                }
            }
        }
    }

    /// Whole lines. Those that are passed on are gathered into runs, and a run is
    /// handed over at once when something else must be written, or at the end.
    fn lines(&mut self, name: Option<&str>, text: &str) {
        let bytes = text.as_bytes();
        let (mut run, mut start) = (0, 0);
        self.out.hold();
        while start < bytes.len() {
            let end = memchr::memchr(b'\n', &bytes[start..]).map_or(bytes.len(), |n| start + n + 1);
            self.line += 1;
            let raw = without_end(&text[start..end]);
            let line = Line { place: Place { file: name, line: self.line }, raw };
            let fits = self.begun.is_some() && end - start <= LINE_MAX;
            let reads = fits && F::READS.contains(&Kind::Diameter);
            let passes = if reads && let Some(reading) = scan::diameter(raw) {
                let passes = self.count(Kind::Diameter);
                self.filter.take(&Record::Diameter(reading), line, &mut self.out);
                passes
            } else {
                let whole = bytes[..end].ends_with(b"\n");
                let seen = if whole { see::<F>(raw, end - start) } else { see_last::<F>(raw) };
                if !whole && matches!(&seen, Seen::Bad(trouble) if trouble.code == Code::NotJson) {
                    self.torn.get_or_insert(self.line);
                }
                if self.begun.is_none() && !matches!(seen, Seen::Read(Record::Begin(_))) {
                    self.out.pass(&bytes[run..start]);
                    run = start;
                    self.sign();
                    self.out.release();
                }
                self.one(&seen, line)
            };
            if !passes || self.out.holds() {
                self.out.pass(&bytes[run..if passes { end } else { start }]);
                run = end;
                self.out.release();
            }
            start = end;
        }
        self.out.pass(&bytes[run..]);
        self.out.unhold();
    }

    /// One line: counts it, uses it, and says whether it is passed on.
    fn one(&mut self, seen: &Seen<'_>, line: Line<'_>) -> bool {
        match seen {
            Seen::Read(record) => {
                let kind = record.kind();
                let passes = self.count(kind);
                match record {
                    Record::Begin(begin) => self.whole.begin(begin),
                    Record::End(end) => self.whole.end(end),
                    _ => {}
                }
                if F::READS.contains(&kind) {
                    self.filter.take(record, line, &mut self.out);
                }
                passes
            }
            Seen::Known(kind) => self.count(*kind),
            Seen::Stranger(kind) => {
                self.input.read.add_stranger(kind);
                self.filter.stranger(kind, line, &mut self.out);
                let passes = !self.out.dropped().stranger(kind);
                if passes {
                    self.out.written().add_stranger(kind);
                }
                passes
            }
            Seen::Blank => {
                self.input.read.add_blank();
                self.out.written().add_blank();
                true
            }
            Seen::Bad(trouble) => {
                self.answer(&trouble.clone().problem(line.place, line.raw.as_bytes()));
                false
            }
        }
    }

    fn count(&mut self, kind: Kind) -> bool {
        self.input.read.add(kind);
        let passes = !self.out.dropped().kind(kind);
        if passes {
            self.out.written().add(kind);
        }
        passes
    }
}

/// A line without its line end.
#[inline]
fn without_end(line: &str) -> &str {
    let line = line.strip_suffix('\n').unwrap_or(line);
    line.strip_suffix('\r').unwrap_or(line)
}

/// Reads a last line without its line end. It may be the start of a record whose rest did
/// not arrive, so it is read in full even where nobody needs it.
fn see_last<F: Filter>(raw: &str) -> Seen<'_> {
    match see::<F>(raw, raw.len()) {
        unread @ (Seen::Known(_) | Seen::Stranger(_)) => {
            match serde_json::from_str::<serde::de::IgnoredAny>(raw) {
                Ok(_) => unread,
                Err(error) => Seen::Bad(crate::diagnose::not_json(&error)),
            }
        }
        seen => seen,
    }
}

fn over_long(length: u64) -> Trouble {
    Trouble::new(Code::TooLong, format!("a line of {length} bytes"), "at most 1 MiB a line")
}

/// Reads a line as far as the filter or the runtime needs it. `length` counts its
/// line end too.
fn see<F: Filter>(raw: &str, length: usize) -> Seen<'_> {
    if length > LINE_MAX {
        return Seen::Bad(over_long(length as u64));
    }
    match scan::peek(raw) {
        Peek::Known(kind)
            if F::READS.contains(&kind) || matches!(kind, Kind::Begin | Kind::End) =>
        {
            if scan::depth(raw) > scan::DEPTH_MAX {
                return Seen::Bad(scan::too_deep());
            }
            match Record::parse(kind, raw) {
                Ok(record) => Seen::Read(record),
                Err(error) => Seen::Bad(diagnose(kind, raw, &error)),
            }
        }
        Peek::Known(kind) => Seen::Known(kind),
        Peek::Stranger(kind) => Seen::Stranger(kind),
        Peek::Blank => Seen::Blank,
        Peek::Bad(trouble) => Seen::Bad(trouble),
    }
}
