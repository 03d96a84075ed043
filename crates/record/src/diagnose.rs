//! Why a line could not be read as a record of its kind. Only called once a line
//! has failed, so it may take its time and build a tree.

use crate::contract::{Code, Place, Problem};
use crate::kind::Kind;
use crate::quantity::{Count, whole};
use crate::shape::{Field, Shape, Shaped};
use crate::text::{Text, Time, blank};
use serde_json::Value;

/// How long the raw text of a problem may be as it is written in the record, so that the
/// record itself stays well below the longest line that the next filter reads.
const RAW_MAX: usize = 768 << 10;
/// How much is kept of what would be longer.
const RAW_START: usize = 1 << 10;

/// Something wrong, before it is known where.
#[derive(Debug, Clone, PartialEq)]
pub struct Trouble {
    /// What sort of problem.
    pub code: Code,
    /// Field it concerns.
    pub field: Option<String>,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
}

impl Trouble {
    /// Something wrong with a whole line.
    pub fn new(code: Code, found: impl Into<String>, expected: impl Into<String>) -> Self {
        Self { code, field: None, found: found.into(), expected: expected.into() }
    }

    fn at(code: Code, field: &str, found: String, expected: impl std::fmt::Display) -> Self {
        Self { code, field: Some(field.to_owned()), found, expected: expected.to_string() }
    }

    /// The problem record for it.
    #[must_use]
    pub fn problem(self, place: Place<'_>, raw: &[u8]) -> Problem<'static> {
        let mut problem = Problem {
            code: self.code,
            file: place.file.map(|f| Text::from(f.to_owned())),
            line: Some(crate::quantity::Count(place.line)),
            field: self.field.map(Text::from),
            found: Text::from(self.found),
            expected: Text::from(self.expected),
            ..Problem::default()
        };
        problem.keep_raw(raw);
        problem
    }
}

impl Problem<'_> {
    /// Keeps the raw text: all of it, or its start and its length where the record would grow
    /// too long for a stream. Bytes that are not UTF-8 are kept as hexadecimal, with a
    /// readable start beside them.
    pub fn keep_raw(&mut self, raw: &[u8]) {
        match std::str::from_utf8(raw) {
            Ok(text) if escaped_length(text) <= RAW_MAX => {
                self.raw = Some(Text::from(text.to_owned()));
                return;
            }
            Err(_) if raw.len() <= RAW_MAX / 2 => {
                self.raw_hex = Some(Text::from(hexadecimal(raw)));
                if raw.len() > RAW_START {
                    self.raw_bytes = Some(raw.len().into());
                }
            }
            _ => self.raw_bytes = Some(raw.len().into()),
        }
        let start = &raw[..raw.len().min(RAW_START)];
        self.raw = Some(Text::from(String::from_utf8_lossy(start).into_owned()));
        if self.raw_hex.is_none() && std::str::from_utf8(raw).is_err() {
            self.raw_hex = Some(Text::from(hexadecimal(start)));
        }
    }
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

/// Length of a text as it stands in JSON, between its quotes.
fn escaped_length(text: &str) -> usize {
    let of_byte = |b: u8| match b {
        b'"' | b'\\' | b'\n' | b'\r' | b'\t' | 8 | 12 => 2,
        0..=0x1f => 6,
        _ => 1,
    };
    text.bytes().map(of_byte).sum()
}

/// Finds out what is wrong with a line that is no record of its kind.
#[must_use]
pub fn diagnose(kind: Kind, line: &str, error: &serde_json::Error) -> Trouble {
    let message = error.to_string();
    if let Some(rest) = message.strip_prefix("duplicate field `") {
        let field = rest.split('`').next().unwrap_or_default();
        return Trouble::at(Code::DuplicateKey, field, "the field twice".to_owned(), "it once");
    }
    match serde_json::from_str::<Value>(line) {
        Ok(value) => fields(kind.fields(), &value, "").unwrap_or_else(|| {
            Trouble::new(Code::WrongType, message, format!("a record of kind {kind}"))
        }),
        Err(error) => not_json(&error),
    }
}

/// What is wrong with a line that is not JSON.
#[must_use]
pub fn not_json(error: &serde_json::Error) -> Trouble {
    let text = error.to_string();
    if text.starts_with("number out of range") {
        let found = format!("a number too large to hold, at column {}", error.column());
        return Trouble::new(Code::OutOfRange, found, "numbers within the range of a double");
    }
    if text.starts_with("recursion limit") {
        return crate::scan::too_deep();
    }
    let found = if error.is_eof() {
        "the line ends before the object does".to_owned()
    } else {
        format!("text that is not JSON from column {} on", error.column())
    };
    Trouble::new(Code::NotJson, found, "one whole JSON object")
}

fn fields(table: &[Field], value: &Value, path: &str) -> Option<Trouble> {
    let Value::Object(map) = value else {
        return Some(Trouble::at(Code::WrongType, path, shown(value), "an object"));
    };
    for field in table {
        let name =
            if path.is_empty() { field.name.to_owned() } else { format!("{path}.{}", field.name) };
        match map.get(field.name) {
            None if field.required => {
                let found = "no such field".to_owned();
                return Some(Trouble::at(Code::MissingField, &name, found, field.shape));
            }
            None => {}
            Some(value) => {
                if let Some(trouble) = shape(&field.shape, value, &name) {
                    return Some(trouble);
                }
            }
        }
    }
    None
}

fn shape(expected: &Shape, value: &Value, name: &str) -> Option<Trouble> {
    let wrong = |code| Some(Trouble::at(code, name, shown(value), expected));
    match (expected, value) {
        (_, Value::Null) => {
            let trouble = Trouble::at(Code::WrongType, name, "null".to_owned(), expected);
            let expected = format!("{}, or no such field at all", trouble.expected);
            Some(Trouble { expected, ..trouble })
        }
        (Shape::Text, Value::String(_)) | (Shape::Flag, Value::Bool(_)) => None,
        (Shape::Name, Value::String(text)) if blank(text) => wrong(Code::MissingField),
        (Shape::Name, Value::String(_)) => None,
        (Shape::Time, Value::String(text)) if Time::parse(text).is_some() => None,
        (Shape::Time, Value::String(_)) => wrong(Code::BadTime),
        (Shape::OneOf(words), Value::String(text)) if words.contains(&text.as_str()) => None,
        (Shape::OneOf(_), Value::String(_)) => wrong(Code::UnknownWord),
        (Shape::Number(range), Value::Number(n)) if n.as_f64().is_some_and(|x| range.holds(x)) => {
            None
        }
        (Shape::Number(_), Value::Number(_)) => wrong(Code::OutOfRange),
        (Shape::Count(min, max), Value::Number(n)) => match n.as_f64().and_then(whole) {
            Some(n) if (*min..=*max).contains(&n) => None,
            _ => wrong(Code::OutOfRange),
        },
        (Shape::Numbers, Value::Object(map)) => map.iter().find_map(|(key, value)| {
            let number = Shape::Number(crate::quantity::Number::RANGE);
            shape(&number, value, &format!("{name}.{key}"))
        }),
        (Shape::Counts, Value::Object(map)) => map
            .iter()
            .find_map(|(key, value)| shape(&Count::SHAPE, value, &format!("{name}.{key}"))),
        (Shape::Object(table), Value::Object(_)) => fields(table, value, name),
        (Shape::List(of), Value::Array(items)) => {
            items.iter().enumerate().find_map(|(i, item)| shape(of, item, &format!("{name}[{i}]")))
        }
        _ => wrong(Code::WrongType),
    }
}

fn shown(value: &Value) -> String {
    let text = value.to_string();
    match text.char_indices().nth(80) {
        Some((end, _)) => format!("{} ...", &text[..end]),
        None => text,
    }
}
