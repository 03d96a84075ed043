//! What is proposed to change.

use super::attention::ended_sentence;
use super::verdicts::subject;
use crate::collect::{Collected, Proposal, Subject};
use crate::document::{Document, Item};
use crate::numbers::{self, count, quantity, significant};

/// Adjustments listed one by one.
const LISTED: usize = 100;

pub(super) fn section(document: &mut Document, c: &Collected) {
    let list = &c.findings.adjustments;
    if list.total() == 0 {
        return;
    }
    document.heading(2, "Proposed adjustments");
    let mut items = Vec::new();
    let mut basis = "";
    for proposal in list.items().iter().take(LISTED) {
        items.push(item(proposal, basis));
        basis = proposal.basis.as_str();
    }
    let more = list.total().saturating_sub(items.len() as u64);
    if more > 0 {
        items.push(Item::plain(format!(
            "and {} more (--csv writes all to adjustment.csv)",
            count(more)
        )));
    }
    document.list(items);
}

/// A proposal; `told` is the basis of the one before, which is not told again.
fn item(p: &Proposal, told: &str) -> Item {
    let basis = if p.basis == told { "as above." } else { &ended_sentence(&p.basis) };
    let from = subject(&Subject { machine: String::new(), ..p.about.clone() });
    let from = if from.is_empty() { from } else { format!(" (worked out from {from})") };
    let on = match p.about.machine.as_str() {
        "" => String::new(),
        machine => format!(" on {machine}"),
    };
    Item::new(
        format!("{}{on}:", p.what),
        format!(
            "{}{}{from}: {} Basis: {}",
            change(p),
            interval(p),
            ended_sentence(&p.because),
            basis
        ),
    )
}

/// "from 235 to 228 C".
fn change(p: &Proposal) -> String {
    let shown = |x: f64| quantity(x, &p.unit);
    let text = match (p.from, p.to) {
        (Some(from), Some(to)) => format!("from {} to {}", shown(from), shown(to)),
        (None, Some(to)) => format!("to {}", shown(to)),
        (Some(from), None) => format!("from {}, to what is not settled", shown(from)),
        (None, None) => return "to what is not settled".to_owned(),
    };
    match numbers::unit(&p.unit) {
        "" => text,
        unit => format!("{text} {unit}"),
    }
}

/// ", between 225 and 231 at 95 % confidence".
fn interval(p: &Proposal) -> String {
    let Some((low, high)) = p.interval else { return String::new() };
    let level = p.confidence.map(|c| match c {
        0.0 => " (a usual range, which claims no confidence)".to_owned(),
        c => format!(" at {} % confidence", significant(100.0 * c, 4)),
    });
    let shown = |x: f64| quantity(x, &p.unit);
    format!(", between {} and {}{}", shown(low), shown(high), level.unwrap_or_default())
}
