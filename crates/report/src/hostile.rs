//! Tests that no name in the data harms the report, in whatever format.

use crate::collect::{Collected, Ended};
use crate::document::Document;
use crate::text::Style;
use crate::{compose, keep, markdown, text};
use proptest::prelude::*;
use secondmelt_record::contract::Counts;
use secondmelt_record::{Kind, Record};
use serde_json::{Value, json};
use unicode_width::UnicodeWidthStr;

/// A report in which the name stands wherever a text may stand.
fn report(name: &str) -> Document {
    let mut collected = Collected::default();
    for record in records(name) {
        let line = record.to_string();
        let kind = Kind::from_name(record["kind"].as_str().unwrap()).unwrap();
        collected.take(&Record::parse(kind, &line).unwrap());
    }
    let counts = [(format!("x.{name}"), 1), ("lot".to_owned(), 1)];
    let ended = Ended { read: Counts(counts.into_iter().collect()), cut: Some(name.to_owned()) };
    compose::report(name, &collected, &ended)
}

fn records(n: &str) -> Vec<Value> {
    vec![
        json!({"kind": "begin", "id": n, "program": n, "version": n, "contract": 1, "options": [n], "after": []}),
        json!({"kind": "end", "id": n, "read": {}, "written": {}, "problems": {n: 1}, "cut_short": n,
            "sources": [{"file": n, "bytes": 1, "sha256": n, "records": 1}]}),
        json!({"kind": "lot", "lot": n, "material": n, "note": n}),
        json!({"kind": "machine", "machine": n, "does": "print"}),
        json!({"kind": "step", "step": n, "does": "other", "machine": n}),
        json!({"kind": "verdict", "check": n, "result": "fails", "lot": n, "step": n, "machine": n,
            "value": 1, "limit": 2, "unit": n, "rule": n, "why": n}),
        json!({"kind": "adjustment", "what": n, "lot": n, "to": 1, "unit": n, "because": n, "basis": n}),
        json!({"kind": "caution", "lot": n, "danger": n, "defer_to": n}),
        json!({"kind": "excursion", "lot": n, "machine": n, "side": "above", "readings": 1,
            "first_reading": 1, "worst_mm": 1.9, "beyond_mm": 0.1}),
        json!({"kind": "melt_flow_result", "lot": n, "run": n, "temp_c": 230, "load_kg": 2.16,
            "cuts": 3, "mfr_g_10min": 8.1}),
        json!({"kind": "step_balance", "step": n, "in_g": 2, "out_g": 1, "losses": {n: 1},
            "weighings": 3, "not_weighed": 0}),
        json!({"kind": "problem", "code": "not-json", "file": n, "column": n, "found": n,
            "expected": n, "advice": n}),
    ]
}

/// Names that have done harm somewhere, and any others.
fn name() -> impl Strategy<Value = String> {
    let known = prop::sample::select(vec![
        "<script>alert(1)</script>",
        "=HYPERLINK(\"http://a.example\",\"x\")",
        "../../x",
        "ab\u{202e}gnp.exe",
        "two\nlines",
        "a|b",
        "| --- |",
        "```",
        "\u{2028}# heading",
        "<!-- ",
        "\u{1b}[2J",
        "\u{7dda}\u{6750}\u{30ed}\u{30c3}\u{30c8}",
        "\u{e9}\u{301}\u{301}\u{301}",
    ])
    .prop_map(str::to_owned);
    let any = ".{1,150}".prop_filter("a name is not empty", |n| !n.trim().is_empty());
    prop_oneof![known, any, "x{200,2000}"]
}

/// Pipes that part cells.
fn bars(row: &str) -> usize {
    let mut escaped = false;
    row.chars()
        .filter(|c| {
            let bar = *c == '|' && !escaped;
            escaped = *c == '\\' && !escaped;
            bar
        })
        .count()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn text_keeps_its_width_and_holds_nothing_that_acts_on_a_terminal(
        name in name(), width in 40_usize..160,
    ) {
        let text = text::render(&report(&name), Style { width, colour: false });
        for line in text.lines() {
            prop_assert!(line.width() <= width, "{} > {width}: {line:?}", line.width());
        }
        prop_assert!(text.chars().all(|c| c == '\n' || !c.is_control()));
        let acts = ['\u{202e}', '\u{2066}', '\u{2028}'];
        prop_assert!(!text.contains(acts));
    }

    #[test]
    fn markdown_holds_no_tags_and_its_tables_stay_whole(name in name()) {
        let text = markdown::render(&report(&name));
        let mut columns = None;
        for line in text.lines() {
            let inner = line.strip_prefix("> ").unwrap_or(line);
            prop_assert!(!inner.contains(['<', '>']), "{line:?}");
            prop_assert!(!line.starts_with("```") && !line.starts_with("    "), "{line:?}");
            if line.starts_with('|') {
                let bars = bars(line);
                prop_assert_eq!(*columns.get_or_insert(bars), bars, "{}", line);
            } else {
                columns = None;
            }
        }
    }

    #[test]
    fn a_kept_name_is_short_and_its_own(a in ".{0,300}", b in ".{0,300}") {
        prop_assert!(keep::name(&a).chars().count() < 150);
        prop_assert_eq!(keep::name(&a) == keep::name(&b), a == b);
    }
}
