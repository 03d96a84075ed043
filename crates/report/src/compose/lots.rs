//! Each lot: what it is, its diameter, its verdicts, its melt flow, its balance.

use super::verdicts;
use super::{Depth, capped, measures};
use crate::collect::{Collected, LotFacts, Ruling};
use crate::document::{Column, Document, Item};
use crate::figure::{self, trace::Judged};
use crate::numbers::count;

pub(super) fn section(document: &mut Document, c: &Collected, depth: Depth) {
    if c.lab.lots.is_empty() {
        return;
    }
    document.heading(2, "Lots");
    overview(document, c, depth);
    measures::lot_balances(document, c, depth);
    let mut lots: Vec<_> = c.lab.lots.iter().filter(|(lot, _)| has_findings(c, lot)).collect();
    let all = lots.len();
    if all > depth.lots.min(depth.drawn) && (depth.drawn > 0 || all > depth.lots) {
        lots.sort_by_key(|(lot, _)| verdicts::urgency(c.findings.by_lot.get(*lot)));
        lots.truncate(depth.lots);
    }
    if depth.drawn > 0 && !lots.is_empty() {
        guide(document);
    }
    let mut drawn = 0;
    for (lot, facts) in lots {
        let before = document.figures();
        one(document, c, lot, facts.as_ref(), drawn < depth.drawn);
        drawn += usize::from(document.figures() > before);
    }
    if all > depth.lots {
        document.paragraph(format!(
            "Of {} lots with findings, the {} that need a person most are shown; the tables (--csv) hold all.",
            count(all as u64),
            depth.lots
        ));
    }
    if drawn >= depth.drawn && depth.drawn > 0 {
        document.paragraph(format!("The first {drawn} of them are drawn."));
    }
    if c.lab.lots.refused() > 0 {
        document
            .paragraph("There are more lots than this report shows; the tables (--csv) hold all.");
    }
}

fn overview(document: &mut Document, c: &Collected, depth: Depth) {
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
    capped(document, columns, rows.collect(), depth.rows);
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

fn one(
    document: &mut Document,
    c: &Collected,
    lot: &String,
    facts: Option<&LotFacts>,
    drawn: bool,
) {
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
    if drawn {
        figures(document, c, lot);
    }
    for figures in f.diameters.get(lot).into_iter().flatten() {
        measures::diameter(document, figures);
    }
    let drifts = f.drifts.get(lot).map(Vec::as_slice).unwrap_or_default();
    let clean = f.clean.get(lot).map(Vec::as_slice).unwrap_or_default();
    measures::remarks(document, drifts, clean);
    if let Some(waves) = f.waves.get(lot) {
        measures::waves(document, waves);
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

/// The drawings of a lot.
fn figures(document: &mut Document, c: &Collected, lot: &String) {
    let Some(pictures) = &c.pictures else { return };
    if let Some(curve) = pictures.readings.of(lot) {
        let shares = c.findings.shares.get(lot).map(Vec::as_slice).unwrap_or_default();
        let judged: Vec<Judged<'_>> = shares
            .iter()
            .map(|share| Judged {
                share,
                stretches: pictures.stretches.get(&(lot.clone(), share.machine.clone())),
            })
            .collect();
        document.figure(figure::trace::draw(lot, curve, &judged));
        document.figure(figure::histogram::draw(lot, curve, &judged));
    }
    if let Some(chart) = pictures.charts.get(lot) {
        document.figure(figure::chart::draw(lot, chart));
    }
    if let Some(waves) = c.findings.waves.get(lot) {
        document.figure(figure::waves::draw(lot, waves));
    }
}

/// How to read the drawings of every lot, once for all.
fn guide(document: &mut Document) {
    document.heading(3, "How to read the drawings of a lot");
    document.list(vec![
        Item::new("Diameter:", "grey, from the lowest to the highest axis of all readings in a column of the drawing, so that no extreme is left out; dark, their mean by area. Bands are the tolerances of machines; orange is outside some of them, red outside all. The strip of each machine shows the pieces to keep (filled) and to cut out (dotted), and a tick at each excursion."),
        Item::new("Histogram:", "each axis of each reading counts once; dashed, the limits of the machines; the same colours."),
        Item::new("Control charts:", "solid, the centre; dashed, the limits; ringed, a subgroup at which a rule signals. Limits of the lot's own show what differs within it, not whether it is good."),
        Item::new("Waves:", "only those that noise does not explain; whiskers are two standard uncertainties."),
    ]);
}
