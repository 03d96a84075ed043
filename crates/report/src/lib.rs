//! What a person looks at in the morning: one report of everything in a stream.
//!
//! The way through: [`collect`] keeps a bounded part of the stream, [`compose`] makes a
//! [`document`] of it with each [`figure`], [`text`], [`markdown`] and [`html`] render the
//! document, [`tables`] and [`workbook`] write the records themselves as they pass, [`junit`]
//! shows verdicts as tests, [`gate`] decides whether a job may go on.

mod clock;
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
use earlier::Earlier;
use secondmelt_record::{About, Class, Filter, Gate, Input, Kind, Line, Out, Problem, Record, run};
use std::io::ErrorKind;
use tables::Tables;
use workbook::Workbook;

/// Bytes of a page, at the most: more would be slow to open on a phone.
const PAGE_MAX: usize = 3 << 20;

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
        // One after the other, so that only one of them is in memory.
        let words = self.words(&ended, earlier.as_ref(), out);
        let page = self.page(&ended, earlier.as_ref(), out);
        let junit = self.options.junit.as_ref().map_or(Ok(()), |path| {
            write::whole(path, &junit::render(&self.options.title, &self.collected, &ended))
        });
        let cut = ended.cut.as_deref();
        let tables = self.tables.take().map_or(Ok(()), |t| t.finish(cut));
        let workbook = self.workbook.take().map_or(Ok(()), |w| w.finish(cut));
        read.and(words).and(page).and(junit).and(tables).and(workbook)?;
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

    /// Writes and prints the report as text and as Markdown.
    fn words(&self, ended: &Ended, earlier: Option<&Earlier>, out: &mut Out) -> Result<(), String> {
        let options = &self.options;
        let printed = options.printed().filter(|format| *format != Format::Html);
        if options.text.is_none() && options.markdown.is_none() && printed.is_none() {
            return Ok(());
        }
        let document =
            &compose::report(&options.title, &self.collected, ended, earlier, Depth::TEXT);
        let text = options
            .text
            .as_ref()
            .map_or(Ok(()), |path| write::whole(path, &text::render(document, self.style(None))));
        let markdown = options
            .markdown
            .as_ref()
            .map_or(Ok(()), |path| write::whole(path, &markdown::render(document)));
        let printed = printed.map_or(Ok(()), |format| {
            let text = match format {
                Format::Markdown => markdown::render(document),
                _ => text::render(document, self.style(out.terminal_columns())),
            };
            print(&text, out)
        });
        text.and(markdown).and(printed)
    }

    /// Writes and prints the report as a page.
    fn page(&self, ended: &Ended, earlier: Option<&Earlier>, out: &mut Out) -> Result<(), String> {
        let options = &self.options;
        if !options.draws() {
            return Ok(());
        }
        let page = html::within(PAGE_MAX, |depth| {
            compose::report(&options.title, &self.collected, ended, earlier, depth)
        });
        let file = options.html.as_ref().map_or(Ok(()), |path| write::whole(path, &page));
        let printed = if options.format == Some(Format::Html) { print(&page, out) } else { Ok(()) };
        file.and(printed)
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

/// Prints a report to standard output.
fn print(text: &str, out: &mut Out) -> Result<(), String> {
    match out.print(text) {
        // Whoever reads has seen enough.
        Err(error) if error.kind() == ErrorKind::BrokenPipe => Ok(()),
        written => written.map_err(|e| format!("standard output could not be written: {e}")),
    }
}

/// The program.
pub fn main() -> std::process::ExitCode {
    run::<Report>()
}
