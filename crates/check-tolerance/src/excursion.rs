//! Stretches of filament outside the tolerance of one machine.

use crate::machines::Fit;
use crate::reading::{Place, Reading, Worst, rounded};
use secondmelt_record::findings::{Excursion, Side};
use secondmelt_record::{Count, Name, NonNegative, Number};

/// An excursion that has not ended.
#[derive(Debug)]
pub struct Open {
    side: Side,
    readings: u64,
    first_reading: u64,
    from: Place,
    to: Place,
    /// Up to the last reading outside and half-way on.
    length_m: f64,
    /// Since then.
    inside_m: f64,
    /// Whether the reading before was outside.
    outside: bool,
    worst: Worst,
}

impl Open {
    /// Begins with a reading outside.
    pub fn new(reading: &Reading<'_>, side: Side, worst: Worst) -> Self {
        Self {
            side,
            readings: 1,
            first_reading: reading.number,
            from: reading.place,
            to: reading.place,
            length_m: reading.half_gap_m,
            inside_m: 0.0,
            outside: true,
            worst,
        }
    }

    /// Goes half-way on towards a reading.
    fn approach(&mut self, half_gap_m: f64) {
        let side = if self.outside { &mut self.length_m } else { &mut self.inside_m };
        *side += half_gap_m;
    }

    /// Goes on over a reading outside.
    pub fn outside(&mut self, reading: &Reading<'_>, side: Side, worst: Worst, fit: &Fit) {
        self.approach(reading.half_gap_m);
        self.length_m += self.inside_m + reading.half_gap_m;
        self.inside_m = 0.0;
        self.outside = true;
        self.readings += 1;
        self.to = reading.place;
        if self.side != side {
            self.side = Side::Both;
        }
        if fit.deviation_mm(worst.mm) > fit.deviation_mm(self.worst.mm) {
            self.worst = worst;
        }
    }

    /// Goes on over a reading inside; whether the excursion is over, no other being
    /// expected within `merge_m`.
    pub fn inside(&mut self, reading: &Reading<'_>, merge_m: f64) -> bool {
        self.approach(reading.half_gap_m);
        self.inside_m += reading.half_gap_m;
        self.outside = false;
        reading.place.at_m.is_none() || self.inside_m > merge_m
    }

    /// The finding, once it is over.
    pub fn finding<'a>(&self, lot: &'a str, fit: &'a Fit) -> Excursion<'a> {
        let has_position = self.from.at_m.is_some() && self.to.at_m.is_some();
        Excursion {
            lot: Name::from(lot),
            machine: Name::from(fit.machine.as_str()),
            side: self.side,
            readings: Count(self.readings),
            first_reading: Count(self.first_reading),
            from_m: self.from.at_m,
            to_m: self.to.at_m,
            length_m: has_position.then(|| NonNegative::new(rounded(self.length_m))).flatten(),
            from_s: self.from.at_s,
            to_s: self.to.at_s,
            worst_mm: Number::new(self.worst.mm).unwrap_or_default(),
            worst_at_m: self.worst.at_m,
            beyond_mm: NonNegative::new(rounded(fit.beyond_mm(self.worst.mm))).unwrap_or_default(),
            ..Excursion::default()
        }
    }
}
