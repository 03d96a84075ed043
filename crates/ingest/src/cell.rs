//! One cell to one value of a record.

use crate::clock::Clock;
use crate::number::{self, Decimal, Style, Thousands};
use secondmelt_record::Code;
use secondmelt_record::shape::{Range, Shape};
use secondmelt_record::units::Scale;

/// What a cell is turned into.
#[derive(Debug, Clone)]
pub(crate) enum Cell {
    /// A number in a range, after a change of unit.
    Number(Range, Scale),
    /// A whole number, smallest and largest.
    Count(u64, u64),
    /// Text that is not empty.
    Name,
    /// Any text.
    Text,
    /// One of these words.
    OneOf(&'static [&'static str]),
    /// True or false.
    Flag,
    /// An instant.
    Time,
}

/// What is wrong with a cell.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Fault {
    /// What sort of problem.
    pub(crate) code: Code,
    /// What was found.
    pub(crate) found: String,
    /// What was expected.
    pub(crate) expected: String,
    /// What to do about it.
    pub(crate) advice: Option<String>,
}

impl Fault {
    pub(crate) fn new(code: Code, found: impl Into<String>, expected: impl Into<String>) -> Self {
        Self { code, found: found.into(), expected: expected.into(), advice: None }
    }

    pub(crate) fn advice(self, advice: String) -> Self {
        Self { advice: Some(advice), ..self }
    }
}

/// How the cells of a file are to be read.
#[derive(Debug, Clone)]
pub(crate) struct Reading {
    /// How numbers are written.
    pub(crate) style: Style,
    /// How times are written.
    pub(crate) clock: Clock,
}

impl Cell {
    /// The cell for a field of that shape; none where a table cannot hold one.
    pub(crate) fn of(shape: &Shape, scale: Scale) -> Option<Self> {
        Some(match shape {
            Shape::Number(range) => Self::Number(*range, scale),
            Shape::Count(min, max) => Self::Count(*min, *max),
            Shape::Name => Self::Name,
            Shape::Text => Self::Text,
            Shape::OneOf(words) => Self::OneOf(words),
            Shape::Flag => Self::Flag,
            Shape::Time => Self::Time,
            Shape::Numbers | Shape::Counts | Shape::Object(_) | Shape::List(_) => return None,
        })
    }

    /// Appends the value as JSON. The text is trimmed and not empty.
    ///
    /// # Errors
    /// What is wrong with the cell.
    pub(crate) fn write(
        &self,
        text: &str,
        reading: &Reading,
        to: &mut Vec<u8>,
    ) -> Result<(), Fault> {
        match self {
            Self::Number(range, scale) => number_into(text, *range, scale, reading.style, to),
            Self::Count(min, max) => count_into(text, *min, *max, reading.style, to),
            // A log that was cut by a power failure may hold runs of them.
            Self::Name | Self::Text if text.contains('\0') => {
                Err(Fault::new(Code::WrongType, shown(text), "text without zero bytes"))
            }
            Self::Name | Self::Text => {
                text_into(text, to);
                Ok(())
            }
            Self::OneOf(words) => {
                let word = words.iter().find(|w| plain(w) == plain(text)).ok_or_else(|| {
                    Fault::new(
                        Code::UnknownWord,
                        shown(text),
                        format!("one of: {}", words.join(", ")),
                    )
                })?;
                text_into(word, to);
                Ok(())
            }
            Self::Flag => flag_into(text, to),
            Self::Time => {
                text_into(&reading.clock.read(text)?, to);
                Ok(())
            }
        }
    }
}

/// A word in lower case, with spaces for the signs that join words.
fn plain(word: &str) -> String {
    word.to_lowercase().replace(['-', '_'], " ").split_whitespace().collect::<Vec<_>>().join(" ")
}

fn number_into(
    text: &str,
    range: Range,
    scale: &Scale,
    style: Style,
    to: &mut Vec<u8>,
) -> Result<(), Fault> {
    let Some(number) = number::json(text, style) else {
        return Err(not_a_number(text, &range.to_string(), style));
    };
    let start = to.len();
    let in_unit = scale.convert(&number, to);
    let value =
        to.get(start..).and_then(|bytes| std::str::from_utf8(bytes).ok()?.parse::<f64>().ok());
    if in_unit && value.is_some_and(|x| range.holds(x)) {
        return Ok(());
    }
    to.truncate(start);
    let expected = if *scale == Scale::ONE {
        range.to_string()
    } else {
        format!("{range}, in the unit of the field")
    };
    Err(Fault::new(Code::OutOfRange, shown(text), expected))
}

fn count_into(text: &str, min: u64, max: u64, style: Style, to: &mut Vec<u8>) -> Result<(), Fault> {
    let expected = Shape::Count(min, max).to_string();
    let Some(number) = number::json(text, style) else {
        return Err(not_a_number(text, &expected, style));
    };
    // A spreadsheet may show a count as 3.0.
    let whole = match number.split_once('.') {
        Some((whole, zeros)) if zeros.bytes().all(|b| b == b'0') => whole,
        _ => &number,
    };
    match whole.parse::<u64>() {
        Ok(n) if (min..=max).contains(&n) => {
            to.extend_from_slice(n.to_string().as_bytes());
            Ok(())
        }
        _ => Err(Fault::new(Code::OutOfRange, shown(text), expected)),
    }
}

fn flag_into(text: &str, to: &mut Vec<u8>) -> Result<(), Fault> {
    let flag = match text.to_ascii_lowercase().as_str() {
        "true" | "yes" | "1" => "true",
        "false" | "no" | "0" => "false",
        _ => {
            return Err(Fault::new(
                Code::WrongType,
                shown(text),
                "true or false, yes or no, 1 or 0",
            ));
        }
    };
    to.extend_from_slice(flag.as_bytes());
    Ok(())
}

/// Appends text as a JSON string.
pub(crate) fn text_into(text: &str, to: &mut Vec<u8>) {
    let plain = text.bytes().all(|b| b >= b' ' && b != b'"' && b != b'\\');
    if plain {
        to.push(b'"');
        to.extend_from_slice(text.as_bytes());
        to.push(b'"');
    } else if let Ok(quoted) = serde_json::to_string(text) {
        to.extend_from_slice(quoted.as_bytes());
    }
}

/// A cell that is no number in the style of its file; says so where it would be one
/// in another style.
fn not_a_number(text: &str, expected: &str, style: Style) -> Fault {
    let fault = Fault::new(Code::NotANumber, shown(text), expected);
    let groups = [
        (Thousands::Comma, "comma"),
        (Thousands::Point, "point"),
        (Thousands::Space, "space"),
        (Thousands::Apostrophe, "apostrophe"),
    ];
    let other = match style.decimal {
        Decimal::Point => (Decimal::Comma, "comma"),
        Decimal::Comma => (Decimal::Point, "point"),
    };
    let reads = |style| number::json(text, style).is_some();
    let grouped = groups.iter().find(|g| reads(Style { thousands: Some(g.0), ..style }));
    if let Some((_, name)) = grouped {
        return fault.advice(format!("if the sign groups thousands, say --thousands {name}"));
    }
    if reads(Style { decimal: other.0, thousands: None }) {
        return fault.advice(format!("if the whole file is written so, say --decimal {}", other.1));
    }
    fault
}

/// A cell for a message: quoted, and cut where it is long.
pub(crate) fn shown(text: &str) -> String {
    match text.char_indices().nth(80) {
        Some((end, _)) => format!("{:?} ...", text.get(..end).unwrap_or_default()),
        None => format!("{text:?}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use secondmelt_record::quantity::NonNegative;

    fn fault(cell: &str, decimal: Decimal) -> Fault {
        let reading =
            Reading { style: Style { decimal, thousands: None }, clock: Clock::default() };
        let kind = Cell::Number(NonNegative::RANGE, Scale::ONE);
        kind.write(cell, &reading, &mut Vec::new()).unwrap_err()
    }

    #[test]
    fn the_flag_that_would_make_a_number_of_it_is_named() {
        for (cell, decimal, flag) in [
            ("1,234", Decimal::Point, "--thousands comma"),
            ("1 234.5", Decimal::Point, "--thousands space"),
            ("1'234", Decimal::Point, "--thousands apostrophe"),
            ("1.234", Decimal::Comma, "--thousands point"),
            ("1,75", Decimal::Point, "--decimal comma"),
            ("1.75", Decimal::Comma, "--decimal point"),
        ] {
            let advice = fault(cell, decimal).advice.unwrap_or_default();
            assert!(advice.contains(flag), "{cell}: {advice}");
        }
        assert_eq!(fault("about 5", Decimal::Point).advice, None);
    }

    #[test]
    fn a_long_cell_is_cut_in_the_message() {
        let fault = fault(&"x".repeat(1000), Decimal::Point);
        assert!(fault.found.len() < 100, "{}", fault.found);
    }

    #[test]
    fn a_count_may_come_as_a_spreadsheet_shows_it() {
        let reading = Reading { style: Style::PLAIN, clock: Clock::default() };
        let mut to = Vec::new();
        Cell::Count(0, u64::MAX).write("3.0", &reading, &mut to).unwrap();
        assert_eq!(to, b"3");
        assert!(Cell::Count(0, u64::MAX).write("3.5", &reading, &mut to).is_err());
        assert!(Cell::Count(0, u64::MAX).write("-1", &reading, &mut to).is_err());
    }
}
