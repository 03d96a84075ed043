//! The machines, and the verdict of every lot on each.

use super::{Depth, capped, verdicts};
use crate::collect::{Collected, MachineFacts};
use crate::document::{Cell, Column, Document};
use crate::numbers::{fixed, significant};
use std::collections::HashSet;

/// Machines beside one another in the matrix; more would not fit a page.
const ABREAST: usize = 6;
/// Such groups of machines that are shown.
const MATRICES: usize = 10;

pub(super) fn section(document: &mut Document, c: &Collected, depth: Depth) {
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
    capped(document, columns, c.lab.machines.iter().filter_map(known).collect(), depth.rows);
    matrix(document, c, depth);
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
fn matrix(document: &mut Document, c: &Collected, depth: Depth) {
    let pairs = &c.findings.by_pair;
    let judged: HashSet<&String> = pairs.iter().map(|((_, machine), _)| machine).collect();
    let machines: Vec<&String> =
        c.lab.machines.iter().map(|(m, _)| m).filter(|m| judged.contains(m)).collect();
    for some in machines.chunks(ABREAST).take(MATRICES) {
        let here: HashSet<&String> = pairs
            .iter()
            .filter(|((_, machine), _)| some.contains(&machine))
            .map(|((lot, _), _)| lot)
            .collect();
        let mut columns = vec![Column::text("lot")];
        columns.extend(some.iter().map(|m| Column::text(m.as_str())));
        let rows = c.lab.lots.iter().map(|(lot, _)| lot).filter(|lot| here.contains(lot));
        let rows =
            rows.map(|lot| {
                let mut row = vec![Cell::from(lot.as_str())];
                row.extend(some.iter().map(|machine| {
                    verdicts::summary(pairs.get(&(lot.clone(), (*machine).clone())))
                }));
                row
            });
        document.captioned("Verdicts by lot and machine", columns, rows.take(depth.rows).collect());
    }
    if machines.len() > ABREAST * MATRICES {
        document.paragraph(
            "There are more machines than this report shows; the tables (--csv) hold all.",
        );
    }
}
