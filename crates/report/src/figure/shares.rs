//! Shares of good trials with their intervals, against what is asked.

use super::Figure;
use super::axes::WIDTH;
use super::scale::Scale;
use super::svg::{Anchor, Drawing, fitted, n};
use crate::collect::Evidence;
use crate::numbers::fixed;

/// Rows of a drawing.
const ROWS: usize = 24;
const PITCH: f64 = 26.0;
const LEFT: f64 = 230.0;
const TOP: f64 = 12.0;

pub(crate) fn draw(all: &[Evidence]) -> Option<Figure> {
    let shown = &all[..all.len().min(ROWS)];
    if shown.is_empty() {
        return None;
    }
    let bottom = TOP + PITCH * shown.len() as f64;
    let mut drawing = Drawing::new(WIDTH, bottom + 34.0);
    let scale = Scale::new((0.0, 100.0), (LEFT, WIDTH - 14.0));
    for pct in [0.0, 25.0, 50.0, 75.0, 100.0] {
        let x = scale.at(pct);
        drawing.line((x, TOP), (x, bottom), "grid");
        drawing.text((x, bottom + 14.0), Anchor::Middle, "tick", fixed(pct, 0));
    }
    drawing.text((WIDTH - 14.0, bottom + 29.0), Anchor::End, "name", "good trials, %");
    let mut told = Vec::new();
    for (i, e) in shown.iter().enumerate() {
        let y = TOP + PITCH * (i as f64 + 0.5);
        let [share, low, high] = e.share_pct;
        let level = e.complexity.map(|level| format!(", difficulty {level}")).unwrap_or_default();
        let name = [e.material.as_str(), e.machine.as_str()].join(" ").trim().to_owned() + &level;
        let words = format!(
            "{name}: {} of {} good, {} to {} % at 95 %, {}",
            e.good,
            e.trials,
            fixed(low, 0),
            fixed(high, 0),
            e.standing
        );
        drawing.text((2.0, y + 4.0), Anchor::Start, "label", fitted(&name, LEFT - 14.0));
        let (from, to) = (scale.at(low), scale.at(high));
        let cap = |x: f64| format!("M{} {}v8", n(x), n(y - 4.0));
        let d = format!("M{} {}H{}{}{}", n(from), n(y), n(to), cap(from), cap(to));
        drawing.path(d, "whisker", words.clone());
        drawing.circle((scale.at(share), y), 3.4, "tested", words.clone());
        let asked = scale.at(e.asked_pct);
        drawing.line((asked, y - 9.0), (asked, y + 9.0), "limit");
        told.push(words);
    }
    let more = all.len().saturating_sub(shown.len());
    let more = if more > 0 { format!(" {more} more are in the table.") } else { String::new() };
    Some(Figure {
        title: "Shares of good trials".to_owned(),
        description: format!("{}.", told.join("; ")),
        caption: format!(
            "Dots: share of good trials; whiskers: exact 95 % interval of all trials; dashed: what is asked. The standing \
             rests on the trials with the settings of now and is in the table.{more}"
        ),
        drawing,
        network: false,
    })
}
