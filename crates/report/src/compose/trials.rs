//! The trials: how often each part came out well on each machine, and what went wrong.

use super::{Depth, capped, joined};
use crate::collect::Collected;
use crate::document::{Column, Document};
use crate::figure::{self, trials::attempts};
use crate::numbers::count;
use std::collections::BTreeMap;

pub(super) fn section(document: &mut Document, c: &Collected, depth: Depth) {
    let list = &c.cycles.trials;
    if list.total() == 0 {
        return;
    }
    document.heading(2, "Trials");
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
