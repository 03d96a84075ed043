//! Dry enough, or how long still.

use crate::book::{Book, Feed, Moisture};
use crate::identity::Standing;
use crate::own::Own;
use crate::remaining::Remaining;
use crate::say::{short, verdict};
use secondmelt_plastics::cards::{self, Card};
use secondmelt_record::findings::{Caution, Decision, Verdict};
use secondmelt_record::{Number, Out};

const RULE: &str = "simple acceptance: the last reading is not above the limit; undecided where a step that dries \
                    took the lot in after it";
/// Plastics that crystallise in the dryer when they come in glassy (fact `pet-crystallise` of
/// `tests/reference/drying.json`).
const FUSES: [&str; 2] = ["PET", "PLA"];

/// The plastic of a lot as its drying sees it.
pub(crate) struct Plastic<'a> {
    pub(crate) name: &'a str,
    pub(crate) card: Option<&'static Card>,
    pub(crate) own: Own,
}

impl Plastic<'_> {
    fn takes_up_water(&self) -> Option<bool> {
        self.own.takes_up_water.or(self.card.map(Card::takes_up_water))
    }

    /// The most water it takes up, in per cent.
    fn most_water(&self) -> Option<f64> {
        let card = || self.card.and_then(|c| c.water_uptake.in_water).map(|(_, most)| most);
        self.own.uptake_pct.or_else(card)
    }

    /// The hottest it may be dried at, in °C, and whose word that is.
    fn hottest(&self) -> Option<(f64, &'static str)> {
        let card = self.card.and_then(|c| c.drying.temperature_c).map(|[_, to]| to);
        match (self.own.dry_max_c, self.own.dry_c, card) {
            (Some(max), ..) => Some((max, "the lab's card")),
            (None, Some(own), Some(card)) if card > own => Some((card, "the card")),
            (None, Some(own), _) => Some((own, "the lab's card")),
            (None, None, card) => card.map(|card| (card, "the card")),
        }
    }
}

pub(crate) fn write(book: &Book, lot: &str, feed: &Feed, standing: &Standing, out: &mut Out) {
    match standing {
        // What must not be melted is not made ready for it.
        Standing::Refused => return,
        Standing::Contradicted(why) => {
            if !feed.moisture.is_empty() {
                let why = format!("which plastic's limit and dryer it needs is not settled: {why}");
                out.write(&verdict("drying", lot, Decision::Undecided, RULE, why));
            }
            return;
        }
        Standing::Open => {}
    }
    let own = feed.material.as_deref().and_then(|m| book.own(m)).unwrap_or_default();
    let name = feed.material.as_deref().unwrap_or("this plastic");
    let plastic = Plastic { name, card: feed.card(), own };
    let too_hot = too_hot(book, lot, feed, &plastic, out);
    let last = latest(&feed.moisture);
    let limit = (book.limit("moisture_pct", lot, feed).map(|x| (x, "the lab's limit")))
        .or(own.moisture_max_pct.map(|x| (x, "the lab's card")));
    if plastic.takes_up_water() == Some(false) {
        if feed.looked_at() {
            surface(lot, &plastic, last, limit, out);
        }
        return;
    }
    let Some(last) = last else { return };
    let usual = plastic
        .card
        .map(|c| (c.drying.max_moisture_pct, "the usual ceiling of the card, not of this grade"));
    let Some((limit, whose)) = limit.or(usual) else {
        let why = format!(
            "{} % cannot be judged: give a `limit` of moisture_pct or a `material` record",
            short(last.wet_pct)
        );
        return out.write(&verdict("drying", lot, Decision::Undecided, RULE, why));
    };
    let dry = last.wet_pct <= limit;
    let at = last.dried_h.map(|h| format!(" after {} h", short(h))).unwrap_or_default();
    let mut why = format!("{:.3} %{at} against {} % ({whose})", last.wet_pct, short(limit));
    if let Some(most) = plastic.most_water().filter(|most| last.wet_pct > 1.5 * most) {
        why += &format!(
            ", more than the {} % that {name} takes up at most: is there water on its surface, or a slip in the \
             reading?",
            short(most)
        );
    }
    let judged = |result, why: String| Verdict {
        value: Number::new(last.wet_pct),
        limit: Number::new(limit),
        unit: Some("%".into()),
        ..verdict("drying", lot, result, RULE, why)
    };
    if dry {
        return out.write(&match maybe_later(&feed.moisture, &last, limit) {
            Some(other) => judged(
                Decision::Undecided,
                format!(
                    "{why}: but a reading of {:.3} % may be as late; give each its time (`at`) or how long it was dried",
                    other.wet_pct
                ),
            ),
            None => judged(Decision::Conforms, why + ": dry enough"),
        });
    }
    if let Some(since) = dried_since(book, lot, &last) {
        why += &format!(": too wet to be melted; {since}");
        return out.write(&judged(Decision::Undecided, why));
    }
    if plastic.card.is_some_and(|c| c.hydrolyses_in_melt) {
        why += &format!("; {name} melted wet loses chain length by hydrolysis, for good");
    }
    if too_hot {
        why += "; how long it still needs is not worked out from a dryer that is too hot for it";
        out.write(&judged(Decision::Fails, why));
    } else {
        let remaining = Remaining::of(feed, &own, &last, limit);
        why += &format!("; {}", remaining.words(&plastic, &last));
        out.write(&judged(Decision::Fails, why));
        remaining.write(lot, &last, limit, out);
    }
    let mut danger = "Dryers and hot plastic burn, and drying gives off vapours: stay below the temperature at \
                      which the plastic softens, air the room, never use an oven for food, and do not leave it \
                      alone overnight. Melted wet, the water turns to steam: bubbles in the strand, and melt that \
                      spits from the die."
        .to_owned();
    if plastic.card.is_some_and(|c| FUSES.contains(&c.abbreviation.as_str())) {
        danger += &format!(
            " {name} that was cooled fast softens long before it is dry and fuses to one lump: heat it slowly and \
             keep it moving until it has turned cloudy."
        );
    }
    out.write(&Caution {
        lot: Some(lot.to_owned().into()),
        danger: danger.into(),
        defer_to: "the dryer's manual, the safety data sheet and local fire rules".into(),
        ..Caution::default()
    });
}

/// The last reading: by the clock where all have one, otherwise after the longest drying; where
/// none says how long, the last of the stream.
fn latest(readings: &[Moisture]) -> Option<Moisture> {
    let clock = readings.iter().all(|r| r.at.is_some());
    let when = |r: &Moisture| (if clock { r.at } else { None }, r.dried_h.unwrap_or(0.0));
    readings.iter().copied().max_by(|a, b| {
        let (a, b) = (when(a), when(b));
        let by_clock = a.0.unwrap_or(0.0).total_cmp(&b.0.unwrap_or(0.0));
        by_clock.then(a.1.total_cmp(&b.1))
    })
}

/// A reading above the limit that nothing shows to be earlier than the last one.
fn maybe_later<'a>(readings: &'a [Moisture], last: &Moisture, limit: f64) -> Option<&'a Moisture> {
    let earlier = |r: &Moisture| match (r.at.zip(last.at), r.dried_h.zip(last.dried_h)) {
        (Some((at, last)), _) if at != last => at < last,
        (_, Some((dried, last))) => dried < last,
        _ => false,
    };
    readings.iter().find(|r| r.wet_pct > limit && !earlier(r))
}

/// What became of the lot after a reading, where a step dried it: by the clock where both have a
/// time, otherwise where the reading was taken before any drying. Where what came out has a name
/// and readings of its own, those are judged.
fn dried_since(book: &Book, lot: &str, last: &Moisture) -> Option<String> {
    let (step, dryer) = book.dried_by(lot)?;
    if let Some(out) = book.read_after(step, lot) {
        return Some(format!(
            "step {step} took it in to dry it, and what came out, {out}, was read"
        ));
    }
    let since = match (last.at, dryer.at) {
        (Some(read), Some(dried)) => read <= dried,
        _ => last.dried_h.unwrap_or(0.0) == 0.0,
    };
    since.then(|| {
        format!("step {step} took it in to dry it, and what came out of that must be read")
    })
}

/// Refuses a dryer that is too hot for the plastic; whether it was.
fn too_hot(book: &Book, lot: &str, feed: &Feed, plastic: &Plastic<'_>, out: &mut Out) -> bool {
    // A plastic that nothing is known of bears no more than the one that bears most.
    let of_all = || {
        let all = cards::all().iter().filter_map(|card| card.drying.temperature_c);
        let most = all.map(|[_, to]| to).fold(0.0, f64::max);
        (most, "the hottest of all cards")
    };
    let (hottest, whose) = plastic.hottest().unwrap_or_else(of_all);
    let by_step = book.dried_by(lot).and_then(|(_, dryer)| dryer.dry_c);
    let used = feed.moisture.iter().filter_map(|r| r.dry_c).chain(by_step).fold(0.0, f64::max);
    if used <= hottest {
        return false;
    }
    let name = plastic.name;
    let mut why = format!(
        "dried at {} °C, where {name} is dried at up to {} °C ({whose}): it softens, sticks together and ages",
        short(used),
        short(hottest)
    );
    for (celsius, unit) in [((used - 32.0) / 1.8, "°F"), (used - 273.15, "kelvin")] {
        if (30.0..=hottest).contains(&celsius) {
            why += &format!("; in {unit} it would be {} °C", short(celsius));
        }
    }
    out.write(&Verdict {
        value: Number::new(used),
        limit: Number::new(hottest),
        unit: Some("°C".into()),
        ..verdict(
            "drying-temperature",
            lot,
            Decision::Fails,
            "no reading and no step of the lot was hotter than its plastic may be dried",
            why,
        )
    });
    out.write(&Caution {
        lot: Some(lot.to_owned().into()),
        danger: format!(
            "Above {} °C {name} may soften to one lump, smoulder or give off vapours in the dryer: set the \
             thermostat lower, and check it with a second thermometer.",
            short(hottest)
        )
        .into(),
        defer_to: "the dryer's manual, the safety data sheet and local fire rules".into(),
        ..Caution::default()
    });
    true
}

/// A plastic that takes up next to no water: only what is on its surface counts.
fn surface(
    lot: &str,
    plastic: &Plastic<'_>,
    last: Option<Moisture>,
    limit: Option<(f64, &'static str)>,
    out: &mut Out,
) {
    let name = plastic.name;
    let none = format!("{name} takes up next to no water and needs no drying");
    let Some(last) = last else {
        let why = format!("{none}; only water on its surface must be gone");
        return out.write(&verdict("drying", lot, Decision::Conforms, RULE, why));
    };
    let wet = last.wet_pct;
    let usual = plastic.card.map(|c| (c.drying.max_moisture_pct, "the usual ceiling of the card"));
    let (result, held) = match (limit, usual) {
        (Some((max, whose)), _) if wet > max => (Decision::Fails, Some((max, whose))),
        (Some(held), _) => (Decision::Conforms, Some(held)),
        (None, Some((max, whose))) if wet > max => (Decision::Undecided, Some((max, whose))),
        (None, held) => (Decision::Conforms, held),
    };
    let against =
        held.map(|(max, whose)| format!(" against {} % ({whose})", short(max))).unwrap_or_default();
    let why = if result == Decision::Conforms {
        format!("{none}: {} %{against}", short(wet))
    } else {
        format!(
            "{} %{against}: {name} takes up next to no water, so this sits on its surface or in dirt; let it drain, \
             blow it dry for an hour, and read again",
            short(wet)
        )
    };
    out.write(&Verdict {
        value: Number::new(wet),
        limit: held.and_then(|(max, _)| Number::new(max)),
        unit: Some("%".into()),
        ..verdict("drying", lot, result, RULE, why)
    });
}
