//! How long a lot is still to be dried, from its own moisture readings.

mod curve;
mod readings;

pub(crate) use readings::Wet;

use crate::book::{Book, StepFact};
use crate::lab::{Lab, MaterialFact};
use crate::limits::{MOISTURE, Of};
use curve::{Told, Trouble};
use readings::{Reading, dryers, latest};
use secondmelt_plastics::marks::never_melted;
use secondmelt_record::findings::{Adjustment, Caution, Decision, Verdict};
use secondmelt_record::{Fraction, Name, Number, Out};
use std::collections::BTreeSet;

/// The setting that is proposed.
const WHAT: &str = "dry_h";
const CHECK: &str = "drying-time";
const RULE: &str = "a change where the last moisture reading is above the limit, the dryer runs within the drying \
                    temperatures of the card and four readings or more of one temperature give a curve that reaches \
                    the limit; conforms where the lot is dry enough or needs no drying; else undecided";
const BASIS: &str = "diffusion out of a granule (Crank), start, rate and end moisture fitted by weighted least squares; the \
                     interval spans flake, strand and sphere (profile of the sum of squares, Student's t), readings \
                     scattering by the same share of their value; it holds for this dryer and granulate";
const BASIS_TOLD: &str = "the drying curve that an earlier step of the chain fitted to the readings of this lot; see its \
                          own adjustment";
const DANGER: &str = "a dryer is hot, and damp or dirty plastic in it can soften, clump, smoulder and give off vapours: \
                      stay below the temperature at which it softens, air the room, do not leave it alone, and \
                      never use an oven for food again";
const DEFER: &str = "the dryer's manual; the material's safety data sheet; local fire rules";

/// Why there is no change, as a record.
type Said<'a> = Box<Verdict<'a>>;

impl Wet {
    /// Writes what the moisture of every lot asks of its drying.
    pub(crate) fn write(&self, book: &Book, lab: &Lab, out: &mut Out) {
        let (dryings, dryers) = (self.dryings(book), dryers(book));
        let lots: BTreeSet<_> =
            dryings.keys().copied().chain(self.told.keys().map(String::as_str)).collect();
        for lot in lots {
            // What is dry enough by an earlier step has been told.
            if self.judged.get(lot) == Some(&Decision::Conforms) {
                continue;
            }
            let Some(material) = lab.lot_fact(lot).map(|fact| fact.material.as_str()) else {
                continue;
            };
            if never_melted(material).is_some() || lab.is_refused(lot) {
                continue;
            }
            let readings = dryings.get(lot).map_or(&[][..], Vec::as_slice);
            let told = self.told.get(lot);
            let site = Site { lot, material, readings, told, step: dryers.get(lot).copied() };
            let card = lab.material_fact(material).unwrap_or_default();
            let result = site.advice(card, lab);
            match result {
                Ok(Some(change)) => {
                    out.write(&change);
                    out.write(&site.caution());
                }
                Ok(None) => (),
                // What an earlier filter did not settle, or refused, is not called dry here.
                Err(said) if said.result == Decision::Conforms && self.judged.contains_key(lot) => {
                }
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

struct Site<'a, 'r> {
    lot: &'a str,
    material: &'a str,
    readings: &'r [Reading],
    told: Option<&'r Told>,
    step: Option<(&'a str, &'a StepFact)>,
}

impl<'a> Site<'a, '_> {
    /// The change, or nothing where an earlier one stands; else why there is none.
    fn advice(&self, card: MaterialFact, lab: &Lab) -> Result<Option<Adjustment<'a>>, Said<'a>> {
        if card.takes_up_water == Some(false) {
            let why = format!(
                "{} takes up next to no water and needs no drying; only water on its surface must be gone",
                self.material
            );
            return Err(Box::new(self.verdict(Decision::Conforms, why)));
        }
        let Some(last) = latest(self.readings) else { return Ok(None) };
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
        if let Some(told) = self.told {
            // It stands; only the dryer's setting is added to it.
            return Ok(self
                .set_h()
                .map(|from| self.adjustment(last, limit, from, *told, BASIS_TOLD)));
        }
        let found = curve::fitted(self.readings, &last, limit, card.dry_end_pct);
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
            "it is dried at {dry_c} C, {side} the {} C at which {} is dried, so no time is proposed: set \
             the dryer within them and read the moisture four times along the way",
            range(min, max),
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
                let (hours, temps) = (range(from, to), range(low, high));
                format!("; {hours} h at {temps} C are usual, which is usual only")
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
            confidence: Fraction::new(told.confidence),
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
        Caution { lot: Some(Name::from(self.lot)), ..caution() }
    }
}

/// A range in words, or the one value that it is.
fn range(low: f64, high: f64) -> String {
    if low < high { format!("{low} to {high}") } else { format!("{low}") }
}

/// The danger of drying.
pub(crate) fn caution<'a>() -> Caution<'a> {
    Caution { danger: DANGER.into(), defer_to: DEFER.into(), ..Caution::default() }
}
