//! What is known of each lot.

use secondmelt_plastics::cards::{self, Card};
use secondmelt_plastics::density::{Immersed, water_g_cm3};
use secondmelt_plastics::drying::wet_basis_pct;
use secondmelt_record::facts::{Does, Immersion, MoistureBasis, Role};
use secondmelt_record::{Code, Line, Problem, Record};
use std::collections::{BTreeMap, BTreeSet};

/// Solid plastics without filler or foam lie between these, in g/cm3 (handbook ranges, from
/// memory); what lies outside is a slip of weighing or no solid plastic.
const SOLID_G_CM3: std::ops::RangeInclusive<f64> = 0.82..=2.3;

/// What is known of one lot.
#[derive(Debug, Default)]
pub(crate) struct Feed {
    pub(crate) material: Option<String>,
    pub(crate) marks: Vec<String>,
    pub(crate) densities_g_cm3: Vec<f64>,
    pub(crate) moisture: Vec<Moisture>,
    pub(crate) sieves: Vec<(f64, f64)>,
    pub(crate) charge_g: Option<f64>,
}

/// A moisture reading.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Moisture {
    pub(crate) wet_pct: f64,
    pub(crate) dried_h: Option<f64>,
    pub(crate) dry_c: Option<f64>,
}

/// The lab's own figures of a material, where it gave any.
#[derive(Debug, Default, Clone, Copy, PartialEq)]
pub(crate) struct Own {
    pub(crate) density_g_cm3: Option<f64>,
    pub(crate) dry_c: Option<f64>,
    pub(crate) dry_h: Option<f64>,
    pub(crate) moisture_max_pct: Option<f64>,
    pub(crate) hygroscopic: Option<bool>,
}

#[derive(Debug)]
struct Limit {
    what: String,
    lot: Option<String>,
    material: Option<String>,
    max: f64,
}

#[derive(Debug, Default)]
pub(crate) struct Book {
    /// Steps that dry.
    dryers: BTreeSet<String>,
    /// Steps that each lot went into.
    into: BTreeMap<String, BTreeSet<String>>,
    lots: BTreeMap<String, Feed>,
    own: BTreeMap<String, Own>,
    limits: Vec<Limit>,
}

impl Book {
    /// Takes a record; a problem where it cannot be used.
    pub(crate) fn take(&mut self, record: &Record<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        match record {
            Record::Lot(lot) => {
                let feed = self.feed(&lot.lot);
                let material = lot.material.to_string();
                if feed.material.as_ref().is_some_and(|known| *known != material) {
                    return Some(line.contradiction("lot", &lot.lot));
                }
                feed.material = Some(material);
            }
            Record::Material(card) => {
                let own = Own {
                    density_g_cm3: card.density_g_cm3.map(Into::into),
                    dry_c: card.dry_c.map(Into::into),
                    dry_h: card.dry_h.map(Into::into),
                    moisture_max_pct: card.moisture_max_pct.map(Into::into),
                    hygroscopic: card.hygroscopic,
                };
                let first = *self.own.entry(card.material.to_string()).or_insert(own);
                if first != own {
                    return Some(line.contradiction("material", &card.material));
                }
            }
            Record::Step(step) if step.does == Does::Dry => {
                self.dryers.insert(step.step.to_string());
            }
            Record::Weighing(weighing) if weighing.role == Role::In => {
                let into = self.into.entry(weighing.lot.to_string()).or_default();
                into.insert(weighing.step.to_string());
            }
            Record::Limit(limit) => self.limits.extend(limit.max.map(|max| Limit {
                what: limit.what.to_string(),
                lot: limit.lot.as_ref().map(ToString::to_string),
                material: limit.material.as_ref().map(ToString::to_string),
                max: max.get(),
            })),
            Record::Marking(marking) => {
                let mark = marking.mark.to_string();
                let feed = self.feed(&marking.lot);
                if !feed.marks.contains(&mark) {
                    feed.marks.push(mark);
                }
            }
            Record::Immersion(weighed) => match density(weighed, line) {
                Ok(density) => self.feed(&weighed.lot).densities_g_cm3.push(density),
                Err(problem) => return Some(*problem),
            },
            Record::Moisture(reading) => {
                let pct = reading.moisture_pct.get();
                let dry_basis = reading.basis == Some(MoistureBasis::Dry);
                self.feed(&reading.lot).moisture.push(Moisture {
                    wet_pct: if dry_basis { wet_basis_pct(pct) } else { pct },
                    dried_h: reading.dried_h.map(Into::into),
                    dry_c: reading.dry_c.map(Into::into),
                });
            }
            Record::Sieve(sieve) => {
                let opening = sieve.opening_mm.get();
                let charge = sieve.charge_g.map(f64::from);
                let feed = self.feed(&sieve.lot);
                if feed.sieves.iter().any(|(mm, _)| mm.to_bits() == opening.to_bits()) {
                    let found = format!("a second mass on the sieve of {opening} mm of this lot");
                    let expected = "each sieve once a lot: name each sample as a lot of its own";
                    return Some(line.problem(Code::Contradiction, found, expected));
                }
                feed.sieves.push((opening, sieve.retained_g.get()));
                feed.charge_g = feed.charge_g.or(charge);
            }
            _ => {}
        }
        None
    }

    fn feed(&mut self, lot: &str) -> &mut Feed {
        self.lots.entry(lot.to_owned()).or_default()
    }

    pub(crate) fn lots(&self) -> impl Iterator<Item = (&str, &Feed)> {
        self.lots.iter().map(|(lot, feed)| (lot.as_str(), feed))
    }

    /// The step that dried a lot further, where there is one.
    pub(crate) fn dried_by(&self, lot: &str) -> Option<&str> {
        let steps = self.into.get(lot)?;
        steps.iter().find(|step| self.dryers.contains(*step)).map(String::as_str)
    }

    /// The lab's own figures of a material.
    pub(crate) fn own(&self, material: &str) -> Option<Own> {
        self.own.get(material).copied()
    }

    /// The limit that fits a lot best: its own, that of its material, that of every lot.
    pub(crate) fn limit(&self, what: &str, lot: &str, feed: &Feed) -> Option<f64> {
        let fits = |l: &&Limit| {
            l.what == what
                && l.lot.as_deref().is_none_or(|l| l == lot)
                && (l.material.is_none() || l.material == feed.material)
        };
        let best = |l: &&Limit| (l.lot.is_some(), l.material.is_some());
        self.limits.iter().filter(fits).max_by_key(best).map(|l| l.max)
    }
}

impl Feed {
    /// The card of what the lot is said to be.
    pub(crate) fn card(&self) -> Option<&'static Card> {
        self.material.as_deref().and_then(cards::card)
    }

    /// Whether anything was measured or read on it.
    pub(crate) fn looked_at(&self) -> bool {
        !(self.marks.is_empty()
            && self.densities_g_cm3.is_empty()
            && self.moisture.is_empty()
            && self.sieves.is_empty())
    }
}

/// Density of a specimen in g/cm3, the buoyancy of air left out as ISO 1183-1 does.
fn density(weighed: &Immersion<'_>, line: Line<'_>) -> Result<f64, Box<Problem<'static>>> {
    let temp_c = weighed.temp_c.get();
    let refuse = |found: String, expected: &str| {
        Err(Box::new(line.problem(Code::OutOfRange, found, expected)))
    };
    let water = weighed.liquid.as_deref().is_none_or(|l| l.eq_ignore_ascii_case("water"));
    let liquid = match weighed.liquid_g_cm3 {
        Some(given) => given.get(),
        None if !water => {
            return refuse(
                "a liquid other than water without its density".into(),
                "`liquid_g_cm3`",
            );
        }
        None => match water_g_cm3(temp_c) {
            Some(density) => density,
            None => {
                return refuse(
                    format!("water at {temp_c} °C"),
                    "0 to 40 °C, as in a lab: a figure near 296 is kelvin, one near 73 is °F",
                );
            }
        },
    };
    let piece = Immersed {
        air_g: weighed.air_g.get(),
        liquid_g: weighed.liquid_g.get(),
        sinker_g: weighed.sinker_g.map_or(0.0, f64::from),
        liquid_g_cm3: liquid,
    };
    match piece.density_g_cm3() {
        None => refuse(
            "a specimen at least as heavy in the liquid as in air, so without volume".into(),
            "an apparent mass in the liquid below that in air (with a sinker, its own in `sinker_g`)",
        ),
        Some(density) if !SOLID_G_CM3.contains(&density) => refuse(
            format!("a density of {density:.3} g/cm3"),
            "0.82 to 2.3 g/cm3, as solid plastics have: look for bubbles, foam, a swapped or mis-keyed mass",
        ),
        Some(density) => Ok(density),
    }
}
