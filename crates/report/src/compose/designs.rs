//! Designs of trials: what each can tell, and its runs in the order in which they are made.

use super::{Depth, plural};
use crate::collect::{About, Collected, DesignRun, Planned};
use crate::document::{Cell, Column, Document, Item};
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
    let settings = lettered(planned);
    let mut columns = vec![Column::count("run")];
    columns.extend(titles(&settings).into_iter().map(|title| Column::number(title, "")));
    columns.push(Column::count("in standard order"));
    let mut runs: Vec<&DesignRun> = planned.runs.iter().collect();
    runs.sort_by_key(|run| run.order);
    let row = |run: &DesignRun| -> Vec<Cell> {
        let level = |setting: &Lettered<'_>| run.levels.get(setting.at).copied().flatten();
        let shown = |setting| level(setting).map(|x| significant(x, 6)).unwrap_or_default().into();
        let mut row = vec![count(run.order).into()];
        row.extend(settings.iter().map(shown));
        row.push(count(run.standard).into());
        row
    };
    let rows: Vec<_> = runs.into_iter().take(depth.rows).map(row).collect();
    let more = planned.runs_total.saturating_sub(rows.len() as u64);
    document.table(columns, rows);
    if more > 0 {
        let more = count(more);
        document.paragraph(format!("and {more} more; the tables (--csv, --xlsx) hold all."));
    }
}

/// A setting of the runs.
struct Lettered<'p> {
    name: &'p str,
    /// Its letter in the design, where that is known.
    letter: Option<&'p str>,
    /// Its place among the levels of a run.
    at: usize,
}

/// The settings in the order of the design, which is that of the letters; others after them.
fn lettered(planned: &Planned) -> Vec<Lettered<'_>> {
    let factors = planned.about.as_ref().map(|about| about.factors.as_slice()).unwrap_or_default();
    // "A = bed_c: 65 to 80".
    let letter = |name: &str| {
        factors.iter().enumerate().find_map(|(place, factor)| {
            let (letter, rest) = factor.split_once(" = ")?;
            (rest.rsplit_once(": ")?.0 == name).then_some((place, letter))
        })
    };
    let mut all: Vec<_> = planned
        .settings
        .iter()
        .enumerate()
        .map(|(at, name)| {
            let found = letter(name);
            let place = found.map_or(usize::MAX, |(place, _)| place);
            (place, Lettered { name, letter: found.map(|(_, letter)| letter), at })
        })
        .collect();
    all.sort_by_key(|(place, _)| *place);
    all.into_iter().map(|(_, setting)| setting).collect()
}

/// The settings over their columns, each with its letter; the letters alone where the names of all
/// would be too wide.
fn titles(settings: &[Lettered<'_>]) -> Vec<String> {
    let wide: usize = settings.iter().map(|s| s.name.chars().count() + 2).sum();
    let short = wide > NAMES_MAX && settings.iter().all(|s| s.letter.is_some());
    let title = |s: &Lettered<'_>| match s.letter {
        Some(letter) if short => letter.to_owned(),
        Some(letter) => format!("{letter} {}", s.name),
        None => s.name.to_owned(),
    };
    settings.iter().map(title).collect()
}
