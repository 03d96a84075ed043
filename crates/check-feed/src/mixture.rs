//! Differently marked plastics of one lot, and liquids that part them.

use crate::book::Feed;
use crate::say::{short, verdict};
use secondmelt_plastics::cards::Card;
use secondmelt_plastics::liquids::{Liquid, Parting, TABLE_C, parting};
use secondmelt_plastics::marks::Mark;
use secondmelt_record::findings::{Caution, Decision, FloatSink};
use secondmelt_record::{Celsius, NonNegative, Out, Percent, Positive};

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

/// Whether differently marked plastics of one lot may be melted together.
pub(crate) fn write(lot: &str, feed: &Feed, read: &[Mark], out: &mut Out) {
    // A code 7 and a blend's own mark name no one polymer.
    let named = read.iter().filter(|m| m.polymers.len() == 1 || m.code.is_some_and(|c| c < 7));
    let mut kinds: Vec<&'static Card> = named.filter_map(|m| m.cards().first().copied()).collect();
    kinds.sort_by(|a, b| a.abbreviation.cmp(&b.abbreviation));
    kinds.dedup_by(|a, b| a.abbreviation == b.abbreviation);
    if kinds.len() < 2 {
        return;
    }
    let mut bad = Vec::new();
    let mut pairs = Vec::new();
    for (n, a) in kinds.iter().enumerate() {
        for b in kinds[n + 1..].iter().filter(|b| a.incompatible(b)) {
            let (x, y) = (&a.abbreviation, &b.abbreviation);
            pairs.push((*a, *b));
            bad.push(match words(a, b) {
                Some(words) => format!("{x} and {y} ({words})"),
                None => format!(
                    "{x} and {y} (no sorting liquid parts them by their ranges: sort by hand)"
                ),
            });
            if matches!((x.as_str(), y.as_str()), ("PET", "PVC")) {
                bad.push(
                    "some 100 parts of PVC in a million already harm PET (from memory)".to_owned(),
                );
            }
        }
    }
    let marks = feed.marks.join(", ");
    let (result, why) = if bad.is_empty() {
        let why = format!(
            "marks {marks}: the cards know nothing against melting them together, and nothing for it"
        );
        (Decision::Undecided, why)
    } else {
        let why = format!("marks {marks}: not to be melted together: {}", bad.join("; "));
        (Decision::Fails, why)
    };
    let rule = "polymers that the cards call incompatible are not melted together";
    out.write(&verdict("mixture", lot, result, rule, why));
    for (a, b) in pairs {
        part(Some(lot), a, b, out);
    }
}
