//! What a field may hold: type and schema accept and refuse the same values, in
//! every field of every kind. Formats are by RFC 8259 (numbers), RFC 3339 (times) and
//! JSON Schema 2020-12 (where `3.0` is an integer).

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use jsonschema::Validator;
use proptest::prelude::*;
use secondmelt_record::shape::{Field, Shape};
use secondmelt_record::{Kind, Record, schema};
use serde_json::Value;
use std::fs;
use std::path::Path;

#[rustfmt::skip]
const NUMBERS: &[&str] = &[
    "0", "-0", "-0.0", "0.0", "1", "2", "1.0", "3e0", "30e-1", "1.5", "-1", "-1.0", "0.5", "1e-9",
    "5e-324", "1e-400", "-1e-400", "1.0000000000000002", "100", "100.00000000000001", "101",
    "-273.15", "-273.16", "2000", "2000.0000000000002", "2001", "1e9", "1000000000.0000001",
    "1000000001", "1e15", "-1e15", "1000000000000000.1", "1000000000000001", "-1000000000000001",
    "9007199254740991", "9007199254740991.0", "9007199254740992", "9007199254740993",
    "18446744073709551615", "18446744073709551616", "1e300", "1e400", "-1e400",
    "12345678901234567890123",
];

#[rustfmt::skip]
const TEXTS: &[&str] = &[
    "", " ", "\t", "a", " a ", "PETG", "größer", "直径", "\u{a0}", "\u{85}", "\u{feff}", "\u{200b}",
    "\u{2028}", "\u{3000}", "\u{1c}", "\u{0}", "conforms", "Conforms", "in", "in ", "waste",
    "screw", "puller roller", "true", "1", "1.5", "null", "2026-03-12",
];

#[rustfmt::skip]
const TIMES: &[&str] = &[
    "2026-03-12T09:40:00+01:00", "2026-03-12T09:40:00Z", "2026-03-12t09:40:00z",
    "2026-03-12T09:40:00.5Z", "2026-03-12T09:40:00.123456789Z",
    "2026-03-12T09:40:00.12345678901234567890Z", "2026-03-12T09:40:00.Z", "2026-03-12T09:40:00,5Z",
    "2026-03-12 09:40:00Z", "2026-03-12T09:40Z", "2026-03-12T09Z", "20260312T094000Z",
    "2026-03-12T09:40:00", "2026-03-12T09:40:00+01", "2026-03-12T09:40:00+0100",
    "2026-03-12T09:40:00-00:00", "2026-03-12T09:40:00+23:59", "2026-03-12T09:40:00+24:00",
    "2026-03-12T09:40:00+01:60", "2026-03-12T09:40:00+01:00[Europe/Berlin]", "2026-03-12T24:00:00Z",
    "2026-02-29T00:00:00Z", "2024-02-29T00:00:00Z", "2026-13-01T00:00:00Z", "2026-00-01T00:00:00Z",
    "2026-01-32T00:00:00Z", "2016-12-31T23:59:60Z", "2016-12-31T22:59:60Z",
    "2017-01-01T00:59:60+01:00", "2016-12-31T23:59:61Z", "0001-01-01T00:00:00Z",
    "0000-01-01T00:00:00Z", "-001-01-01T00:00:00Z", "9998-12-31T23:59:59Z", "+2026-03-12T09:40:00Z",
    "2026-3-12T09:40:00Z", " 2026-03-12T09:40:00Z", "2026-03-12T09:40:00Z ",
    "2026-03-12T09:40:00Z\n", "2026-071T09:40:00Z", "2026-W11-4T09:40:00Z", "２026-03-12T09:40:00Z",
    "1773304800", "T", "2026-03-12T09:40:00é01:00",
];

#[rustfmt::skip]
const OTHERS: &[&str] = &[
    "true", "false", "null", "[]", "{}", "[1]", "[1.5]", "[\"a\"]", "[\"\"]", "[null]", "[[]]",
    "[{}]", "{\"a\":1}", "{\"a\":1.0}", "{\"a\":1.5}", "{\"a\":-1}", "{\"a\":1e15}", "{\"a\":1e16}",
    "{\"a\":9007199254740992}", "{\"a\":\"1\"}", "{\"a\":null}", "{\"a\":{}}",
    "{\"file\":\"a.csv\"}", "{\"file\":\"a.csv\",\"line\":2.0}", "{\"file\":\"a.csv\",\"line\":-2}",
    "{\"file\":\"a.csv\",\"other\":[null]}", "{\"line\":2}",
    "[{\"file\":\"a\",\"bytes\":1,\"sha256\":\"b\",\"records\":1}]",
    "[{\"file\":\"a\",\"bytes\":1.5,\"sha256\":\"b\",\"records\":1}]",
];

/// Values as JSON texts: good ones of every shape, their edges, and others.
fn values() -> Vec<String> {
    let texts = TEXTS.iter().chain(TIMES).map(|text| Value::String((*text).to_owned()).to_string());
    let plain = NUMBERS.iter().chain(OTHERS).map(|text| (*text).to_owned());
    texts.chain(plain).collect()
}

/// An example record of a kind in which one field can be given any value.
struct Frame {
    kind: Kind,
    field: &'static Field,
    others: String,
}

impl Frame {
    fn new(kind: Kind, field: &'static Field) -> Self {
        let path = format!("examples/records/{kind}.json");
        let text = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap();
        let mut record: serde_json::Map<String, Value> = serde_json::from_str(&text).unwrap();
        record.remove(field.name);
        let others = record.iter().map(|(name, value)| format!("\"{name}\":{value}"));
        Self { kind, field, others: others.collect::<Vec<_>>().join(",") }
    }

    /// Whether the value is accepted, where type and schema agree.
    fn accepts(&self, validator: &Validator, value: &str) -> Result<bool, String> {
        let line = format!("{{{},\"{}\":{value}}}", self.others, self.field.name);
        let by_type = Record::parse(self.kind, &line).is_ok();
        let parsed: Result<Value, _> = serde_json::from_str(&line);
        let by_schema = parsed.is_ok_and(|record| validator.is_valid(&record));
        if by_type == by_schema {
            return Ok(by_type);
        }
        Err(format!(
            "{} = {value}: the type says {by_type}, the schema {by_schema}",
            self.field.name
        ))
    }
}

fn validator(kind: Kind) -> Validator {
    jsonschema::options().should_validate_formats(true).build(&schema::of_kind(kind)).unwrap()
}

#[test]
fn type_and_schema_agree_on_every_value_in_every_field_of_every_kind() {
    let values = values();
    for kind in Kind::ALL.iter().copied() {
        let validator = validator(kind);
        for field in kind.fields() {
            let frame = Frame::new(kind, field);
            let mut accepted = 0;
            for value in &values {
                match frame.accepts(&validator, value) {
                    Ok(accepts) => accepted += usize::from(accepts),
                    Err(how) => panic!("{kind}: {how}"),
                }
            }
            let some = 0 < accepted && accepted < values.len();
            assert!(some || words(field), "{kind}.{}: {accepted} values accepted", field.name);
        }
    }
}

/// Whether a field holds fixed words, none of which may be among the values.
fn words(field: &Field) -> bool {
    matches!(field.shape, Shape::OneOf(_))
}

#[test]
fn type_and_schema_accept_the_fixed_words_and_no_others() {
    for kind in Kind::ALL.iter().copied() {
        let validator = validator(kind);
        for field in kind.fields() {
            let Shape::OneOf(all) = field.shape else { continue };
            let frame = Frame::new(kind, field);
            for word in all {
                assert_eq!(frame.accepts(&validator, &format!("\"{word}\"")), Ok(true), "{word}");
                for other in [format!("{word} "), word.to_uppercase(), word[1..].to_owned()] {
                    let value = format!("\"{other}\"");
                    assert_eq!(frame.accepts(&validator, &value), Ok(false), "{kind}: {other:?}");
                }
            }
        }
    }
}

/// The first field of a shape.
fn frame_of(is: impl Fn(&Shape) -> bool) -> Frame {
    let fields = Kind::ALL.iter().flat_map(|kind| kind.fields().iter().map(|field| (*kind, field)));
    let (kind, field) = fields.into_iter().find(|(_, field)| is(&field.shape)).unwrap();
    Frame::new(kind, field)
}

/// A time of RFC 3339, or something that nearly is one. The last two days of the year
/// 9999 are left out: an instant there may lie in the year 10000.
fn time() -> impl Strategy<Value = String> {
    let date = (0_u32..9999, 0_u32..14, 0_u32..33);
    let clock = (0_u32..25, 0_u32..61, 0_u32..62);
    let offset = prop_oneof![
        3 => Just("Z".to_owned()),
        3 => (0_u32..25, 0_u32..61, any::<bool>())
            .prop_map(|(h, m, east)| format!("{}{h:02}:{m:02}", if east { '+' } else { '-' })),
        1 => prop::sample::select(vec!["", "z", "+1:00", "+0100", "+01", "-00:00", "UTC"]).prop_map(str::to_owned),
    ];
    let decimals = prop_oneof![3 => Just(String::new()), 1 => "\\.[0-9]{0,12}"];
    let between = prop_oneof![8 => Just("T"), 1 => Just("t"), 1 => Just(" ")];
    (date, between, clock, decimals, offset).prop_map(
        |((y, m, d), between, (h, min, s), decimals, offset)| {
            format!("{y:04}-{m:02}-{d:02}{between}{h:02}:{min:02}:{s:02}{decimals}{offset}")
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn type_and_schema_agree_on_times(times in prop::collection::vec(time(), 20)) {
        let frame = frame_of(|shape| matches!(shape, Shape::Time));
        let validator = validator(frame.kind);
        for time in times {
            let agreed = frame.accepts(&validator, &format!("\"{time}\""));
            prop_assert!(agreed.is_ok(), "{}", agreed.unwrap_err());
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn type_and_schema_agree_on_numbers_of_every_range(
        near in prop::collection::vec((-3_i64..4, 0_i32..20), 30),
        texts in prop::collection::vec("-?(0|[1-9][0-9]{0,18})(\\.[0-9]{1,18})?([eE][+-]?[0-9]{1,3})?", 30),
    ) {
        for kind in Kind::ALL.iter().copied() {
            let validator = validator(kind);
            for field in kind.fields() {
                let edges: Vec<f64> = match field.shape {
                    Shape::Number(range) => vec![range.min, range.max],
                    Shape::Count(min, max) => vec![min as f64, max as f64],
                    _ => continue,
                };
                let frame = Frame::new(kind, field);
                let beside = |edge: f64| near.iter().map(move |(n, e)| edge + *n as f64 / 10_f64.powi(*e));
                let numbers = edges.into_iter().flat_map(beside).map(|x| format!("{x:?}"));
                for number in numbers.chain(texts.iter().cloned()) {
                    let agreed = frame.accepts(&validator, &number);
                    prop_assert!(agreed.is_ok(), "{kind}: {}", agreed.unwrap_err());
                }
            }
        }
    }

    #[test]
    fn type_and_schema_agree_on_names(texts in prop::collection::vec("[\\s\\PC\u{85}\u{feff}\u{200b}]{0,3}", 200)) {
        let frame = frame_of(|shape| matches!(shape, Shape::Name));
        let validator = validator(frame.kind);
        for text in texts {
            let agreed = frame.accepts(&validator, &Value::String(text).to_string());
            prop_assert!(agreed.is_ok(), "{}", agreed.unwrap_err());
        }
    }
}
