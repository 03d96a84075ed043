//! Tests that no name in the data harms the report, in whatever format.

use crate::collect::{Collected, Ended, Pictures, Standing};
use crate::compose::{self, Depth};
use crate::document::Document;
use crate::earlier::Earlier;
use crate::text::Style;
use crate::{html, junit, keep, markdown, text};
use proptest::prelude::*;
use quick_xml::Reader;
use quick_xml::events::Event;
use secondmelt_record::contract::Counts;
use secondmelt_record::{Class, Kind, Record};
use serde_json::{Value, json};
use unicode_width::UnicodeWidthStr;

/// What a report is made of in which the name stands wherever a text may stand.
fn collected(name: &str) -> (Collected, Ended) {
    let mut collected = Collected {
        pictures: Some(Box::<Pictures>::default()),
        standing: Some(Standing::default()),
        ..Collected::default()
    };
    for record in records(name) {
        let line = record.to_string();
        let kind = Kind::from_name(record["kind"].as_str().unwrap()).unwrap();
        collected.take(&Record::parse(kind, &line).unwrap());
        if kind.class() == Class::Finding {
            collected.pictures.as_mut().unwrap().row(kind, &line);
        }
    }
    let counts = [(format!("x.{name}"), 1), ("lot".to_owned(), 1)];
    let ended = Ended { read: Counts(counts.into_iter().collect()), cut: Some(name.to_owned()) };
    (collected, ended)
}

fn report_to(name: &str, depth: Depth) -> Document {
    let (collected, ended) = collected(name);
    let earlier = Earlier { file: name.to_owned(), ..Earlier::default() };
    compose::report(name, &collected, &ended, Some(&earlier), depth)
}

fn report(name: &str) -> Document {
    report_to(name, Depth::TEXT)
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
        json!({"kind": "diameter", "lot": n, "position_m": 0.1, "dx_mm": 1.74, "dy_mm": 1.76}),
        json!({"kind": "diameter", "lot": n, "position_m": 0.2, "dx_mm": 1.95}),
        json!({"kind": "out_share", "lot": n, "machine": n, "nominal_mm": 1.75, "tolerance_mm": 0.05,
            "readings": 2, "readings_out": 1, "readings_out_pct": 50, "excursions": 1}),
        json!({"kind": "piece", "lot": n, "machine": n, "keep": true, "from_m": 0.1, "to_m": 0.15,
            "length_m": 0.05}),
        json!({"kind": "wave", "lot": n, "period_m": 0.3, "u_period_m": 0.01, "amplitude_mm": 0.02,
            "u_amplitude_mm": 0.001, "false_alarm": 0.001, "or_else": n, "machine": n,
            "shortest_m": 0.02, "longest_m": 8}),
        json!({"kind": "chart", "lot": n, "limits_of": n, "subgroup_readings": 5, "subgroups": 2,
            "mean_mm": 1.75, "mean_sd_mm": 0.01, "mean_low_mm": 1.72, "mean_high_mm": 1.78,
            "spread_mm": 0.01, "spread_low_mm": 0, "spread_high_mm": 0.02, "lag1": 0.1,
            "signals": {n: 1}, "by_chance": {n: 0.1}}),
        json!({"kind": "chart_point", "lot": n, "last_reading": 5, "readings": 5, "mean_mm": 1.79,
            "sd_mm": 0.01, "signals": n}),
        json!({"kind": "mass_flow", "step": n, "lot": n, "role": "in", "mass_g": 10}),
        json!({"kind": "mass_flow", "step": n, "lot": format!("{n}2"), "role": "out", "mass_g": 8}),
        json!({"kind": "mass_flow", "step": n, "lot": n, "role": "dust", "mass_g": 2}),
        json!({"kind": "descent", "lot": n, "from": format!("{n}2"), "steps": 1, "share_pct": 40}),
        json!({"kind": "melt_flow_drift", "lot": n, "material": n, "temp_c": 230, "load_kg": 2.16,
            "lots": 4, "families": 1, "freedom": 2, "from_pass": 0, "to_pass": 2,
            "factor_per_pass": 1.1, "factor_low": 1.0, "factor_high": 1.2, "scatter_pct": 1,
            "next_pass": 3, "next_g_10min": 11, "next_low_g_10min": 10, "next_high_g_10min": 12}),
        json!({"kind": "passes_left", "lot": n, "material": n, "limit_g_10min": 14, "passes": 2,
            "left": 1}),
        json!({"kind": "composition", "lot": n, "origin": {n: 100}, "passes": {n: 100},
            "mean_passes": 1, "oldest_passes": 1, "oldest_pct": 100}),
        json!({"kind": "trial", "lot": n, "machine": n, "part": n, "outcome": "failed", "changed": n}),
        json!({"kind": "screening_design", "design": n, "machine": n, "runs": 4,
            "factors": [format!("A = {n}: 1 to 2"), n], "generators": [n], "resolution": 3,
            "aliases": [n], "seed": 1, "basis": n}),
        json!({"kind": "screening_run", "design": n, "order": 1, "standard": 2,
            "settings": {n: 1}}),
        json!({"kind": "feed_need", "lot": n, "form": "waste", "target_g": 1000, "stages": [n],
            "yield_pct": 90, "feed_g": 1111}),
        json!({"kind": "reading_plan", "what": n, "each": 1, "in_all": 2, "basis": n}),
        json!({"kind": "machine_time", "does": "print", "machine": n, "mass_g": 1, "hours": 1,
            "basis": n}),
        json!({"kind": "batch_stage", "stage": 1, "of": 1, "product_g": 1, "open": "fails",
            "gate": n, "why": n}),
        json!({"kind": "piece_use", "lot": n, "machine": n, "from_m": 0, "to_m": 2, "length_m": 2,
            "prints": [n, n], "used_m": 1, "left_m": 1}),
        json!({"kind": "piece_plan", "machine": n, "prints": 3, "placed": 2, "placed_at_most": 3,
            "pieces": 1, "pieces_at_least": 1, "gap_pct": 0, "left_over": [n]}),
        json!({"kind": "suspect", "step": n, "lot": n, "role": "in", "measured_g": 1, "suggested_g": 2,
            "off_g": 1, "z": 5, "critical_z": 2, "slip": "none", "or_else": [n], "why": n}),
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

/// All tags that a page may hold.
const TAGS: [&str; 39] = [
    "!doctype",
    "html",
    "head",
    "meta",
    "title",
    "style",
    "body",
    "a",
    "header",
    "h1",
    "h2",
    "h3",
    "h4",
    "nav",
    "ul",
    "li",
    "main",
    "section",
    "p",
    "b",
    "span",
    "div",
    "table",
    "caption",
    "thead",
    "tbody",
    "tr",
    "th",
    "td",
    "details",
    "summary",
    "figure",
    "figcaption",
    "svg",
    "desc",
    "path",
    "rect",
    "circle",
    "text",
];

/// All attributes that a page may hold: none that acts.
const ATTRIBUTES: [&str; 24] = [
    "html",
    "lang",
    "charset",
    "name",
    "content",
    "http-equiv",
    "class",
    "href",
    "id",
    "role",
    "tabindex",
    "aria-label",
    "aria-labelledby",
    "scope",
    "viewBox",
    "d",
    "x",
    "y",
    "width",
    "height",
    "cx",
    "cy",
    "r",
    "text-anchor",
];

/// The tags of a page with the names of their attributes, as a browser would part them.
fn tags(page: &str) -> Vec<(String, Vec<String>)> {
    let mut tags = Vec::new();
    let mut rest = page;
    while let Some(start) = rest.find('<') {
        rest = &rest[start + 1..];
        let (mut names, mut word, mut quoted, mut value) =
            (Vec::new(), String::new(), false, false);
        let mut end = rest.len();
        for (i, c) in rest.char_indices() {
            match c {
                '"' => quoted = !quoted,
                _ if quoted => {}
                '>' => {
                    end = i;
                    break;
                }
                '=' => value = true,
                '/' if value => {}
                c if c.is_whitespace() => {
                    names.push(std::mem::take(&mut word));
                    value = false;
                }
                c if !value => word.push(c),
                _ => names.push(format!("unquoted {c:?}")),
            }
        }
        names.push(word);
        names.retain(|n| !n.is_empty() && n != "/");
        let names: Vec<String> =
            names.into_iter().map(|n| n.trim_end_matches('/').to_owned()).collect();
        if let Some((tag, attributes)) = names.split_first() {
            tags.push((tag.clone(), attributes.to_vec()));
        }
        rest = &rest[end..];
    }
    tags
}

/// Whether a text is well-formed XML, in the view of a general reader of it.
fn well_formed(xml: &str) -> bool {
    let mut reader = Reader::from_str(xml);
    reader.config_mut().check_end_names = true;
    loop {
        match reader.read_event() {
            Ok(Event::Eof) => return true,
            Ok(Event::Start(e) | Event::Empty(e)) => {
                if e.attributes().any(|a| a.is_err()) {
                    return false;
                }
            }
            Ok(_) => {}
            Err(_) => return false,
        }
    }
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
    fn a_page_holds_only_tags_and_attributes_of_its_own(name in name()) {
        let page = html::render(&report_to(&name, Depth::PAGE));
        for (tag, attributes) in tags(&page) {
            prop_assert!(TAGS.contains(&tag.trim_start_matches('/')), "<{tag}> in a page of {name:?}");
            for attribute in attributes {
                prop_assert!(ATTRIBUTES.contains(&attribute.as_str()), "{attribute} in <{tag}> of {name:?}");
            }
        }
        let hidden = |c: char| (c.is_control() && c != '\n') || matches!(c, '\u{202a}'..='\u{202e}');
        prop_assert!(!page.contains(hidden));
        let (mut drawings, mut rest) = (0, page.as_str());
        while let Some(start) = rest.find("<svg ") {
            let end = rest[start..].find("</svg>").unwrap() + start + 6;
            prop_assert!(well_formed(&rest[start..end]), "{}", &rest[start..end]);
            rest = &rest[end..];
            drawings += 1;
        }
        prop_assert!(drawings >= 8, "{drawings} drawings");
    }

    #[test]
    fn test_results_are_well_formed(name in name()) {
        let (collected, ended) = collected(&name);
        let xml = junit::render(&name, &collected, &ended);
        prop_assert!(well_formed(&xml), "{xml}");
    }

    #[test]
    fn a_kept_name_is_short_and_its_own(a in ".{0,300}", b in ".{0,300}") {
        prop_assert!(keep::name(&a).chars().count() < 150);
        prop_assert_eq!(keep::name(&a) == keep::name(&b), a == b);
    }
}
