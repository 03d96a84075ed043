//! Test temperatures and loads of melt-flow tests (ISO 1133, annexes A and B, as reproduced
//! on public pages). Flow rates at different conditions are different quantities.

/// A test condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Condition {
    /// Temperature, in degrees Celsius.
    pub temp_c: f64,
    /// Load, in kg.
    pub load_kg: f64,
}

const fn at(temp_c: f64, load_kg: f64) -> Condition {
    Condition { temp_c, load_kg }
}

/// Conditions by material, in the order of the annex, the usual one of each first.
const BY_MATERIAL: &[(&str, &[Condition])] = &[
    ("PS", &[at(200.0, 5.0)]),
    ("PS-HI", &[at(200.0, 5.0)]),
    ("PE", &[at(190.0, 2.16), at(190.0, 0.325), at(190.0, 5.0), at(190.0, 21.6)]),
    ("PP", &[at(230.0, 2.16)]),
    ("ABS", &[at(220.0, 10.0)]),
    ("SAN", &[at(220.0, 10.0)]),
    ("ASA", &[at(220.0, 10.0)]),
    ("PC", &[at(300.0, 1.2)]),
    ("PMMA", &[at(230.0, 3.8)]),
    ("PB", &[at(190.0, 2.16), at(190.0, 10.0)]),
    ("POM", &[at(190.0, 2.16)]),
    ("MABS", &[at(220.0, 10.0)]),
    ("E/VAC", &[at(150.0, 2.16), at(190.0, 2.16), at(125.0, 0.325)]),
];

/// Conditions by the letters of older editions.
const BY_LETTER: &[(char, Condition)] = &[
    ('A', at(250.0, 2.16)),
    ('B', at(150.0, 2.16)),
    ('D', at(190.0, 2.16)),
    ('E', at(190.0, 0.325)),
    ('F', at(190.0, 10.0)),
    ('G', at(190.0, 21.6)),
    ('H', at(200.0, 5.0)),
    ('M', at(230.0, 2.16)),
    ('N', at(230.0, 3.8)),
    ('S', at(280.0, 2.16)),
    ('T', at(190.0, 5.0)),
    ('U', at(220.0, 10.0)),
    ('W', at(300.0, 1.2)),
    ('Z', at(125.0, 0.325)),
];

/// The conditions of a material (ISO 1043-1), the usual one first; none that are listed for
/// a material that is not. Kinds of polyethylene share theirs.
#[must_use]
pub fn conditions(material: &str) -> &'static [Condition] {
    let name = if material.starts_with("PE-") { "PE" } else { material };
    BY_MATERIAL.iter().find(|(known, _)| *known == name).map_or(&[], |(_, list)| list)
}

/// The condition of a letter in older editions.
#[must_use]
pub fn of_letter(letter: char) -> Option<Condition> {
    BY_LETTER.iter().find(|(known, _)| *known == letter).map(|(_, condition)| *condition)
}
