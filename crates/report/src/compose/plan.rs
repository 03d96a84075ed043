//! The batch to come: how much goes in, how long it takes, how big it may be.

use super::{Depth, capped};
use crate::collect::{Collected, Growth, Need, Work};
use crate::document::{Cell, Column, Document, Tone};
use crate::numbers::{count, fixed, grams, significant};
use secondmelt_record::findings::Decision;

pub(super) fn section(document: &mut Document, c: &Collected, depth: Depth) {
    let plan = &c.plan;
    if plan.is_empty() {
        return;
    }
    document.heading(2, "The next batch");
    if plan.feeds.total() > 0 {
        let columns = vec![
            Column::text("feed"),
            Column::text("lot"),
            Column::number("wanted", "g"),
            Column::number("yield", "%"),
            Column::number("goes in", "g"),
            Column::text("at 95 %, g"),
            Column::number("there is", "g"),
            Column::number("makes", "g"),
        ];
        capped(document, columns, plan.feeds.items().iter().map(feed).collect(), depth.rows);
    }
    if plan.times.total() > 0 {
        let columns = vec![
            Column::text("stage"),
            Column::text("machine"),
            Column::number("takes in", "g"),
            Column::number("takes", "h"),
            Column::text("at 95 %, h"),
            Column::text("done"),
            Column::text("at the latest"),
            Column::text("by"),
        ];
        capped(document, columns, plan.times.items().iter().map(work).collect(), depth.rows);
    }
    if plan.stages.total() > 0 {
        let columns = vec![
            Column::count("stage"),
            Column::number("makes", "g"),
            Column::number("goes in", "g"),
            Column::text("open"),
            Column::text("why"),
        ];
        let stages = plan.stages.items();
        capped(document, columns, stages.iter().map(growth).collect(), depth.rows);
        if let Some(first) = stages.first() {
            document.paragraph(format!("The gate between two stages: {}.", first.gate));
        }
    }
}

/// "7794 to 8669".
fn span(ends: Option<(f64, f64)>, shown: fn(f64) -> String) -> String {
    ends.map(|(low, high)| format!("{} to {}", shown(low), shown(high))).unwrap_or_default()
}

fn feed(feed: &Need) -> Vec<Cell> {
    let maybe = |g: Option<f64>| g.map(grams).unwrap_or_default();
    vec![
        feed.form.into(),
        feed.lot.as_str().into(),
        grams(feed.target_g).into(),
        fixed(feed.yield_pct, 1).into(),
        grams(feed.feed_g).into(),
        span(feed.interval_g, |g| fixed(g, 0)).into(),
        maybe(feed.have_g).into(),
        maybe(feed.makes_g).into(),
    ]
}

fn work(work: &Work) -> Vec<Cell> {
    vec![
        work.does.into(),
        work.machine.as_str().into(),
        grams(work.mass_g).into(),
        fixed(work.hours, 1).into(),
        span(work.interval_h, |h| significant(h, 3)).into(),
        work.done.as_str().into(),
        work.latest.as_str().into(),
        work.basis.as_str().into(),
    ]
}

fn growth(stage: &Growth) -> Vec<Cell> {
    let (word, tone) = match stage.open {
        Decision::Conforms => ("yes", Tone::Good),
        Decision::Fails => ("no", Tone::Bad),
        Decision::Undecided => ("not yet", Tone::Unsure),
    };
    vec![
        count(stage.stage).into(),
        grams(stage.product_g).into(),
        stage.feed_g.map(grams).unwrap_or_default().into(),
        Cell::new(word, tone),
        stage.why.as_str().into(),
    ]
}
