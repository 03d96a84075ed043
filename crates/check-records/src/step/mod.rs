//! Trying a step of somebody else's: it is run on built-in streams, and what it does
//! is held against the rules of the contract ([`rules`]).

mod added;
mod align;
mod material;
mod process;
mod rules;
mod trials;

use crate::answers::printed;
use process::{Ended, Running};
use rules::Findings;
use secondmelt_record::Out;
use secondmelt_record::runtime::{failure, usage};
use std::io;
use std::process::ExitCode;
use std::time::Duration;

/// A step to be tried.
pub(crate) struct Step<'a> {
    command: &'a str,
    patience: Duration,
}

impl Step<'_> {
    fn start(&self) -> io::Result<Running> {
        Running::start(self.command, self.patience)
    }

    /// Runs it on a whole input.
    fn run(&self, input: &[u8]) -> io::Result<Ended> {
        let mut running = self.start()?;
        running.feed(input);
        running.close();
        Ok(running.end())
    }
}

/// Tries a step and prints what was found; the exit status for it.
pub(crate) fn verdict(command: &str, patience_s: u64, out: &mut Out) -> ExitCode {
    let step = Step { command, patience: Duration::from_secs(patience_s) };
    let findings = match tried(&step) {
        Ok(findings) => findings,
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            return usage(out.program(), &format!("the step cannot be run: {error}"));
        }
        Err(error) => return failure(out.program(), &format!("the step cannot be run: {error}")),
    };
    let status = printed(&findings.text(), out);
    match findings.count() {
        0 => status,
        n => {
            let rules = if n == 1 { "1 rule".to_owned() } else { format!("{n} rules") };
            out.tell(&format!("the step breaks {rules} of the record contract"));
            ExitCode::from(1)
        }
    }
}

fn tried(step: &Step<'_>) -> io::Result<Findings> {
    let mut findings = Findings::default();
    let usual = trials::good_stream(step, &mut findings)?;
    trials::empty(step, &mut findings)?;
    trials::last_line(step, &mut findings)?;
    trials::bad_lines(step, &mut findings)?;
    trials::no_dot(step, &mut findings)?;
    trials::not_utf8(step, &mut findings)?;
    trials::live(step, &mut findings)?;
    trials::flow(step, &mut findings)?;
    trials::closed(step, &usual, &mut findings)?;
    Ok(findings)
}
