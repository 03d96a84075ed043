//! Trials in the order in which they were made, for each machine and part.

use super::Figure;
use super::axes::WIDTH;
use super::svg::{Anchor, Drawing, fitted, n};
use crate::collect::TrialFacts;

/// Rows of a drawing, and trials of a row.
const ROWS: usize = 16;
const MARKS: usize = 40;
const PITCH: f64 = 42.0;
const LEFT: f64 = 10.0;

/// The trials of a part on a machine.
#[derive(Debug)]
pub(crate) struct Attempts<'a> {
    pub(crate) machine: &'a str,
    pub(crate) part: &'a str,
    pub(crate) trials: Vec<&'a TrialFacts>,
}

impl Attempts<'_> {
    pub(crate) fn good(&self) -> usize {
        self.trials.iter().filter(|t| t.good).count()
    }
}

/// Trials by machine and part, in the order of first appearance.
pub(crate) fn attempts(trials: &[TrialFacts]) -> Vec<Attempts<'_>> {
    let mut all: Vec<Attempts<'_>> = Vec::new();
    let mut numbers = std::collections::HashMap::new();
    for trial in trials {
        let at = *numbers.entry((&trial.machine, &trial.part)).or_insert(all.len());
        if at == all.len() {
            all.push(Attempts { machine: &trial.machine, part: &trial.part, trials: Vec::new() });
        }
        all[at].trials.push(trial);
    }
    all
}

pub(crate) fn draw(all: &[Attempts<'_>]) -> Option<Figure> {
    let shown = &all[..all.len().min(ROWS)];
    let longest = shown.iter().map(|a| a.trials.len()).max()?;
    let mut drawing = Drawing::new(WIDTH, PITCH * shown.len() as f64 + 10.0);
    let step = ((WIDTH - LEFT) / longest.min(MARKS) as f64).min(21.0);
    for (i, a) in shown.iter().enumerate() {
        let y = 10.0 + PITCH * i as f64;
        drawing.line((0.0, y + 28.0), (WIDTH, y + 28.0), "grid");
        let label = format!("{} on {}", a.part, a.machine);
        drawing.text((2.0, y + 4.0), Anchor::Start, "label", fitted(&label, 300.0));
        // The latest are the best evidence.
        let skipped = a.trials.len().saturating_sub(MARKS);
        for (j, trial) in a.trials.iter().skip(skipped).enumerate() {
            mark(&mut drawing, (LEFT + step * j as f64, y + 16.0), trial);
        }
        let told = format!("{} of {} good", a.good(), a.trials.len());
        drawing.text((WIDTH - 2.0, y + 4.0), Anchor::End, "label", told);
    }
    let told = shown
        .iter()
        .map(|a| format!("{} on {}: {} of {} good", a.part, a.machine, a.good(), a.trials.len()));
    let more = all.len().saturating_sub(shown.len());
    let more =
        if more > 0 { format!(" {more} more parts are in the table.") } else { String::new() };
    Some(Figure {
        title: "Trials in their order".to_owned(),
        description: format!("{}.", told.collect::<Vec<_>>().join("; ")),
        caption: format!(
            "Filled circle: good; cross: failed; the earliest on the left. Two good ones of three prove little: see what they prove above.{more}"
        ),
        drawing,
        network: false,
    })
}

fn mark(drawing: &mut Drawing, (x, y): (f64, f64), trial: &TrialFacts) {
    let fault = if trial.fault.is_empty() { String::new() } else { format!(", {}", trial.fault) };
    let outcome = if trial.good { "good" } else { "failed" };
    let title = format!("{} {}: {outcome}{fault}", trial.at, trial.lot);
    if trial.good {
        drawing.circle((x, y), 5.0, "good", title);
    } else {
        let d = format!("M{} {}l9 9m0 -9l-9 9", n(x - 4.5), n(y - 4.5));
        drawing.path(d, "failed", title);
    }
}
