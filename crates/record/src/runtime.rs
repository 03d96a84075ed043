//! What every filter shares: options, reading, passing on, signing, exit status.
//! A filter itself is a [`Filter`]: it takes records and writes findings.

mod run;

use crate::contract::{Code, Place, Problem};
use crate::diagnose::Trouble;
use crate::kind::{Kind, Record};
use crate::output::{Dropped, Identity, Out, State, say};
use crate::tally::Tally;
use clap::{CommandFactory, FromArgMatches, Parser};
use run::Run;
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

/// The exit status of a run whose output is no longer open: quiet where its reader closed.
pub fn broken(out: &Out) -> ExitCode {
    match out.state() {
        State::Failed(error) => {
            failure(out.program(), &format!("standard output could not be written: {error}"))
        }
        State::Open | State::Closed => ExitCode::SUCCESS,
    }
}

/// The exit status of a run that met so many problems and otherwise went well.
pub fn by_problems(out: &Out, met: u64, strict: bool) -> ExitCode {
    if !strict || met == 0 {
        return ExitCode::SUCCESS;
    }
    out.tell(&format!("{met} problem{} (--strict)", if met == 1 { "" } else { "s" }));
    ExitCode::from(1)
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
