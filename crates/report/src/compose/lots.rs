//! Each lot: what it is, its diameter, its verdicts, its melt flow, its balance.

use super::verdicts;
use super::{charts, measures};
use crate::collect::{Collected, LotFacts, Ruling};
use crate::document::{Column, Document};
use crate::numbers::count;

/// Lots shown in detail.
const DETAILED: usize = 500;

pub(super) fn section(document: &mut Document, c: &Collected) {
    if c.lab.lots.is_empty() {
        return;
    }
    document.heading(2, "Lots");
    overview(document, c);
    measures::lot_balances(document, c);
    let mut lots: Vec<_> = c.lab.lots.iter().filter(|(lot, _)| has_findings(c, lot)).collect();
    let all = lots.len();
    if all > DETAILED {
        lots.sort_by_key(|(lot, _)| verdicts::urgency(c.findings.by_lot.get(*lot)));
        lots.truncate(DETAILED);
    }
    for (lot, facts) in lots {
        one(document, c, lot, facts.as_ref());
    }
    if all > DETAILED {
        document.paragraph(format!(
            "Of {} lots with findings, the {DETAILED} that need a person most are shown; the tables (--csv) hold all.",
            count(all as u64)
        ));
    }
    if c.lab.lots.refused() > 0 {
        document
            .paragraph("There are more lots than this report shows; the tables (--csv) hold all.");
    }
}

fn overview(document: &mut Document, c: &Collected) {
    let columns = vec![
        Column::text("lot"),
        Column::text("material"),
        Column::text("form"),
        Column::text("origin"),
        Column::count("passes"),
        Column::text("verdicts"),
    ];
    let rows = c.lab.lots.iter().map(|(lot, facts)| {
        let facts = facts.as_ref();
        vec![
            lot.as_str().into(),
            facts.map_or("not described", |f| f.material.as_str()).into(),
            facts.map_or("", |f| f.form).into(),
            facts.map_or("", |f| f.origin).into(),
            facts.and_then(|f| f.passes).map(count).unwrap_or_default().into(),
            verdicts::summary(c.findings.by_lot.get(lot)),
        ]
    });
    document.table(columns, rows.collect());
}

/// Whether there is more to say of a lot than stands in the tables of all lots. A lot
/// that was only balanced, and is not in question, needs no section of its own.
fn has_findings(c: &Collected, lot: &String) -> bool {
    let f = &c.findings;
    let balanced = f.lot_balances.get(lot).is_some();
    f.by_lot.get(lot).is_some_and(|d| !balanced || d.fails + d.undecided > 0 || d.conforms > 1)
        || f.diameters.get(lot).is_some()
        || f.shares.get(lot).is_some()
        || f.clean.get(lot).is_some()
        || f.melt_flows.get(lot).is_some()
        || f.excursions.iter().any(|((l, _), _)| l == lot)
}

fn one(document: &mut Document, c: &Collected, lot: &String, facts: Option<&LotFacts>) {
    let f = &c.findings;
    document.heading(3, format!("Lot {lot}"));
    if let Some(note) = facts.map(|f| f.note.as_str()).filter(|n| !n.is_empty()) {
        document.paragraph(format!("Note: {note}"));
    }
    let rulings: Vec<&Ruling> = [&f.fails, &f.undecided, &f.conforms]
        .into_iter()
        .flat_map(|list| list.items())
        .filter(|r| r.about.lot == *lot)
        .collect();
    if !rulings.is_empty() {
        document.heading(4, "Verdicts");
    }
    verdicts::table(document, &rulings, |r| verdicts::besides_lot(&r.about));
    for figures in f.diameters.get(lot).into_iter().flatten() {
        measures::diameter(document, figures);
    }
    let drifts = f.drifts.get(lot).map(Vec::as_slice).unwrap_or_default();
    let clean = f.clean.get(lot).map(Vec::as_slice).unwrap_or_default();
    measures::remarks(document, drifts, clean);
    if let Some(waves) = f.waves.get(lot) {
        measures::waves(document, waves);
    }
    if let Some(chart) = f.charts.get(lot) {
        charts::control(document, lot, chart);
    }
    if let Some(shares) = f.shares.get(lot) {
        measures::shares(document, shares);
    }
    if let Some(capabilities) = f.capabilities.get(lot) {
        measures::capabilities(document, capabilities);
    }
    if let Some(flows) = f.flows.get(lot) {
        measures::flows(document, flows);
    }
    for ((_, machine), list) in f.cut_lists.iter().filter(|((l, _), _)| l == lot) {
        measures::cut_list(document, machine, list);
    }
    for ((_, machine), worst) in f.excursions.iter().filter(|((l, _), _)| l == lot) {
        measures::excursions(document, machine, worst);
    }
    if let Some(results) = f.melt_flows.get(lot) {
        measures::melt_flow(document, results);
    }
}
