//! Tables as text, in the dialects of the programs that wrote them.

use super::{LabFile, Trouble};

/// Encoding of a text file.
#[derive(Clone, Copy)]
pub enum Encoding {
    /// UTF-8.
    Utf8,
    /// UTF-8 with a byte-order mark.
    Utf8Bom,
    /// Windows-1252.
    Windows1252,
    /// UTF-16, little end first, with a byte-order mark.
    Utf16,
}

/// How a table is written.
#[derive(Clone, Copy)]
pub struct Dialect {
    /// Between cells.
    pub delimiter: char,
    /// At the end of a line.
    pub line_end: &'static str,
    /// Encoding of the file.
    pub encoding: Encoding,
    /// Between whole and fraction.
    pub decimal: char,
}

/// Comma and point, as most programs write it.
pub const PLAIN: Dialect =
    Dialect { delimiter: ',', line_end: "\n", encoding: Encoding::Utf8, decimal: '.' };
/// The same with tabs.
pub const TABS: Dialect = Dialect { delimiter: '\t', ..PLAIN };
/// What a spreadsheet saves as "CSV UTF-8".
pub const SPREADSHEET: Dialect = Dialect { line_end: "\r\n", encoding: Encoding::Utf8Bom, ..PLAIN };
/// The older gauge logger.
pub const LOGGER: Dialect =
    Dialect { delimiter: ';', line_end: "\r\n", encoding: Encoding::Windows1252, decimal: ',' };
/// The newer gauge logger.
pub const WIDE_LOGGER: Dialect =
    Dialect { delimiter: '\t', line_end: "\r\n", encoding: Encoding::Utf16, decimal: '.' };

/// Lines of text in a dialect.
pub struct Table {
    dialect: Dialect,
    text: String,
}

impl Table {
    /// An empty table.
    pub fn new(dialect: Dialect) -> Self {
        Self { dialect, text: String::new() }
    }

    /// Adds a line as it stands.
    pub fn line(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push_str(self.dialect.line_end);
    }

    /// Adds a row; a cell that holds the delimiter is quoted.
    pub fn row<S: AsRef<str>>(&mut self, cells: &[S]) {
        let delimiter = self.dialect.delimiter;
        let quoted = cells.iter().map(|cell| {
            let cell = cell.as_ref();
            if cell.contains(delimiter) { format!("\"{cell}\"") } else { cell.to_owned() }
        });
        let line = quoted.collect::<Vec<_>>().join(&delimiter.to_string());
        self.line(&line);
    }

    /// A number in this dialect.
    pub fn number(&self, x: f64, decimals: usize) -> String {
        format!("{x:.decimals$}").replace('.', &self.dialect.decimal.to_string())
    }

    /// The table as a file.
    pub fn file(self, name: &str) -> Result<LabFile, Trouble> {
        let bytes = match self.dialect.encoding {
            Encoding::Utf8 => self.text.into_bytes(),
            Encoding::Utf8Bom => format!("\u{feff}{}", self.text).into_bytes(),
            Encoding::Windows1252 => latin(&self.text)?,
            Encoding::Utf16 => {
                format!("\u{feff}{}", self.text).encode_utf16().flat_map(u16::to_le_bytes).collect()
            }
        };
        Ok((name.to_owned(), bytes))
    }
}

/// A table of words as a file, header first.
pub fn words(name: &str, dialect: Dialect, rows: &[&[&str]]) -> Result<LabFile, Trouble> {
    let mut table = Table::new(dialect);
    for row in rows {
        table.row(row);
    }
    table.file(name)
}

/// Text in Windows-1252; the lab uses only its part that is Latin-1.
fn latin(text: &str) -> Result<Vec<u8>, Trouble> {
    text.chars()
        .map(|c| match u32::from(c) {
            code @ (0..=0x7f | 0xa0..=0xff) => Ok(code as u8),
            _ => Err(format!("{c:?} is not in Windows-1252").into()),
        })
        .collect()
}
