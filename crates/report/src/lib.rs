//! What a person looks at in the morning: one report of everything in a stream.
//!
//! The way through: [`collect`] keeps a bounded part of the stream, [`compose`] makes a
//! [`document`] of it, [`text`] and [`markdown`] render the document, [`tables`] writes
//! the records themselves as they pass, [`gate`] decides whether a job may go on.

mod collect;
mod compose;
mod document;
mod gate;
#[cfg(test)]
mod hostile;
mod html;
mod junit;
mod keep;
mod markdown;
mod numbers;
mod options;
mod tables;
mod text;
mod write;

pub use options::{Decimal, Format, Options};

use collect::{Collected, Ended};
use document::Document;
use secondmelt_record::{About, Filter, Gate, Input, Kind, Line, Out, Problem, Record, run};
use std::io::ErrorKind;
use tables::Tables;

/// Every kind but the raw readings, of which there may be millions.
const KINDS: [Kind; Kind::ALL.len() - 1] = {
    let mut kinds = [Kind::Lot; Kind::ALL.len() - 1];
    let (mut from, mut to) = (0, 0);
    while from < Kind::ALL.len() {
        if Kind::ALL[from] as usize != Kind::Diameter as usize {
            kinds[to] = Kind::ALL[from];
            to += 1;
        }
        from += 1;
    }
    kinds
};

/// The filter.
#[derive(Debug)]
pub struct Report {
    options: Options,
    collected: Collected,
    tables: Option<Tables>,
}

impl Filter for Report {
    type Options = Options;

    const ABOUT: About = About {
        name: "report",
        version: env!("CARGO_PKG_VERSION"),
        summary: "Reports what a stream of records says: first what needs a person, then each lot, step and machine",
        example: "report tests/golden/report/stream.jsonl",
    };
    const READS: &'static [Kind] = &KINDS;
    const STREAM: bool = false;

    fn new(options: Options) -> Result<Self, String> {
        options.check()?;
        let format = tables::Format::new(options.csv_delimiter, options.csv_decimal);
        let tables = options.csv.as_ref().map(|dir| Tables::new(dir, format));
        Ok(Self { options, collected: Collected::default(), tables })
    }

    fn take(&mut self, record: &Record<'_>, line: Line<'_>, _out: &mut Out) {
        self.collected.take(record);
        if let Some(tables) = &mut self.tables {
            tables.take(record.kind(), line.raw);
        }
    }

    fn answered(&mut self, problem: &Problem<'_>) {
        self.collected.met(problem);
        if let (Some(tables), Ok(raw)) = (&mut self.tables, serde_json::to_string(problem)) {
            tables.take(Kind::Problem, &raw);
        }
    }

    fn finish(&mut self, input: &Input, out: &mut Out) -> Result<Gate, String> {
        let ended = Ended::new(input);
        let document = compose::report(&self.options.title, &self.collected, &ended);
        // All that can be written is written, even where one of them fails.
        let files = self.files(&document).and(self.junit(ended.cut.as_deref()));
        let tables = self.tables.take().map_or(Ok(()), |t| t.finish(ended.cut.as_deref()));
        let printed = self.print(&document, out);
        files.and(tables).and(printed)?;
        Ok(if self.options.gate || self.options.gate_undecided {
            gate::gate(&self.collected, self.options.gate_undecided, &self.options.gate_ignore)
        } else {
            Gate::Open
        })
    }
}

impl Report {
    fn files(&self, document: &Document) -> Result<(), String> {
        let text =
            self.options.text.as_ref().map_or(Ok(()), |path| {
                write::whole(path, &text::render(document, self.style(None)))
            });
        let markdown = self
            .options
            .markdown
            .as_ref()
            .map_or(Ok(()), |path| write::whole(path, &markdown::render(document)));
        let html = self
            .options
            .html
            .as_ref()
            .map_or(Ok(()), |path| write::whole(path, &html::render(document)));
        text.and(markdown).and(html)
    }

    fn junit(&self, cut: Option<&str>) -> Result<(), String> {
        let Some(path) = &self.options.junit else { return Ok(()) };
        write::whole(path, &junit::render(&self.options.title, &self.collected, cut))
    }

    fn print(&self, document: &Document, out: &mut Out) -> Result<(), String> {
        let Some(format) = self.options.printed() else { return Ok(()) };
        let text = match format {
            Format::Text => text::render(document, self.style(out.terminal_columns())),
            Format::Markdown => markdown::render(document),
        };
        match out.print(&text) {
            // Whoever reads has seen enough.
            Err(error) if error.kind() == ErrorKind::BrokenPipe => Ok(()),
            written => written.map_err(|e| format!("standard output could not be written: {e}")),
        }
    }

    /// How text is laid out; `terminal` is the width of the one it goes to, if it does.
    fn style(&self, terminal: Option<u16>) -> text::Style {
        let set = |name: &str| std::env::var(name).ok().filter(|v| !v.is_empty());
        let columns = set("COLUMNS").and_then(|v| v.parse().ok()).filter(|n| *n >= 40);
        let width = self.options.width.or(columns).or(terminal.filter(|n| *n >= 40)).unwrap_or(80);
        let plain = set("NO_COLOR").is_some() || set("TERM").is_some_and(|t| t == "dumb");
        text::Style { width: usize::from(width), colour: terminal.is_some() && !plain }
    }
}

/// The program.
pub fn main() -> std::process::ExitCode {
    run::<Report>()
}
