//! Designs of trials: what each can tell, and its runs in the order in which they are made.

use super::{Depth, plural};
use crate::collect::{About, Collected, DesignRun, Planned};
use crate::document::{Column, Document, Item};
use crate::numbers::{count, significant};

/// Columns of text that the names of all settings may take beside the numbers of a run.
const NAMES_MAX: usize = 56;

pub(super) fn section(document: &mut Document, c: &Collected, depth: Depth) {
    let designs = &c.designs.0;
    let all = designs.len();
    for (name, planned) in designs.iter().take(depth.rows) {
        design(document, name, planned, depth);
    }
    if all > depth.rows || designs.refused() > 0 {
        document.paragraph(
            "There are more designs than this report shows; the tables (--csv, --xlsx) hold all.",
        );
    }
}

fn design(document: &mut Document, name: &str, planned: &Planned, depth: Depth) {
    document.heading(3, format!("Design: {name}"));
    if let Some(about) = &planned.about {
        document.paragraph(format!(
            "{} for {}: {}. The order is random, by seed {}.",
            plural(about.runs, "run"),
            plural(about.factors.len() as u64, "setting"),
            about.basis,
            count(about.seed)
        ));
        document.list(told(about));
    }
    runs(document, planned, depth);
}

/// The settings by letter, and what the design mixes up.
fn told(about: &About) -> Vec<Item> {
    let mut items: Vec<Item> = Vec::new();
    items.push(Item::new("Settings:", about.factors.join("; ")));
    if !about.generators.is_empty() {
        items.push(Item::new("Generators:", about.generators.join(", ")));
    }
    items.push(Item::new("Resolution:", resolution(about)));
    if !about.aliases.is_empty() {
        let more = match about.more_aliases {
            0 => String::new(),
            more => format!(" and {more} more"),
        };
        items.push(Item::new("Not told apart:", format!("{}{more}", about.aliases.join("; "))));
    }
    items.retain(|item| !item.text.is_empty());
    items
}

/// What the resolution means, by letters as the trade writes it.
fn resolution(about: &About) -> String {
    match about.resolution {
        Some(3) => "III: the effect of a setting is mixed with that of two others together".into(),
        Some(4) => "IV: the effect of each setting stands alone, those of two together are mixed \
                    with one another"
            .into(),
        Some(5) => "V: the effects of each setting and of every two together stand alone".into(),
        Some(other) => {
            format!("{other}: the effects of each setting and of every two together stand alone")
        }
        None if about.aliases.is_empty() => "full: nothing is mixed".into(),
        None => String::new(),
    }
}

fn runs(document: &mut Document, planned: &Planned, depth: Depth) {
    let mut columns = vec![Column::count("run")];
    columns.extend(titles(planned).into_iter().map(|title| Column::number(title, "")));
    columns.push(Column::count("in standard order"));
    let mut runs: Vec<&DesignRun> = planned.runs.iter().collect();
    runs.sort_by_key(|run| run.order);
    let rows: Vec<_> = runs
        .into_iter()
        .take(depth.rows)
        .map(|run| {
            let level = |i: usize| run.levels.get(i).copied().flatten();
            let mut row = vec![count(run.order).into()];
            row.extend(
                (0..planned.settings.len())
                    .map(|i| level(i).map(|x| significant(x, 6)).unwrap_or_default().into()),
            );
            row.push(count(run.standard).into());
            row
        })
        .collect();
    let more = planned.runs_total.saturating_sub(rows.len() as u64);
    document.table(columns, rows);
    if more > 0 {
        let more = count(more);
        document.paragraph(format!("and {more} more; the tables (--csv, --xlsx) hold all."));
    }
}

/// The settings over their columns, each with its letter; the letters alone where the names of all
/// would be too wide.
fn titles(planned: &Planned) -> Vec<String> {
    let letters: Vec<Option<&str>> =
        planned.settings.iter().map(|name| letter(planned, name)).collect();
    let wide: usize = planned.settings.iter().map(|name| name.chars().count() + 2).sum();
    let all = letters.iter().all(Option::is_some);
    letters
        .into_iter()
        .zip(&planned.settings)
        .map(|(letter, name)| match letter {
            Some(letter) if all && wide > NAMES_MAX => letter.to_owned(),
            Some(letter) => format!("{letter} {name}"),
            None => name.clone(),
        })
        .collect()
}

/// The letter of a setting, which stands before it in "A = bed_c: 65 to 80".
fn letter<'p>(planned: &'p Planned, setting: &str) -> Option<&'p str> {
    planned.about.as_ref()?.factors.iter().find_map(|factor| {
        let (letter, rest) = factor.split_once(" = ")?;
        let (name, _) = rest.rsplit_once(": ")?;
        (name == setting).then_some(letter)
    })
}
