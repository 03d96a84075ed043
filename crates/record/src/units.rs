//! Units: which spellings a table may use for the unit of a field, and the exact
//! factor from each to the unit that stands in the field's name.
//!
//! Sources of the factors: the SI Brochure (9th edition) for prefixes, minute, hour,
//! litre and tonne; NIST Special Publication 811 (2008), appendix B, for inch
//! (25.4 mm, exact), foot, avoirdupois pound (0.453 592 37 kg, exact), ounce, degree
//! Fahrenheit and thermochemical calorie (4.184 J, exact). A psi is a pound times the standard
//! acceleration of free fall (9.806 65 m/s2, exact) on a square inch.

mod scale;
use crate::facts::Limit;
use crate::{Code, Line, Problem};

mod setting;

pub use scale::Scale;
pub use setting::{least_of_setting, of_setting};

/// The unit of a field, by the end of the field's name.
#[derive(Debug)]
pub struct Unit {
    /// The end of a field's name, without its underscore: `g_cm3`.
    pub suffix: &'static str,
    /// Spellings with spaces between them, and the numerator and denominator of each lot.
    spellings: &'static [(&'static str, u64, u64)],
}

/// Spellings by their factor, as numerator and denominator. The first is the usual sign.
/// `u` stands for the micro sign, a plain 3 for the superscript. A unit that ends like
/// another (`g_cm3`, `kg_h`, `m_min`) comes before it.
#[rustfmt::skip]
const UNITS: &[Unit] = &[
    Unit { suffix: "g_cm3", spellings: &[
        ("g/cm3 g/cc g/ml kg/l kg/dm3 t/m3", 1, 1),
        ("kg/m3 g/l", 1, 1000),
    ] },
    Unit { suffix: "cm3", spellings: &[
        ("cm3 cc ml", 1, 1),
        ("mm3 ul", 1, 1000),
        ("l litre litres liter liters dm3", 1000, 1),
        ("in3", 16_387_064, 1_000_000),
    ] },
    Unit { suffix: "kg_h", spellings: &[
        ("kg/h kg/hr", 1, 1),
        ("g/h", 1, 1000),
        ("g/min", 3, 50),
        ("kg/min", 60, 1),
        ("g/s", 18, 5),
        ("lb/h", 45_359_237, 100_000_000),
    ] },
    Unit { suffix: "m_min", spellings: &[
        ("m/min", 1, 1),
        ("mm/s", 3, 50),
        ("cm/s", 3, 5),
        ("m/s", 60, 1),
        ("mm/min", 1, 1000),
        ("cm/min", 1, 100),
        ("m/h", 1, 60),
        ("ft/min", 3048, 10_000),
        ("in/min", 254, 10_000),
    ] },
    Unit { suffix: "kj_mol", spellings: &[
        ("kJ/mol", 1, 1),
        ("J/mol", 1, 1000),
        ("kcal/mol", 523, 125),
    ] },
    Unit { suffix: "kwh", spellings: &[
        ("kWh", 1, 1),
        ("Wh", 1, 1000),
        ("MWh", 1000, 1),
        ("MJ", 5, 18),
        ("kJ", 1, 3600),
        ("J", 1, 3_600_000),
    ] },
    Unit { suffix: "bar", spellings: &[
        ("bar", 1, 1),
        ("mbar hPa", 1, 1000),
        ("MPa", 10, 1),
        ("kPa", 1, 100),
        ("Pa", 1, 100_000),
        ("psi", 8_896_443_230_521, 129_032_000_000_000),
    ] },
    Unit { suffix: "rpm", spellings: &[
        ("rpm r/min rev/min 1/min min-1", 1, 1),
        ("1/s s-1 Hz", 60, 1),
    ] },
    Unit { suffix: "pct", spellings: &[
        ("% pct percent wt% wt.%", 1, 1),
        ("‰ g/kg", 1, 10),
        ("ppm mg/kg", 1, 10_000),
    ] },
    Unit { suffix: "mm", spellings: &[
        ("mm millimetre millimetres millimeter millimeters", 1, 1),
        ("um micron microns micrometre micrometres micrometer micrometers", 1, 1000),
        ("cm", 10, 1),
        ("m", 1000, 1),
        ("in inch inches", 254, 10),
        ("mil thou", 254, 10_000),
    ] },
    Unit { suffix: "m", spellings: &[
        ("m metre metres meter meters", 1, 1),
        ("mm", 1, 1000),
        ("cm", 1, 100),
        ("km", 1000, 1),
        ("in inch inches", 254, 10_000),
        ("ft feet", 3048, 10_000),
        ("yd", 9144, 10_000),
    ] },
    Unit { suffix: "kg", spellings: &[
        ("kg kilogram kilograms", 1, 1),
        ("g gram grams", 1, 1000),
        ("mg milligram milligrams", 1, 1_000_000),
        ("t", 1000, 1),
        ("lb lbs", 45_359_237, 100_000_000),
        ("oz", 45_359_237, 1_600_000_000),
    ] },
    Unit { suffix: "g", spellings: &[
        ("g gram grams", 1, 1),
        ("mg milligram milligrams", 1, 1000),
        ("kg kilogram kilograms", 1000, 1),
        ("t", 1_000_000, 1),
        ("lb lbs", 45_359_237, 100_000),
        ("oz", 45_359_237, 1_600_000),
    ] },
    Unit { suffix: "s", spellings: &[
        ("s sec second seconds", 1, 1),
        ("ms", 1, 1000),
        ("us", 1, 1_000_000),
        ("min minutes", 60, 1),
        ("h hours", 3600, 1),
    ] },
    Unit { suffix: "h", spellings: &[
        ("h hr hrs hour hours", 1, 1),
        ("min minutes", 1, 60),
        ("s", 1, 3600),
        ("d days", 24, 1),
    ] },
    Unit { suffix: "c", spellings: &[
        ("°C C degC celsius K kelvin", 1, 1),
        ("°F F degF fahrenheit", 5, 9),
    ] },
];

/// The unit of a field and the field's name without it; none where it has no unit.
///
/// ```
/// use secondmelt_record::units;
/// assert_eq!(units::of_field("dx_mm").map(|(unit, stem)| (unit.suffix, stem)), Some(("mm", "dx")));
/// assert_eq!(units::of_field("rpm").map(|(unit, stem)| (unit.suffix, stem)), Some(("rpm", "")));
/// assert!(units::of_field("gear").is_none());
/// ```
#[must_use]
pub fn of_field(name: &str) -> Option<(&'static Unit, &str)> {
    UNITS.iter().find_map(|unit| {
        let stem = name.strip_suffix(unit.suffix)?;
        if stem.is_empty() {
            // A name that is nothing but its unit (`rpm`); one letter is just a name.
            return (unit.suffix.len() > 2).then_some((unit, stem));
        }
        Some((unit, stem.strip_suffix('_')?))
    })
}

/// Whether the text is a spelling of any unit that is known.
#[must_use]
pub fn is_known(spelling: &str) -> bool {
    UNITS.iter().any(|unit| unit.scale(spelling).is_some())
}

/// The unit that a spelling stands for without any factor (`°C`, `rpm`).
#[must_use]
pub fn by_sign(spelling: &str) -> Option<&'static Unit> {
    UNITS.iter().find(|unit| unit.scale(spelling) == Some(Scale::ONE))
}

/// The problem of a limit whose unit is not the one in the name of its quantity: its figures are then not
/// what they seem. None where the name has no unit that is known.
#[must_use]
pub fn limit_fault(limit: &Limit<'_>, line: Line<'_>) -> Option<Problem<'static>> {
    let (what, given) = (limit.what.as_str(), limit.unit.as_str());
    let packed: String = given.chars().filter(|c| !c.is_whitespace()).collect();
    let expected = if what.contains("_per_") {
        return None;
    } else if what.ends_with("_g_10min") {
        (!packed.eq_ignore_ascii_case("g/10min")).then_some("g/10 min")?
    } else {
        let (unit, _) = of_field(what)?;
        (unit.scale(given) != Some(Scale::ONE)).then(|| unit.sign())?
    };
    let found = format!("a limit of {what} in {given}");
    let mut problem = line.problem(Code::UnknownUnit, found, expected);
    problem.field = Some("unit".into());
    problem.advice = Some(format!("convert its figures to {expected}; it is not used").into());
    Some(problem)
}

impl Unit {
    /// Every spelling with its factor.
    fn each(&self) -> impl Iterator<Item = (&'static str, u64, u64)> {
        self.spellings.iter().flat_map(|(words, n, d)| words.split(' ').map(|word| (word, *n, *d)))
    }

    /// Its usual sign.
    #[must_use]
    pub fn sign(&self) -> &'static str {
        self.each().next().map_or(self.suffix, |(word, ..)| word)
    }

    /// How to get from a spelling to this unit; none where it does not fit. The end of a
    /// field's name is one, too (`m_min`).
    #[must_use]
    pub fn scale(&self, spelling: &str) -> Option<Scale> {
        let wanted = plain(spelling);
        if wanted == self.suffix {
            return Some(Scale::ONE);
        }
        let exact = self.each().find(|(word, ..)| *word == wanted);
        let (word, numerator, denominator) =
            exact.or_else(|| self.each().find(|(word, ..)| alike(word, &wanted)))?;
        let shift_hundredths = match word {
            "°F" | "F" | "degF" | "fahrenheit" => -3_200,
            "K" | "kelvin" => -27_315,
            _ => 0,
        };
        Some(Scale { shift_hundredths, numerator, denominator })
    }

    /// The spellings, for a message.
    #[must_use]
    pub fn accepted(&self) -> String {
        self.each().map(|(word, ..)| micro(word)).collect::<Vec<_>>().join(", ")
    }

    /// The longest spelling that another one, which does not fit, begins with (`KGS`); none
    /// where it is like none. For a message, not for a conversion.
    ///
    /// ```
    /// use secondmelt_record::units;
    /// let grams = units::of_field("mass_g").map(|(unit, _)| unit);
    /// assert_eq!(grams.and_then(|unit| unit.like("KGS")), Some("kg"));
    /// assert_eq!(grams.and_then(|unit| unit.like("mm")), None);
    /// ```
    #[must_use]
    pub fn like(&self, spelling: &str) -> Option<&'static str> {
        let wanted = plain(spelling).to_ascii_lowercase();
        let begins = |word: &&str| wanted.starts_with(&word.to_ascii_lowercase());
        self.each().map(|(word, ..)| word).filter(begins).max_by_key(|word| word.len()).map(micro)
    }
}

/// A spelling as it is shown, with the micro sign.
fn micro(word: &'static str) -> &'static str {
    match word {
        "um" => "µm",
        "us" => "µs",
        _ => word,
    }
}

/// A spelling without spaces, with plain letters for micro, cubed and the like.
fn plain(spelling: &str) -> String {
    spelling
        .chars()
        .filter_map(|c| match c {
            'µ' | 'μ' => Some('u'),
            '³' => Some('3'),
            'º' => Some('°'),
            '¹' => Some('1'),
            '⁻' | '−' => Some('-'),
            '^' | '*' | '·' => None,
            c if c.is_whitespace() => None,
            c => Some(c),
        })
        .collect()
}

/// Whether two spellings differ in case alone, and not in a way that could turn
/// milli into mega.
fn alike(known: &str, found: &str) -> bool {
    if !known.eq_ignore_ascii_case(found) {
        return false;
    }
    let prefix = |text: &str| text.chars().next().filter(|c| matches!(c, 'm' | 'M'));
    let shouted = !found.chars().any(|c| c.is_ascii_lowercase()) && !known.starts_with('M');
    prefix(known) == prefix(found) || shouted
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kind::{Class, Kind};
    use crate::shape::Shape;

    fn converted(field: &str, unit: &str, number: &str) -> String {
        let mut out = Vec::new();
        let scale = of_field(field).and_then(|(u, _)| u.scale(unit)).unwrap();
        assert!(scale.convert(number, &mut out), "{number} {unit}");
        String::from_utf8(out).unwrap()
    }

    /// NIST SP 811 (2008), appendix B.8 and the SI Brochure.
    #[test]
    fn exact_factors_give_exact_decimals() {
        for (field, unit, number, expected) in [
            ("dx_mm", "µm", "1750", "1.750"),
            ("dx_mm", "μm", "1750.5", "1.7505"),
            ("dx_mm", "in", "0.069", "1.7526"),
            ("dx_mm", "inches", "1", "25.4"),
            ("mass_g", "kg", "0.25", "250"),
            ("mass_g", "kg", "1.2345", "1234.5"),
            ("mass_g", "lb", "1", "453.59237"),
            ("mass_g", "oz", "1", "28.349523125"),
            ("load_kg", "g", "2160", "2.160"),
            ("line_speed_max_m_min", "mm/s", "100", "6.00"),
            ("time_s", "min", "0.5", "30"),
            ("temp_c", "K", "503.15", "230.00"),
            ("temp_c", "°F", "212", "100"),
            ("temp_c", "°F", "-40", "-40"),
            ("energy_kwh", "MJ", "3.6", "1.0"),
            ("moisture_pct", "ppm", "400", "0.0400"),
            ("density_g_cm3", "kg/m³", "998.2", "0.9982"),
            ("rpm", "1/s", "0.5", "30"),
            ("dx_mm", "µm", "1.75e3", "1.750"),
        ] {
            let (got, want): (f64, f64) =
                (converted(field, unit, number).parse().unwrap(), expected.parse().unwrap());
            assert_eq!(got.to_bits(), want.to_bits(), "{number} {unit}");
        }
        assert_eq!(converted("dx_mm", "µm", "1750"), "1.750");
        assert_eq!(converted("mass_g", "kg", "1.2345"), "1234.5");
        assert_eq!(converted("mass_g", "kg", "0.250"), "250");
    }

    /// 5/9 and 1/60 have no finite decimal: the nearest double, by the rule of IEEE 754.
    #[test]
    fn other_factors_give_the_nearest_double() {
        assert_eq!(converted("temp_c", "°F", "100"), "37.77777777777778");
        assert_eq!(converted("dry_h", "min", "10"), format!("{}", 1.0 / 6.0));
        assert_eq!(converted("energy_kwh", "kJ", "1"), format!("{}", 1.0 / 3600.0));
    }

    #[test]
    fn case_may_differ_but_milli_is_never_mega() {
        let scale = |field: &str, unit: &str| of_field(field).and_then(|(u, _)| u.scale(unit));
        assert_eq!(scale("mass_g", "KG"), scale("mass_g", "kg"));
        assert_eq!(scale("dx_mm", "MM"), Some(Scale::ONE));
        assert_eq!(scale("mass_g", "Mg"), None);
        assert_eq!(scale("energy_kwh", "mJ"), None);
        assert_eq!(scale("energy_kwh", "mWh"), None);
        assert_eq!(scale("mass_g", "mm"), None);
    }

    #[test]
    fn every_number_of_a_fact_has_a_unit_or_is_known_to_have_none() {
        let without = ["gear", "cost", "min", "max", "target"];
        for kind in Kind::ALL.iter().filter(|k| k.class() == Class::Fact) {
            for field in kind.fields().iter().filter(|f| matches!(f.shape, Shape::Number(_))) {
                let has = of_field(field.name).is_some();
                assert_ne!(has, without.contains(&field.name), "{kind}.{}", field.name);
            }
        }
    }
}
