//! The plastic by pass: melt flow, passes that are left, what lots are made of.

use super::{Depth, capped};
use crate::collect::{Collected, FlowDrift, Left};
use crate::document::{Column, Document};
use crate::figure::{self, passes::Tested};
use crate::numbers::{count, fixed, maybe_u, percent, significant};

pub(super) fn section(document: &mut Document, c: &Collected, depth: Depth) {
    let k = &c.cycles;
    let nothing = k.drifts.total() + k.left.total() + k.made_of.total() + k.recycled.total() == 0;
    if nothing && k.parents.total() == 0 {
        return;
    }
    document.heading(2, "The plastic by pass");
    if depth.drawn > 0 {
        drawn(document, c);
        family(document, c);
    }
    drifts(document, c);
    left(document, c);
    made_of(document, c, depth);
}

/// One drawing for each material, temperature and load.
fn drawn(document: &mut Document, c: &Collected) {
    let drifts = c.cycles.drifts.items();
    let test = |d: &FlowDrift| (d.material.clone(), d.temp_c.to_bits(), d.load_kg.to_bits());
    let mut seen = Vec::new();
    for drift in drifts {
        if seen.contains(&test(drift)) || seen.len() == 12 {
            continue;
        }
        seen.push(test(drift));
        let same: Vec<&FlowDrift> = drifts.iter().filter(|d| test(d) == test(drift)).collect();
        let mut limits: Vec<&Left> = Vec::new();
        for l in c.cycles.left.items() {
            let known = limits.iter().any(|k| k.limit_g_10min == l.limit_g_10min);
            if !known && same.iter().any(|d| d.lot == l.lot) {
                limits.push(l);
            }
        }
        let tested = tested(c, drift);
        document.figure(figure::passes::draw(&tested, &same, &limits));
    }
}

/// Lots of the material that were tested so, and of which the passes are known.
fn tested<'a>(c: &'a Collected, drift: &FlowDrift) -> Vec<Tested<'a>> {
    let mut all = Vec::new();
    for (lot, facts) in c.lab.lots.iter() {
        let Some(facts) = facts.as_ref().filter(|f| f.material == drift.material) else { continue };
        let Some(passes) = facts.passes else { continue };
        let results = c.findings.melt_flows.get(lot).into_iter().flatten();
        let same = |m: &&crate::collect::MeltFlowFigures| {
            m.temp_c == drift.temp_c && m.load_kg == drift.load_kg
        };
        all.extend(results.filter(same).map(|m| Tested { lot, passes, mfr: m.mfr_g_10min }));
        if all.len() > 400 {
            break;
        }
    }
    all
}

fn family(document: &mut Document, c: &Collected) {
    let parents = c.cycles.parents.items();
    let figure = figure::family::draw(parents);
    if figure.is_none() && !parents.is_empty() {
        document.paragraph(format!(
            "There are more lots than a family tree can show ({}); the table of descents (--csv, --xlsx) holds them.",
            figure::family::LOTS_MAX
        ));
    }
    document.figure(figure);
}

fn drifts(document: &mut Document, c: &Collected) {
    let list = c.cycles.drifts.items();
    if list.is_empty() {
        return;
    }
    document.heading(3, "Melt flow from pass to pass");
    let columns = vec![
        Column::text("oldest lot"),
        Column::text("material"),
        Column::number("at", "\u{b0}C"),
        Column::number("load", "kg"),
        Column::count("lots"),
        Column::number("factor of a pass", ""),
        Column::text("95 % interval"),
        Column::number("scatter", "%"),
        Column::count("next pass"),
        Column::number("expected then", "g/10 min"),
        Column::text("95 % of lots"),
        Column::number("chance of such a misfit", ""),
    ];
    let three = |x: f64| significant(x, 3);
    let rows = list.iter().map(|d| {
        vec![
            d.lot.as_str().into(),
            d.material.as_str().into(),
            significant(d.temp_c, 4).into(),
            fixed(d.load_kg, 2).into(),
            count(d.lots).into(),
            fixed(d.factor[0], 3).into(),
            format!("{} to {}", fixed(d.factor[1], 3), fixed(d.factor[2], 3)).into(),
            fixed(d.scatter_pct, 1).into(),
            count(d.next_pass).into(),
            three(d.next[0]).into(),
            format!("{} to {}", three(d.next[1]), three(d.next[2])).into(),
            d.fit_p.map(|p| significant(p, 2)).unwrap_or_default().into(),
        ]
    });
    document.table(columns, rows.collect());
}

fn left(document: &mut Document, c: &Collected) {
    let list = c.cycles.left.items();
    if list.is_empty() {
        return;
    }
    document.heading(3, "Passes that are left");
    let columns = vec![
        Column::text("lot"),
        Column::number("limit", "g/10 min"),
        Column::count("passes so far"),
        Column::count("left"),
        Column::number("line meets it at pass", ""),
        Column::text("95 % interval"),
    ];
    let rows = list.iter().map(|l| {
        let interval =
            l.interval.map(|(low, high)| format!("{} to {}", fixed(low, 1), fixed(high, 1)));
        vec![
            l.lot.as_str().into(),
            significant(l.limit_g_10min, 4).into(),
            count(l.passes).into(),
            count(l.left).into(),
            l.at_pass.map(|p| fixed(p, 1)).unwrap_or_default().into(),
            interval.unwrap_or_default().into(),
        ]
    });
    document.table(columns, rows.collect());
}

/// Passes and recycled content of each lot, beside one another.
fn made_of(document: &mut Document, c: &Collected, depth: Depth) {
    let (made, recycled) = (c.cycles.made_of.items(), c.cycles.recycled.items());
    if made.is_empty() && recycled.is_empty() {
        return;
    }
    document.heading(3, "What lots are made of");
    let columns = vec![
        Column::text("lot"),
        Column::number("times melted, mean", ""),
        Column::count("oldest part"),
        Column::number("oldest part", "%"),
        Column::number("recycled content, strict", "%"),
        Column::number("std. unc.", "%"),
        Column::number("with own regrind", "%"),
        Column::number("unknown origin", "%"),
    ];
    let content: std::collections::HashMap<&str, &crate::collect::Recycled> =
        recycled.iter().map(|r| (r.lot.as_str(), r)).collect();
    let mut rows = Vec::new();
    for m in made {
        let r = content.get(m.lot.as_str());
        let mut row = vec![
            m.lot.as_str().into(),
            fixed(m.mean_passes, 2).into(),
            count(m.oldest_passes).into(),
            percent(m.oldest_pct).into(),
        ];
        row.extend(of_content(r.copied()));
        rows.push(row);
    }
    let known: std::collections::HashSet<&str> = made.iter().map(|m| m.lot.as_str()).collect();
    for r in recycled.iter().filter(|r| !known.contains(r.lot.as_str())) {
        let mut row = vec![r.lot.as_str().into(), "".into(), "".into(), "".into()];
        row.extend(of_content(Some(r)));
        rows.push(row);
    }
    capped(document, columns, rows, depth.rows);
    let more = c.cycles.made_of.total() > made.len() as u64;
    if more {
        document
            .paragraph("There are more lots than this report shows; the tables (--csv) hold all.");
    }
}

fn of_content(r: Option<&crate::collect::Recycled>) -> Vec<crate::document::Cell> {
    let Some(r) = r else { return vec!["".into(); 4] };
    let (strict, u) = maybe_u(r.strict_pct, r.u_strict_pct, percent);
    vec![
        strict.into(),
        u.into(),
        r.boundary_pct.map(percent).unwrap_or_default().into(),
        if r.unknown_pct > 0.0 { percent(r.unknown_pct).into() } else { "".into() },
    ]
}
