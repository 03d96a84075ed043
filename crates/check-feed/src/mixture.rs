//! Differently marked plastics of one lot, and liquids that part them.

use crate::book::{Book, Feed};
use crate::say::{short, verdict};
use secondmelt_plastics::cards::Card;
use secondmelt_plastics::liquids::{Liquid, Parting, TABLE_C, parting};
use secondmelt_plastics::marks::Mark;
use secondmelt_record::findings::{Caution, Decision, FloatSink, Verdict};
use secondmelt_record::{Celsius, NonNegative, Out, Percent, Positive};
use std::collections::BTreeSet;

/// How two plastics are parted, in words; none where no liquid parts them.
pub(crate) fn words(a: &'static Card, b: &'static Card) -> Option<String> {
    let parted = parting(a, b)?;
    let floats = &parted.floats.abbreviation;
    Some(match parted.liquid {
        Liquid::Water => {
            format!("water parts the two: unfilled {floats} floats, wetted and stirred free of air")
        }
        other => format!(
            "{} of {} g/cm3 ({} % by mass at {TABLE_C} °C) parts the two: unfilled {floats} floats",
            other.name(),
            short(parted.liquid_g_cm3),
            short(parted.added_pct)
        ),
    })
}

/// Writes the liquid that parts two plastics, where there is one.
pub(crate) fn part(lot: Option<&str>, a: &'static Card, b: &'static Card, out: &mut Out) {
    let Some(parted) = parting(a, b) else { return };
    let Parting { floats, sinks, liquid, liquid_g_cm3, added_pct, margin_g_cm3 } = parted;
    let (Some(density), Some(temp_c)) = (Positive::new(liquid_g_cm3), Celsius::new(TABLE_C)) else {
        return;
    };
    out.write(&FloatSink {
        lot: lot.map(|lot| lot.to_owned().into()),
        floats: floats.abbreviation.as_str().into(),
        sinks: sinks.abbreviation.as_str().into(),
        liquid: liquid.name().into(),
        liquid_g_cm3: density,
        added_pct: if liquid == Liquid::Water { None } else { Percent::new(added_pct) },
        temp_c,
        margin_g_cm3: NonNegative::new(margin_g_cm3).unwrap_or_default(),
        ..FloatSink::default()
    });
    let danger = match liquid {
        Liquid::Water => return,
        Liquid::Ethanol => {
            "An alcohol bath burns and its vapour flashes: small open vessels, no flame, spark or heater near, \
             extraction, and dry pieces fully before they meet anything hot."
        }
        Liquid::Brine => {
            "Strong salt water corrodes machines and skin: rinse the pieces and dry them before they are melted, \
             and do not pour the bath where salt does harm."
        }
    };
    out.write(&Caution {
        lot: lot.map(|lot| lot.to_owned().into()),
        danger: danger.into(),
        defer_to: "the fire rules for flammable liquids, the safety data sheet and the rules on waste water".into(),
        ..Caution::default()
    });
}

/// What the cards say of melting plastics together: what is wrong, in words, and the pairs.
struct Together {
    bad: Vec<String>,
    pairs: Vec<(&'static Card, &'static Card)>,
}

/// None for fewer than two different plastics.
fn together(mut kinds: Vec<&'static Card>) -> Option<Together> {
    kinds.sort_by(|a, b| a.abbreviation.cmp(&b.abbreviation));
    kinds.dedup_by(|a, b| a.abbreviation == b.abbreviation);
    if kinds.len() < 2 {
        return None;
    }
    let mut found = Together { bad: Vec::new(), pairs: Vec::new() };
    for (n, a) in kinds.iter().enumerate() {
        for b in kinds[n + 1..].iter().filter(|b| a.incompatible(b)) {
            let (x, y) = (&a.abbreviation, &b.abbreviation);
            found.pairs.push((*a, *b));
            found.bad.push(match words(a, b) {
                Some(words) => format!("{x} and {y} ({words})"),
                None => format!(
                    "{x} and {y} (no sorting liquid parts them by their ranges: sort by hand)"
                ),
            });
            if matches!((x.as_str(), y.as_str()), ("PET", "PVC")) {
                let share = "some 100 parts of PVC in a million already harm PET (from memory)";
                found.bad.push(share.to_owned());
            }
        }
    }
    Some(found)
}

const RULE: &str = "polymers that the cards call incompatible are not melted together";

fn judged(what: &str, found: &Together) -> (Decision, String) {
    if found.bad.is_empty() {
        let why = format!(
            "{what}: the cards know nothing against melting them together, and nothing for it"
        );
        (Decision::Undecided, why)
    } else {
        let why = format!("{what}: not to be melted together: {}", found.bad.join("; "));
        (Decision::Fails, why)
    }
}

/// Whether differently marked plastics of one lot may be melted together.
pub(crate) fn write(lot: &str, feed: &Feed, read: &[Mark], out: &mut Out) {
    // A code 7 and a blend's own mark name no one polymer.
    let named = read.iter().filter(|m| m.polymers.len() == 1 || m.code.is_some_and(|c| c < 7));
    let Some(found) = together(named.filter_map(|m| m.cards().first().copied()).collect()) else {
        return;
    };
    let (result, why) = judged(&format!("marks {}", feed.marks.join(", ")), &found);
    out.write(&verdict("mixture", lot, result, RULE, why));
    for (a, b) in found.pairs {
        part(Some(lot), a, b, out);
    }
}

/// Whether lots that one step melts or mixes may be: nothing that is never melted, and nothing that does not
/// go together.
pub(crate) fn write_steps(book: &Book, refused: &BTreeSet<&str>, out: &mut Out) {
    for (step, lots) in book.melted_together() {
        let never: Vec<_> =
            lots.iter().map(|(lot, _)| *lot).filter(|lot| refused.contains(lot)).collect();
        if !never.is_empty() {
            out.write(&Verdict {
                check: "never-melted".into(),
                result: Decision::Fails,
                step: Some(step.into()),
                rule: "a step that melts or mixes takes in nothing that is never melted".into(),
                why: format!("step {step} takes in {}, which is never melted", never.join(", "))
                    .into(),
                ..Verdict::default()
            });
            continue;
        }
        let kinds = lots.iter().filter_map(|(_, feed)| feed.card()).collect();
        let Some(found) = together(kinds) else { continue };
        let named = |(lot, feed): &(&str, &Feed)| {
            format!("{lot} ({})", feed.material.as_deref().unwrap_or("not named"))
        };
        let list: Vec<String> = lots.iter().map(named).collect();
        let (result, why) = judged(&format!("step {step} takes in {}", list.join(", ")), &found);
        out.write(&Verdict {
            check: "mixture".into(),
            result,
            step: Some(step.into()),
            rule: RULE.into(),
            why: why.into(),
            ..Verdict::default()
        });
    }
}
