//! Records that hold a stream together: who wrote it, whether it is whole, and
//! what could not be used.

use crate::define::{record, words};
use crate::facts::Source;
use crate::quantity::Count;
use crate::shape::{Shape, Shaped};
use crate::text::{Name, Text};
use std::collections::BTreeMap;

/// Version of the record contract that this crate reads and writes.
pub const CONTRACT: u64 = 1;

/// Counts by name.
#[derive(Debug, Clone, Default, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(transparent)]
pub struct Counts(#[serde(deserialize_with = "counts")] pub BTreeMap<String, u64>);

fn counts<'de, D: serde::Deserializer<'de>>(d: D) -> Result<BTreeMap<String, u64>, D::Error> {
    let counts: BTreeMap<String, Count> = crate::named::values(d)?;
    Ok(counts.into_iter().map(|(name, n)| (name, n.0)).collect())
}

impl Shaped for Counts {
    const SHAPE: Shape = Shape::Counts;
}

impl Counts {
    /// The count of one name, 0 where there is none.
    #[must_use]
    pub fn of(&self, name: &str) -> u64 {
        self.0.get(name).copied().unwrap_or(0)
    }

    /// The sum of all.
    #[must_use]
    pub fn total(&self) -> u64 {
        self.0.values().sum()
    }
}

words! {
    /// What is wrong with a line, a row, a file or a fact.
    Code {
        /// The bytes are not UTF-8.
        NotUtf8 = "not-utf8",
        /// The line is longer than 1 MiB.
        TooLong = "too-long",
        /// The line is not one whole JSON object.
        NotJson = "not-json",
        /// The object has no `kind`, or `kind` is not text.
        NoKind = "no-kind",
        /// A field stands twice in one record.
        DuplicateKey = "duplicate-key",
        /// Objects or lists are nested deeper than 64 levels.
        NestedTooDeep = "nested-too-deep",
        /// A field that the kind must have is absent.
        MissingField = "missing-field",
        /// A field holds something of another type.
        WrongType = "wrong-type",
        /// A number is outside the range of its field.
        OutOfRange = "out-of-range",
        /// A text is not one of the words of its field.
        UnknownWord = "unknown-word",
        /// A time is not RFC 3339 with an offset.
        BadTime = "bad-time",
        /// The kind is neither ours nor marked as a stranger's by a dot.
        UnknownKind = "unknown-kind",
        /// A table has no column for a field that must be there.
        MissingColumn = "missing-column",
        /// A column that is asked for by name is not in the table, or two claim one field.
        BadColumn = "bad-column",
        /// A unit is not known, or does not fit the field.
        UnknownUnit = "unknown-unit",
        /// A number can be read in two ways.
        AmbiguousNumber = "ambiguous-number",
        /// A date or time can be read in two ways.
        AmbiguousDate = "ambiguous-date",
        /// A cell that must be a number is not one.
        NotANumber = "not-a-number",
        /// A row has more or fewer cells than the header.
        RaggedRow = "ragged-row",
        /// The file holds nothing.
        EmptyFile = "empty-file",
        /// The file has a header and no row.
        NoRows = "no-rows",
        /// The file could not be read, or not as what it seems to be.
        Unreadable = "unreadable",
        /// A fact came after the readings that needed it.
        TooLate = "too-late",
        /// A fact contradicts an earlier one of the same name.
        Contradiction = "contradiction",
        /// Readings of a lot go back to a position that they have passed.
        OutOfOrder = "out-of-order",
        /// There are more of a sort than a filter keeps apart.
        TooMany = "too-many",
        /// A fact refers to something that no record describes.
        NotDescribed = "not-described",
        /// The same source line came twice.
        Duplicate = "duplicate",
    }
}

record! {
    /// Signs the start of what one run of a filter adds to a stream.
    fact "begin" => Begin<'a> {
        /// Hash of this record's own content (SHA-256, first 16 hexadecimal digits).
        need id: Name<'a>;
        /// Program.
        need program: Name<'a>;
        /// Version of the program.
        need version: Text<'a>;
        /// Version of the record contract.
        need contract: Count;
        /// Options it ran with.
        need options: Vec<Text<'a>>;
        /// Ids of the `begin` records it had seen by then.
        need after: Vec<Name<'a>>;
        /// Files that `ingest` was told to read.
        may sources: Vec<Text<'a>>;
    }

    /// What was read of one source.
    fact "origin" => Consumed<'a> {
        /// File as it was named.
        need file: Text<'a>;
        /// Bytes read.
        need bytes: Count;
        /// SHA-256 of those bytes, in hexadecimal.
        need sha256: Text<'a>;
        /// Records made from it.
        need records: Count;
    }

    /// Signs the end of what one run of a filter adds to a stream; its last line.
    fact "end" => End<'a> {
        /// Id of the `begin` record of the same run.
        need id: Name<'a>;
        /// Lines read, by kind.
        need read: Counts;
        /// Lines written before this one, by kind: passed on and its own.
        need written: Counts;
        /// Problems it found, by code.
        need problems: Counts;
        /// Why the input was not whole; absent where it was.
        may cut_short: Text<'a>;
        /// Ids of `begin` records that came after its own (a joined stream).
        may joined: Vec<Name<'a>>;
        /// What `ingest` read of each source.
        may sources: Vec<Consumed<'a>>;
    }

    /// A line, row, file or fact that could not be used, with its raw text.
    finding "problem" => Problem<'a> {
        /// Id of the `begin` record of the run that found it.
        may by: Name<'a>;
        /// What sort of problem.
        need code: Code;
        /// File it came from; absent for standard input.
        may file: Text<'a>;
        /// Line in the file or the stream, counted from 1.
        may line: Count;
        /// Sheet of a workbook.
        may sheet: Text<'a>;
        /// Column of the table, by its heading.
        may column: Text<'a>;
        /// Field of the record.
        may field: Text<'a>;
        /// Lot it concerns.
        may lot: Name<'a>;
        /// What was found.
        need found: Text<'a>;
        /// What was expected.
        need expected: Text<'a>;
        /// What to do about it.
        may advice: Text<'a>;
        /// The raw text.
        may raw: Text<'a>;
        /// The raw bytes in hexadecimal, where they are not UTF-8.
        may raw_hex: Text<'a>;
        /// Length of the raw text in bytes, where only its start is kept.
        may raw_bytes: Count;
    }
}

impl Problem<'_> {
    /// The place and the matter in one line for a person: place, found, expected.
    #[must_use]
    pub fn sentence(&self) -> String {
        let mut text = String::new();
        if let Some(file) = &self.file {
            text.push_str(&visible(file));
            text.push_str(": ");
        }
        if let Some(sheet) = &self.sheet {
            text.push_str(&format!("sheet {}: ", visible(sheet)));
        }
        if let Some(line) = self.line {
            text.push_str(&format!("line {}: ", line.0));
        }
        if let Some(column) = &self.column {
            text.push_str(&format!("column {:?}: ", column.as_str()));
        } else if let Some(field) = &self.field {
            text.push_str(&format!("field {field}: "));
        }
        text.push_str(&format!(
            "{}: found {}, expected {}",
            self.code,
            visible(&self.found),
            visible(&self.expected)
        ));
        if let Some(advice) = &self.advice {
            text.push_str(&format!("; {}", visible(advice)));
        }
        text
    }
}

/// Text that is safe on a terminal: control and direction characters made visible.
#[must_use]
pub fn visible(text: &str) -> String {
    text.chars()
        .flat_map(|c| {
            let hidden = c.is_control()
                || matches!(c, '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}');
            if hidden { c.escape_unicode().collect::<Vec<_>>() } else { vec![c] }
        })
        .collect()
}

/// The place of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Place<'a> {
    /// File as it was named; absent for standard input.
    pub file: Option<&'a str>,
    /// Line, counted from 1.
    pub line: u64,
}

impl Place<'_> {
    /// The place as the `src` of a record.
    #[must_use]
    pub fn source(&self) -> Source<'static> {
        Source {
            file: Text::from(self.file.unwrap_or("-").to_owned()),
            line: Some(Count(self.line)),
            sheet: None,
            life: std::marker::PhantomData,
        }
    }
}
