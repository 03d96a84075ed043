//! Where to start with a material that has not been extruded yet.

use crate::book::{Book, MachineFact};
use crate::heat;
use crate::lab::Lab;
use crate::window;
use secondmelt_plastics::marks::never_melted;
use secondmelt_record::facts::Does;
use secondmelt_record::findings::{Adjustment, Decision, Verdict};
use secondmelt_record::{Fraction, Name, Number, Out, Text};
use std::collections::BTreeSet;

const CHECK: &str = "start-settings";
const RULE: &str = "the middle of the range that both the card of the material and the machine allow; undecided where \
                    there is none";
const BASIS: &str = "middle of the window of material and machine (common practice, no source): a start only; the range \
                     claims no confidence";

/// Writes a melt temperature to start from for every material of which no lot has been extruded here.
pub(crate) fn write(book: &Book, lab: &Lab, out: &mut Out) {
    let known: BTreeSet<&str> = book
        .passages()
        .into_iter()
        .filter(|(step, ..)| book.step_fact(step).is_some_and(|fact| fact.does == Does::Extrude))
        .flat_map(|(_, taken, put)| taken.iter().chain(put))
        .filter_map(|lot| Some(lab.lot_fact(lot)?.material.as_str()))
        .collect();
    let waiting: BTreeSet<&str> =
        lab.lots().map(|(_, fact)| fact.material.as_str()).filter(|m| !known.contains(m)).collect();
    for material in waiting.into_iter().filter(|material| never_melted(material).is_none()) {
        for (name, machine) in book.extruders() {
            match on_machine(material, name, machine, lab) {
                Ok(change) => {
                    out.write(&change);
                    out.write(&heat::caution(material, Some(name)));
                }
                Err(why) => out.write(&Verdict {
                    check: CHECK.into(),
                    result: Decision::Undecided,
                    machine: Some(Name::from(name)),
                    rule: RULE.into(),
                    why: why.into(),
                    ..Verdict::default()
                }),
            }
        }
    }
}

fn on_machine<'a>(
    material: &str,
    name: &'a str,
    machine: &MachineFact,
    lab: &Lab,
) -> Result<Adjustment<'a>, String> {
    let card = lab.material_fact(material).filter(|card| card.melt_min_c.is_some());
    let window = window::of_setting("melt_c", Some(machine), Some(material), lab);
    let (Some(_), (Some(min), Some(max))) = (card, window) else {
        return Err(format!(
            "no window of melt temperatures is known for {material}: the grade's own data sheet, as a `material` record \
             with `melt_min_c` and `melt_max_c`, would help most"
        ));
    };
    if min > max {
        return Err(format!(
            "{material} starts to be worked at {min} C and machine {name} ends at {max} C, or the other way about: it \
             is not to be extruded there"
        ));
    }
    Ok(Adjustment {
        what: Name::from("melt_c"),
        machine: Some(Name::from(name)),
        to: Number::new(f64::midpoint(min, max)),
        low: Number::new(min),
        high: Number::new(max),
        unit: Text::from("C"),
        because: Text::from(format!(
            "no step has extruded {material} yet: start in the middle of its window, look at the strand, and work from \
             there in small steps"
        )),
        basis: Text::from(BASIS),
        confidence: Fraction::new(0.0),
        ..Adjustment::default()
    })
}
