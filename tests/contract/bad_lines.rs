//! What is no record: every line of it is answered, and nothing around it is lost.

use super::{met_a_problem, ran};
use crate::common::stream_filters;

#[test]
fn a_line_that_is_no_record_is_answered_by_a_problem_that_holds_its_text() {
    let deep = format!("{{\"a\":{}{},\"kind\":\"lab.x\"}}", "[".repeat(80), "]".repeat(80));
    let far_deeper = format!("{{\"a\":{},\"kind\":\"lab.x\"}}", "[".repeat(100_000));
    let cases = [
        ("not-json", "a line of a log"),
        ("not-json", "{\"kind\":\"lot\",\"lot\":\"a\""),
        ("not-json", "{'kind':'lot'}"),
        ("not-json", "{\"lot\":\"a\",\"kind\":\"lot\"} {}"),
        ("not-json", "\u{feff}{\"lot\":\"a\",\"kind\":\"lab.x\"}"),
        ("not-json", "{\"x\":NaN,\"kind\":\"lab.x\"}"),
        ("no-kind", "[1,2]"),
        ("no-kind", "\"lot\""),
        ("no-kind", "{\"lot\":\"a\"}"),
        ("no-kind", "{\"lot\":\"a\",\"kind\":7}"),
        ("no-kind", "{\"kind\":\"\"}"),
        ("duplicate-key", "{\"a\":1,\"kind\":\"lab.x\",\"kind\":\"lab.y\"}"),
        ("nested-too-deep", &deep),
        ("nested-too-deep", &far_deeper),
    ];
    let good = "{\"kind\":\"lab.note\",\"n\":1}\n";
    for (code, line) in cases {
        for filter in stream_filters() {
            let out = ran(filter, &[], format!("{good}{line}\r\n{good}").as_bytes());
            let problems = out.problems();
            assert_eq!(problems.len(), 1, "{filter}: {line}");
            assert_eq!(problems[0]["code"], code, "{filter}: {line}");
            assert_eq!(problems[0]["raw"], line, "{filter}");
            assert_eq!(problems[0]["line"], 2, "{filter}: {line}");
            assert_eq!(out.passed_on(), good.repeat(2).as_bytes(), "{filter}: {line}");
            assert_eq!(out.status, met_a_problem(filter), "{filter}: {line}");
            assert!(out.errors.contains(&format!("line 2: {code}:")), "{filter}: {}", out.errors);
        }
    }
}

#[test]
fn a_bad_last_line_without_its_line_end_leaves_no_empty_line() {
    for filter in stream_filters() {
        for last in [&b"no record"[..], b"\xff"] {
            let out = ran(filter, &[], &[b"{\"kind\":\"lab.note\"}\n", last].concat());
            assert_eq!(out.passed_on(), b"{\"kind\":\"lab.note\"}\n", "{filter}");
            assert_eq!(out.problems().len(), 1, "{filter}");
        }
    }
}

#[test]
fn a_line_that_is_not_utf8_is_answered_with_its_bytes() {
    for filter in stream_filters() {
        let out = ran(
            filter,
            &[],
            b"{\"kind\":\"lab.a\"}\n{\"kind\":\"lab.b\",\"t\":\"gr\xfcn\"}\n{\"kind\":\"lab.c\"}\n",
        );
        let problems = out.problems();
        assert_eq!(problems.len(), 1, "{filter}");
        assert_eq!(problems[0]["code"], "not-utf8", "{filter}");
        let hex = "7b226b696e64223a226c61622e62222c2274223a226772fc6e227d";
        assert_eq!(problems[0]["raw_hex"], hex, "{filter}");
        assert_eq!(out.passed_on(), b"{\"kind\":\"lab.a\"}\n{\"kind\":\"lab.c\"}\n", "{filter}");
    }
}

#[test]
fn a_line_of_two_mebibytes_is_answered_with_its_start_and_length() {
    let long = format!("{{\"kind\":\"lab.long\",\"t\":\"{}\"}}", "a".repeat(2 << 20));
    let good = "{\"kind\":\"lab.note\"}\n";
    for filter in stream_filters() {
        for input in [format!("{good}{long}\n{good}"), format!("{good}{good}{long}")] {
            let out = ran(filter, &[], input.as_bytes());
            let problems = out.problems();
            assert_eq!(problems.len(), 1, "{filter}");
            assert_eq!(problems[0]["code"], "too-long", "{filter}");
            assert_eq!(problems[0]["raw_bytes"], long.len(), "{filter}");
            let start = problems[0]["raw"].as_str().unwrap();
            assert!(start.len() >= 100 && long.starts_with(start), "{filter}");
            assert_eq!(out.passed_on(), good.repeat(2).as_bytes(), "{filter}");
        }
    }
}

#[test]
fn a_reading_that_is_padded_beyond_one_mebibyte_is_too_long_for_every_filter() {
    let good = "{\"kind\":\"diameter\",\"lot\":\"a\",\"dx_mm\":1.75}\n";
    let padding = " ".repeat((1 << 20) + 10);
    let long = format!("{{\"kind\":\"diameter\",{padding}\"lot\":\"a\",\"dx_mm\":1.75}}\n");
    for filter in stream_filters() {
        let out = ran(filter, &[], format!("{good}{long}{good}").as_bytes());
        let codes: Vec<_> = out.problems().iter().map(|p| p["code"].clone()).collect();
        assert_eq!(codes, ["too-long"], "{filter}");
        assert_eq!(out.passed_on(), good.repeat(2).as_bytes(), "{filter}");
    }
}

#[test]
fn a_line_just_within_one_mebibyte_passes() {
    let line = format!("{{\"kind\":\"lab.long\",\"t\":\"{}\"}}\n", "a".repeat((1 << 20) - 30));
    assert!(line.len() <= 1 << 20);
    for filter in stream_filters() {
        let out = ran(filter, &[], line.as_bytes());
        assert!(out.passed_on() == line.as_bytes(), "{filter}");
    }
}
