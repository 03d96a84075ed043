//! Verdicts and what they are about, in words and in tables.

use super::attention::ended_sentence;
use crate::collect::{Collected, Decided, Ruling, Subject};
use crate::document::{Cell, Column, Document, Item, Tone};
use crate::numbers;
use secondmelt_record::findings::Decision;

/// "lot A, step B, machine C"; empty where nothing is named.
pub(crate) fn subject(about: &Subject) -> String {
    let part = |word: &str, name: &str| (!name.is_empty()).then(|| format!("{word} {name}"));
    let parts =
        [part("lot", &about.lot), part("step", &about.step), part("machine", &about.machine)];
    parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

pub(super) fn tone(result: Decision) -> Tone {
    match result {
        Decision::Conforms => Tone::Good,
        Decision::Fails => Tone::Bad,
        Decision::Undecided => Tone::Unsure,
    }
}

/// A verdict as an item of a list: what, about what, why, figures.
pub(super) fn ruling_item(r: &Ruling) -> Item {
    let about = subject(&r.about);
    let figures = figures(r);
    let gap = if figures.is_empty() { "" } else { " " };
    let (lead, about) = if about.is_empty() {
        (format!("{}:", r.check), about)
    } else {
        (r.check.clone(), format!("for {about}: "))
    };
    let why = ended_sentence(&r.why);
    Item::new(Cell::new(lead, tone(r.result)), format!("{about}{why}{gap}{figures}"))
}

/// "(1.81 mm against 1.80 mm; probability 0.03; rule 1)".
pub(crate) fn figures(r: &Ruling) -> String {
    let unit = match numbers::unit(&r.unit) {
        "" => String::new(),
        unit => format!(" {unit}"),
    };
    let mut parts = Vec::new();
    let (value, limit) = shown(r);
    match (value.is_empty(), limit.is_empty()) {
        (false, false) => parts.push(format!("{value}{unit} against {limit}{unit}")),
        (false, true) => parts.push(format!("{value}{unit}")),
        (true, false) => parts.push(format!("limit {limit}{unit}")),
        (true, true) => {}
    }
    if let Some(p) = r.probability {
        parts.push(format!("probability {}", probability(p)));
    }
    if let Some(rule) = r.rule {
        parts.push(format!("rule {rule}"));
    }
    if parts.is_empty() { String::new() } else { format!("({})", parts.join("; ")) }
}

/// Value and limit; empty where there is none. A value without unit or limit is a number that nobody
/// can read: the reason says in words what it is.
fn shown(r: &Ruling) -> (String, String) {
    if r.limit.is_none() && numbers::unit(&r.unit).is_empty() {
        return (String::new(), String::new());
    }
    let one = |x: Option<f64>| x.map(|x| numbers::quantity(x, &r.unit)).unwrap_or_default();
    match (r.value, r.limit) {
        (Some(value), Some(limit)) => numbers::against(value, limit, &r.unit),
        (value, limit) => (one(value), one(limit)),
    }
}

/// A probability: never 0 or 1 unless it is.
fn probability(p: f64) -> String {
    if p == 0.0 || p == 1.0 {
        return numbers::fixed(p, 0);
    }
    if p < 0.001 {
        "below 0.001".to_owned()
    } else if p > 0.999 {
        "above 0.999".to_owned()
    } else {
        numbers::fixed(p, 3)
    }
}

/// A table of verdicts about one thing; `about` names what the thing leaves open.
pub(super) fn table(document: &mut Document, rulings: &[&Ruling], about: fn(&Ruling) -> String) {
    let columns = vec![
        Column::text("check"),
        Column::text("for"),
        Column::text("result"),
        Column::number("value", ""),
        Column::number("limit", ""),
        Column::text("unit"),
        Column::count("rule"),
    ];
    let rows = rulings.iter().map(|r| {
        let (value, limit) = shown(r);
        let unit = if value.is_empty() && limit.is_empty() { "" } else { numbers::unit(&r.unit) };
        vec![
            r.check.as_str().into(),
            about(r).into(),
            Cell::new(r.result.as_str(), tone(r.result)),
            value.into(),
            limit.into(),
            unit.into(),
            r.rule.map(|n| n.to_string()).unwrap_or_default().into(),
        ]
    });
    document.table(columns, rows.collect());
}

/// For sorting: what needs a person most comes first.
pub(super) fn urgency(decided: Option<&Decided>) -> u8 {
    match decided.and_then(|d| d.worst()) {
        Some(Decision::Fails) => 0,
        Some(Decision::Undecided) => 1,
        Some(Decision::Conforms) => 2,
        None => 3,
    }
}

/// The worst of several verdicts, and how many of it where not all are alike.
pub(super) fn summary(decided: Option<&Decided>) -> Cell {
    let Some((decided, worst)) = decided.and_then(|d| Some((d, d.worst()?))) else {
        return Cell::default();
    };
    let n = match worst {
        Decision::Fails => decided.fails,
        Decision::Undecided => decided.undecided,
        Decision::Conforms => decided.conforms,
    };
    let total = decided.total();
    let text = if n == total {
        worst.to_string()
    } else {
        format!("{worst} ({} of {})", numbers::count(n), numbers::count(total))
    };
    Cell::new(text, tone(worst))
}

/// What a verdict is about besides its lot.
pub(super) fn besides_lot(about: &Subject) -> String {
    [about.step.as_str(), about.machine.as_str()]
        .into_iter()
        .filter(|name| !name.is_empty())
        .collect::<Vec<_>>()
        .join(", ")
}

/// The rules that verdicts rest on, by the numbers that stand beside the verdicts.
pub(super) fn rules(document: &mut Document, c: &Collected) {
    let rules = &c.findings.rules;
    if rules.is_empty() {
        return;
    }
    document.heading(2, "Rules of decision");
    let item = |(i, (rule, n)): (usize, (&String, &u64))| {
        let n = super::plural(*n, "verdict");
        Item::new(format!("Rule {}", i + 1), format!("({n}): {}", ended_sentence(rule)))
    };
    document.list(rules.iter().enumerate().map(item).collect());
}
