//! Where to start with a material that has not been extruded yet.

use crate::book::{Book, MachineFact};
use crate::drying::{self, Wet};
use crate::heat;
use crate::lab::Lab;
use crate::window;
use secondmelt_plastics::marks::never_melted;
use secondmelt_record::facts::Does;
use secondmelt_record::findings::{Adjustment, Caution, Decision, Verdict};
use secondmelt_record::{Fraction, Name, Number, Out, Text};
use std::collections::BTreeSet;

const CHECK: &str = "start-settings";
const RULE: &str = "the middle of the range that both the card of the material and the machine allow; undecided where \
                    there is none";
const BASIS: &str = "middle of the window of material and machine (common practice, no source): a start only; the range \
                     claims no confidence";

const DRY_BASIS: &str = "middle of the usual range of the card (its source and status stand there): a start only; the \
                         range claims no confidence";

/// Writes settings to start from for every material of which no lot has been extruded or dried here.
pub(crate) fn write(book: &Book, lab: &Lab, wet: &Wet, out: &mut Out) {
    let known_by = |does: Does| known(book, lab, does);
    let (extruded, dried) = (known_by(Does::Extrude), known_by(Does::Dry));
    write_melt(book, lab, &extruded, out);
    let read: BTreeSet<&str> =
        wet.dried_lots().filter_map(|lot| Some(lab.lot_fact(lot)?.material.as_str())).collect();
    let is_new = |m: &&str| !extruded.contains(m) && !dried.contains(m) && !read.contains(m);
    for material in lab.materials().filter(is_new) {
        write_drying(material, book, lab, out);
    }
}

/// Every material of which a lot went through a step that does a thing.
fn known<'a>(book: &'a Book, lab: &'a Lab, does: Does) -> BTreeSet<&'a str> {
    book.passages()
        .into_iter()
        .filter(|(step, ..)| book.step_fact(step).is_some_and(|fact| fact.does == does))
        .flat_map(|(_, taken, put)| taken.iter().chain(put))
        .filter_map(|lot| Some(lab.lot_fact(lot)?.material.as_str()))
        .collect()
}

/// Writes what the card has for a dryer, where the plastic takes up water.
fn write_drying(material: &str, book: &Book, lab: &Lab, out: &mut Out) {
    let card = lab.material_fact(material).unwrap_or_default();
    if card.takes_up_water != Some(true) || never_melted(material).is_some() {
        return;
    }
    let settings = [("dry_c", "C", card.dry_c), ("dry_h", "h", card.dry_h)];
    for (name, _) in book.machines(Does::Dry) {
        for (what, unit, (low, high)) in
            settings.iter().filter_map(|(what, unit, ends)| Some((*what, *unit, (*ends)?)))
        {
            out.write(&Adjustment {
                what: Name::from(what),
                machine: Some(Name::from(name)),
                to: Number::new(f64::midpoint(low, high)),
                low: Number::new(low),
                high: Number::new(high),
                unit: Text::from(unit),
                because: Text::from(format!(
                    "{material} takes up water and no lot of it has been dried here: start there, and let readings of \
                     its moisture decide"
                )),
                basis: Text::from(DRY_BASIS),
                confidence: Fraction::new(0.0),
                ..Adjustment::default()
            });
        }
        out.write(&Caution { machine: Some(Name::from(name)), ..drying::caution() });
    }
}

/// Writes a melt temperature for every extruder.
fn write_melt(book: &Book, lab: &Lab, known: &BTreeSet<&str>, out: &mut Out) {
    let waiting = lab.materials().filter(|material| !known.contains(material));
    for material in waiting.filter(|material| never_melted(material).is_none()) {
        for (name, machine) in book.machines(Does::Extrude) {
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
