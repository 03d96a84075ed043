//! What every filter shares: options, reading, passing on, signing, exit status.
//! A filter itself is a [`Filter`]: it takes records and writes findings.

use crate::contract::{Code, Place, Problem};
use crate::diagnose::{Trouble, diagnose};
use crate::kind::{Kind, Record};
use crate::lines::{Block, LINE_MAX, Lines};
use crate::output::{Dropped, Identity, Out, State, say};
use crate::scan::{self, Peek};
use crate::tally::Tally;
use crate::whole::Whole;
use clap::{CommandFactory, FromArgMatches, Parser};
use std::fs::File;
use std::io;
use std::os::fd::AsFd;
use std::process::ExitCode;

/// What a program is, for its help and its signature.
#[derive(Debug, Clone, Copy)]
pub struct About {
    /// Name of the program.
    pub name: &'static str,
    /// Its version.
    pub version: &'static str,
    /// What it does, in one sentence.
    pub summary: &'static str,
    /// A command that works as it stands from the top of the repository.
    pub example: &'static str,
}

/// A filter: a type that takes the records it reads and writes findings.
pub trait Filter: Sized {
    /// Options of its own.
    type Options: clap::Args;
    /// What it is.
    const ABOUT: About;
    /// Kinds it reads. All others are passed on unread.
    const READS: &'static [Kind];
    /// Whether its output is a stream of records. Where not, nothing is passed on.
    const STREAM: bool = true;

    /// Makes the filter.
    ///
    /// # Errors
    /// What is wrong with the options, for the person who typed them.
    fn new(options: Self::Options) -> Result<Self, String>;

    /// Takes one record of a kind in [`Filter::READS`]. The line itself has been
    /// passed on; what is written comes right after it.
    fn take(&mut self, record: &Record<'_>, line: Line<'_>, out: &mut Out);

    /// Sees a record of a kind that is none of ours, of which only the kind has been
    /// looked at. It is passed on whatever the filter thinks of it.
    fn stranger(&mut self, _kind: &str, _line: Line<'_>, _out: &mut Out) {}

    /// Answers a question of the command line that needs no input, such as a list;
    /// none where the options ask no such thing, and the input is to be read.
    fn answer(_options: &Self::Options, _out: &mut Out) -> Option<ExitCode> {
        None
    }

    /// Told of a line that could not be used and that a problem has answered.
    fn answered(&mut self, _problem: &Problem<'_>) {}

    /// Called at the end of the input.
    ///
    /// # Errors
    /// Why a result could not be written.
    fn finish(&mut self, input: &Input, out: &mut Out) -> Result<Gate, String>;
}

/// What a gate says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Gate {
    /// Go on.
    Open,
    /// Stop, and why.
    Shut(String),
}

/// A line that was read.
#[derive(Debug, Clone, Copy)]
pub struct Line<'a> {
    /// Where it stood.
    pub place: Place<'a>,
    /// Its text, without the line end.
    pub raw: &'a str,
}

impl Line<'_> {
    /// A problem with this line.
    #[must_use]
    pub fn problem(
        &self,
        code: Code,
        found: impl Into<String>,
        expected: impl Into<String>,
    ) -> Problem<'static> {
        Trouble::new(code, found, expected).problem(self.place, self.raw.as_bytes())
    }

    /// The problem of a fact that differs from an earlier one of the same name, where the
    /// earlier one is used. `what` says what both describe, such as a step.
    #[must_use]
    pub fn contradiction(&self, what: &str, name: &str) -> Problem<'static> {
        let found = format!("another {what} named {name}");
        let mut problem = self.problem(Code::Contradiction, found, format!("one record a {what}"));
        problem.advice = Some("the first one is used; give each its own name or remove one".into());
        problem
    }
}

/// What is known of the input at its end.
#[derive(Debug, Default)]
pub struct Input {
    /// Lines read, by kind.
    pub read: Tally,
    /// Why the input is not whole; none where it is.
    pub cut: Option<String>,
}

/// Options that every filter has.
#[derive(Debug, Clone, clap::Args)]
pub struct Common {
    /// Leave records of this kind out of the output (repeatable), e.g. the raw readings
    #[arg(long, value_name = "KIND", global = true)]
    pub drop: Vec<String>,
    /// Exit with status 1 if any problem is met
    #[arg(long, global = true)]
    pub strict: bool,
}

#[derive(Debug, Parser)]
struct Cli<O: clap::Args> {
    #[command(flatten)]
    own: O,
    #[command(flatten)]
    common: Common,
    /// Files of records, read one after another; standard input if none, or for -
    #[arg(value_name = "FILE")]
    files: Vec<String>,
}

/// What every program says of exit statuses.
pub const STATUSES: &str = "Exit status: 0 done (problems in the data are records, not failures); 1 a gate said no; \
2 wrong usage; 3 input could not be read or was cut short, or output could not be written.";

impl About {
    /// The help that follows the options.
    #[must_use]
    pub fn after_help(&self) -> String {
        format!("Example:\n    {}\n\n{STATUSES}", self.example)
    }

    /// Puts name, summary and example into a command line.
    #[must_use]
    pub fn dress(&self, command: clap::Command) -> clap::Command {
        command
            .name(self.name)
            .version(self.version)
            .about(self.summary)
            .after_help(self.after_help())
    }

    /// The identity of a run with the options of the command line, `files` left out.
    #[must_use]
    pub fn identity(&self, files: &[String]) -> Identity {
        let mut options: Vec<String> =
            std::env::args_os().skip(1).map(|a| a.to_string_lossy().into_owned()).collect();
        // Files stand last as a rule, so a value that is spelled like one is left alone.
        for file in files.iter().rev() {
            if let Some(at) = options.iter().rposition(|option| option == file) {
                options.remove(at);
            }
        }
        Identity { program: self.name, version: self.version, options }
    }
}

/// Runs a filter as a program: reads the command line, the files or standard
/// input, and returns the exit status.
pub fn run<F: Filter>() -> ExitCode {
    let command = F::ABOUT.dress(Cli::<F::Options>::command());
    // What writes no records has none to leave out; a chain may still say --drop to all.
    let matches = command.mut_arg("drop", |drop| drop.hide(!F::STREAM)).get_matches();
    let cli = match Cli::<F::Options>::from_arg_matches(&matches) {
        Ok(cli) => cli,
        Err(error) => error.exit(),
    };
    let identity = F::ABOUT.identity(&cli.files);
    if let Some(status) = F::answer(&cli.own, &mut Out::nowhere(identity.clone())) {
        return status;
    }
    let filter = Dropped::new(&cli.common.drop).and_then(|dropped| Ok((F::new(cli.own)?, dropped)));
    let (filter, dropped) = match filter {
        Ok(made) => made,
        Err(message) => return usage(F::ABOUT.name, &message),
    };
    let out = if F::STREAM { Out::stdout(identity, dropped) } else { Ok(Out::nowhere(identity)) };
    match out {
        Ok(out) => Run::new(filter, out).all(&cli.files, cli.common.strict),
        Err(error) => failure(F::ABOUT.name, &format!("standard output: {error}")),
    }
}

/// Says what is wrong with the command line; the exit status for it.
pub fn usage(program: &str, message: &str) -> ExitCode {
    say(program, &format!("{message}\nTry '{program} --help'."));
    ExitCode::from(2)
}

/// Says why nothing could be read or written; the exit status for it.
pub fn failure(program: &str, message: &str) -> ExitCode {
    say(program, message);
    ExitCode::from(3)
}

struct Run<F> {
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
    fn new(filter: F, out: Out) -> Self {
        let (whole, input) = (Whole::default(), Input::default());
        Self { filter, out, whole, input, begun: None, line: 0, torn: None }
    }

    fn all(mut self, files: &[String], strict: bool) -> ExitCode {
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
                return self.broken();
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
            return self.broken();
        }
        let met = self.out.problem_total() + self.input.read.of(Kind::Problem);
        match gate {
            Err(message) => failure(F::ABOUT.name, &message),
            Ok(_) if cut.is_some() => ExitCode::from(3),
            Ok(Gate::Shut(why)) => {
                self.out.tell(&why);
                ExitCode::from(1)
            }
            Ok(Gate::Open) if strict && met > 0 => {
                self.out
                    .tell(&format!("{met} problem{} (--strict)", if met == 1 { "" } else { "s" }));
                ExitCode::from(1)
            }
            Ok(Gate::Open) => ExitCode::SUCCESS,
        }
    }

    /// The exit status once output cannot be written: quiet where its reader closed.
    fn broken(&self) -> ExitCode {
        match self.out.state() {
            State::Failed(error) => {
                failure(F::ABOUT.name, &format!("standard output could not be written: {error}"))
            }
            State::Open | State::Closed => ExitCode::SUCCESS,
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
        let Seen::Bad(trouble) = over_long(usize::try_from(length).unwrap_or(usize::MAX)) else {
            return;
        };
        let mut problem = trouble.problem(place, head);
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

fn over_long(length: usize) -> Seen<'static> {
    Seen::Bad(Trouble::new(
        Code::TooLong,
        format!("a line of {length} bytes"),
        "at most 1 MiB a line",
    ))
}

/// Reads a line as far as the filter or the runtime needs it. `length` counts its
/// line end too.
fn see<F: Filter>(raw: &str, length: usize) -> Seen<'_> {
    if length > LINE_MAX {
        return over_long(length);
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

/// Opens a source by its name; `-` is standard input.
///
/// # Errors
/// Where there is no such file, it is a directory, or it may not be read.
pub fn open(name: &str) -> io::Result<File> {
    if name == "-" {
        return Ok(File::from(io::stdin().as_fd().try_clone_to_owned()?));
    }
    let file = File::open(name)?;
    if file.metadata()?.is_dir() {
        return Err(io::Error::other("it is a directory, not a file"));
    }
    Ok(file)
}
