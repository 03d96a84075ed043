//! Streams and steps against the record contract.
//!
//! [`main`] is the program. As a filter it checks a stream ([`stream`]); asked a
//! question it answers without input ([`answers`]); with `--step` it tries a step
//! of somebody else's ([`step`]).

mod answers;
mod checks;
mod examples;
mod oddity;
mod runs;
mod schemas;
mod step;
mod stream;

use secondmelt_record::Kind;
use std::process::ExitCode;
use stream::CheckRecords;

/// What is asked of the program.
#[derive(Debug, Clone, clap::Args)]
pub struct Options {
    /// List the kinds of records and what they are
    #[arg(long, group = "question", conflicts_with = "files")]
    list: bool,
    /// Print the JSON Schema of a kind
    #[arg(long, value_name = "KIND", group = "question", conflicts_with = "files")]
    schema: Option<Kind>,
    /// Print an example record of a kind
    #[arg(long, value_name = "KIND", group = "question", conflicts_with = "files")]
    example: Option<Kind>,
    /// Print the fields of a kind: what they hold, and whether they are needed
    #[arg(long, value_name = "KIND", group = "question", conflicts_with = "files")]
    fields: Option<Kind>,
    /// Run a step of your own on built-in streams and tell which rules of the contract it keeps
    #[arg(long, value_name = "COMMAND", group = "question", conflicts_with = "files")]
    step: Option<String>,
    /// With --step: how long the step may stay silent before it counts as stuck, in seconds
    #[arg(long, value_name = "SECONDS", default_value_t = 5, requires = "step")]
    #[arg(value_parser = clap::value_parser!(u64).range(1..=3600))]
    patience_s: u64,
}

/// The program.
pub fn main() -> ExitCode {
    secondmelt_record::run::<CheckRecords>()
}
