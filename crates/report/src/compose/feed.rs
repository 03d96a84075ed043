//! The plastic as it comes: what lots may be, how they dry, how coarse they are.

use super::{Depth, titled};
use crate::collect::{Collected, Feed, MayBe};
use crate::document::{Cell, Column, Document};
use crate::numbers::{count, fixed, grams, significant};

pub(super) fn section(document: &mut Document, c: &Collected, depth: Depth) {
    let f = &c.feed;
    let totals =
        [f.weighed.total(), f.parts.total(), f.dries.total(), f.sieved.total(), f.poured.total()];
    if totals.iter().sum::<u64>() == 0 {
        return;
    }
    document.heading(2, "The plastic as it comes");
    weighed(document, f, depth);
    parts(document, f, depth);
    dries(document, f, depth);
    sieved(document, f, depth);
    poured(document, f, depth);
}

fn or_blank(x: Option<f64>, digits: usize) -> Cell {
    x.map(|x| significant(x, digits)).unwrap_or_default().into()
}

fn weighed(document: &mut Document, f: &Feed, depth: Depth) {
    let columns = vec![
        Column::text("lot"),
        Column::count("pieces"),
        Column::number("density", "g/cm3"),
        Column::number("standard uncertainty", "g/cm3"),
        Column::text("may be (share of the likelihood; * as claimed)"),
    ];
    let named = |c: &MayBe| {
        let star = if c.claimed { " *" } else { "" };
        format!("{} {} %{star}", c.material, fixed(100.0 * c.share, 0))
    };
    let rows = f.weighed.items().iter().map(|w| {
        let list = f.may_be.items().iter().filter(|c| c.lot == w.lot).map(named);
        let list: Vec<String> = list.collect();
        vec![
            w.lot.as_str().into(),
            count(w.pieces).into(),
            fixed(w.density_g_cm3, 4).into(),
            fixed(w.u_g_cm3, 4).into(),
            if list.is_empty() { "nothing of the cards".to_owned() } else { list.join(", ") }
                .into(),
        ]
    });
    titled(
        document,
        "Density by immersion, and what it allows",
        columns,
        rows,
        f.weighed.total(),
        depth,
    );
}

fn parts(document: &mut Document, f: &Feed, depth: Depth) {
    let columns = vec![
        Column::text("lot"),
        Column::text("floats"),
        Column::text("sinks"),
        Column::text("in"),
        Column::number("density", "g/cm3"),
        Column::number("added", "% by mass"),
    ];
    let rows = f.parts.items().iter().map(|p| {
        vec![
            p.lot.as_str().into(),
            p.floats.as_str().into(),
            p.sinks.as_str().into(),
            p.liquid.as_str().into(),
            fixed(p.liquid_g_cm3, 3).into(),
            or_blank(p.added_pct, 3),
        ]
    });
    titled(document, "Liquids that part two plastics", columns, rows, f.parts.total(), depth);
}

fn dries(document: &mut Document, f: &Feed, depth: Depth) {
    let columns = vec![
        Column::text("lot"),
        Column::text("pieces"),
        Column::number("at", "\u{b0}C"),
        Column::count("readings"),
        Column::number("ends at", "%"),
        Column::number("limit", "%"),
        Column::number("hours in all", "h"),
        Column::text("95 % interval, h"),
    ];
    let rows = f.dries.items().iter().map(|d| {
        let shape =
            if d.piece_known { d.piece.to_owned() } else { format!("{} (best fit)", d.piece) };
        let interval = match d.interval {
            (Some(low), Some(high)) => {
                format!("{} to {}", significant(low, 3), significant(high, 3))
            }
            (Some(low), None) => format!("{} or more", significant(low, 3)),
            (None, _) => String::new(),
        };
        let end = d.end_pct.map_or("fitted".to_owned(), |pct| significant(pct, 2));
        vec![
            d.lot.as_str().into(),
            shape.into(),
            or_blank(d.dry_c, 3),
            count(d.readings).into(),
            end.into(),
            significant(d.limit_pct, 2).into(),
            or_blank(d.hours, 3),
            interval.into(),
        ]
    });
    titled(document, "Drying curves", columns, rows, f.dries.total(), depth);
}

fn sieved(document: &mut Document, f: &Feed, depth: Depth) {
    let columns = vec![
        Column::text("lot"),
        Column::number("D10", "mm"),
        Column::number("D50", "mm"),
        Column::number("D90", "mm"),
        Column::number("below 1 mm", "%"),
        Column::number("above 5.6 mm", "%"),
        Column::number("lost", "%"),
    ];
    let rows = f.sieved.items().iter().map(|s| {
        let [d10, d50, d90] = s.sizes_mm.map(|mm| or_blank(mm, 3));
        vec![
            s.lot.as_str().into(),
            d10,
            d50,
            d90,
            or_blank(s.fines_pct, 3),
            or_blank(s.oversize_pct, 3),
            s.loss_pct.map(|x| fixed(x, 1)).unwrap_or_default().into(),
        ]
    });
    titled(
        document,
        "Particle sizes (blank: beyond the sieves)",
        columns,
        rows,
        f.sieved.total(),
        depth,
    );
}

fn poured(document: &mut Document, f: &Feed, depth: Depth) {
    let columns = vec![
        Column::text("lot"),
        Column::number("as poured", "g/cm3"),
        Column::text("hopper of"),
        Column::number("holds", "g"),
    ];
    let rows = f.poured.items().iter().map(|p| {
        vec![
            p.lot.as_str().into(),
            fixed(p.bulk_g_cm3, 3).into(),
            p.machine.as_str().into(),
            p.hopper_g.map(grams).unwrap_or_default().into(),
        ]
    });
    titled(
        document,
        "Density as poured, and what a hopper holds",
        columns,
        rows,
        f.poured.total(),
        depth,
    );
}
