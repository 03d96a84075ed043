//! Each step: balance, yield, losses, verdict.

use super::{Depth, capped, verdicts};
use crate::collect::{Collected, Ruling, StepFigures};
use crate::document::{Cell, Column, Document};
use crate::figure;
use crate::numbers::{count, fixed, grams, maybe_u, percent};

pub(super) fn section(document: &mut Document, c: &Collected, depth: Depth) {
    let f = &c.findings;
    let rulings: Vec<&Ruling> = [&f.fails, &f.undecided, &f.conforms]
        .into_iter()
        .flat_map(|list| list.items())
        .filter(|r| !r.about.step.is_empty() && r.about.lot.is_empty())
        .collect();
    let steps = f.step_balances.items();
    if c.lab.steps.is_empty() && steps.is_empty() {
        return;
    }
    document.heading(2, "Steps");
    overview(document, c, depth);
    if depth.drawn > 0 {
        flow(document, c);
    }
    let steps_shown = &steps[..steps.len().min(depth.rows)];
    balances(document, steps_shown);
    yields(document, steps_shown);
    losses(document, steps_shown);
    if !rulings.is_empty() {
        document.heading(4, "Verdicts");
    }
    verdicts::table(document, &rulings, |r| r.about.step.clone());
    let more = f.step_balances.total() - steps.len() as u64;
    if more > 0 || steps.len() > depth.rows || c.lab.steps.refused() > 0 {
        document
            .paragraph("There are more steps than this report shows; the tables (--csv) hold all.");
    }
}

/// The diagram of mass flows, or why there is none.
fn flow(document: &mut Document, c: &Collected) {
    let edges = c.cycles.edges.items();
    let figure = figure::mass::draw(edges);
    if figure.is_none() && !edges.is_empty() {
        document.paragraph(format!(
            "There are more steps than a diagram can show ({}); the table of mass flows (--csv, --xlsx) holds them.",
            figure::mass::STEPS_MAX
        ));
    }
    document.figure(figure);
}

fn overview(document: &mut Document, c: &Collected, depth: Depth) {
    let columns = vec![
        Column::text("step"),
        Column::text("does"),
        Column::text("machine"),
        Column::text("began"),
        Column::number("energy", "kWh"),
        Column::text("verdicts"),
    ];
    let rows = c.lab.steps.iter().map(|(step, facts)| {
        let facts = facts.as_ref();
        vec![
            step.as_str().into(),
            facts.map_or("not described", |f| f.does).into(),
            facts.map_or("", |f| f.machine.as_str()).into(),
            // On one line where there is room, since every row has one.
            facts.map(|f| f.at.replace(' ', "\u{a0}")).unwrap_or_default().into(),
            facts.and_then(|f| f.energy_kwh).map(|e| fixed(e, 2)).unwrap_or_default().into(),
            verdicts::summary(c.findings.by_step.get(step)),
        ]
    });
    capped(document, columns, rows.collect(), depth.rows);
}

fn balances(document: &mut Document, steps: &[StepFigures]) {
    let columns = vec![
        Column::text("step"),
        Column::number("in", "g"),
        Column::number("out", "g"),
        Column::number("losses", "g"),
        Column::number("unexplained", "g"),
        Column::number("std. unc.", "g"),
        Column::count("streams not weighed"),
    ];
    let rows = steps.iter().map(|b| {
        let lost: f64 = b.losses.values().sum();
        let (rest, u) =
            b.unexplained_g.map(|x| maybe_u(x, b.u_unexplained_g, grams)).unwrap_or_default();
        vec![
            b.step.as_str().into(),
            grams(b.in_g).into(),
            grams(b.out_g).into(),
            if b.losses.is_empty() { Cell::default() } else { grams(lost).into() },
            rest.into(),
            u.into(),
            if b.not_weighed > 0 { count(b.not_weighed).into() } else { Cell::default() },
        ]
    });
    captioned(document, "Balance", columns, rows.collect());
}

fn yields(document: &mut Document, steps: &[StepFigures]) {
    let columns =
        vec![Column::text("step"), Column::number("yield", "%"), Column::number("std. unc.", "%")];
    let rows = steps.iter().filter_map(|b| {
        let (value, u) = maybe_u(b.yield_pct?, b.u_yield_pct, percent);
        Some(vec![b.step.as_str().into(), value.into(), u.into()])
    });
    captioned(document, "Yield", columns, rows.collect());
}

fn losses(document: &mut Document, steps: &[StepFigures]) {
    let columns = vec![
        Column::text("step"),
        Column::text("as"),
        Column::number("mass", "g"),
        Column::number("of feed", "%"),
    ];
    let mut rows = Vec::new();
    for b in steps {
        let mut step = b.step.as_str();
        for (name, g) in &b.losses {
            let share = if b.in_g > 0.0 { percent(100.0 * g / b.in_g) } else { String::new() };
            let name = name.strip_suffix("_g").unwrap_or(name);
            rows.push(vec![step.into(), name.into(), grams(*g).into(), share.into()]);
            step = "";
        }
    }
    captioned(document, "Losses", columns, rows);
}

/// A table under a small heading; neither where there are no rows.
fn captioned(document: &mut Document, caption: &str, columns: Vec<Column>, rows: Vec<Vec<Cell>>) {
    if !rows.is_empty() {
        document.heading(4, caption);
        document.table(columns, rows);
    }
}
