//! The unit of a setting, by the end of its name.

/// Ends of names and the sign of the unit. An end that ends like another comes before it.
const ENDS: &[(&str, &str)] = &[
    ("_mm_s2", "mm/s2"),
    ("_mm_min", "mm/min"),
    ("_m_min", "m/min"),
    ("_mm_s", "mm/s"),
    ("_m_s", "m/s"),
    ("_kg_h", "kg/h"),
    ("_g_min", "g/min"),
    ("_mm3_s", "mm3/s"),
    ("_g_cm3", "g/cm3"),
    ("_rpm", "1/min"),
    ("_bar", "bar"),
    ("_mpa", "MPa"),
    ("_pct", "%"),
    ("_min", "min"),
    ("_kwh", "kWh"),
    ("_deg", "deg"),
    ("_mm", "mm"),
    ("_kg", "kg"),
    ("_nm", "N m"),
    ("_hz", "Hz"),
    ("_c", "C"),
    ("_h", "h"),
    ("_s", "s"),
    ("_g", "g"),
    ("_m", "m"),
    ("_w", "W"),
    ("_v", "V"),
    ("_a", "A"),
    ("_n", "N"),
    ("_ratio", "1"),
    ("_factor", "1"),
    ("_count", "1"),
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
    ENDS.iter()
        .find(|(end, _)| name.len() > end.len() && name.ends_with(end))
        .map(|(_, unit)| *unit)
}
