//! The batch to come: how much goes in, what to read of it, how long it takes, how big it may be.

use super::{Depth, pieces, titled};
use crate::collect::{Collected, Growth, Need, Plan, ToRead, Work};
use crate::document::{Cell, Column, Document, Tone};
use crate::numbers::{count, fixed, planned, planned_at_least, significant};
use secondmelt_record::findings::Decision;

pub(super) fn section(document: &mut Document, c: &Collected, depth: Depth) {
    let plan = &c.plan;
    if plan.is_empty() {
        return;
    }
    document.heading(2, "The next batch");
    feeds(document, plan, depth);
    readings(document, plan, depth);
    times(document, plan, depth);
    stages(document, plan, depth);
    pieces::tables(document, plan, depth);
}

fn feeds(document: &mut Document, plan: &Plan, depth: Depth) {
    let columns = vec![
        Column::text("feed"),
        Column::text("lot"),
        Column::number("wanted", "g"),
        Column::number("yield", "%"),
        Column::number("goes in", "g"),
        Column::text("at 95 %, g"),
        Column::number("enough at 95 %", "g"),
        Column::number("there is", "g"),
        Column::number("makes", "g"),
    ];
    let list = &plan.feeds;
    titled(document, "Feed", columns, list.items().iter().map(feed), list.total(), depth);
    ways(document, plan);
}

/// The stages behind the yields, once. A way that is the end of a longer one is told with it.
fn ways(document: &mut Document, plan: &Plan) {
    let all: Vec<&str> = plan.ways.iter().map(|(way, ())| way.as_str()).collect();
    let told = |way: &&&str| {
        let within = |longer: &&str| longer.strip_suffix(**way).is_some_and(|l| l.ends_with(", "));
        !all.iter().any(within)
    };
    let ways: Vec<String> = all.iter().filter(told).map(|way| (*way).to_owned()).collect();
    if !ways.is_empty() {
        document.paragraph(format!(
            "Typical yields of the stages, from the feed on: {}.",
            ways.join("; or ")
        ));
    }
}

fn readings(document: &mut Document, plan: &Plan, depth: Depth) {
    let columns = vec![
        Column::text("what"),
        Column::count("of each spool or batch"),
        Column::count("in all"),
        Column::number("set aside", "g"),
        Column::text("why"),
    ];
    let list = &plan.readings;
    let rows = list.items().iter().map(reading);
    titled(document, "Readings to take", columns, rows, list.total(), depth);
}

fn times(document: &mut Document, plan: &Plan, depth: Depth) {
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
    let list = &plan.times;
    titled(
        document,
        "Time on the machines",
        columns,
        list.items().iter().map(work),
        list.total(),
        depth,
    );
}

fn stages(document: &mut Document, plan: &Plan, depth: Depth) {
    let columns = vec![
        Column::count("stage"),
        Column::number("makes", "g"),
        Column::number("goes in", "g"),
        Column::text("open"),
        Column::text("why"),
    ];
    let list = &plan.stages;
    let rows = list.items().iter().map(growth);
    titled(document, "Growing in stages", columns, rows, list.total(), depth);
    if let Some(first) = list.items().first() {
        document.paragraph(format!("The gate between two stages: {}.", first.gate));
    }
}

/// Hours to a tenth, which is six minutes; shorter times to two digits.
fn hours(x: f64) -> String {
    if x < 1.0 { significant(x, 2) } else { fixed(x, 1) }
}

/// "7794 to 8669".
fn span(ends: Option<(f64, f64)>, shown: fn(f64) -> String) -> String {
    ends.map(|(low, high)| format!("{} to {}", shown(low), shown(high))).unwrap_or_default()
}

fn feed(feed: &Need) -> Vec<Cell> {
    let maybe = |g: Option<f64>| g.map(planned).unwrap_or_default();
    vec![
        feed.form.into(),
        feed.lot.as_str().into(),
        planned(feed.target_g).into(),
        fixed(feed.yield_pct, 1).into(),
        planned(feed.feed_g).into(),
        span(feed.interval_g, planned).into(),
        feed.enough_g.map(planned_at_least).unwrap_or_default().into(),
        maybe(feed.have_g).into(),
        maybe(feed.makes_g).into(),
    ]
}

fn reading(plan: &ToRead) -> Vec<Cell> {
    vec![
        plan.what.as_str().into(),
        count(plan.each).into(),
        count(plan.in_all).into(),
        plan.mass_g.map(|g| significant(g, 3)).unwrap_or_default().into(),
        plan.basis.as_str().into(),
    ]
}

fn work(work: &Work) -> Vec<Cell> {
    vec![
        work.does.into(),
        work.machine.as_str().into(),
        planned(work.mass_g).into(),
        hours(work.hours).into(),
        span(work.interval_h, hours).into(),
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
        planned(stage.product_g).into(),
        stage.feed_g.map(planned).unwrap_or_default().into(),
        Cell::new(word, tone),
        stage.why.as_str().into(),
    ]
}
