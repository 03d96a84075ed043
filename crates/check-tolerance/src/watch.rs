//! One spool on one machine.

use crate::excursion::Open;
use crate::machines::Fit;
use crate::options::Settings;
use crate::pieces::{Of, Pieces};
use crate::reading::{Reading, Worst, rounded};
use secondmelt_plastics::filament::length_per_kg_m;
use secondmelt_record::findings::{OutShare, Side};
use secondmelt_record::{Count, Name, NonNegative, Number, Out, Percent};

/// What was out so far, and what is out now.
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
    merge_m: f64,
    subgroup_m: f64,
    out_m: f64,
    /// Whether the reading before was outside.
    was_out: bool,
    open: Option<Open>,
    pieces: Pieces,
    /// Subgroup means in a row on one side of the middle, and on which.
    means_off: (Option<bool>, u32),
    alarm: Alarmed,
}

/// Whether an alarm has been given that is not to be repeated.
#[derive(Debug, Default)]
struct Alarmed {
    outside: bool,
    mean: bool,
    /// Length and readings within the tolerance since the last one outside.
    quiet: (f64, u32),
}

/// Readings within the tolerance after which an alarm is given again, where there are no positions.
const QUIET_READINGS: u32 = 20;

impl Watch {
    /// Nothing read yet.
    pub fn new(fit: Fit, settings: &Settings) -> Self {
        Self {
            fit,
            readings_out: 0,
            excursions: 0,
            worst: None,
            merge_m: settings.merge_m,
            subgroup_m: settings.subgroup_m,
            out_m: 0.0,
            was_out: false,
            open: None,
            pieces: Pieces::new(settings.piece_m, settings.margin_m),
            means_off: (None, 0),
            alarm: Alarmed::default(),
        }
    }

    /// Takes a reading; writes what ends with it. Where an excursion begins with it that
    /// is the first in a while, its side and the diameter that is furthest from nominal.
    #[inline]
    pub fn push(&mut self, reading: &Reading<'_>, out: &mut Out) -> Option<(Side, f64)> {
        let (below, above) = (reading.min_mm < self.fit.low_mm, reading.max_mm > self.fit.high_mm);
        let worst = self.note_worst(reading);
        let Some(side) = side(below, above) else {
            self.inside(reading, out);
            return None;
        };
        let begins = self.outside(reading, side, worst, out);
        let tells = begins && !std::mem::replace(&mut self.alarm.outside, true);
        tells.then_some((side, worst.mm))
    }

    /// Takes the mean of a subgroup. True where it is the second in a row more than half the
    /// tolerance above nominal, false likewise below: the middle half of a tolerance is where a
    /// mean is left alone (pre-control, Satterthwaite 1954). Told once, and again only after a
    /// mean within a quarter of the tolerance.
    pub fn mean(&mut self, mean_mm: f64) -> Option<bool> {
        let off = (mean_mm - self.fit.nominal_mm.get()) / self.fit.tolerance_mm.get();
        self.alarm.mean &= off.abs() > 0.25;
        let side = (off.abs() > 0.5).then_some(off > 0.0);
        let (before, run) = self.means_off;
        let run = if side == before { run.saturating_add(1) } else { 1 };
        self.means_off = (side, run);
        side.filter(|_| run >= 2 && !std::mem::replace(&mut self.alarm.mean, true))
    }

    /// The axis of the reading that is furthest from nominal.
    #[inline]
    fn note_worst(&mut self, reading: &Reading<'_>) -> Worst {
        let nominal = self.fit.nominal_mm.get();
        let over = reading.max_mm - nominal >= nominal - reading.min_mm;
        let mm = if over { reading.max_mm } else { reading.min_mm };
        let worst = Worst { mm, at_m: reading.place.at_m };
        if self.worst.is_none_or(|w| self.fit.deviation_mm(mm) > self.fit.deviation_mm(w.mm)) {
            self.worst = Some(worst);
        }
        worst
    }

    #[inline]
    fn inside(&mut self, reading: &Reading<'_>, out: &mut Out) {
        if self.was_out {
            self.out_m += reading.new_half_m;
            self.was_out = false;
        }
        if self.alarm.outside {
            self.grow_quiet(reading);
        }
        if let Some(from_m) = reading.begins_m().filter(|_| reading.fresh) {
            self.pieces.good(from_m, reading.direction);
        }
        if let Some(open) = &mut self.open
            && open.inside(reading, self.merge_m)
        {
            self.end(reading.lot, out);
        }
    }

    /// An alarm is given again once a whole subgroup has passed without it.
    #[cold]
    fn grow_quiet(&mut self, reading: &Reading<'_>) {
        let (length_m, readings) = &mut self.alarm.quiet;
        *length_m += 2.0 * reading.half_gap_m;
        *readings = readings.saturating_add(1);
        let over = match reading.place.at_m {
            Some(_) => *length_m >= self.subgroup_m,
            None => *readings >= QUIET_READINGS,
        };
        self.alarm.outside = !over;
    }

    /// True where an excursion begins.
    fn outside(&mut self, reading: &Reading<'_>, side: Side, worst: Worst, out: &mut Out) -> bool {
        self.readings_out += 1;
        self.out_m += reading.new_half_m * if self.was_out { 2.0 } else { 1.0 };
        self.was_out = true;
        self.alarm.quiet = (0.0, 0);
        if let Some(from_m) = reading.begins_m().filter(|_| reading.fresh) {
            let (lot, direction) = (reading.lot, reading.direction);
            let of = Of { lot, machine: &self.fit.machine, direction };
            self.pieces.bad(from_m, of, out);
        }
        if let Some(open) = &mut self.open {
            open.outside(reading, side, worst, &self.fit);
            return false;
        }
        self.open = Some(Open::new(reading, side, worst));
        true
    }

    /// Ends all that is open at a gap, a step back or the end; the last position was
    /// `to_m`.
    pub fn close(&mut self, lot: &str, to_m: Option<Number>, direction: f64, out: &mut Out) {
        self.was_out = false;
        self.means_off = (None, 0);
        self.end(lot, out);
        if let Some(to_m) = to_m {
            self.pieces.close(to_m.get(), Of { lot, machine: &self.fit.machine, direction }, out);
        }
    }

    /// One of the first steps was a gap of this length: no piece reaches over it.
    pub fn forget(&mut self, gap_m: f64, last_m: Option<Number>) {
        self.out_m = (self.out_m - gap_m).max(0.0);
        if let Some(last_m) = last_m {
            self.pieces.begin_at(last_m.get());
        }
    }

    /// Nobody knows what was in a gap, so an alarm is given again after it.
    pub fn after_gap(&mut self) {
        self.alarm.outside = false;
        self.alarm.mean = false;
    }

    /// Ends the excursion, if there is one.
    fn end(&mut self, lot: &str, out: &mut Out) {
        if let Some(open) = self.open.take() {
            self.excursions += 1;
            out.write(&open.finding(lot, &self.fit));
        }
    }

    /// The share of the spool that is outside, and what can be kept of it.
    pub fn share(&self, spool: Whole<'_>) -> OutShare<'static> {
        let pct = |part: f64, whole: f64| {
            (whole > 0.0).then(|| Percent::new((100.0 * part / whole).min(100.0))).flatten()
        };
        #[expect(clippy::cast_precision_loss, reason = "counts")]
        let readings_out_pct = pct(self.readings_out as f64, spool.readings as f64);
        let length = |m: f64| spool.length_m.and_then(|_| NonNegative::new(rounded(m)));
        let kept_g = spool.mass_g(self.pieces.kept_m).and_then(NonNegative::new);
        OutShare {
            lot: Name::from(spool.lot.to_owned()),
            machine: Name::from(self.fit.machine.clone()),
            nominal_mm: self.fit.nominal_mm,
            tolerance_mm: self.fit.tolerance_mm,
            readings: Count(spool.readings),
            readings_out: Count(self.readings_out),
            readings_out_pct: readings_out_pct.unwrap_or_default(),
            excursions: Count(self.excursions),
            length_m: spool.length_m.and_then(length),
            out_m: length(self.out_m),
            out_pct: spool.length_m.and_then(|length_m| pct(self.out_m, length_m)),
            pieces: spool.length_m.map(|_| Count(self.pieces.kept)),
            kept_m: length(self.pieces.kept_m),
            kept_g: kept_g.filter(|_| spool.length_m.is_some()),
            ..OutShare::default()
        }
    }
}

#[inline]
fn side(below: bool, above: bool) -> Option<Side> {
    match (below, above) {
        (false, false) => None,
        (true, true) => Some(Side::Both),
        (true, false) => Some(Side::Below),
        (false, true) => Some(Side::Above),
    }
}

/// A spool as a whole.
#[derive(Debug, Clone, Copy)]
pub struct Whole<'a> {
    /// Lot.
    pub lot: &'a str,
    /// Readings.
    pub readings: u64,
    /// Length, where positions are known.
    pub length_m: Option<f64>,
    /// Diameter of the mean area.
    pub area_mm: Option<f64>,
    /// Density of its material, where it is known.
    pub density_g_cm3: Option<f64>,
}

impl Whole<'_> {
    /// Mass of a length of it, in g, to a milligram.
    pub fn mass_g(&self, length_m: f64) -> Option<f64> {
        let per_kg = length_per_kg_m(self.density_g_cm3?, self.area_mm?);
        Some((length_m / per_kg * 1e6).round() / 1e3).filter(|g| g.is_finite())
    }
}
