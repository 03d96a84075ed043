//! A reading with what its spool knows of it.

use secondmelt_record::Number;
use secondmelt_record::facts::Diameter;

/// A reading with what the spool knows of it.
#[derive(Debug, Clone, Copy)]
pub struct Reading<'a, 'b> {
    /// The record.
    pub record: &'a Diameter<'b>,
    /// Its smallest axis.
    pub min_mm: f64,
    /// Its largest axis.
    pub max_mm: f64,
    /// Its number within the lot, from 1.
    pub number: u64,
    /// Half the way from the reading before; the other half belongs to that one.
    pub half_gap_m: f64,
    /// Which way positions go: 1 or -1.
    pub direction: f64,
}

impl Reading<'_, '_> {
    /// Its position and its time.
    pub fn place(&self) -> (Option<Number>, Option<Number>) {
        (self.record.position_m, self.record.time_s)
    }

    /// Where the stretch begins that it stands for, in m.
    pub fn begins_m(&self) -> Option<f64> {
        self.record.position_m.map(|m| m.get() - self.direction * self.half_gap_m)
    }
}

/// A diameter and where it was read.
#[derive(Debug, Clone, Copy)]
pub struct Worst {
    /// The diameter.
    pub mm: f64,
    /// Its position, where known.
    pub at_m: Option<Number>,
}

/// To the nanometre: differences of decimals carry no noise of their doubles.
pub fn rounded(x: f64) -> f64 {
    secondmelt_quality::decimal::nearest(x)
}
