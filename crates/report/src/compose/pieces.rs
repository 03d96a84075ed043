//! Which print is made from which kept piece.

use super::{Depth, plural, titled};
use crate::collect::{Placed, Plan, Used};
use crate::document::{Cell, Column, Document, Item, Tone};
use crate::numbers::{count, fixed, percent};

const HEADING: &str = "Prints from kept pieces";

pub(super) fn tables(document: &mut Document, plan: &Plan, depth: Depth) {
    let (pieces, plans) = (&plan.pieces, &plan.placed);
    let columns = vec![
        Column::text("lot"),
        Column::text("printer"),
        Column::number("from", "m"),
        Column::number("to", "m"),
        Column::text("prints"),
        Column::number("used", "m"),
        Column::number("left", "m"),
    ];
    let rows = pieces.items().iter().map(row);
    titled(document, HEADING, columns, rows, pieces.total(), depth);
    // Where no print has a piece there is no table, and all the more to say.
    if pieces.total() == 0 && plans.total() > 0 {
        document.heading(3, HEADING);
    }
    document.list(plans.items().iter().take(depth.rows).map(told).collect());
}

fn row(piece: &Used) -> Vec<Cell> {
    vec![
        piece.lot.as_str().into(),
        piece.machine.as_str().into(),
        fixed(piece.from_m, 2).into(),
        fixed(piece.to_m, 2).into(),
        piece.prints.as_str().into(),
        fixed(piece.used_m, 2).into(),
        fixed(piece.left_m, 2).into(),
    ]
}

/// The plan in words, beside the best that could be.
fn told(plan: &Placed) -> Item {
    let all = plan.placed == plan.prints;
    let tone = match plan.placed_at_most {
        _ if all => Tone::Good,
        most if most > plan.placed => Tone::Unsure,
        _ => Tone::Bad,
    };
    let placed = format!("{} of {} have a piece", count(plan.placed), plural(plan.prints, "print"));
    let best = match plan.placed_at_most {
        _ if all => String::new(),
        most if most <= plan.placed => ", and no assignment places more".to_owned(),
        most => format!(", and at most {} could", count(most)),
    };
    let begun = if plan.pieces == 1 { "is begun" } else { "are begun" };
    let fewest = match plan.pieces_at_least {
        _ if plan.pieces == 0 => String::new(),
        least if least >= plan.pieces => ", and no assignment needs fewer".to_owned(),
        least => format!(", and at least {} are needed", count(least)),
    };
    let used =
        plan.used_pct.map(|used| format!(" They take {} % of the kept filament.", percent(used)));
    let left = match plan.left_over.as_str() {
        "" => String::new(),
        names => format!(" Left over: {names}."),
    };
    Item::new(
        Cell::new(format!("{}:", plan.machine), tone),
        format!(
            "{placed}{best}. {} {begun}{fewest}.{}{left}",
            plural(plan.pieces, "piece"),
            used.unwrap_or_default()
        ),
    )
}
