//! The dangers of a hot melt, and plastics that are never melted here.

use crate::lab::NEVER_MELTED;
use secondmelt_plastics::cards;
use secondmelt_plastics::marks::never_melted;
use secondmelt_record::findings::{Caution, Decision, Verdict};
use secondmelt_record::{Name, Text};

const DANGER: &str = "overheated plastic breaks down, gives off fumes and can spit from the die, and hot melt sticks \
                      to skin: change the melt temperature in small steps, under extraction, stand to the side of \
                      the die, and never go beyond the window of material and machine";
const DEFER: &str = "the material's safety data sheet; the machine's manual and limits; workplace exposure limits; \
                     local exhaust ventilation rules";
const NEVER_RULE: &str = "nothing is proposed for plastics that are never melted in a small lab";
const NEVER_DEFER: &str = "chemical-substance and waste law; workplace exposure limits; the safety data sheet; an \
                           occupational hygienist";

/// The caution that goes with a change of the melt temperature of a material.
pub(crate) fn caution<'a>(material: &str, machine: Option<&'a str>) -> Caution<'a> {
    let hazards = cards::card(material).map(|card| card.hazards_on_heating.list.join(", "));
    let danger = match hazards.filter(|hazards| !hazards.is_empty()) {
        Some(hazards) => format!("{DANGER}; {material} when heated: {hazards}"),
        None => format!(
            "{DANGER}; what {material} gives off is not on any card here, so take it for harmful"
        ),
    };
    Caution {
        machine: machine.map(Name::from),
        danger: Text::from(danger),
        defer_to: DEFER.into(),
        ..Caution::default()
    }
}

/// Why nothing is proposed for a material, where it is never melted here.
pub(crate) fn refusal<'a>(material: &str) -> Option<(Verdict<'a>, Caution<'a>)> {
    let reason = never_melted(material)?;
    let why =
        format!("{material} is not to be melted here, so nothing is proposed for it: {reason}");
    let verdict = Verdict {
        check: NEVER_MELTED.into(),
        result: Decision::Fails,
        rule: NEVER_RULE.into(),
        why: why.clone().into(),
        ..Verdict::default()
    };
    let danger = format!("{why}. Keep it out of every dryer, barrel and printer");
    let caution =
        Caution { danger: danger.into(), defer_to: NEVER_DEFER.into(), ..Caution::default() };
    Some((verdict, caution))
}
