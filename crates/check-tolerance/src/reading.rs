//! A reading with what its spool knows of it.

use secondmelt_record::Number;

/// Where and when a reading was taken.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Place {
    /// Its position, in m; for a log by time, from the speed of the line where that is known.
    pub at_m: Option<Number>,
    /// Its time, in s.
    pub at_s: Option<Number>,
}

/// A reading with what the spool knows of it.
#[derive(Debug, Clone, Copy)]
pub struct Reading<'a> {
    /// Lot.
    pub lot: &'a str,
    /// Its place.
    pub place: Place,
    /// Its smallest axis.
    pub min_mm: f64,
    /// Its largest axis.
    pub max_mm: f64,
    /// Its number within the lot, from 1.
    pub number: u64,
    /// Half the way from the reading before; the other half belongs to that one.
    pub half_gap_m: f64,
    /// As much of it as nobody has passed before.
    pub new_half_m: f64,
    /// Whether it stands where none stood before.
    pub fresh: bool,
    /// Which way positions go: 1 or -1.
    pub direction: f64,
}

impl Reading<'_> {
    /// Where the stretch begins that it stands for and that nobody has passed before, in m.
    pub fn begins_m(&self) -> Option<f64> {
        self.place.at_m.map(|m| m.get() - self.direction * self.new_half_m)
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
