//! What a person looks at in the morning: one report of everything in a stream.
//!
//! The way through: [`collect`] keeps a bounded part of the stream, [`compose`] makes a
//! [`document`] of it with each [`figure`], [`text`], [`markdown`] and [`html`] render the
//! document, [`tables`] and [`workbook`] write the records themselves as they pass, [`junit`]
//! shows verdicts as tests, [`gate`] decides whether a job may go on.

mod collect;
mod compose;
mod document;
mod earlier;
mod figure;
mod gate;
#[cfg(test)]
mod hostile;
mod html;
mod junit;
mod keep;
mod markdown;
mod numbers;
mod options;
mod rows;
mod tables;
mod text;
mod workbook;
mod write;

pub use options::{Decimal, Format, Options};

use collect::{Collected, Ended, Pictures, Standing};
use compose::Depth;
use document::Document;
use earlier::Earlier;
use secondmelt_record::{About, Class, Filter, Gate, Input, Kind, Line, Out, Problem, Record, run};
use std::io::ErrorKind;
use tables::Tables;
use workbook::Workbook;

/// The filter.
#[derive(Debug)]
pub struct Report {
    options: Options,
    collected: Collected,
    tables: Option<Tables>,
    workbook: Option<Workbook>,
}

impl Filter for Report {
    type Options = Options;

    const ABOUT: About = About {
        name: "report",
        version: env!("CARGO_PKG_VERSION"),
        summary: "Reports what a stream of records says: first what needs a person, then each lot, step and machine",
        example: "report tests/golden/report/stream.jsonl",
    };
    const READS: &'static [Kind] = Kind::ALL;
    const STREAM: bool = false;

    fn new(options: Options) -> Result<Self, String> {
        options.check()?;
        let format = tables::Format::new(options.csv_delimiter, options.csv_decimal);
        let tables = options.csv.as_ref().map(|dir| Tables::new(dir, format));
        let workbook = options.xlsx.as_ref().map(|path| Workbook::new(path));
        let collected = Collected {
            pictures: options.draws().then(Box::<Pictures>::default),
            standing: options.since.is_some().then(Standing::default),
            ..Collected::default()
        };
        Ok(Self { options, collected, tables, workbook })
    }

    fn take(&mut self, record: &Record<'_>, line: Line<'_>, _out: &mut Out) {
        self.collected.take(record);
        // Raw readings, of which there may be millions, are counted and drawn.
        if !matches!(record, Record::Diameter(_)) {
            self.row(record.kind(), line.raw);
        }
    }

    fn answered(&mut self, problem: &Problem<'_>) {
        self.collected.met(problem);
        if let Ok(raw) = serde_json::to_string(problem) {
            self.row(Kind::Problem, &raw);
        }
    }

    fn finish(&mut self, input: &Input, out: &mut Out) -> Result<Gate, String> {
        let ended = Ended::new(input);
        // All that can be written is written, even where one of them fails.
        let (earlier, read) = match self.options.since.as_deref().map(Earlier::read).transpose() {
            Ok(earlier) => (earlier, Ok(())),
            Err(why) => (None, Err(why)),
        };
        let report = |depth| {
            compose::report(&self.options.title, &self.collected, &ended, earlier.as_ref(), depth)
        };
        let text = report(Depth::TEXT);
        let page = self.options.draws().then(|| report(Depth::PAGE));
        let cut = ended.cut.as_deref();
        let files = self.files(&text, page.as_ref(), &ended);
        let tables = self.tables.take().map_or(Ok(()), |t| t.finish(cut));
        let workbook = self.workbook.take().map_or(Ok(()), |w| w.finish(cut));
        let printed = self.print(&text, page.as_ref(), out);
        read.and(files).and(tables).and(workbook).and(printed)?;
        if !self.options.gates() {
            return Ok(Gate::Open);
        }
        Ok(gate::gate(&self.collected, &self.options))
    }
}

impl Report {
    /// Keeps a record for the tables.
    fn row(&mut self, kind: Kind, line: &str) {
        if let Some(tables) = &mut self.tables {
            tables.take(kind, line);
        }
        if let Some(workbook) = &mut self.workbook {
            workbook.take(kind, line);
        }
        if let Some(pictures) = &mut self.collected.pictures
            && kind.class() == Class::Finding
        {
            pictures.row(kind, line);
        }
    }

    fn files(&self, text: &Document, page: Option<&Document>, ended: &Ended) -> Result<(), String> {
        let options = &self.options;
        let write = |path: &Option<std::path::PathBuf>, text: &dyn Fn() -> String| {
            path.as_ref().map_or(Ok(()), |path| write::whole(path, &text()))
        };
        let plain = write(&options.text, &|| text::render(text, self.style(None)));
        let markdown = write(&options.markdown, &|| markdown::render(text));
        let html = write(&options.html, &|| page.map(html::render).unwrap_or_default());
        let junit =
            write(&options.junit, &|| junit::render(&options.title, &self.collected, ended));
        plain.and(markdown).and(html).and(junit)
    }

    fn print(
        &self,
        document: &Document,
        page: Option<&Document>,
        out: &mut Out,
    ) -> Result<(), String> {
        let Some(format) = self.options.printed() else { return Ok(()) };
        let text = match format {
            Format::Text => text::render(document, self.style(out.terminal_columns())),
            Format::Markdown => markdown::render(document),
            Format::Html => page.map(html::render).unwrap_or_default(),
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
