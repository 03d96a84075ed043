//! What changed against an earlier report: verdicts that are new, resolved, worse or better,
//! and figures that moved by more than their uncertainty explains.

use super::attention::ended_sentence;
use super::verdicts::{subject, tone};
use super::{joined, plural};
use crate::collect::{Aim, Collected, Known, Standing, Subject, urgency};
use crate::document::{Cell, Document, Item, Tone};
use crate::earlier::Earlier;
use crate::numbers::{count, with_u};
use secondmelt_record::findings::Decision;

/// Changes listed one by one, of each sort.
const LISTED: usize = 30;
/// A figure has moved where it did so by more than this many standard uncertainties of the
/// difference, which chance alone gives in 1 of 22 cases were it normal and independent.
/// Figures of two days that share readings differ by less, so this errs to the side of silence.
const BEYOND: f64 = 2.0;

/// Sorts of change, in the order in which they are told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Sort {
    New,
    Worse,
    Better,
    Resolved,
    Moved,
    Gone,
}

impl Sort {
    const ALL: [Self; 6] =
        [Self::New, Self::Worse, Self::Better, Self::Resolved, Self::Moved, Self::Gone];

    fn word(self) -> &'static str {
        match self {
            Self::New => "new",
            Self::Worse => "worse",
            Self::Better => "better",
            Self::Resolved => "resolved",
            Self::Moved => "moved",
            Self::Gone => "gone",
        }
    }
}

/// A change in words.
struct Change {
    sort: Sort,
    tone: Tone,
    text: String,
}

pub(super) fn section(document: &mut Document, c: &Collected, earlier: Option<&Earlier>) {
    let (Some(earlier), Some(now)) = (earlier, &c.standing) else { return };
    document.heading(2, "What changed since the last report?");
    let mut same = 0;
    let mut within = 0;
    let mut changes = verdicts(&earlier.standing, now, &mut same);
    changes.extend(figures(&earlier.standing, now, &mut within));
    document.paragraph(summary(&changes, same, within, earlier));
    changes.sort_by_key(|c| c.sort);
    for sort in Sort::ALL {
        let of_sort: Vec<&Change> = changes.iter().filter(|c| c.sort == sort).collect();
        let lead = |c: &Change| Cell::new(format!("{}:", sort.word()), c.tone);
        let mut items: Vec<Item> =
            of_sort.iter().take(LISTED).map(|c| Item::new(lead(c), c.text.as_str())).collect();
        if of_sort.len() > LISTED {
            let more = count((of_sort.len() - LISTED) as u64);
            items.push(Item::plain(format!("and {more} more that are {}", sort.word())));
        }
        document.list(items);
    }
}

fn summary(changes: &[Change], same: u64, within: u64, earlier: &Earlier) -> Cell {
    let number = |sort: Sort| changes.iter().filter(|c| c.sort == sort).count() as u64;
    let parts: Vec<String> = Sort::ALL
        .into_iter()
        .filter(|sort| number(*sort) > 0)
        .map(|sort| format!("{} {}", count(number(sort)), sort.word()))
        .collect();
    let told = if parts.is_empty() {
        "Nothing that needs a person changed.".to_owned()
    } else {
        format!("{}.", sentence(&joined(&parts)))
    };
    let mut text = format!("{told} {} as before", plural(same, "verdict"));
    if within > 0 {
        text.push_str(&format!("; {} within what chance explains", plural(within, "figure")));
    }
    text.push_str(&format!(". Compared with {}", earlier.file));
    if earlier.standing.verdicts.is_empty() {
        text.push_str(", which holds no verdicts");
    }
    if earlier.unread > 0 {
        text.push_str(&format!(", of which {} could not be read", plural(earlier.unread, "line")));
    }
    text.push('.');
    let bad = changes.iter().any(|c| c.tone == Tone::Bad);
    let unsure = changes.iter().any(|c| c.tone == Tone::Unsure);
    Cell::new(
        text,
        if bad {
            Tone::Bad
        } else if unsure {
            Tone::Unsure
        } else {
            Tone::Plain
        },
    )
}

fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map(|c| c.to_uppercase().collect::<String>() + chars.as_str()).unwrap_or_default()
}

fn verdicts(then: &Standing, now: &Standing, same: &mut u64) -> Vec<Change> {
    let mut changes = Vec::new();
    let name = |(check, about): &(String, Subject)| match subject(about) {
        about if about.is_empty() => check.clone(),
        about => format!("{check} for {about}"),
    };
    for (key, judged) in now.verdicts.iter() {
        let Some(result) = judged.result else { continue };
        let before = then.verdicts.get(key).and_then(|j| j.result);
        let (sort, was) = match before {
            None if result == Decision::Conforms => continue,
            None => (Sort::New, String::new()),
            Some(before) if before == result => {
                *same += 1;
                continue;
            }
            Some(before) => {
                let sort = match (urgency(result) > urgency(before), result) {
                    (true, _) => Sort::Worse,
                    (false, Decision::Conforms) => Sort::Resolved,
                    (false, _) => Sort::Better,
                };
                (sort, format!(", was {before}"))
            }
        };
        let text = format!("{} {result}{was}: {}", name(key), ended_sentence(&judged.why));
        changes.push(Change { sort, tone: tone(result), text });
    }
    for (key, judged) in then.verdicts.iter().filter(|(key, _)| now.verdicts.get(key).is_none()) {
        if let Some(before) = judged.result.filter(|r| *r != Decision::Conforms) {
            let text = format!("{}, was {before}; no verdict on it today.", name(key));
            changes.push(Change { sort: Sort::Gone, tone: Tone::Unsure, text });
        }
    }
    changes
}

fn figures(then: &Standing, now: &Standing, within: &mut u64) -> Vec<Change> {
    let mut changes = Vec::new();
    for ((what, of), known) in now.figures.iter() {
        let Some(before) = then.figures.get(&(*what, of.clone())) else { continue };
        let difference = known.value - before.value;
        if difference.abs() <= BEYOND * known.u.hypot(before.u) {
            *within += u64::from(difference != 0.0);
            continue;
        }
        let (sort, tone) = direction(known, before);
        let shown = |k: &Known| {
            let (value, u) = with_u(k.value, k.u);
            format!("{value} \u{b1} {u}")
        };
        let unit = if known.unit.is_empty() { String::new() } else { format!(" {}", known.unit) };
        let text =
            format!("{what} {of} from {} to {}{unit}, beyond noise.", shown(before), shown(known));
        changes.push(Change { sort, tone, text });
    }
    changes
}

fn direction(now: &Known, then: &Known) -> (Sort, Tone) {
    let better = match now.aim {
        Aim::Neither => return (Sort::Moved, Tone::Plain),
        Aim::More => now.value > then.value,
        Aim::Zero => now.value.abs() < then.value.abs(),
    };
    if better { (Sort::Better, Tone::Good) } else { (Sort::Worse, Tone::Unsure) }
}
