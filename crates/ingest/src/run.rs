//! One run: every source in turn, then the signature.

use crate::follow::Follow;
use crate::options::Format;
use crate::plan::refusal;
use crate::settings::Settings;
use crate::sink::Sink;
use crate::source::Source;
use crate::stop::Stop;
use crate::table;
use encoding_rs::Encoding;
use secondmelt_record::contract::Consumed;
use secondmelt_record::lines::Lines;
use secondmelt_record::output::State;
use secondmelt_record::runtime::{broken, by_problems, open};
use secondmelt_record::tally::Tally;
use secondmelt_record::text::Text;
use secondmelt_record::whole::Whole;
use secondmelt_record::{Code, Count, Out, Problem};
use std::marker::PhantomData;
use std::process::ExitCode;

/// One run.
pub(crate) struct Run {
    settings: Settings,
    out: Out,
    follow: Option<Follow>,
    consumed: Vec<Consumed<'static>>,
    /// Why not all was read; none where it was.
    cut: Option<String>,
}

impl Run {
    pub(crate) fn new(settings: Settings, out: Out, follow: Option<Follow>) -> Self {
        Self { settings, out, follow, consumed: Vec::new(), cut: None }
    }

    /// Reads every file; the exit status.
    pub(crate) fn run(mut self, files: &[String], strict: bool) -> ExitCode {
        let stdin = ["-".to_owned()];
        let files = if files.is_empty() { &stdin } else { files };
        self.out.begin(&Whole::default(), Some(files));
        for file in files {
            self.source(file);
            if !matches!(self.out.state(), State::Open) {
                return broken(&self.out);
            }
        }
        let cut = self.cut.as_deref();
        if let Some(why) = cut {
            self.out.tell(&format!("not all was read: {why}"));
        }
        let problems = self.out.problem_total();
        self.out.end(&Whole::default(), 0, &Tally::default(), cut, Some(self.consumed.clone()));
        self.out.flush();
        if !matches!(self.out.state(), State::Open) {
            return broken(&self.out);
        }
        if self.cut.is_some() {
            return ExitCode::from(3);
        }
        by_problems(&self.out, problems, strict)
    }

    fn source(&mut self, name: &str) {
        let mut sink = Sink::new(&mut self.out, name);
        let done = match open(name) {
            Err(error) => Err(Stop::from(error)),
            Ok(file) => {
                let source = Source::new(file, self.follow.clone());
                let (done, bytes, sha256) = table_of(source, &self.settings, &mut sink);
                self.consumed.push(Consumed {
                    file: Text::from(name.to_owned()),
                    bytes: Count(bytes),
                    sha256: Text::from(sha256),
                    records: Count(sink.records),
                    life: PhantomData,
                });
                done
            }
        };
        if let Err(stop) = done {
            let place = if name == "-" { "standard input" } else { name };
            let why = give_up(stop, place, &mut sink);
            self.cut.get_or_insert(why);
        }
    }
}

/// Writes the problem that ended the reading of a source, and says it in short.
fn give_up(stop: Stop, place: &str, sink: &mut Sink<'_>) -> String {
    match stop {
        Stop::Refused(problem) => {
            let code = problem.code;
            sink.problem(*problem);
            format!("{place} was refused ({code})")
        }
        Stop::Lost(why) => {
            sink.problem(*refusal(
                Code::Unreadable,
                why,
                "a file that only grows",
                "what was in it until then has been read; follow the new one by another run",
            ));
            format!("{place}: {why}")
        }
        Stop::Unreadable(error) => {
            sink.problem(*refusal(
                Code::Unreadable,
                error.clone(),
                "a file that can be read",
                "look at its name, its rights and its format",
            ));
            format!("{place} could not be read: {error}")
        }
    }
}

/// Reads one source by its format; how that ended, its bytes and their SHA-256.
fn table_of(
    mut source: Source,
    settings: &Settings,
    sink: &mut Sink<'_>,
) -> (Result<(), Stop>, u64, String) {
    let (format, odd) = match source.sniff(sink.out) {
        Ok(start) => (format_of(settings, sink.file, start), not_text(start)),
        Err(error) => return (Err(error.into()), source.bytes(), source.sha256()),
    };
    if matches!(format, Format::Xlsx | Format::Ods) {
        let done = crate::sheet::read(&mut source, format, settings, sink);
        return (done, source.bytes(), source.sha256());
    }
    if let Some(refusal) = odd.filter(|_| settings.encoding.is_none()) {
        return (Err(Stop::Refused(refusal)), source.bytes(), source.sha256());
    }
    if let Some(assumed) = source.settle(settings.encoding) {
        sink.tell(assumed);
    }
    let mut lines = Lines::new(source);
    let done = match format {
        Format::Jsonl => crate::json_lines::read(&mut lines, settings, sink),
        _ => table::read(&mut lines, settings, sink),
    };
    let done = done.and_then(|()| match lines.source().lost() {
        Some(why) => Err(Stop::Lost(why)),
        None => Ok(()),
    });
    (done, lines.source().bytes(), lines.source().sha256())
}

/// The format that is stated, else that of the extension, else that of the content.
fn format_of(settings: &Settings, name: &str, start: &[u8]) -> Format {
    if let Some(stated) = settings.format {
        return stated;
    }
    let extension = name.rsplit_once('.').map(|(_, e)| e.to_ascii_lowercase());
    match extension.as_deref() {
        Some("csv" | "tsv" | "tab") => Format::Csv,
        Some("jsonl" | "ndjson" | "json") => Format::Jsonl,
        Some("xlsx") => Format::Xlsx,
        Some("ods") => Format::Ods,
        _ if start.starts_with(b"PK\x03\x04") => {
            let is_ods = start.get(30..).is_some_and(|rest| {
                rest.starts_with(b"mimetypeapplication/vnd.oasis.opendocument.spreadsheet")
            });
            if is_ods { Format::Ods } else { Format::Xlsx }
        }
        _ if start.trim_ascii_start().starts_with(b"{") => Format::Jsonl,
        _ => Format::Csv,
    }
}

/// Why bytes are not lines of text that could be read without being told more.
fn not_text(start: &[u8]) -> Option<Box<Problem<'static>>> {
    let marked = Encoding::for_bom(start).is_some();
    let zeros = start.iter().filter(|b| **b == 0).count();
    if !marked && zeros > start.len() / 4 {
        return Some(refusal(
            Code::Unreadable,
            "zero bytes, as UTF-16 has them and other text has not",
            "text, or a workbook",
            "if it is UTF-16 without a mark, say --encoding utf-16le (or utf-16be)",
        ));
    }
    let old_ends = start.trim_ascii_end().contains(&b'\r') && !start.contains(&b'\n');
    old_ends.then(|| {
        refusal(
            Code::Unreadable,
            "lines that end with a carriage return alone",
            "lines that end with a line feed",
            "save it with line ends LF or CRLF",
        )
    })
}
