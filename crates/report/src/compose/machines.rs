//! The machines, and the verdict of every lot on each.

use super::verdicts;
use crate::collect::{Collected, MachineFacts};
use crate::document::{Cell, Column, Document};
use crate::numbers::{fixed, significant};

/// Machines beside one another in the matrix; more would not fit a page.
const ABREAST: usize = 6;

pub(super) fn section(document: &mut Document, c: &Collected) {
    if c.lab.machines.is_empty() {
        return;
    }
    document.heading(2, "Machines");
    let columns = vec![
        Column::text("machine"),
        Column::text("does"),
        Column::number("nominal", "mm"),
        Column::number("tolerance", "mm"),
        Column::number("ovality at most", "mm"),
        Column::number("bore", "mm"),
    ];
    let known = |(name, facts): (&String, &Option<MachineFacts>)| {
        facts.as_ref().map(|f| machine_row(name, f))
    };
    document.table(columns, c.lab.machines.iter().filter_map(known).collect());
    matrix(document, c);
}

fn machine_row(name: &str, m: &MachineFacts) -> Vec<Cell> {
    let mm = |x: Option<f64>, shown: fn(f64) -> String| -> Cell {
        x.map(shown).unwrap_or_default().into()
    };
    let short = |x| significant(x, 3);
    vec![
        name.into(),
        m.does.into(),
        mm(m.nominal_mm, |x| fixed(x, 2)),
        mm(m.tolerance_mm, short),
        mm(m.ovality_mm, short),
        mm(m.bore_mm, |x| fixed(x, 2)),
    ]
}

/// Lots by machines: the worst verdict of each pair.
fn matrix(document: &mut Document, c: &Collected) {
    let pairs = &c.findings.by_pair;
    let has_lot = |lot: &String| pairs.iter().any(|((l, _), _)| l == lot);
    let has_machine = |machine: &String| pairs.iter().any(|((_, m), _)| m == machine);
    let lots: Vec<&String> = c.lab.lots.iter().map(|(l, _)| l).filter(|l| has_lot(l)).collect();
    let machines: Vec<&String> =
        c.lab.machines.iter().map(|(m, _)| m).filter(|m| has_machine(m)).collect();
    for some in machines.chunks(ABREAST) {
        let mut columns = vec![Column::text("lot")];
        columns.extend(some.iter().map(|m| Column::text(m.as_str())));
        let rows = lots.iter().map(|lot| {
            let mut row = vec![Cell::from(lot.as_str())];
            row.extend(some.iter().map(|machine| {
                verdicts::summary(pairs.get(&((*lot).clone(), (*machine).clone())))
            }));
            row
        });
        document.table(columns, rows.collect());
    }
}
