//! The range that a setting may lie in, by machine and material.

use crate::book::{Book, MachineFact};
use crate::lab::Lab;

/// Lower and upper end of the range of a setting, where they are known: the tighter of machine
/// and material for the melt temperature, that of the machine for speeds.
pub(crate) fn of_setting(
    name: &str,
    machine: Option<&MachineFact>,
    material: Option<&str>,
    lab: &Lab,
) -> (Option<f64>, Option<f64>) {
    let of =
        |ends: fn(&MachineFact) -> (Option<f64>, Option<f64>)| machine.map_or((None, None), ends);
    match name {
        "melt_c" => {
            let card =
                material.and_then(|material| lab.material_fact(material)).unwrap_or_default();
            // What a machine can hold says nothing of what the plastic bears.
            if material.is_some() && card.melt_min_c.or(card.melt_max_c).is_none() {
                return (None, None);
            }
            let (min, max) = of(|m| (m.melt_min_c, m.melt_max_c));
            (tighter(card.melt_min_c, min, f64::max), tighter(card.melt_max_c, max, f64::min))
        }
        "line_speed_m_min" => of(|m| (m.line_speed_min_m_min, m.line_speed_max_m_min)),
        "screw_rpm" => of(|m| (m.screw_min_rpm, m.screw_max_rpm)),
        _ => (None, None),
    }
}

/// An interval cut at the ends of a range, and whether it was.
pub(crate) fn cut(low: f64, high: f64, (min, max): (Option<f64>, Option<f64>)) -> (f64, f64, bool) {
    let within = |x: f64| {
        let x = max.map_or(x, |max| x.min(max));
        min.map_or(x, |min| x.max(min))
    };
    let (cut_low, cut_high) = (within(low), within(high));
    (cut_low, cut_high, (cut_low, cut_high) != (low, high))
}

/// The tighter of two ends, or the one that is known.
pub(crate) fn tighter(a: Option<f64>, b: Option<f64>, pick: fn(f64, f64) -> f64) -> Option<f64> {
    match (a, b) {
        (Some(a), Some(b)) => Some(pick(a, b)),
        (one, other) => one.or(other),
    }
}

/// The machine of a name.
pub(crate) fn machine<'a>(book: &'a Book, name: Option<&str>) -> Option<&'a MachineFact> {
    name.and_then(|name| book.machine_fact(name))
}

/// The unit of a setting; a plain number where its name does not say.
pub(crate) fn unit(name: &str) -> &'static str {
    secondmelt_record::units::of_setting(name).unwrap_or("1")
}
