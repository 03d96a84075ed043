//! The figures of a lot: diameter, share out of tolerance, excursions, melt flow, balance.

use super::{Depth, capped, plural};
use crate::collect::{
    CapabilityFigures, CleanFigures, Collected, CutList, DiameterFigures, DriftFigures,
    ExcursionFigures, FlowFigures, LotFigures, MeltFlowFigures, Share, WaveFigures,
};
use crate::document::{Cell, Column, Document};
use crate::keep::Worst;
use crate::numbers::{
    MM, all_significant, count, fixed, grams, maybe_u, metres, percent, significant, with_u,
};

fn mm(x: f64) -> String {
    fixed(x, MM)
}

fn if_any(x: Option<f64>, shown: fn(f64) -> String) -> Cell {
    x.map(shown).unwrap_or_default().into()
}

pub(super) fn diameter(document: &mut Document, d: &DiameterFigures) {
    document.heading(4, "Diameter");
    let columns = vec![
        Column::count("readings"),
        Column::number("length", "m"),
        Column::number("mean", "mm"),
        Column::number("std. dev.", "mm"),
        Column::number("least", "mm"),
        Column::number("most", "mm"),
        Column::number("mean by area", "mm"),
        Column::number("worst ovality", "mm"),
    ];
    let row = vec![
        count(d.readings).into(),
        if_any(d.length_m, metres),
        mm(d.mean_mm).into(),
        if_any(d.sd_mm, mm),
        mm(d.min_mm).into(),
        mm(d.max_mm).into(),
        mm(d.area_mm).into(),
        if_any(d.ovality_max_mm, mm),
    ];
    document.table(columns, vec![row]);
    let notes = diameter_notes(d);
    if !notes.is_empty() {
        document.paragraph(notes.join(" "));
    }
}

fn diameter_notes(d: &DiameterFigures) -> Vec<String> {
    let mut notes = Vec::new();
    if let Some(mean) = d.ovality_mean_mm {
        let place = d.ovality_max_at_m.map(|m| format!(", worst at {} m", metres(m)));
        notes.push(format!("Ovality {} mm on average{}.", mm(mean), place.unwrap_or_default()));
    }
    if let Some(lag1) = d.lag1 {
        notes.push(format!("Lag-1 autocorrelation {}.", fixed(lag1, 2)));
    }
    if d.axes == 1 {
        notes.push("One axis: ovality cannot be seen.".to_owned());
    } else if d.axes == 2 && d.ovality_mean_mm.is_some() {
        notes.push("Two axes see only part of the ovality.".to_owned());
    }
    if let Some((low, high)) = d.mean_mm_95 {
        let count =
            d.effective.map(|n| format!(", the readings counting as {n:.0} independent ones"));
        let count = count.unwrap_or_default();
        notes.push(format!(
            "The mean lies between {} and {} mm at 95 %{count}.",
            mm(low),
            mm(high)
        ));
    }
    if let Some((low, high)) = d.middle_90_mm {
        notes.push(format!("The middle 90 % of the readings: {} to {} mm.", mm(low), mm(high)));
    }
    if let Some(mass) = d.mass_g {
        notes.push(format!("Mass {} g by length and density.", grams(mass)));
    }
    if d.gaps > 0 {
        notes.push(format!("{} in the log, not bridged.", plural(d.gaps, "gap")));
    }
    if d.out_of_order > 0 {
        let n = plural(d.out_of_order, "reading");
        notes.push(format!("{n} out of order."));
    }
    notes
}

pub(super) fn shares(document: &mut Document, shares: &[Share]) {
    document.heading(4, "Out of tolerance");
    let columns = vec![
        Column::text("machine"),
        Column::text("tolerance, mm"),
        Column::count("readings out"),
        Column::number("out", "m"),
        Column::number("out", "%"),
        Column::count("excursions"),
        Column::count("pieces"),
        Column::number("kept", "m"),
        Column::number("kept", "g"),
    ];
    let rows = shares.iter().map(|s| {
        let tolerance =
            format!("{} \u{b1} {}", fixed(s.nominal_mm, 2), significant(s.tolerance_mm, 3));
        vec![
            s.machine.as_str().into(),
            tolerance.into(),
            count(s.readings_out).into(),
            if_any(s.out_m, metres),
            // Of the length, or of the readings where there is none.
            percent(s.out_pct.unwrap_or(s.readings_out_pct)).into(),
            count(s.excursions).into(),
            s.pieces.map(count).unwrap_or_default().into(),
            if_any(s.kept_m, metres),
            if_any(s.kept_g, grams),
        ]
    });
    document.table(columns, rows.collect());
}

/// What the diameter does to the flow of printers.
pub(super) fn flows(document: &mut Document, flows: &[FlowFigures]) {
    document.heading(4, "Flow of a printer that feeds by length");
    let columns = vec![
        Column::text("machine"),
        Column::number("mean error", "%"),
        Column::number("flow factor", ""),
        Column::number("averaged over", "m"),
        Column::number("std. dev.", "%"),
        Column::number("least", "%"),
        Column::number("most", "%"),
    ];
    let signed = |x: f64| format!("{x:+.2}");
    let rows = flows.iter().map(|f| {
        vec![
            f.machine.as_str().into(),
            signed(f.error_pct).into(),
            fixed(f.factor, 4).into(),
            if_any(f.smoothing_m, |m| significant(m, 3)),
            if_any(f.spread_pct, |x| fixed(x, 2)),
            if_any(f.least_pct, signed),
            if_any(f.most_pct, signed),
        ]
    });
    document.table(columns, rows.collect());
}

/// How a lot fits the tolerances of machines as a process.
pub(super) fn capabilities(document: &mut Document, all: &[CapabilityFigures]) {
    document.heading(4, "Capability (were the readings normal)");
    let columns = vec![
        Column::text("machine"),
        Column::number("Pp", ""),
        Column::number("at least (95 %)", ""),
        Column::number("Ppk", ""),
        Column::number("at least (95 %)", ""),
        Column::number("Cpk", ""),
        Column::number("out, estimated", "%"),
        Column::number("at most (95 %)", "%"),
        Column::number("out, observed", "%"),
    ];
    let index = |x: f64| fixed(x, 2);
    let rows = all.iter().map(|c| {
        vec![
            c.machine.as_str().into(),
            index(c.pp).into(),
            if_any(c.pp_low, index),
            index(c.ppk).into(),
            if_any(c.ppk_low, index),
            if_any(c.cpk, index),
            c.estimated_out_pct.map_or_else(|| "< 0.0001".to_owned(), percent).into(),
            if_any(c.estimated_out_high_pct, percent),
            percent(c.observed_out_pct).into(),
        ]
    });
    document.table(columns, rows.collect());
    if all.iter().any(|c| c.cpk.is_none()) {
        document.paragraph("Cpk is left out where readings follow one another: neighbours are alike then, and it would flatter.");
    }
}

/// Drift and cleanliness of a lot, in sentences.
pub(super) fn remarks(document: &mut Document, drifts: &[DriftFigures], clean: &[CleanFigures]) {
    for d in drifts {
        let micrometres = |x: f64| format!("{:+.2}", 1000.0 * x);
        let interval = d.interval.map(|(low, high)| {
            format!(", between {} and {} at 95 %", micrometres(low), micrometres(high))
        });
        let chance =
            if d.probability < 0.001 { "below 0.001".to_owned() } else { fixed(d.probability, 3) };
        document.paragraph(format!(
            "Drift: {:+.3} mm over its length, {} \u{b5}m per m{}; chance of as much without a drift: {chance}.",
            d.over_length_mm,
            micrometres(d.slope_mm_per_m),
            interval.unwrap_or_default()
        ));
    }
    for c in clean {
        document.paragraph(format!(
            "Inclusions: {} in {} m looked over; {:.3} to {:.3} per m (each limit at 95 %).",
            count(c.inclusions),
            metres(c.length_m),
            c.low_per_m,
            c.high_per_m
        ));
    }
}

/// Waves along a lot and what makes them.
pub(super) fn waves(document: &mut Document, waves: &[WaveFigures]) {
    document.heading(4, "Waves along it");
    let columns = vec![
        Column::number("period", "m"),
        Column::number("std. unc.", "m"),
        Column::number("amplitude", "mm"),
        Column::number("std. unc.", "mm"),
        Column::text("fits"),
    ];
    let rows = waves.iter().map(|w| {
        let (period, u_period) = with_u(w.period_m, w.u_period_m);
        let (amplitude, u_amplitude) = with_u(w.amplitude_mm, w.u_amplitude_mm);
        vec![
            period.into(),
            u_period.into(),
            amplitude.into(),
            u_amplitude.into(),
            w.cause.as_str().into(),
        ]
    });
    document.table(columns, rows.collect());
}

/// The cut list for a machine, where anything is cut.
pub(super) fn cut_list(document: &mut Document, machine: &str, list: &CutList) {
    if list.cuts == 0 {
        return;
    }
    document.heading(4, format!("Cut list for {machine}"));
    let columns = vec![
        Column::text("what"),
        Column::number("from", "m"),
        Column::number("to", "m"),
        Column::number("length", "m"),
    ];
    let rows = list.first.iter().map(|p| {
        let what = if p.keep { "keep" } else { "cut out" };
        let at = |m: f64| Cell::from(fixed(m, 3));
        vec![what.into(), at(p.from_m), at(p.to_m), at(p.length_m)]
    });
    document.table(columns, rows.collect());
    let more = list.total.saturating_sub(list.first.len() as u64);
    if more > 0 {
        document.paragraph(format!("and {} more (--csv writes all to piece.csv).", count(more)));
    }
}

pub(super) fn excursions(document: &mut Document, machine: &str, worst: &Worst<ExcursionFigures>) {
    let order = if worst.total() > 1 { ", worst first" } else { "" };
    document.heading(4, format!("Excursions for {machine} ({}{order})", count(worst.total())));
    let columns = vec![
        Column::text("side"),
        Column::number("from", "m"),
        Column::number("to", "m"),
        Column::number("length", "m"),
        Column::number("from", "s"),
        Column::number("to", "s"),
        Column::count("first reading"),
        Column::count("readings"),
        Column::number("furthest", "mm"),
        Column::number("beyond limit by", "mm"),
    ];
    let rows = worst.items().map(excursion_row).collect();
    document.table(columns, rows);
    if worst.more() > 0 {
        document.paragraph(format!("and {} more, less bad.", count(worst.more())));
    }
}

/// Places in m or, where there are none, in s or by number of the reading.
fn excursion_row(e: &ExcursionFigures) -> Vec<Cell> {
    let fine = |x| fixed(x, 3);
    let by_time = e.from_m.is_none();
    let by_number = by_time && e.from_s.is_none();
    vec![
        e.side.into(),
        if_any(e.from_m, fine),
        if_any(e.to_m, fine),
        if_any(e.length_m, fine),
        if_any(e.from_s.filter(|_| by_time), fine),
        if_any(e.to_s.filter(|_| by_time), fine),
        if by_number { count(e.first_reading).into() } else { Cell::default() },
        count(e.readings).into(),
        mm(e.worst_mm).into(),
        mm(e.beyond_mm).into(),
    ]
}

pub(super) fn melt_flow(document: &mut Document, results: &[MeltFlowFigures]) {
    document.heading(4, "Melt flow");
    let columns = vec![
        Column::text("run"),
        Column::number("at", "\u{b0}C"),
        Column::number("load", "kg"),
        Column::count("cuts"),
        Column::number("MFR", "g/10 min"),
        Column::number("std. dev.", "g/10 min"),
        Column::number("spread", "%"),
        Column::number("MVR", "cm3/10 min"),
        Column::number("melt density", "g/cm3"),
    ];
    let rows = results.iter().map(|m| {
        let sd = m.sd_g_10min.filter(|sd| *sd > 0.0);
        let (mfr, sd) = match sd {
            Some(sd) => with_u(m.mfr_g_10min, sd),
            None => (all_significant(m.mfr_g_10min, 3), String::new()),
        };
        vec![
            m.run.as_str().into(),
            significant(m.temp_c, 4).into(),
            fixed(m.load_kg, 2).into(),
            count(m.cuts).into(),
            mfr.into(),
            sd.into(),
            if_any(m.spread_pct, percent),
            if_any(m.mvr_cm3_10min, |x| all_significant(x, 3)),
            if_any(m.melt_density_g_cm3, |x| fixed(x, 3)),
        ]
    });
    document.table(columns, rows.collect());
}

/// The balances of all lots, beside one another.
pub(super) fn lot_balances(document: &mut Document, c: &Collected, depth: Depth) {
    let columns = vec![
        Column::text("lot"),
        Column::number("made", "g"),
        Column::number("used", "g"),
        Column::number("used", "%"),
        Column::number("stock", "g"),
        Column::number("unexplained", "g"),
        Column::number("std. unc.", "g"),
        Column::count("streams not weighed"),
    ];
    let of_lot = |lot: &String| c.findings.lot_balances.get(lot).into_iter().flatten();
    let lots = c.lab.lots.iter().map(|(lot, _)| lot);
    let rows: Vec<_> = lots.flat_map(|lot| of_lot(lot).map(|b| balance_row(lot, b))).collect();
    if !rows.is_empty() {
        document.heading(3, "Balance of lots");
        capped(document, columns, rows, depth.rows);
    }
}

fn balance_row(lot: &str, b: &LotFigures) -> Vec<Cell> {
    let (rest, u) =
        b.unexplained_g.map(|x| maybe_u(x, b.u_unexplained_g, grams)).unwrap_or_default();
    vec![
        lot.into(),
        grams(b.made_g).into(),
        grams(b.used_g).into(),
        if_any(b.used_pct, |x| fixed(x, 1)),
        if_any(b.stock_g, grams),
        rest.into(),
        u.into(),
        if b.not_weighed > 0 { count(b.not_weighed).into() } else { Cell::default() },
    ]
}
