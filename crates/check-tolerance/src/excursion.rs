//! Stretches of filament outside the tolerance of one machine.

use crate::machines::Fit;
use secondmelt_record::facts::Diameter;
use secondmelt_record::findings::{Excursion, OutShare, Side};
use secondmelt_record::{Count, Name, NonNegative, Number, Out, Percent, Text};

/// One spool on one machine: what was out so far, and what is out now.
#[derive(Debug)]
pub struct Watch {
    /// The machine.
    pub fit: Fit,
    /// Readings outside.
    pub readings_out: u64,
    /// Excursions.
    pub excursions: u64,
    /// The reading furthest from nominal.
    pub worst: Option<Worst>,
    out_m: f64,
    open: Option<Open>,
}

/// A diameter and where it was read.
#[derive(Debug, Clone, Copy)]
pub struct Worst {
    /// The diameter.
    pub mm: f64,
    /// Its position, where known.
    pub at_m: Option<Number>,
}

/// An excursion that has not ended.
#[derive(Debug)]
struct Open {
    side: Side,
    readings: u64,
    first_reading: u64,
    from: (Option<Number>, Option<Number>),
    to: (Option<Number>, Option<Number>),
    length_m: f64,
    worst: Worst,
}

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
    /// Half the way from the reading before, which belongs to that one.
    pub half_gap_m: f64,
}

impl Watch {
    /// Nothing read yet, save `missed` readings that are out for any machine.
    pub fn new(fit: Fit) -> Self {
        Self { fit, readings_out: 0, excursions: 0, worst: None, out_m: 0.0, open: None }
    }

    /// Takes a reading; writes an excursion where one ends.
    #[inline]
    pub fn push(&mut self, reading: &Reading<'_, '_>, out: &mut Out) {
        let (below, above) = (reading.min_mm < self.fit.low_mm, reading.max_mm > self.fit.high_mm);
        if self.open.is_none() && !below && !above {
            self.note_worst(reading);
            return;
        }
        self.push_out(reading, below, above, out);
    }

    /// The axis of the reading that is furthest from nominal, and how far.
    fn furthest(&self, reading: &Reading<'_, '_>) -> (f64, f64) {
        let nominal = self.fit.nominal_mm.get();
        let (over, under) = (reading.max_mm - nominal, nominal - reading.min_mm);
        if over >= under { (reading.max_mm, over.abs()) } else { (reading.min_mm, under.abs()) }
    }

    #[inline]
    fn note_worst(&mut self, reading: &Reading<'_, '_>) {
        let (mm, deviation) = self.furthest(reading);
        if self.worst.is_none_or(|w| deviation > (w.mm - self.fit.nominal_mm.get()).abs()) {
            self.worst = Some(Worst { mm, at_m: reading.record.position_m });
        }
    }

    fn push_out(&mut self, reading: &Reading<'_, '_>, below: bool, above: bool, out: &mut Out) {
        self.note_worst(reading);
        if let Some(open) = &mut self.open {
            open.length_m += reading.half_gap_m;
        }
        if !below && !above {
            self.close(reading.record.lot.as_str(), out);
            return;
        }
        self.readings_out += 1;
        let side = match (below, above) {
            (true, true) => Side::Both,
            (true, false) => Side::Below,
            (false, _) => Side::Above,
        };
        let (mm, deviation) = self.furthest(reading);
        let place = (reading.record.position_m, reading.record.time_s);
        let worst = Worst { mm, at_m: place.0 };
        let nominal = self.fit.nominal_mm.get();
        if let Some(open) = &mut self.open {
            open.readings += 1;
            open.to = place;
            open.length_m += reading.half_gap_m;
            if open.side != side {
                open.side = Side::Both;
            }
            if deviation > (open.worst.mm - nominal).abs() {
                open.worst = worst;
            }
        } else {
            self.open = Some(Open {
                side,
                readings: 1,
                first_reading: reading.number,
                from: place,
                to: place,
                length_m: reading.half_gap_m,
                worst,
            });
        }
    }

    /// Ends the excursion, if there is one.
    pub fn close(&mut self, lot: &str, out: &mut Out) {
        let Some(open) = self.open.take() else { return };
        self.excursions += 1;
        self.out_m += open.length_m;
        let worst_mm = open.worst.mm;
        let beyond = (worst_mm - self.fit.high_mm).max(self.fit.low_mm - worst_mm);
        let has_position = open.from.0.is_some() && open.to.0.is_some();
        out.write(&Excursion {
            lot: Name::from(lot),
            machine: Name::from(self.fit.machine.as_str()),
            side: open.side,
            readings: Count(open.readings),
            first_reading: Count(open.first_reading),
            from_m: open.from.0,
            to_m: open.to.0,
            length_m: has_position.then(|| NonNegative::new(rounded(open.length_m))).flatten(),
            from_s: open.from.1,
            to_s: open.to.1,
            worst_mm: Number::new(worst_mm).unwrap_or_default(),
            worst_at_m: open.worst.at_m,
            beyond_mm: NonNegative::new(rounded(beyond)).unwrap_or_default(),
            ..Excursion::default()
        });
    }

    /// The share of the spool that is outside.
    pub fn share(&self, lot: &str, readings: u64, length_m: Option<f64>) -> OutShare<'static> {
        let pct = |part: f64, whole: f64| Percent::new((100.0 * part / whole).min(100.0));
        #[expect(clippy::cast_precision_loss, reason = "counts")]
        let readings_out_pct = pct(self.readings_out as f64, readings as f64);
        OutShare {
            lot: Name::from(lot.to_owned()),
            machine: Name::from(self.fit.machine.clone()),
            nominal_mm: self.fit.nominal_mm,
            tolerance_mm: self.fit.tolerance_mm,
            readings: Count(readings),
            readings_out: Count(self.readings_out),
            readings_out_pct: readings_out_pct.unwrap_or_default(),
            excursions: Count(self.excursions),
            length_m: length_m.map(rounded).and_then(NonNegative::new),
            out_m: length_m.and_then(|_| NonNegative::new(rounded(self.out_m))),
            out_pct: length_m.and_then(|length_m| pct(self.out_m, length_m)),
            ..OutShare::default()
        }
    }

    /// The tolerance as people write it.
    pub fn tolerance_text(&self) -> Text<'static> {
        Text::from(self.fit.tolerance_text())
    }
}

/// To the nanometre: differences of decimals carry no noise of their doubles.
pub fn rounded(x: f64) -> f64 {
    secondmelt_quality::decimal::nearest(x)
}
