//! The scanner and the peek against a full parse: where they answer, they answer
//! what `serde_json` answers (RFC 8259 is the judge of both).

use proptest::prelude::*;
use secondmelt_record::facts::Diameter;
use secondmelt_record::scan::{self, Peek};
use secondmelt_record::{Kind, Record};
use serde_json::Value;

/// A piece of a JSON text, or of something that nearly is one.
fn number() -> impl Strategy<Value = String> {
    prop_oneof![
        8 => (0_u32..4, 0_u32..100_000).prop_map(|(whole, part)| format!("{whole}.{part}")),
        2 => "-?[0-9]{1,17}(\\.[0-9]{1,17})?",
        2 => "-?(0|[1-9][0-9]{0,3})(\\.[0-9]{0,4})?([eE][+-]?[0-9]{0,3})?",
        1 => Just("1.7500".to_owned()),
        1 => prop::sample::select(vec![
            "-0", "0", "-0.0", "00", "01.5", "1.", ".5", "+1", "1e400", "-", "--1", "NaN", "Infinity", "1_0",
            "999999999999999", "0.999999999999999", "123456789012345", "1234567890123456", "1.7 5", "٣",
            "0.000000000000001", "1000000000", "1000000000.1", "4503599627370497.5",
        ]).prop_map(str::to_owned),
        1 => prop::sample::select(vec!["null", "true", "\"1.75\"", "[1.75]", "{}", ""]).prop_map(str::to_owned),
    ]
}

fn text() -> impl Strategy<Value = String> {
    prop_oneof![
        6 => "[a-z0-9-]{1,8}".prop_map(|t| format!("\"{t}\"")),
        1 => "[ -~]{0,8}".prop_map(|t| format!("\"{t}\"")),
        1 => "\\PC{0,6}".prop_map(|t| format!("\"{t}\"")),
        1 => prop::sample::select(vec![
            "\"\"", "\" \"", "\"a\\u0062\"", "\"a\\", "\"\\ud800\"", "\"\u{a0}\"", "\"\u{1}\"", "\"\t\"", "\"a\"b\"",
            "\"\u{2028}\"", "\"\u{7f}\"", "7", "null", "[\"a\"]", "\"diameter\"",
        ]).prop_map(str::to_owned),
    ]
}

fn space() -> impl Strategy<Value = &'static str> {
    prop_oneof![
        30 => Just(""),
        4 => prop::sample::select(vec![" ", "  ", "\t", "\r"]),
        1 => prop::sample::select(vec!["\u{c}", "\u{b}", "\u{a0}", "\u{feff}", "\u{0}", ",", ":", "\"", "\\"]),
    ]
}

fn member() -> impl Strategy<Value = String> {
    let numbers =
        prop::sample::select(vec!["position_m", "time_s", "dx_mm", "dy_mm", "dz_mm", "trial"]);
    let texts =
        prop::sample::select(vec!["lot", "gauge", "part", "operator", "kind", "note", "dx_m", ""]);
    prop_oneof![
        (numbers, space(), space(), number())
            .prop_map(|(key, before, after, value)| format!("\"{key}\"{before}:{after}{value}")),
        (texts, space(), space(), text())
            .prop_map(|(key, before, after, value)| format!("\"{key}\"{before}:{after}{value}")),
    ]
}

fn kind_member() -> impl Strategy<Value = String> {
    prop_oneof![
        12 => Just("\"kind\":\"diameter\"".to_owned()),
        1 => prop::sample::select(vec![
            "\"kind\": \"diameter\"", "\"kind\" :\"diameter\"", "\"kind\":\"diametre\"", "\"kind\":\"lab.x\"",
            "\"kind\":\"di\\u0061meter\"", "\"kind\":7", "\"Kind\":\"diameter\"", "\"kind\":\"\"", "\"kind\":null",
        ]).prop_map(str::to_owned),
    ]
}

/// A diameter record, or something that nearly is one.
fn line() -> impl Strategy<Value = String> {
    let needed = (kind_member(), text(), number()).prop_map(|(kind, lot, dx)| {
        vec![kind, format!("\"lot\":{lot}"), format!("\"dx_mm\":{dx}")]
    });
    let members = (needed, prop::collection::vec(member(), 0..4), any::<bool>())
        .prop_map(|(mut needed, more, shuffled)| {
            needed.extend(more);
            (needed, shuffled)
        })
        .prop_flat_map(|(members, shuffled)| {
            if shuffled { Just(members).prop_shuffle().boxed() } else { Just(members).boxed() }
        });
    (
        members,
        prop::collection::vec(space(), 8),
        prop::sample::select(vec!["", "", "", "", "x", ",", "}", "{}"]),
    )
        .prop_map(|(members, spaces, tail)| {
            let mut gaps = spaces.into_iter();
            let mut gap = || gaps.next().unwrap_or("");
            let body: Vec<_> =
                members.into_iter().map(|m| format!("{}{m}{}", gap(), gap())).collect();
            format!("{{{}}}{}{tail}", body.join(","), gap())
        })
}

/// A line with one byte taken out, put in twice, or replaced.
fn near_miss() -> impl Strategy<Value = String> {
    (line(), any::<prop::sample::Index>(), 0..4_u8, "[ -~]").prop_map(|(line, at, how, other)| {
        let mut chars: Vec<char> = line.chars().collect();
        let at = at.index(chars.len());
        match how {
            0 => drop(chars.remove(at)),
            1 => chars.insert(at, chars[at]),
            2 => chars[at] = other.chars().next().unwrap_or(' '),
            _ => {}
        }
        chars.into_iter().collect()
    })
}

fn agrees(line: &str) -> Result<(), TestCaseError> {
    if let Some(scanned) = scan::diameter(line) {
        let parsed: Diameter<'_> = serde_json::from_str(line)
            .map_err(|error| TestCaseError::fail(format!("scanned, but {error}: {line:?}")))?;
        prop_assert_eq!(&scanned, &parsed);
        for (a, b) in [(scanned.position_m, parsed.position_m), (scanned.time_s, parsed.time_s)] {
            prop_assert_eq!(a.map(|x| x.get().to_bits()), b.map(|x| x.get().to_bits()), "{}", line);
        }
        prop_assert_eq!(scan::peek(line), Peek::Known(Kind::Diameter));
    }
    Ok(())
}

/// The kind by a full parse; none where the line is no JSON object with one.
fn kind_by_full_parse(line: &str) -> Option<String> {
    match serde_json::from_str::<Value>(line) {
        Ok(Value::Object(map)) => map.get("kind")?.as_str().map(str::to_owned),
        _ => None,
    }
}

fn peek_agrees(line: &str) -> Result<(), TestCaseError> {
    let full = kind_by_full_parse(line);
    // A full parse keeps the last of two kinds; the peek may have seen the first only.
    let twice = line.matches("kind").count() > 1;
    match scan::peek(line) {
        Peek::Known(kind) => {
            let record = Record::parse(kind, line);
            // What starts with its kind is not looked at any further, so it may turn
            // out not to be JSON; a record that can be read must be of that kind.
            let same = full.as_deref().is_none_or(|full| full == kind.name());
            prop_assert!(record.is_err() || same || twice, "{}", line);
        }
        Peek::Stranger(kind) if full.is_some() && !twice => {
            prop_assert_eq!(full.as_deref(), Some(kind.as_str()))
        }
        Peek::Stranger(_) => {}
        Peek::Blank => prop_assert!(line.chars().all(|c| " \t\r\n".contains(c))),
        Peek::Bad(_) => {
            prop_assert!(full.is_none_or(|kind| kind.is_empty() || twice), "{}", line);
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 5000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_scanner_reads_a_diameter_as_a_full_parse_does(line in line()) {
        agrees(&line)?;
        peek_agrees(&line)?;
    }

    #[test]
    fn the_scanner_never_accepts_what_a_full_parse_refuses(line in near_miss()) {
        agrees(&line)?;
        peek_agrees(&line)?;
    }

    #[test]
    fn a_record_that_starts_with_its_kind_and_one_that_ends_with_it_are_of_one_kind(
        kind in "[a-z_.]{1,12}", name in "[a-z]{1,5}", value in number(),
    ) {
        let first = format!("{{\"kind\":\"{kind}\",\"{name}\":{value}}}");
        let last = format!("{{\"{name}\":{value},\"kind\":\"{kind}\"}}");
        if serde_json::from_str::<Value>(&first).is_ok() && name != "kind" {
            prop_assert_eq!(scan::peek(&first), scan::peek(&last));
        }
    }
}

#[test]
fn most_plain_diameter_records_are_read_by_the_scanner() {
    // Else the properties above would hold for want of an answer.
    for line in [
        r#"{"kind":"diameter","lot":"spool-7","position_m":12.4,"time_s":177.1,"dx_mm":1.7500,"dy_mm":1.747}"#,
        r#"{ "lot": "a", "kind": "diameter", "dx_mm": 2.85 }"#,
        "{\"kind\":\"diameter\",\"lot\":\"a\",\"dx_mm\":1.75,\"gauge\":\"g\",\"dz_mm\":1.7}\t",
    ] {
        assert!(scan::diameter(line).is_some(), "{line}");
    }
}

#[test]
fn white_space_that_json_does_not_have_makes_a_line_no_record() {
    // RFC 8259, section 2: white space is space, tab, line feed, carriage return.
    for odd in ["\u{c}", "\u{b}", "\u{a0}", "\u{feff}"] {
        let line = format!("{{\"kind\":\"diameter\",\"lot\":\"a\",\"dx_mm\":1.75}}{odd}");
        assert_eq!(scan::diameter(&line), None, "{line:?}");
        assert!(matches!(scan::peek(&line), Peek::Bad(_)), "{line:?}");
        assert!(matches!(scan::peek(odd), Peek::Bad(_)), "{odd:?}");
    }
}
