//! Tables of a lab into records.
//!
//! A file goes through the same stations whatever it is:
//!
//! 1. `source` reads and hashes its bytes, decodes them, follows them as they grow;
//! 2. `run` tells by name and content whether it is a table of separated values
//!    (`table`), JSON lines (`json_lines`) or a workbook (`workbook`, `sheet`);
//! 3. `head` finds the header and the decimal sign, `header` and `claims` settle
//!    which column fills which field in which unit, and `plan` writes that down once;
//! 4. `row` follows the plan for each row: a record, or the problems that say why not;
//!    `fast` does the same for the plain rows that come by the million.
//!
//! What could be read in two ways is refused before the first record, with the flag that
//! settles it. A row that cannot be used is a problem, and the rest goes on.

mod body;
mod cell;
mod claims;
mod clock;
mod fast;
mod head;
mod header;
mod json_lines;
mod number;
mod options;
mod plan;
mod row;
mod run;
mod settings;
mod sheet;
mod sink;
mod source;
mod split;
mod stop;
mod table;
mod workbook;

use clap::{CommandFactory, FromArgMatches};
use options::Options;
use run::Run;
use secondmelt_record::output::Dropped;
use secondmelt_record::runtime::{failure, usage};
use secondmelt_record::{About, Out};
use settings::Settings;
use source::Follow;
use std::io;
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

const ABOUT: About = About {
    name: "ingest",
    version: env!("CARGO_PKG_VERSION"),
    summary: "Turns tables of a lab (CSV, TSV, spreadsheets, JSON lines) into records of one kind",
    example: "ingest diameter examples/lab/gauge/spool-1b.csv",
};

/// The program.
#[must_use]
pub fn main() -> ExitCode {
    let matches = ABOUT.dress(Options::command()).get_matches();
    let options = match Options::from_arg_matches(&matches) {
        Ok(options) => options,
        Err(error) => error.exit(),
    };
    let (files, common) = (options.files.clone(), options.common.clone());
    let made =
        Dropped::new(&common.drop).and_then(|dropped| Ok((Settings::new(options)?, dropped)));
    let (settings, dropped) = match made {
        Ok(made) => made,
        Err(message) => return usage(ABOUT.name, &message),
    };
    let follow = match settings.follow.then(|| follow(&settings, &files)).transpose() {
        Ok(follow) => follow,
        Err(error) => return failure(ABOUT.name, &format!("signals: {error}")),
    };
    match Out::stdout(ABOUT.identity(&files), dropped) {
        Ok(out) => Run::new(settings, out, follow).run(&files, common.strict),
        Err(error) => failure(ABOUT.name, &format!("standard output: {error}")),
    }
}

/// Following a file ends on an interrupt, with all that was read written and signed.
fn follow(settings: &Settings, files: &[String]) -> io::Result<Follow> {
    let stop = Arc::new(AtomicBool::new(false));
    for signal in [signal_hook::consts::SIGINT, signal_hook::consts::SIGTERM] {
        signal_hook::flag::register(signal, Arc::clone(&stop))?;
    }
    let name = files.first().cloned().unwrap_or_default();
    Ok(Follow { name, stop, idle: settings.idle })
}
