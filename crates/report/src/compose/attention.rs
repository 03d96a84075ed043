//! Does anything need a person?

use super::verdicts::{ruling_item, subject};
use super::{joined, plural};
use crate::collect::{Collected, Danger, Ended, Ruling, Subject};
use crate::document::{Cell, Document, Item, Tone};
use crate::keep::Capped;
use crate::numbers::count;
use secondmelt_record::contract::CONTRACT;

/// Verdicts listed one by one.
const LISTED: usize = 20;
/// Lots, steps or machines named after a caution.
const NAMED: usize = 8;

pub(super) fn section(document: &mut Document, c: &Collected, ended: &Ended) {
    if let Some(why) = &ended.cut {
        document.blocks.push(crate::document::Block::Alarm {
            shout: "Cut short: this report is not complete".to_owned(),
            why: format!(
                "The records end before they should: {why}. What follows is all that arrived."
            ),
        });
    }
    document.heading(2, "Does anything need a person?");
    document.paragraph(answer(c, ended));
    rulings(document, "Failed", &c.findings.fails);
    rulings(document, "Undecided", &c.findings.undecided);
    remarks(document, "Weighings most likely wrong", &c.findings.suspects, "suspect.csv");
    remarks(document, "What makes spools uneven", &c.findings.causes, "cause.csv");
    problems(document, c);
    cautions(document, c);
}

/// The answer in one sentence.
fn answer(c: &Collected, ended: &Ended) -> Cell {
    let f = &c.findings;
    let mut needs = Vec::new();
    if ended.cut.is_some() {
        needs.push("a stream that was cut short".to_owned());
    }
    let mut add = |n: u64, one: &str| {
        if n > 0 {
            needs.push(plural(n, one));
        }
    };
    add(f.decided.fails, "failed verdict");
    add(f.decided.undecided, "undecided verdict");
    add(c.problems_total(), "problem");
    add(f.cautions.len() as u64 + f.more_cautions, "caution");
    let verdicts = match (f.decided.total(), f.decided.conforms) {
        (0, _) if ended.cut.is_some() => " No verdicts arrived.".to_owned(),
        (0, _) => " No verdicts: no filter that decides ran.".to_owned(),
        (_, 0) => String::new(),
        (_, 1) => " 1 verdict conforms.".to_owned(),
        (_, n) => format!(" {} verdicts conform.", count(n)),
    };
    let bad = ended.cut.is_some() || f.decided.fails > 0 || c.problems_total() > 0;
    match (needs.is_empty(), f.decided.total()) {
        (false, _) => {
            let tone = if bad { Tone::Bad } else { Tone::Unsure };
            Cell::new(format!("Yes: {}.{verdicts}", joined(&needs)), tone)
        }
        (true, 0) => Cell::new(format!("Nothing was decided.{verdicts}"), Tone::Unsure),
        (true, _) => Cell::new(format!("No.{verdicts} There are no problems."), Tone::Good),
    }
}

fn rulings(document: &mut Document, title: &str, list: &Capped<Ruling>) {
    if list.total() == 0 {
        return;
    }
    document.heading(3, title);
    let mut items: Vec<Item> = list.items().iter().take(LISTED).map(ruling_item).collect();
    and_more(&mut items, list.total(), "verdict.csv");
    document.list(items);
}

/// Sentences about lots and steps.
fn remarks(document: &mut Document, title: &str, list: &Capped<(Subject, String)>, table: &str) {
    if list.total() == 0 {
        return;
    }
    document.heading(3, title);
    let item = |(about, why): &(Subject, String)| {
        Item::plain(format!("{}: {}", subject(about), ended_sentence(why)))
    };
    let mut items: Vec<Item> = list.items().iter().take(LISTED).map(item).collect();
    and_more(&mut items, list.total(), table);
    document.list(items);
}

/// Says how many are not listed.
fn and_more(items: &mut Vec<Item>, total: u64, table: &str) {
    let more = total.saturating_sub(items.len() as u64);
    if more > 0 {
        items.push(Item::plain(format!("and {} more (--csv writes all to {table})", count(more))));
    }
}

fn problems(document: &mut Document, c: &Collected) {
    if c.problems_total() == 0 && c.frame.newer.is_none() {
        return;
    }
    document.heading(3, "Problems");
    let mut codes: Vec<_> = c.frame.problems.iter().collect();
    codes.sort_by_key(|(_, problems)| std::cmp::Reverse(problems.total));
    let counts: Vec<String> =
        codes.iter().map(|(code, p)| format!("{} {code}", count(p.total))).collect();
    if !counts.is_empty() {
        document.paragraph(format!("{}.", joined(&counts)));
    }
    let mut items = Vec::new();
    for (code, problems) in codes {
        let lead = || Cell::new(format!("{code}:"), Tone::Bad);
        items.extend(problems.first.iter().map(|s| Item::new(lead(), s.as_str())));
        let more = problems.total.saturating_sub(problems.first.len() as u64);
        if more > 0 {
            items.push(Item::new(lead(), format!("and {} more", count(more))));
        }
    }
    let mut told = |n: u64, text: &str| {
        if n > 0 {
            items.push(Item::new(Cell::new(plural(n, "problem"), Tone::Bad), text));
        }
    };
    told(
        c.frame.problems_missing(),
        "counted by earlier runs, whose records were left out of the stream",
    );
    if let Some(version) = c.frame.newer {
        items.push(Item::plain(format!(
            "Some records follow version {version} of the record contract; this report knows {CONTRACT}."
        )));
    }
    document.list(items);
}

fn cautions(document: &mut Document, c: &Collected) {
    let f = &c.findings;
    if f.cautions.is_empty() {
        return;
    }
    document.heading(3, "Cautions");
    let mut items: Vec<Item> = f.cautions.iter().map(caution).collect();
    and_more(&mut items, f.cautions.len() as u64 + f.more_cautions, "caution.csv");
    document.list(items);
}

fn caution(d: &Danger) -> Item {
    let about: Vec<String> =
        d.about.iter().take(NAMED).map(subject).filter(|s| !s.is_empty()).collect();
    let more = d.about.len().saturating_sub(NAMED);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    let about =
        if about.is_empty() { String::new() } else { format!("{}{more}: ", about.join("; ")) };
    Item::plain(format!(
        "{about}{} This comes first: {}",
        ended_sentence(&d.danger),
        ended_sentence(&d.defer_to)
    ))
}

/// The text with a full stop, where it has no end of its own.
pub(super) fn ended_sentence(text: &str) -> String {
    let text = text.trim();
    if text.is_empty() || text.ends_with(['.', '!', '?', ')']) {
        text.to_owned()
    } else {
        format!("{text}.")
    }
}
