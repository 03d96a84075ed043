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
mod follow;
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
mod unused;
mod workbook;

use clap::{CommandFactory, FromArgMatches};
use follow::Follow;
use options::Options;
use run::Run;
use secondmelt_record::output::Dropped;
use secondmelt_record::runtime::{failure, usage};
use secondmelt_record::{About, Out};
use settings::Settings;
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
    if let Err(message) = few_enough(&files) {
        return usage(ABOUT.name, &message);
    }
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

/// The last line of a stream names every file with its size and hash, and must stay well
/// below the longest line that a filter reads (1 MiB).
fn few_enough(files: &[String]) -> Result<(), String> {
    const ROOM: usize = 800 << 10;
    const BESIDE_THE_NAME: usize = 150;
    let quoted = |name: &String| serde_json::to_string(name).map_or(0, |text| text.len());
    let needed: usize = files.iter().map(|name| quoted(name) + BESIDE_THE_NAME).sum();
    if needed <= ROOM {
        return Ok(());
    }
    Err(format!(
        "found {} files, expected no more than the last line of a stream can name (about {}); run it in parts, e.g. with xargs -n 1000",
        files.len(),
        ROOM * files.len() / needed
    ))
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
