//! One cell of a table: numbers as they stand, texts without what a spreadsheet would run.

use crate::options::Decimal;
use serde_json::value::RawValue;

/// How cells are written.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Format {
    /// Between cells.
    pub(crate) delimiter: u8,
    decimal: Decimal,
    /// Whether text that a spreadsheet would run is made harmless. A workbook knows text from
    /// formulas, and needs none of it.
    guard: bool,
}

impl Format {
    pub(crate) fn new(delimiter: u8, decimal: Decimal) -> Self {
        Self { delimiter, decimal, guard: true }
    }

    /// Texts as they are, for a reader that runs none.
    pub(crate) fn plain() -> Self {
        Self { delimiter: b',', decimal: Decimal::Point, guard: false }
    }

    /// A JSON text as the cell of a text.
    pub(super) fn string(self, json: &RawValue) -> String {
        let value = serde_json::from_str(json.get()).unwrap_or_else(|_| json.get().to_owned());
        if self.guard { text(&value) } else { value }
    }

    /// A number as it stands in the record, with the decimal mark of the table.
    pub(super) fn number(self, json: &str) -> String {
        match self.decimal {
            Decimal::Point => json.to_owned(),
            Decimal::Comma => json.replace('.', ","),
        }
    }
}

/// A text that no spreadsheet takes for a formula. One that starts like a formula, spaces
/// aside, gets an apostrophe in front (common practice against formula injection).
pub(crate) fn text(text: &str) -> String {
    let hidden = |c: char| c.is_whitespace() || c.is_control() || c == '\u{feff}';
    let first = text.trim_start_matches(hidden).chars().next();
    let formula = first.is_some_and(|c| {
        matches!(c, '=' | '+' | '-' | '@' | '\u{ff1d}' | '\u{ff0b}' | '\u{ff0d}' | '\u{ff20}')
    });
    if formula || text.starts_with(['\t', '\r', '\n']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_spreadsheet_would_run_gets_an_apostrophe() {
        for formula in ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "  =1", "\u{ff1d}1"]
        {
            assert_eq!(text(formula), format!("'{formula}"));
        }
        for harmless in ["spool 7", "a=b", "", "'=1", "\u{e9}t\u{e9}"] {
            assert_eq!(text(harmless), harmless);
        }
    }

    #[test]
    fn numbers_are_copied_and_not_rounded() {
        let point = Format::new(b',', Decimal::Point);
        let comma = Format::new(b';', Decimal::Comma);
        assert_eq!(point.number("-1.7500"), "-1.7500");
        assert_eq!(comma.number("-1.7500"), "-1,7500");
    }
}
