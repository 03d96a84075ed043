//! What the stream said of moisture and drying.

use super::curve::Told;
use crate::book::{Book, StepFact};
use crate::kelvin;
use secondmelt_plastics::drying::wet_basis_pct;
use secondmelt_quality::mean_interval::CONFIDENCE;
use secondmelt_record::facts::{Moisture, MoistureBasis};
use secondmelt_record::findings::{Adjustment, Decision, Verdict};
use secondmelt_record::{Line, Problem};
use std::collections::{BTreeMap, BTreeSet};

/// The check of another filter that says whether a lot is dry enough.
const DRYING_CHECK: &str = "drying";

/// A moisture reading.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Reading {
    pub(super) pct: f64,
    pub(super) dried_h: Option<f64>,
    pub(super) dry_c: Option<f64>,
}

/// What the stream said of moisture and drying.
#[derive(Debug, Default)]
pub(crate) struct Wet {
    readings: BTreeMap<String, Vec<Reading>>,
    /// Drying times that were proposed before this filter, by lot.
    pub(super) told: BTreeMap<String, Told>,
    /// Lots that were judged before this filter.
    pub(super) judged: BTreeMap<String, Decision>,
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
        if a.what.as_str() == super::WHAT
            && let (Some(lot), Some(to), Some(low), Some(high)) = (&a.lot, a.to, a.low, a.high)
        {
            let confidence = a.confidence.map_or(CONFIDENCE, |c| c.get());
            let told = Told { hours: to.get(), low: low.get(), high: high.get(), confidence };
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
}

impl Wet {
    /// Every lot that was read after some drying, or that a time was proposed for.
    pub(crate) fn dried_lots(&self) -> impl Iterator<Item = &str> {
        let dried = |readings: &[Reading]| readings.iter().any(|r| r.dried_h > Some(0.0));
        let read = self.readings.iter().filter(move |(_, readings)| dried(readings));
        read.map(|(lot, _)| lot.as_str()).chain(self.told.keys().map(String::as_str))
    }

    /// The readings of every drying, by the lot that was read last: what went into a dryer alone and
    /// what came out of it are one.
    pub(super) fn dryings<'a>(&'a self, book: &'a Book) -> BTreeMap<&'a str, Vec<Reading>> {
        let mut dried: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
        for (_, _, taken, put) in book.dryings().filter(|(_, _, taken, _)| taken.len() == 1) {
            let read = put.iter().filter(|lot| self.readings.contains_key(*lot));
            for from in taken {
                let others = read.clone().filter(|lot| *lot != from).map(String::as_str);
                dried.entry(from.as_str()).or_default().extend(others);
            }
        }
        let mut dryings: BTreeMap<&str, Vec<Reading>> = BTreeMap::new();
        for (lot, readings) in &self.readings {
            let own = BTreeSet::from([lot.as_str()]);
            let lots = dried.get(lot.as_str()).filter(|lots| !lots.is_empty()).unwrap_or(&own);
            for lot in lots {
                dryings.entry(lot).or_default().extend(readings);
            }
        }
        dryings
    }
}

/// The last step, by name, that dried each lot: that took it in or put it out.
pub(super) fn dryers(book: &Book) -> BTreeMap<&str, (&str, &StepFact)> {
    let mut dryers = BTreeMap::new();
    for (step, fact, taken, put) in book.dryings() {
        for lot in taken.iter().chain(put) {
            dryers.insert(lot.as_str(), (step, fact));
        }
    }
    dryers
}

/// The reading after the longest drying; where several are, the wettest.
pub(super) fn latest(readings: &[Reading]) -> Option<Reading> {
    let hours = |r: &Reading| r.dried_h.unwrap_or(0.0);
    let order =
        |a: &&Reading, b: &&Reading| hours(a).total_cmp(&hours(b)).then(a.pct.total_cmp(&b.pct));
    readings.iter().max_by(order).copied()
}
