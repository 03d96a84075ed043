//! What passes through: every line, byte for byte and in its order.

use super::{Ran, example, loose_kinds, ran};
use crate::common::stream_filters;
use proptest::prelude::*;
use serde_json::Value;
use std::fs;

/// Any JSON value, as a text that few programs would write.
fn value() -> impl Strategy<Value = String> {
    let plain = prop_oneof![
        prop::sample::select(vec![
            "1e400",
            "-1E+400",
            "12345678901234567890123",
            "1.7500",
            "-0.0",
            "0.1000000000000000055511151231257827",
            "1E2",
            "true",
            "\"\"",
            "\"caf\\u00e9 \\/ \\ud83d\\ude00 \\u0000\"",
            "\"größer 直径 😀 \u{2028}\u{feff}\"",
            "\"back\\\\slash \\\"quoted\\\" {[,:]}\"",
            "[]",
            "{}",
            "\"\u{7f}\u{85}\"",
        ])
        .prop_map(str::to_owned),
        "-?[1-9][0-9]{0,30}(\\.[0-9]{1,30})?([eE][+-]?[0-9]{1,3})?",
        "[^\\\\\"\\p{Cc}]{0,12}".prop_map(|text| format!("\"{text}\"")),
    ];
    plain.prop_recursive(3, 12, 3, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..3)
                .prop_map(|items| format!("[ {}]", items.join(" ,"))),
            prop::collection::vec(inner, 0..3).prop_map(|items| {
                let members = items.iter().enumerate().map(|(i, item)| format!("\"k{i}\": {item}"));
                format!("{{{}}}", members.collect::<Vec<_>>().join(", "))
            }),
        ]
    })
}

/// A record of a stranger's kind, or one of ours with fields that nobody knows, in any
/// order and spacing.
fn record() -> impl Strategy<Value = String> {
    let strangers = ("[a-z]{1,6}\\.[a-z_.]{0,8}|x[a-z_]{2,8}")
        .prop_map(|kind| vec![format!("\"kind\":\"{kind}\"")]);
    let ours = prop::sample::select(loose_kinds()).prop_map(|kind| {
        let record: serde_json::Map<String, Value> = serde_json::from_str(&example(kind)).unwrap();
        record.iter().map(|(name, value)| format!("\"{name}\":{value}")).collect::<Vec<_>>()
    });
    (prop_oneof![strangers, ours], prop::collection::vec(value(), 0..4), any::<bool>())
        .prop_flat_map(|(mut members, more, shuffled)| {
            members.extend(more.iter().enumerate().map(|(i, value)| format!("\"x_{i}\":{value}")));
            if shuffled { Just(members).prop_shuffle().boxed() } else { Just(members).boxed() }
        })
        .prop_flat_map(|members| (Just(members), prop::sample::select(vec!["", " ", "\t", "  "])))
        .prop_map(|(members, space)| {
            format!("{{{space}{}{space}}}{space}", members.join(&format!("{space},{space}")))
        })
}

/// A line that passes through every filter, with its line end.
fn line() -> impl Strategy<Value = String> {
    let text = prop_oneof![
        12 => record(),
        1 => prop::sample::select(vec!["", " ", "\t ", "  "]).prop_map(str::to_owned),
    ];
    (text, prop::sample::select(vec!["\n", "\n", "\n", "\r\n", "\r\r\n"]))
        .prop_map(|(text, end)| text + end)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn passing_through_changes_nothing(lines in prop::collection::vec(line(), 1..80), ended in any::<bool>()) {
        let all = lines.concat();
        let last = all.len() - lines.last().map_or(0, String::len);
        // A last line without its line end gets one; a blank one would vanish with it.
        let cut = !ended && !lines.last().is_some_and(|line| line.trim().is_empty());
        let input = if cut { &all[..last + all[last..].trim_end_matches('\n').len()] } else { &all };
        for filter in stream_filters() {
            let out = ran(filter, &[], input.as_bytes());
            let passed_on = String::from_utf8(out.passed_on()).unwrap();
            prop_assert_eq!(&passed_on, &all, "{}: {}", filter, out.errors);
        }
    }

    #[test]
    fn a_chain_of_all_filters_changes_nothing_either(lines in prop::collection::vec(line(), 1..60)) {
        let input = lines.concat();
        let mut stream = input.clone().into_bytes();
        for filter in stream_filters() {
            stream = ran(filter, &[], &stream).lines.concat();
        }
        // Every line that was given is still there, in its order.
        let given = input.split_inclusive('\n').map(str::as_bytes);
        let mut found = stream.split_inclusive(|byte| *byte == b'\n');
        for line in given {
            prop_assert!(found.any(|other| other == line), "{}", String::from_utf8_lossy(line));
        }
    }
}

#[test]
fn splitting_a_stream_and_joining_it_again_changes_nothing() {
    let lines: Vec<String> = loose_kinds().iter().map(|kind| example(*kind) + "\n").collect();
    let all = lines.concat();
    let folder = tempfile::tempdir().unwrap();
    for filter in stream_filters() {
        let whole = ran(filter, &[], all.as_bytes());
        for at in [1, lines.len() / 2, lines.len() - 1] {
            let (a, b) = (folder.path().join("a"), folder.path().join("b"));
            fs::write(&a, lines[..at].concat()).unwrap();
            fs::write(&b, lines[at..].concat()).unwrap();
            let parts = ran(filter, &[a.to_str().unwrap(), b.to_str().unwrap()], b"");
            assert_eq!(parts.passed_on(), whole.passed_on(), "{filter}");
            assert_eq!(findings(&parts), findings(&whole), "{filter}, split at {at}");
        }
    }
}

/// The run's own findings, without where in the input they were found.
fn findings(ran: &Ran) -> Vec<Value> {
    let id = ran.id();
    let records = ran.lines.iter().filter_map(|line| serde_json::from_slice(line).ok());
    let own = records.filter(|record: &Value| record["by"] == id.as_str());
    own.map(|mut record| {
        let map = record.as_object_mut().unwrap();
        map.retain(|name, _| !matches!(name.as_str(), "by" | "file" | "line"));
        record
    })
    .collect()
}
