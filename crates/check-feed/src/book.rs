//! What is known of each lot.

use crate::own::{Own, card_of};
use crate::weighed::{self, Piece};
use secondmelt_plastics::cards::{self, Card};
use secondmelt_plastics::drying::{Granule, wet_basis_pct};
use secondmelt_record::facts::{self, Does, Form, MoistureBasis, PieceShape, Role};
use secondmelt_record::text::Time;
use secondmelt_record::units::limit_fault;
use secondmelt_record::{Code, Line, Problem, Record};
use std::collections::{BTreeMap, BTreeSet};

/// No plastic of the cards is dried hotter than at 175 °C; beyond this it is a slip.
const DRYER_C: std::ops::RangeInclusive<f64> = 0.0..=250.0;
/// Solid plastics as poured lie below this, in g/cm3 (common practice, no source).
const BULK_G_CM3: f64 = 1.6;

/// An instant in seconds, as it is written in two records that are to be compared.
type Instant = f64;

/// What is known of one lot.
#[derive(Debug, Default)]
pub(crate) struct Feed {
    pub(crate) material: Option<String>,
    form: Option<Form>,
    piece: Option<(PieceShape, Option<f64>, Option<f64>)>,
    pub(crate) marks: Vec<String>,
    pub(crate) pieces: Vec<Piece>,
    pub(crate) moisture: Vec<Moisture>,
    /// Whether there were more of them than are kept, which is told once.
    too_many: bool,
    pub(crate) sieves: Vec<(f64, f64)>,
    pub(crate) charge_g: Option<f64>,
    pub(crate) bulk_g_cm3: Vec<f64>,
}

/// Moisture readings of a lot that are kept.
const MOISTURE_MAX: usize = 10_000;

/// A moisture reading.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Moisture {
    pub(crate) wet_pct: f64,
    pub(crate) dried_h: Option<f64>,
    pub(crate) dry_c: Option<f64>,
    pub(crate) at: Option<Instant>,
}

#[derive(Debug)]
struct Limit {
    what: String,
    lot: Option<String>,
    material: Option<String>,
    min: Option<f64>,
    max: Option<f64>,
}

/// A step that dries.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Dryer {
    pub(crate) at: Option<Instant>,
    pub(crate) dry_c: Option<f64>,
}

#[derive(Debug, Default)]
pub(crate) struct Book {
    dryers: BTreeMap<String, Dryer>,
    /// Steps that shred and that melt, the first of each.
    pub(crate) shredder: Option<String>,
    pub(crate) extruder: Option<String>,
    /// Steps that each lot went into, and when it was weighed for it.
    into: BTreeMap<String, BTreeMap<String, Option<Instant>>>,
    /// Lots that came out of each step.
    out_of: BTreeMap<String, BTreeSet<String>>,
    /// Steps that melt or mix.
    melters: BTreeSet<String>,
    /// Steps that sort, whose lots need not be what went in.
    sorters: BTreeSet<String>,
    lots: BTreeMap<String, Feed>,
    /// By the one name of each material, with the name as the lab wrote it.
    own: BTreeMap<String, (String, Own)>,
    limits: Vec<Limit>,
    /// Standard uncertainty of each scale, in g.
    scales: BTreeMap<String, f64>,
    /// What the hopper of each machine holds, in cm3.
    pub(crate) hoppers: BTreeMap<String, f64>,
}

/// A time for comparing.
#[expect(clippy::cast_precision_loss, reason = "milliseconds of our time fit")]
fn instant(at: Option<&Time<'_>>) -> Option<Instant> {
    at.and_then(Time::instant).map(|at| at.as_millisecond() as f64 / 1000.0)
}

impl Book {
    /// Takes a record; a problem where it cannot be used.
    pub(crate) fn take(&mut self, record: &Record<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        match record {
            Record::Lot(lot) => return self.take_lot(lot, line),
            Record::Material(card) => {
                let own = (card.material.to_string(), Own::of(card));
                let known = self.own.entry(cards::one_name(&card.material)).or_insert(own.clone());
                if known.1 != own.1 {
                    return Some(line.contradiction("material", &card.material));
                }
            }
            Record::Step(step) => {
                let name = || Some(step.step.to_string());
                if step.does == Does::Sort {
                    self.sorters.insert(step.step.to_string());
                }
                if matches!(step.does, Does::Blend | Does::Extrude) {
                    self.melters.insert(step.step.to_string());
                }
                match step.does {
                    Does::Dry => {
                        let settings = step.settings.as_ref();
                        let at = instant(step.at.as_ref());
                        let dry_c = settings.and_then(|s| s.get("dry_c"));
                        self.dryers.insert(step.step.to_string(), Dryer { at, dry_c });
                    }
                    Does::Shred => self.shredder = self.shredder.take().or_else(name),
                    Does::Extrude => self.extruder = self.extruder.take().or_else(name),
                    _ => {}
                }
            }
            Record::Weighing(weighing) => match weighing.role {
                Role::In => {
                    let into = self.into.entry(weighing.lot.to_string()).or_default();
                    into.insert(weighing.step.to_string(), instant(weighing.at.as_ref()));
                }
                Role::Out => {
                    let out = self.out_of.entry(weighing.step.to_string()).or_default();
                    out.insert(weighing.lot.to_string());
                }
                _ => {}
            },
            Record::Scale(scale) => {
                // A display shows the middle of an even spread of one step.
                let shown = scale.resolution_g.map(|step| step.get() / 12.0_f64.sqrt());
                if let Some(u) = scale.u_g.map(f64::from).or(shown) {
                    self.scales.insert(scale.scale.to_string(), u);
                }
            }
            Record::Machine(machine) => {
                if let Some(volume) = machine.hopper_cm3 {
                    self.hoppers.insert(machine.machine.to_string(), volume.get());
                }
            }
            Record::Limit(limit) => {
                if let Some(problem) = limit_fault(limit, line) {
                    return Some(problem);
                }
                // What one machine bears is no limit of a lot on its way there.
                if limit.machine.is_none() {
                    self.limits.push(Limit {
                        what: limit.what.to_string(),
                        lot: limit.lot.as_ref().map(ToString::to_string),
                        material: limit.material.as_ref().map(|name| cards::one_name(name)),
                        min: limit.min.map(Into::into),
                        max: limit.max.map(Into::into),
                    });
                }
            }
            Record::Marking(marking) => {
                let mark = marking.mark.to_string();
                let feed = self.feed(&marking.lot);
                if !feed.marks.contains(&mark) {
                    feed.marks.push(mark);
                }
            }
            Record::Immersion(weighed) => match weighed::piece(weighed, line) {
                Ok(piece) => self.feed(&weighed.lot).pieces.push(piece),
                Err(problem) => return Some(*problem),
            },
            Record::Moisture(reading) => return self.take_moisture(reading, line),
            Record::Sieve(sieve) => return self.take_sieve(sieve, line),
            Record::Bulk(bulk) => {
                let density = bulk.filled_g.get() / bulk.vessel_cm3.get();
                if density > BULK_G_CM3 {
                    let found = format!("{density:.3} g/cm3 as poured");
                    let expected =
                        "at most 1.6 g/cm3: `filled_g` without the vessel, `vessel_cm3` in cm3";
                    return Some(line.problem(Code::OutOfRange, found, expected));
                }
                self.feed(&bulk.lot).bulk_g_cm3.push(density);
            }
            _ => {}
        }
        None
    }

    fn take_lot(&mut self, lot: &facts::Lot<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        let feed = self.feed(&lot.lot);
        let material = lot.material.to_string();
        let other = |known: &String| cards::one_name(known) != cards::one_name(&material);
        if feed.material.as_ref().is_some_and(other) {
            return Some(line.contradiction("lot", &lot.lot));
        }
        feed.material.get_or_insert(material);
        feed.form = feed.form.or(lot.form);
        let size = |x: Option<secondmelt_record::Positive>| x.map(f64::from);
        let piece = lot.piece.map(|shape| (shape, size(lot.piece_mm), size(lot.piece_length_mm)));
        feed.piece = feed.piece.or(piece);
        None
    }

    fn take_moisture(
        &mut self,
        reading: &facts::Moisture<'_>,
        line: Line<'_>,
    ) -> Option<Problem<'static>> {
        let dry_c = reading.dry_c.map(f64::from);
        if let Some(c) = dry_c.filter(|c| !DRYER_C.contains(c)) {
            let found = format!("drying at {c} °C");
            let expected = "0 to 250 °C: a figure near 338 is kelvin (65 °C)";
            return Some(line.problem(Code::OutOfRange, found, expected));
        }
        let pct = reading.moisture_pct.get();
        let dry_basis = reading.basis == Some(MoistureBasis::Dry);
        let feed = self.feed(&reading.lot);
        if feed.moisture.len() >= MOISTURE_MAX {
            let found = format!("more than {MOISTURE_MAX} moisture readings of one lot");
            let told = std::mem::replace(&mut feed.too_many, true);
            let problem = line.problem(Code::TooMany, found, "fewer; these are not looked at");
            return (!told).then_some(problem);
        }
        feed.moisture.push(Moisture {
            wet_pct: if dry_basis { wet_basis_pct(pct) } else { pct },
            dried_h: reading.dried_h.map(Into::into),
            dry_c,
            at: instant(reading.at.as_ref()),
        });
        None
    }

    fn take_sieve(&mut self, sieve: &facts::Sieve<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        let opening = sieve.opening_mm.get();
        let charge = sieve.charge_g.map(f64::from);
        let feed = self.feed(&sieve.lot);
        let expected = "one sieving a lot: name each sample as a lot of its own";
        if feed.sieves.iter().any(|(mm, _)| mm.to_bits() == opening.to_bits()) {
            let found = format!("a second mass on the sieve of {opening} mm of this lot");
            return Some(line.problem(Code::Contradiction, found, expected));
        }
        if let Some((before, now)) = feed.charge_g.zip(charge)
            && (before - now).abs() > 1e-9 * before
        {
            let found = format!("a charge of {now} g after one of {before} g for the same lot");
            return Some(line.problem(Code::Contradiction, found, expected));
        }
        feed.sieves.push((opening, sieve.retained_g.get()));
        feed.charge_g = feed.charge_g.or(charge);
        None
    }

    fn feed(&mut self, lot: &str) -> &mut Feed {
        self.lots.entry(lot.to_owned()).or_default()
    }

    pub(crate) fn lots(&self) -> impl Iterator<Item = (&str, &Feed)> {
        self.lots.iter().map(|(lot, feed)| (lot.as_str(), feed))
    }

    /// The last step that dried a lot further, where there is one: its name and what it is. One
    /// without a time of its own began when the lot was weighed for it.
    pub(crate) fn dried_by(&self, lot: &str) -> Option<(&str, Dryer)> {
        let dryers = self.into.get(lot)?.iter().filter_map(|(step, weighed)| {
            let dryer = *self.dryers.get(step)?;
            Some((step.as_str(), Dryer { at: dryer.at.or(*weighed), ..dryer }))
        });
        let when = |dryer: &Dryer| dryer.at.unwrap_or(f64::NEG_INFINITY);
        dryers.max_by(|(_, a), (_, b)| when(a).total_cmp(&when(b)))
    }

    /// A lot of another name that came out of a step and whose moisture was read.
    pub(crate) fn read_after(&self, step: &str, lot: &str) -> Option<&str> {
        let mut out = self.out_of.get(step)?.iter().map(String::as_str);
        out.find(|&other| {
            other != lot && self.lots.get(other).is_some_and(|feed| !feed.moisture.is_empty())
        })
    }

    /// Lots that others were made of, as far as weighings tell and sorting does not part them: lots that have
    /// a lot of `bad` in them, each with that lot.
    pub(crate) fn made_of<'a>(&'a self, bad: &BTreeSet<&'a str>) -> BTreeMap<&'a str, &'a str> {
        let mut found: BTreeMap<&str, &str> = BTreeMap::new();
        let mut open: Vec<(&str, &str)> = bad.iter().map(|lot| (*lot, *lot)).collect();
        while let Some((lot, first)) = open.pop() {
            let steps = self.into.get(lot).into_iter().flat_map(BTreeMap::keys);
            for step in steps.filter(|step| !self.sorters.contains(*step)) {
                for out in self.out_of.get(step).into_iter().flatten().map(String::as_str) {
                    if !bad.contains(out) && !found.contains_key(out) {
                        found.insert(out, first);
                        open.push((out, first));
                    }
                }
            }
        }
        found
    }

    /// Steps that melt or mix, each with the lots that went into it.
    pub(crate) fn melted_together(&self) -> impl Iterator<Item = (&str, Vec<(&str, &Feed)>)> {
        self.melters.iter().map(|step| {
            let went = self.into.iter().filter(|(_, steps)| steps.contains_key(step));
            let lots = went.filter_map(|(lot, _)| Some((lot.as_str(), self.lots.get(lot)?)));
            (step.as_str(), lots.collect())
        })
    }

    /// Standard uncertainty of a scale, in g.
    pub(crate) fn scale(&self, scale: &str) -> Option<f64> {
        self.scales.get(scale).copied()
    }

    /// The lab's own figures of a material, under any of its names.
    pub(crate) fn own(&self, material: &str) -> Option<Own> {
        self.own.get(&cards::one_name(material)).map(|(_, own)| *own)
    }

    /// Densities in g/cm3 between which the lots of a material lie: the lab's own, then the
    /// card's.
    pub(crate) fn range(&self, material: &str) -> Option<(f64, f64)> {
        let card = || card_of(material).map(|c| (c.density_g_cm3.min, c.density_g_cm3.max));
        self.own(material).and_then(|own| own.density_g_cm3).or_else(card)
    }

    /// Materials that have a card of the lab alone, as it wrote them.
    pub(crate) fn own_alone(&self) -> impl Iterator<Item = &str> {
        self.own
            .iter()
            .filter(|(name, _)| cards::card(name).is_none())
            .map(|(_, own)| own.0.as_str())
    }

    /// The limit that fits a lot best: its own, that of its material, that of every lot.
    fn bound(
        &self,
        what: &str,
        lot: &str,
        feed: &Feed,
        end: impl Fn(&Limit) -> Option<f64>,
    ) -> Option<f64> {
        let material = feed.material.as_deref().map(cards::one_name);
        let fits = |l: &&Limit| {
            l.what == what
                && l.lot.as_deref().is_none_or(|l| l == lot)
                && (l.material.is_none() || l.material == material)
        };
        let ends = self.limits.iter().filter(fits).filter_map(|l| Some((l, end(l)?)));
        let best = |(l, _): &(&Limit, f64)| (l.lot.is_some(), l.material.is_some());
        ends.max_by_key(best).map(|(_, end)| end)
    }

    /// The upper limit that fits a lot best.
    pub(crate) fn limit(&self, what: &str, lot: &str, feed: &Feed) -> Option<f64> {
        self.bound(what, lot, feed, |l| l.max)
    }

    /// The lower limit that fits a lot best.
    pub(crate) fn least(&self, what: &str, lot: &str, feed: &Feed) -> Option<f64> {
        self.bound(what, lot, feed, |l| l.min)
    }
}

impl Feed {
    /// The card of what the lot is said to be, fillers and the like aside (PA66-GF30).
    pub(crate) fn card(&self) -> Option<&'static Card> {
        self.material.as_deref().and_then(card_of)
    }

    /// Whether anything was measured or read on it.
    pub(crate) fn looked_at(&self) -> bool {
        !(self.marks.is_empty()
            && self.pieces.is_empty()
            && self.moisture.is_empty()
            && self.sieves.is_empty())
    }

    /// Shape of its pieces as far as it is known. Filament is round and long without being said
    /// to be.
    pub(crate) fn granule(&self) -> Option<Granule> {
        match self.piece {
            Some((PieceShape::Flake, ..)) => Some(Granule::Plate),
            Some((PieceShape::Bead, ..)) => Some(Granule::Sphere),
            Some((PieceShape::Strand, ..)) => Some(Granule::Cylinder),
            Some((PieceShape::Pellet, Some(diameter), Some(length))) => {
                Some(Granule::Pellet { slenderness: length / diameter })
            }
            Some((PieceShape::Pellet, ..)) => None,
            None => (self.form == Some(Form::Filament)).then_some(Granule::Cylinder),
        }
    }

    /// The length that its rate of drying goes with, in mm: thickness of a flake, radius of any
    /// other piece.
    pub(crate) fn size_mm(&self) -> Option<f64> {
        let (shape, size, _) = self.piece?;
        Some(if shape == PieceShape::Flake { size? } else { size? / 2.0 })
    }
}
