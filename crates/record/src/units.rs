//! Units: which spellings a table may use for the unit of a field, and the exact
//! factor from each to the unit that stands in the field's name.
//!
//! Sources of the factors: the SI Brochure (9th edition) for prefixes, minute, hour,
//! litre and tonne; NIST Special Publication 811 (2008), appendix B, for inch
//! (25.4 mm, exact), foot, avoirdupois pound (0.453 592 37 kg, exact), ounce and
//! degree Fahrenheit.

/// A way to write a unit, and what it takes to get to the unit of the field:
/// `(x + shift) * numerator / denominator`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Scale {
    /// Added first, in hundredths (degrees Fahrenheit and kelvin only).
    pub shift_hundredths: i64,
    /// Multiplied.
    pub numerator: u64,
    /// Divided by; never 0.
    pub denominator: u64,
}

impl Scale {
    /// The scale that changes nothing.
    pub const ONE: Self = Self { shift_hundredths: 0, numerator: 1, denominator: 1 };
}

/// The unit of a field, by the end of the field's name.
#[derive(Debug)]
pub struct Unit {
    /// The end of a field's name, without its underscore: `g_cm3`.
    pub suffix: &'static str,
    /// Spellings, and the numerator and denominator of each.
    spellings: &'static [(&'static str, u64, u64)],
}

/// Spelling, numerator, denominator. The first of each unit is its usual sign.
/// `u` stands for the micro sign, a plain 3 for the superscript.
const UNITS: &[Unit] = &[
    Unit {
        suffix: "g_cm3",
        spellings: &[
            ("g/cm3", 1, 1),
            ("g/cc", 1, 1),
            ("g/ml", 1, 1),
            ("kg/l", 1, 1),
            ("kg/dm3", 1, 1),
            ("t/m3", 1, 1),
            ("kg/m3", 1, 1000),
            ("g/l", 1, 1000),
        ],
    },
    Unit {
        suffix: "kg_h",
        spellings: &[
            ("kg/h", 1, 1),
            ("kg/hr", 1, 1),
            ("g/h", 1, 1000),
            ("g/min", 3, 50),
            ("kg/min", 60, 1),
            ("g/s", 18, 5),
            ("lb/h", 45_359_237, 100_000_000),
        ],
    },
    Unit {
        suffix: "m_min",
        spellings: &[
            ("m/min", 1, 1),
            ("mm/s", 3, 50),
            ("cm/s", 3, 5),
            ("m/s", 60, 1),
            ("mm/min", 1, 1000),
            ("cm/min", 1, 100),
            ("m/h", 1, 60),
            ("ft/min", 3048, 10_000),
            ("in/min", 254, 10_000),
        ],
    },
    Unit {
        suffix: "kwh",
        spellings: &[
            ("kWh", 1, 1),
            ("Wh", 1, 1000),
            ("MWh", 1000, 1),
            ("MJ", 5, 18),
            ("kJ", 1, 3600),
            ("J", 1, 3_600_000),
        ],
    },
    Unit {
        suffix: "rpm",
        spellings: &[
            ("rpm", 1, 1),
            ("r/min", 1, 1),
            ("rev/min", 1, 1),
            ("1/min", 1, 1),
            ("min-1", 1, 1),
            ("1/s", 60, 1),
            ("s-1", 60, 1),
            ("Hz", 60, 1),
        ],
    },
    Unit {
        suffix: "pct",
        spellings: &[
            ("%", 1, 1),
            ("pct", 1, 1),
            ("percent", 1, 1),
            ("wt%", 1, 1),
            ("wt.%", 1, 1),
            ("‰", 1, 10),
            ("ppm", 1, 10_000),
            ("mg/kg", 1, 10_000),
            ("g/kg", 1, 10),
        ],
    },
    Unit {
        suffix: "mm",
        spellings: &[
            ("mm", 1, 1),
            ("millimetre", 1, 1),
            ("millimetres", 1, 1),
            ("millimeter", 1, 1),
            ("millimeters", 1, 1),
            ("um", 1, 1000),
            ("micron", 1, 1000),
            ("microns", 1, 1000),
            ("cm", 10, 1),
            ("m", 1000, 1),
            ("in", 254, 10),
            ("inch", 254, 10),
            ("inches", 254, 10),
            ("mil", 254, 10_000),
            ("thou", 254, 10_000),
        ],
    },
    Unit {
        suffix: "m",
        spellings: &[
            ("m", 1, 1),
            ("metre", 1, 1),
            ("metres", 1, 1),
            ("meter", 1, 1),
            ("meters", 1, 1),
            ("mm", 1, 1000),
            ("cm", 1, 100),
            ("km", 1000, 1),
            ("in", 254, 10_000),
            ("inch", 254, 10_000),
            ("inches", 254, 10_000),
            ("ft", 3048, 10_000),
            ("feet", 3048, 10_000),
            ("yd", 9144, 10_000),
        ],
    },
    Unit {
        suffix: "kg",
        spellings: &[
            ("kg", 1, 1),
            ("kilogram", 1, 1),
            ("kilograms", 1, 1),
            ("g", 1, 1000),
            ("mg", 1, 1_000_000),
            ("t", 1000, 1),
            ("lb", 45_359_237, 100_000_000),
            ("lbs", 45_359_237, 100_000_000),
            ("oz", 45_359_237, 1_600_000_000),
        ],
    },
    Unit {
        suffix: "g",
        spellings: &[
            ("g", 1, 1),
            ("gram", 1, 1),
            ("grams", 1, 1),
            ("mg", 1, 1000),
            ("kg", 1000, 1),
            ("t", 1_000_000, 1),
            ("lb", 45_359_237, 100_000),
            ("lbs", 45_359_237, 100_000),
            ("oz", 45_359_237, 1_600_000),
        ],
    },
    Unit {
        suffix: "s",
        spellings: &[
            ("s", 1, 1),
            ("sec", 1, 1),
            ("second", 1, 1),
            ("seconds", 1, 1),
            ("ms", 1, 1000),
            ("us", 1, 1_000_000),
            ("min", 60, 1),
            ("minutes", 60, 1),
            ("h", 3600, 1),
            ("hours", 3600, 1),
        ],
    },
    Unit {
        suffix: "h",
        spellings: &[
            ("h", 1, 1),
            ("hr", 1, 1),
            ("hrs", 1, 1),
            ("hour", 1, 1),
            ("hours", 1, 1),
            ("min", 1, 60),
            ("minutes", 1, 60),
            ("s", 1, 3600),
            ("d", 24, 1),
            ("days", 24, 1),
        ],
    },
    Unit {
        suffix: "c",
        spellings: &[
            ("°C", 1, 1),
            ("C", 1, 1),
            ("degC", 1, 1),
            ("celsius", 1, 1),
            ("°F", 5, 9),
            ("F", 5, 9),
            ("degF", 5, 9),
            ("fahrenheit", 5, 9),
            ("K", 1, 1),
            ("kelvin", 1, 1),
        ],
    },
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

/// The units in which a spelling is the usual sign of the unit itself.
#[must_use]
pub fn by_sign(spelling: &str) -> Option<&'static Unit> {
    UNITS.iter().find(|unit| unit.scale(spelling) == Some(unit.own()))
}

impl Unit {
    fn own(&self) -> Scale {
        Scale::ONE
    }

    /// Its usual sign.
    #[must_use]
    pub fn sign(&self) -> &'static str {
        self.spellings.first().map_or(self.suffix, |s| s.0)
    }

    /// How to get from a spelling to this unit; none where it does not fit.
    #[must_use]
    pub fn scale(&self, spelling: &str) -> Option<Scale> {
        let wanted = plain(spelling);
        let exact = self.spellings.iter().find(|s| s.0 == wanted);
        let found = exact.or_else(|| self.spellings.iter().find(|s| alike(s.0, &wanted)))?;
        let shift_hundredths = match found.0 {
            "°F" | "F" | "degF" | "fahrenheit" if self.suffix == "c" => -3_200,
            "K" | "kelvin" => -27_315,
            _ => 0,
        };
        Some(Scale { shift_hundredths, numerator: found.1, denominator: found.2 })
    }

    /// The spellings, for a message.
    #[must_use]
    pub fn accepted(&self) -> String {
        let signs: Vec<_> = self.spellings.iter().map(|s| s.0).collect();
        signs.join(", ").replace("um,", "µm,").replace("us,", "µs,")
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

impl Scale {
    /// Writes a number, given as JSON text, in the unit of the field. Where the
    /// result is a finite decimal it is exact, its last digits kept (1750 µm is
    /// 1.750 mm); otherwise it is the nearest double. False where the text is no
    /// number or its digits are beyond all use.
    #[must_use]
    pub fn convert(&self, text: &str, to: &mut Vec<u8>) -> bool {
        if *self == Self::ONE {
            to.extend_from_slice(text.as_bytes());
            return true;
        }
        Decimal::read(text).and_then(|x| self.apply(x)).is_some_and(|converted| {
            to.extend_from_slice(converted.as_bytes());
            true
        })
    }

    /// This scale, followed by a factor of `numerator / denominator`.
    #[must_use]
    pub fn times(self, numerator: u64, denominator: u64) -> Option<Self> {
        let (n, d) =
            (self.numerator.checked_mul(numerator)?, self.denominator.checked_mul(denominator)?);
        let common = gcd(n, d).max(1);
        (d > 0).then_some(Self { numerator: n / common, denominator: d / common, ..self })
    }

    fn apply(&self, x: Decimal) -> Option<String> {
        let x = x.plus_hundredths(self.shift_hundredths)?;
        // A factor of ten moves the point as far as there are places: 1.25 kg is 1250 g.
        let (mut numerator, mut places_left) = (self.numerator, x.places);
        while places_left > 0 && numerator > 0 && numerator.is_multiple_of(10) {
            (numerator, places_left) = (numerator / 10, places_left - 1);
        }
        let top = x.digits.checked_mul(i128::from(numerator))?;
        if self.denominator == 0 {
            return None;
        }
        // A denominator of twos and fives only moves the point; the rest must divide.
        let (mut rest, mut twos, mut fives) = (self.denominator, 0_u32, 0_u32);
        while rest.is_multiple_of(2) {
            (rest, twos) = (rest / 2, twos + 1);
        }
        while rest.is_multiple_of(5) {
            (rest, fives) = (rest / 5, fives + 1);
        }
        let places = twos.max(fives);
        let widened =
            2_i128.checked_pow(places - twos)?.checked_mul(5_i128.checked_pow(places - fives)?)?;
        let top = top.checked_mul(widened)?;
        let scale = places_left.checked_add(i32::try_from(places).ok()?)?;
        let rest = i128::from(rest);
        if top % rest == 0 {
            return Some(
                Decimal { digits: top / rest, places: scale, negative: x.negative }.text(),
            );
        }
        nearest(top, rest, scale)
    }
}

fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// The double nearest to `top / bottom / 10^places`, as text.
fn nearest(top: i128, bottom: i128, places: i32) -> Option<String> {
    let sign = if top < 0 { "-" } else { "" };
    let (mut rest, bottom) = (top.unsigned_abs(), bottom.unsigned_abs());
    let mut digits = (rest / bottom).to_string();
    rest %= bottom;
    // More digits than a double can tell apart, then one that says "and a little more".
    for _ in 0..24 {
        let next = rest.checked_mul(10)?;
        digits.push(char::from(b'0' + u8::try_from(next / bottom).ok()?));
        rest = next % bottom;
    }
    let x: f64 = format!("{sign}{digits}1e{}", -25 - i64::from(places)).parse().ok()?;
    Some(format!("{x}"))
}

/// A decimal number: `digits / 10^places`.
struct Decimal {
    digits: i128,
    places: i32,
    /// Keeps the sign of a zero.
    negative: bool,
}

impl Decimal {
    /// Most digits that are taken in; beyond what any instrument shows.
    const DIGITS_MAX: usize = 20;
    /// Largest power of ten.
    const PLACES_MAX: i32 = 300;

    /// Reads JSON number text.
    fn read(text: &str) -> Option<Self> {
        let (mantissa, power) = match text.split_once(['e', 'E']) {
            Some((mantissa, power)) => (mantissa, power.parse::<i32>().ok()?),
            None => (text, 0),
        };
        let (negative, mantissa) = match mantissa.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, mantissa),
        };
        let (whole, part) = mantissa.split_once('.').unwrap_or((mantissa, ""));
        let all = format!("{whole}{part}");
        let all = all.trim_start_matches('0');
        if all.len() > Self::DIGITS_MAX || !all.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let digits: i128 = if all.is_empty() { 0 } else { all.parse().ok()? };
        let places = i32::try_from(part.len()).ok()?.checked_sub(power)?;
        let within = (-Self::PLACES_MAX..=Self::PLACES_MAX).contains(&places);
        within.then_some(Self { digits: if negative { -digits } else { digits }, places, negative })
    }

    fn plus_hundredths(self, hundredths: i64) -> Option<Self> {
        if hundredths == 0 {
            return Some(self);
        }
        let whole = hundredths % 100 == 0;
        let (add, add_places) = if whole { (hundredths / 100, 0) } else { (hundredths, 2) };
        let places = self.places.max(add_places);
        let grown = |digits: i128, from: i32| {
            digits.checked_mul(10_i128.checked_pow(u32::try_from(places - from).ok()?)?)
        };
        let digits =
            grown(self.digits, self.places)?.checked_add(grown(i128::from(add), add_places)?)?;
        Some(Self { digits, places, negative: digits < 0 })
    }

    /// Plain decimal text, with as many places as the number has.
    fn text(&self) -> String {
        let sign = if self.digits < 0 || (self.digits == 0 && self.negative) { "-" } else { "" };
        let digits = self.digits.unsigned_abs().to_string();
        let Ok(places) = usize::try_from(self.places) else {
            let zeros = usize::try_from(-self.places).unwrap_or(0);
            let zeros = if self.digits == 0 { 0 } else { zeros };
            return format!("{sign}{digits}{}", "0".repeat(zeros));
        };
        if places == 0 {
            return format!("{sign}{digits}");
        }
        let digits = format!("{digits:0>width$}", width = places + 1);
        let (whole, part) = digits.split_at(digits.len() - places);
        format!("{sign}{whole}.{part}")
    }
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
        let without = ["gear", "cost", "min", "max"];
        for kind in Kind::ALL.iter().filter(|k| k.class() == Class::Fact) {
            for field in kind.fields().iter().filter(|f| matches!(f.shape, Shape::Number(_))) {
                let has = of_field(field.name).is_some();
                assert_ne!(has, without.contains(&field.name), "{kind}.{}", field.name);
            }
        }
    }
}
