//! The command line of `report`.

use std::path::PathBuf;

/// Where a report goes and when it says no. The report goes to standard output
/// unless only files are asked for; `--format` asks for standard output as well.
#[derive(Debug, Clone, clap::Args)]
pub struct Options {
    /// Print the report in this format, also where files are written [default: text, unless only files are asked for]
    #[arg(long, value_enum)]
    pub format: Option<Format>,
    /// Write the report as plain text to this file
    #[arg(long, value_name = "PATH")]
    pub text: Option<PathBuf>,
    /// Write the report as Markdown (with tables) to this file
    #[arg(long, value_name = "PATH")]
    pub markdown: Option<PathBuf>,
    /// Write the report as one HTML page to this file, with drawings; it needs no network and no script
    #[arg(long, value_name = "PATH")]
    pub html: Option<PathBuf>,
    /// Write a workbook to this file, one sheet for each kind of record (.xlsx)
    #[arg(long, value_name = "PATH")]
    pub xlsx: Option<PathBuf>,
    /// Write the verdicts as test results to this file, for a CI system that shows JUnit XML
    #[arg(long, value_name = "PATH")]
    pub junit: Option<PathBuf>,
    /// Say what changed since the records in this file, such as the findings of an earlier night
    #[arg(long, value_name = "PATH")]
    pub since: Option<PathBuf>,
    /// Write one table for each kind of record into this directory, new or of an earlier report.
    ///
    /// Text that a spreadsheet would run as a formula gets an apostrophe in front. Raw
    /// diameters are counted, not written.
    #[arg(long, value_name = "DIR")]
    pub csv: Option<PathBuf>,
    /// Between the cells of the tables: , or ; or tab
    #[arg(long, value_name = "CHAR", default_value = ",", value_parser = delimiter, requires = "csv")]
    pub csv_delimiter: u8,
    /// Decimal mark in the tables
    #[arg(long, value_enum, default_value_t = Decimal::Point, requires = "csv")]
    pub csv_decimal: Decimal,
    /// Exit with status 1 if a verdict failed, there are problems, or nothing was decided
    #[arg(long)]
    pub gate: bool,
    /// Like --gate, and also if a verdict is undecided
    #[arg(long)]
    pub gate_undecided: bool,
    /// Let only verdicts of this check decide the gate (repeatable); problems count all the same
    #[arg(long, value_name = "CHECK")]
    pub gate_only: Vec<String>,
    /// Leave verdicts of this check out of what the gate counts (repeatable), e.g. ovality
    #[arg(long, value_name = "CHECK", conflicts_with = "gate_only")]
    pub gate_ignore: Vec<String>,
    /// Title of the report
    #[arg(long, value_name = "TEXT", default_value = "Report")]
    pub title: String,
    /// Columns of the text [default: those of the terminal or COLUMNS, otherwise 80]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(40..=1000))]
    pub width: Option<u16>,
}

/// A format for standard output.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Format {
    /// Plain text.
    Text,
    /// Markdown with tables.
    Markdown,
    /// One page with drawings.
    Html,
}

/// A decimal mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Decimal {
    /// 1.75
    Point,
    /// 1,75
    Comma,
}

fn delimiter(text: &str) -> Result<u8, String> {
    match text {
        "," => Ok(b','),
        ";" => Ok(b';'),
        "tab" | "\t" => Ok(b'\t'),
        _ => Err("expected , or ; or tab".to_owned()),
    }
}

impl Options {
    /// What to print; none where only files are asked for.
    #[must_use]
    pub fn printed(&self) -> Option<Format> {
        let files = self.paths().iter().any(|path| path.is_some());
        self.format.or((!files).then_some(Format::Text))
    }

    /// Where files are written.
    fn paths(&self) -> [&Option<PathBuf>; 6] {
        [&self.text, &self.markdown, &self.html, &self.csv, &self.xlsx, &self.junit]
    }

    /// Whether anything is drawn.
    pub(crate) fn draws(&self) -> bool {
        self.html.is_some() || self.format == Some(Format::Html)
    }

    /// Whether the exit status says what the gate says.
    pub(crate) fn gates(&self) -> bool {
        let chosen = !self.gate_only.is_empty() || !self.gate_ignore.is_empty();
        self.gate || self.gate_undecided || chosen
    }

    /// Whether verdicts of a check count for the gate.
    pub(crate) fn counts(&self, check: &str) -> bool {
        let named = |list: &[String]| list.iter().any(|name| name == check);
        (self.gate_only.is_empty() || named(&self.gate_only)) && !named(&self.gate_ignore)
    }

    /// # Errors
    /// Where the options contradict one another.
    pub(crate) fn check(&self) -> Result<(), String> {
        let dash = |path: &&Option<PathBuf>| path.as_ref().is_some_and(|p| p.as_os_str() == "-");
        if self.paths().iter().any(dash) {
            return Err(
                "found - where a path is expected; --format prints to standard output".to_owned()
            );
        }
        if self.csv_decimal == Decimal::Comma && self.csv_delimiter == b',' {
            return Err(
                "--csv-decimal comma: the comma already stands between the cells; add --csv-delimiter ';'"
                    .to_owned(),
            );
        }
        Ok(())
    }
}
