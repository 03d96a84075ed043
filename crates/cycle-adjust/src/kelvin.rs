//! Temperatures that no plastic is worked at: most of them are in kelvin, and some in
//! degrees Fahrenheit.

use secondmelt_record::facts::{Machine, Material};
use secondmelt_record::{Celsius, Code, Line, Problem};

const ZERO_C_K: f64 = 273.15;

/// Hottest melt that is worked here, in degrees Celsius (common practice, no source).
const MELT_MAX_C: f64 = 400.0;
/// Hottest end of a machine's or a card's range.
const RANGE_MAX_C: f64 = 500.0;
/// Hottest bed, bath, room or dryer; no plastic of the cards is dried above 175.
const BESIDE_MAX_C: f64 = 250.0;
/// Coldest.
const COLDEST_C: f64 = -60.0;

/// Words in the names of settings that are not temperatures of the melt.
const BESIDE: [&str; 8] = ["dry", "bed", "bath", "water", "room", "chamber", "ambient", "air"];

/// The problem of a setting of a step, where its name ends in `_c` and nothing is worked at it.
pub(crate) fn in_setting(name: &str, x: f64, line: Line<'_>) -> Option<Problem<'static>> {
    if !name.ends_with("_c") {
        return None;
    }
    let beside = BESIDE.iter().any(|word| name.contains(word));
    let max = if beside { BESIDE_MAX_C } else { MELT_MAX_C };
    out_of_range(&format!("settings.{name}"), x, max, line)
}

/// The problem of a temperature in a card of the lab's own.
pub(crate) fn in_material(m: &Material<'_>, line: Line<'_>) -> Option<Problem<'static>> {
    first(
        &[
            ("melt_min_c", m.melt_min_c, MELT_MAX_C),
            ("melt_max_c", m.melt_max_c, RANGE_MAX_C),
            ("dry_c", m.dry_c, BESIDE_MAX_C),
        ],
        line,
    )
}

/// The problem of a temperature in the record of a machine.
pub(crate) fn in_machine(m: &Machine<'_>, line: Line<'_>) -> Option<Problem<'static>> {
    first(
        &[("melt_min_c", m.melt_min_c, MELT_MAX_C), ("melt_max_c", m.melt_max_c, RANGE_MAX_C)],
        line,
    )
}

/// The problem of a drying temperature.
pub(crate) fn in_drying(dry_c: Option<Celsius>, line: Line<'_>) -> Option<Problem<'static>> {
    first(&[("dry_c", dry_c, BESIDE_MAX_C)], line)
}

fn first(fields: &[(&str, Option<Celsius>, f64)], line: Line<'_>) -> Option<Problem<'static>> {
    fields.iter().find_map(|(name, x, max)| out_of_range(name, x.as_ref()?.get(), *max, line))
}

/// What to do about a temperature that is likely in kelvin; nothing where it is not.
pub(crate) fn advice(x: f64, max: f64) -> Option<String> {
    let celsius = x - ZERO_C_K;
    (0.0..=max).contains(&celsius).then(|| {
        let fahrenheit = (x - 32.0) / 1.8;
        format!(
            "if this is in kelvin, it is {celsius:.2} C, and if in degrees Fahrenheit {fahrenheit:.2} C: name the \
             unit in the table's header"
        )
    })
}

fn out_of_range(field: &str, x: f64, max: f64, line: Line<'_>) -> Option<Problem<'static>> {
    if (COLDEST_C..=max).contains(&x) {
        return None;
    }
    let found = format!("{field} of {x} C");
    let mut problem = line.problem(Code::OutOfRange, found, format!("{COLDEST_C} to {max} C"));
    problem.field = Some(field.to_owned().into());
    problem.advice = Some(advice(x, max).map_or_else(
        || "give the temperature in degrees Celsius, or name its unit in the table's header".into(),
        Into::into,
    ));
    Some(problem)
}
