//! Dangers of the work itself, told once a stream.

use crate::book::Book;
use secondmelt_plastics::cards::Card;
use secondmelt_record::Out;
use secondmelt_record::findings::Caution;
use std::collections::BTreeMap;

pub(crate) fn write(book: &Book, melted: &BTreeMap<&str, &'static Card>, out: &mut Out) {
    if let Some(step) = &book.shredder {
        out.write(&Caution {
            step: Some(step.as_str().into()),
            danger: "A shredder's blades draw in fingers, sleeves, hair and cords and still cut when the motor is off: \
                     feed it through its guard, and clear a jam only when it is unplugged, locked and has stood still. \
                     It is loud: wear ear protection."
                .into(),
            defer_to: "the machine's manual, machinery safety law and the rules on locking machines out".into(),
            ..Caution::default()
        });
    }
    let sieved = book.lots().find(|(_, feed)| !feed.sieves.is_empty()).map(|(lot, _)| lot);
    if book.shredder.is_some() || sieved.is_some() {
        out.write(&Caution {
            lot: sieved.map(Into::into),
            step: book.shredder.as_deref().map(Into::into),
            danger: "Plastic dust harms lungs, and a cloud of it can catch fire: take it up by suction, never blow it \
                     about, earth metal sieves and hoppers against static, and keep flames and sparks away."
                .into(),
            defer_to: "local rules on dust and explosions, and a qualified assessor".into(),
            ..Caution::default()
        });
    }
    for (name, card) in melted {
        let hazards = &card.hazards_on_heating.list;
        if hazards.is_empty() || book.extruder.is_none() {
            continue;
        }
        out.write(&Caution {
            step: book.extruder.as_deref().map(Into::into),
            danger: format!(
                "{name} when heated may give off {}, and fine particles: draw fumes off at the die and the printer, \
                 do not judge them by their smell, and at smoke stop heating, leave and air the room.",
                hazards.join(", ")
            )
            .into(),
            defer_to: "the safety data sheet, occupational exposure limits and an occupational hygienist".into(),
            ..Caution::default()
        });
    }
}
