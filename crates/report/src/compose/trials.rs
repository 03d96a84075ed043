//! The trials: how often each part came out well on each machine, and what went wrong.

use super::{Depth, capped, designs, joined};
use crate::collect::{Collected, Evidence};
use crate::document::{Cell, Column, Document, Item, Tone};
use crate::figure::{self, trials::attempts};
use crate::numbers::{count, fixed};
use secondmelt_record::findings::Proof;
use std::collections::BTreeMap;

pub(super) fn section(document: &mut Document, c: &Collected, depth: Depth) {
    let found = c.cycles.evidence.total() + c.cycles.next_trials.total();
    if c.cycles.trials.total() + found == 0 && c.designs.0.is_empty() {
        return;
    }
    document.heading(2, "Trials");
    evidence(document, c, depth);
    made(document, c, depth);
    designs::section(document, c, depth);
}

/// The trials themselves, by part and machine.
fn made(document: &mut Document, c: &Collected, depth: Depth) {
    let list = &c.cycles.trials;
    if list.total() == 0 {
        return;
    }
    let all = attempts(list.items());
    if depth.drawn > 0 {
        document.figure(figure::trials::draw(&all));
    }
    let columns = vec![
        Column::text("part"),
        Column::text("machine"),
        Column::count("good"),
        Column::count("of"),
        Column::text("faults"),
        Column::text("last changed"),
    ];
    let rows = all.iter().map(|a| {
        let mut faults: BTreeMap<&str, usize> = BTreeMap::new();
        for trial in a.trials.iter().filter(|t| !t.good) {
            let fault = if trial.fault.is_empty() { "not said" } else { trial.fault };
            *faults.entry(fault).or_default() += 1;
        }
        let faults: Vec<String> = faults
            .into_iter()
            .map(|(fault, n)| if n > 1 { format!("{fault} ({n})") } else { fault.to_owned() })
            .collect();
        let changed = a.trials.iter().rev().find(|t| !t.changed.is_empty());
        vec![
            a.part.into(),
            a.machine.into(),
            count(a.good() as u64).into(),
            count(a.trials.len() as u64).into(),
            joined(&faults).into(),
            changed.map(|t| t.changed.as_str()).unwrap_or_default().into(),
        ]
    });
    capped(document, columns, rows.collect(), depth.rows);
    let more = list.total() - list.items().len() as u64;
    if more > 0 {
        document.paragraph(format!(
            "Another {} trials are not in it; the tables hold all.",
            count(more)
        ));
    }
}

/// What the trials prove, and which trial tells most.
fn evidence(document: &mut Document, c: &Collected, depth: Depth) {
    let list = &c.cycles.evidence;
    if list.total() > 0 {
        if depth.drawn > 0 {
            document.figure(figure::shares::draw(list.items()));
        }
        let columns = vec![
            Column::text("step"),
            Column::text("machine"),
            Column::text("material"),
            Column::count("difficulty"),
            Column::text("good"),
            Column::text("share, %"),
            Column::text("as set now"),
            Column::text("standing"),
        ];
        capped(document, columns, list.items().iter().map(row).collect(), depth.rows);
        document.paragraph(
            "Share: exact 95 % interval of the share of good ones among all trials. Standing: what the trials with the settings \
             of now say of the share that is asked for, however often one looks, and how many further good ones in a row \
             would prove it.",
        );
    }
    let next = &c.cycles.next_trials;
    if next.total() > 0 {
        document.paragraph("The trial that would tell most about what helped:");
        let items = next.items().iter().take(depth.rows);
        document.list(items.map(|(of, why)| Item::new(format!("{of}:"), why.as_str())).collect());
    }
}

fn row(e: &Evidence) -> Vec<Cell> {
    let [_, low, high] = e.share_pct;
    let tone = match e.standing {
        Proof::Proven => Tone::Good,
        Proof::Refuted => Tone::Bad,
        Proof::NotYet => Tone::Unsure,
    };
    let more = match (e.standing, e.more_good) {
        (Proof::NotYet, Some(more)) => format!(", {} more", count(more)),
        _ => String::new(),
    };
    let standing = format!("{} %: {}{more}", fixed(e.asked_pct, 0), e.standing);
    vec![
        e.does.into(),
        e.machine.as_str().into(),
        e.material.as_str().into(),
        e.complexity.map(count).unwrap_or_default().into(),
        format!("{} of {}", count(e.good), count(e.trials)).into(),
        format!("{} to {}", fixed(low, 0), fixed(high, 0)).into(),
        format!("{} of {}", count(e.now_good), count(e.now_trials)).into(),
        Cell::new(standing, tone),
    ]
}
