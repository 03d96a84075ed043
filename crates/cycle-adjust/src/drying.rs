//! How long a lot is still to be dried, from its own moisture readings.

mod curve;

use crate::book::{Book, StepFact};
use crate::kelvin;
use crate::lab::{Lab, MaterialFact};
use crate::limits::{MOISTURE, Of};
use curve::{Told, Trouble};
use secondmelt_plastics::drying::{Granule, wet_basis_pct};
use secondmelt_plastics::marks::never_melted;
use secondmelt_quality::mean_interval::CONFIDENCE;
use secondmelt_record::facts::{Form, Moisture, MoistureBasis};
use secondmelt_record::findings::{Adjustment, Caution, Decision, Verdict};
use secondmelt_record::{Fraction, Line, Name, Number, Out, Problem};
use std::collections::{BTreeMap, BTreeSet};

/// The setting that is proposed.
const WHAT: &str = "dry_h";
/// The check of another filter that says whether a lot is dry enough.
const DRYING_CHECK: &str = "drying";

const CHECK: &str = "drying-time";
const RULE: &str = "a change where the last moisture reading is above the limit, the dryer runs within the drying \
                    temperatures of the card and four readings or more of one temperature give a curve that reaches \
                    the limit; conforms where the lot is dry enough or needs no drying; else undecided";
const BASIS: &str = "diffusion out of a granule (Crank), start and rate fitted by least squares on the logarithm, end \
                     moisture taken as 0 unless the readings contradict it; the interval spans flake, strand and \
                     sphere, readings scattering by the same share of their value, Student's t; it holds for this \
                     dryer and granulate";
const BASIS_TOLD: &str = "the drying curve that an earlier step of the chain fitted to the readings of this lot; see its \
                          own adjustment";
const DANGER: &str = "a dryer is hot, and damp or dirty plastic in it can soften, clump, smoulder and give off vapours: \
                      stay below the temperature at which it softens, air the room, do not leave it alone, and \
                      never use an oven for food again";
const DEFER: &str = "the dryer's manual; the material's safety data sheet; local fire rules";

/// Why there is no change, as a record.
type Said<'a> = Box<Verdict<'a>>;

/// A moisture reading.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Reading {
    pct: f64,
    dried_h: Option<f64>,
    dry_c: Option<f64>,
}

/// What the stream said of moisture and drying.
#[derive(Debug, Default)]
pub(crate) struct Wet {
    readings: BTreeMap<String, Vec<Reading>>,
    /// Drying times that were proposed before this filter, by lot.
    told: BTreeMap<String, Told>,
    /// Lots that were judged before this filter.
    judged: BTreeMap<String, Decision>,
}

impl Wet {
    /// Takes a reading; a problem where its temperature is none that plastic is dried at.
    pub(crate) fn reading(&mut self, m: &Moisture<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        if let Some(problem) = kelvin::in_drying(m.dry_c, line) {
            return Some(problem);
        }
        let pct = m.moisture_pct.get();
        let dry_basis = m.basis == Some(MoistureBasis::Dry);
        self.readings.entry(m.lot.to_string()).or_default().push(Reading {
            pct: if dry_basis { wet_basis_pct(pct) } else { pct },
            dried_h: m.dried_h.map(Into::into),
            dry_c: m.dry_c.map(Into::into),
        });
        None
    }

    /// Takes what an earlier filter proposes.
    pub(crate) fn adjustment(&mut self, a: &Adjustment<'_>) {
        if a.what.as_str() == WHAT
            && let (Some(lot), Some(to), Some(low), Some(high)) = (&a.lot, a.to, a.low, a.high)
        {
            let told = Told { hours: to.get(), low: low.get(), high: high.get() };
            self.told.insert(lot.to_string(), told);
        }
    }

    /// Takes what an earlier filter decided.
    pub(crate) fn verdict(&mut self, verdict: &Verdict<'_>) {
        if verdict.check.as_str() == DRYING_CHECK
            && let Some(lot) = &verdict.lot
        {
            self.judged.insert(lot.to_string(), verdict.result);
        }
    }

    /// Writes what the moisture of every lot asks of its drying.
    pub(crate) fn write(&self, book: &Book, lab: &Lab, out: &mut Out) {
        let lots: BTreeSet<_> = self.readings.keys().chain(self.told.keys()).collect();
        for lot in lots {
            // What is dry enough by an earlier step has been told.
            if self.judged.get(lot) == Some(&Decision::Conforms) {
                continue;
            }
            let Some(material) = lab.lot_fact(lot).map(|fact| fact.material.as_str()) else {
                continue;
            };
            if never_melted(material).is_some() {
                continue;
            }
            let site = Site { lot, material, wet: self, step: book.dried_by(lot) };
            let card = lab.material_fact(material).unwrap_or_default();
            let result = site.advice(card, lab);
            match result {
                Ok(Some(change)) => {
                    out.write(&change);
                    out.write(&site.caution());
                }
                Ok(None) => (),
                Err(said) => {
                    out.write(&*said);
                    if said.limit.is_some() && said.result == Decision::Undecided {
                        out.write(&site.caution());
                    }
                }
            }
        }
    }
}

struct Site<'a> {
    lot: &'a str,
    material: &'a str,
    wet: &'a Wet,
    step: Option<(&'a str, &'a StepFact)>,
}

impl<'a> Site<'a> {
    /// The change, or nothing where an earlier one stands; else why there is none.
    fn advice(&self, card: MaterialFact, lab: &Lab) -> Result<Option<Adjustment<'a>>, Said<'a>> {
        if card.takes_up_water == Some(false) {
            let why = format!(
                "{} takes up next to no water and needs no drying; only water on its surface must be gone",
                self.material
            );
            return Err(Box::new(self.verdict(Decision::Conforms, why)));
        }
        let readings = self.wet.readings.get(self.lot).map_or(&[][..], Vec::as_slice);
        let Some(last) = latest(readings) else { return Ok(None) };
        let of = Of { lot: Some(self.lot), material: Some(self.material), ..Of::default() };
        let own = lab.limits.of(MOISTURE, of).and_then(|ends| ends.max.or(ends.target));
        let Some(limit) = own.or(card.moisture_max_pct) else {
            let why = format!(
                "nothing says how dry {} must be: a `limit` of `{MOISTURE}` or `moisture_max_pct` in its `material` \
                 record would help most",
                self.material
            );
            return Err(Box::new(self.verdict(Decision::Undecided, why)));
        };
        if last.pct <= limit {
            let why = format!("{:.3} % is not above the {limit} % it may have", last.pct);
            return Err(Box::new(self.verdict(Decision::Conforms, why)));
        }
        self.within_window(last, card)?;
        if let Some(told) = self.wet.told.get(self.lot) {
            // It stands; only the dryer's setting is added to it.
            return Ok(self
                .set_h()
                .map(|from| self.adjustment(last, limit, from, *told, BASIS_TOLD)));
        }
        let found = curve::fitted(readings, &last, limit, shape(self.lot, lab));
        let told = found.map_err(|trouble| self.thin(&trouble, last, limit, card))?;
        let from = self.set_h().or(last.dried_h).unwrap_or_default();
        Ok(Some(self.adjustment(last, limit, from, told, BASIS)))
    }

    /// The drying time that the step was set to.
    fn set_h(&self) -> Option<f64> {
        self.step?.1.settings.get(WHAT).copied()
    }

    /// Refuses a dryer that runs outside the drying temperatures of the card.
    fn within_window(&self, last: Reading, card: MaterialFact) -> Result<(), Said<'a>> {
        let set = || self.step?.1.settings.get("dry_c").copied();
        let (Some(dry_c), Some((min, max))) = (last.dry_c.or_else(set), card.dry_c) else {
            return Ok(());
        };
        // A card may give one temperature; dryers hold theirs to a few degrees (common practice,
        // no source).
        let slack = if min == max { 5.0 } else { 0.0 };
        if (min - slack..=max + slack).contains(&dry_c) {
            return Ok(());
        }
        let (side, limit) = if dry_c > max { ("above", max) } else { ("below", min) };
        let why = format!(
            "it is dried at {dry_c} C, {side} the {min} to {max} C at which {} is dried, so no time is proposed: set \
             the dryer within them and read the moisture four times along the way",
            self.material
        );
        Err(Box::new(Verdict {
            value: Number::new(dry_c),
            limit: Number::new(limit),
            unit: Some("C".into()),
            ..self.verdict(Decision::Undecided, why)
        }))
    }

    fn thin(&self, trouble: &Trouble, last: Reading, limit: f64, card: MaterialFact) -> Said<'a> {
        let usual = match (card.dry_h, card.dry_c) {
            (Some((from, to)), Some((low, high))) => {
                format!("; usual are {from} to {to} h at {low} to {high} C, which is usual only")
            }
            _ => String::new(),
        };
        let why = format!("{:.3} % is above {limit} %, and {trouble}{usual}", last.pct);
        Box::new(Verdict {
            value: Number::new(last.pct),
            limit: Number::new(limit),
            unit: Some("%".into()),
            ..self.verdict(Decision::Undecided, why)
        })
    }

    fn adjustment(
        &self,
        last: Reading,
        limit: f64,
        from: f64,
        told: Told,
        basis: &'static str,
    ) -> Adjustment<'a> {
        let at = last.dried_h.map_or_else(String::new, |h| format!(" after {h} h"));
        let dry_c = last.dry_c.map_or_else(|| "the same temperature".into(), |c| format!("{c} C"));
        Adjustment {
            what: WHAT.into(),
            lot: Some(Name::from(self.lot)),
            step: self.step.map(|(name, _)| Name::from(name)),
            machine: self.step.and_then(|(_, fact)| fact.machine.as_deref()).map(Name::from),
            from: Number::new(from),
            to: Number::new(told.hours),
            low: Number::new(told.low),
            high: Number::new(told.high),
            unit: "h".into(),
            because: format!(
                "{:.3} %{at} is above the {limit} % that {} may have; dry so long in all, at {dry_c}, and read it again \
                 before it is melted",
                last.pct, self.material
            )
            .into(),
            basis: basis.into(),
            confidence: Fraction::new(CONFIDENCE),
            ..Adjustment::default()
        }
    }

    fn verdict(&self, result: Decision, why: String) -> Verdict<'a> {
        Verdict {
            check: CHECK.into(),
            result,
            lot: Some(Name::from(self.lot)),
            step: self.step.map(|(name, _)| Name::from(name)),
            rule: RULE.into(),
            why: why.into(),
            ..Verdict::default()
        }
    }

    fn caution(&self) -> Caution<'a> {
        Caution {
            lot: Some(Name::from(self.lot)),
            danger: DANGER.into(),
            defer_to: DEFER.into(),
            ..Caution::default()
        }
    }
}

/// The reading after the longest drying; where several are, the wettest.
fn latest(readings: &[Reading]) -> Option<Reading> {
    let hours = |r: &Reading| r.dried_h.unwrap_or(0.0);
    let order =
        |a: &&Reading, b: &&Reading| hours(a).total_cmp(&hours(b)).then(a.pct.total_cmp(&b.pct));
    readings.iter().max_by(order).copied()
}

/// The shape that granules of a lot are taken to have.
fn shape(lot: &str, lab: &Lab) -> Granule {
    match lab.lot_fact(lot).and_then(|fact| fact.form) {
        Some(Form::Pellets | Form::Filament) => Granule::Cylinder,
        _ => Granule::Plate,
    }
}
