//! The unit of a setting, by the end of its name, and the least that it can be.

/// Ends of names, the sign of the unit, and the least that such a setting can be: absolute zero, a
/// vacuum, nothing; none where it may be of either sign. An end that ends like another comes before it.
const ENDS: &[(&str, &str, Option<f64>)] = &[
    ("_mm_s2", "mm/s2", Some(0.0)),
    ("_mm_min", "mm/min", Some(0.0)),
    ("_m_min", "m/min", Some(0.0)),
    ("_mm_s", "mm/s", Some(0.0)),
    ("_m_s", "m/s", Some(0.0)),
    ("_kg_h", "kg/h", Some(0.0)),
    ("_g_min", "g/min", Some(0.0)),
    ("_mm3_s", "mm3/s", Some(0.0)),
    ("_g_cm3", "g/cm3", Some(0.0)),
    ("_rpm", "1/min", Some(0.0)),
    ("_bar", "bar", Some(-1.02)),
    ("_mpa", "MPa", Some(-0.102)),
    ("_pct", "%", Some(-100.0)),
    ("_min", "min", Some(0.0)),
    ("_kwh", "kWh", Some(0.0)),
    ("_deg", "deg", None),
    ("_mm", "mm", None),
    ("_kg", "kg", Some(0.0)),
    ("_nm", "N m", None),
    ("_hz", "Hz", Some(0.0)),
    ("_c", "C", Some(-273.15)),
    ("_h", "h", Some(0.0)),
    ("_s", "s", Some(0.0)),
    ("_g", "g", Some(0.0)),
    ("_m", "m", None),
    ("_w", "W", Some(0.0)),
    ("_v", "V", None),
    ("_a", "A", None),
    ("_n", "N", None),
    ("_ratio", "1", Some(0.0)),
    ("_factor", "1", Some(0.0)),
    ("_count", "1", Some(0.0)),
];

/// The unit at the end of a setting's name; none where it has no end that is known.
///
/// ```
/// use secondmelt_record::units::of_setting;
///
/// assert_eq!(of_setting("line_speed_m_min"), Some("m/min"));
/// assert_eq!(of_setting("bed"), None);
/// ```
#[must_use]
pub fn of_setting(name: &str) -> Option<&'static str> {
    found(name).map(|(unit, _)| unit)
}

/// The least that a setting of that name can be by physics; none where it may be of either sign or its
/// name says no unit.
///
/// ```
/// use secondmelt_record::units::least_of_setting;
///
/// assert_eq!(least_of_setting("bed_c"), Some(-273.15));
/// assert_eq!(least_of_setting("z_offset_mm"), None);
/// ```
#[must_use]
pub fn least_of_setting(name: &str) -> Option<f64> {
    found(name).and_then(|(_, least)| least)
}

fn found(name: &str) -> Option<(&'static str, Option<f64>)> {
    let fits = |end: &str| name.len() > end.len() && name.ends_with(end);
    ENDS.iter().find(|(end, ..)| fits(end)).map(|(_, unit, least)| (*unit, *least))
}
