//! Where to start with a material that has not been extruded yet.

use crate::book::Book;
use crate::lab::Lab;
use crate::temperature::{DANGER, DEFER};
use crate::window;
use secondmelt_record::facts::Does;
use secondmelt_record::findings::{Adjustment, Caution};
use secondmelt_record::{Name, Number, Out, Text};
use std::collections::BTreeSet;

const BASIS: &str =
    "middle of the window of material and machine (common practice, no source): a start only";

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
    for material in waiting {
        for (name, machine) in book.extruders() {
            let window = window::of_setting("melt_c", Some(machine), Some(material), lab);
            let (Some(min), Some(max)) = window else { continue };
            if lab.material_fact(material).is_none_or(|card| card.melt_min_c.is_none()) || min > max
            {
                continue;
            }
            out.write(&Adjustment {
                what: Name::from("melt_c"),
                machine: Some(Name::from(name)),
                to: Number::new(f64::midpoint(min, max)),
                low: Number::new(min),
                high: Number::new(max),
                unit: Text::from("C"),
                because: Text::from(format!(
                    "no step has extruded {material} yet: start in the middle of its window, look at the strand, and work \
                     from there in small steps"
                )),
                basis: Text::from(BASIS),
                ..Adjustment::default()
            });
            out.write(&Caution {
                machine: Some(Name::from(name)),
                danger: Text::from(DANGER),
                defer_to: Text::from(DEFER),
                ..Caution::default()
            });
        }
    }
}
