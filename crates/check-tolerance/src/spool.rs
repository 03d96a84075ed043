//! One spool: its readings in figures, its length, and a watch for each machine.

use crate::excursion::{Reading, Watch, rounded};
use crate::machines::Machines;
use secondmelt_quality::mean_interval::effective_readings;
use secondmelt_quality::readings::{Axes, Readings};
use secondmelt_record::facts::Diameter;
use secondmelt_record::findings::DiameterSummary;
use secondmelt_record::{Count, Name, NonNegative, Number, Out};

/// A spool so far.
#[derive(Debug)]
pub struct Spool {
    lot: String,
    readings: Readings,
    /// One for each machine the spool is meant for; none until that is known.
    watches: Option<Vec<Watch>>,
    most_oval_at_m: Option<Number>,
    from_m: Option<Number>,
    last_m: Option<Number>,
    last_s: Option<Number>,
    length_m: f64,
    out_of_order: u64,
    gauge: Gauge,
}

/// Which gauge read a spool.
#[derive(Debug)]
enum Gauge {
    /// Nothing read yet.
    Unread,
    /// Every reading so far names this one.
    Named(String),
    /// A reading names none, or another.
    Unclear,
}

impl Gauge {
    #[inline]
    fn note(&mut self, name: Option<&Name<'_>>) {
        match (&*self, name) {
            (Self::Unclear, _) => {}
            (Self::Named(one), Some(name)) if one == name.as_str() => {}
            (Self::Unread, Some(name)) => *self = Self::Named(name.to_string()),
            _ => *self = Self::Unclear,
        }
    }

    fn name(&self) -> Option<Name<'static>> {
        match self {
            Self::Named(name) => Some(Name::from(name.clone())),
            Self::Unread | Self::Unclear => None,
        }
    }
}

impl Spool {
    /// A spool without readings.
    pub fn new(lot: String) -> Self {
        Self {
            lot,
            readings: Readings::default(),
            watches: None,
            most_oval_at_m: None,
            from_m: None,
            last_m: None,
            last_s: None,
            length_m: 0.0,
            out_of_order: 0,
            gauge: Gauge::Unread,
        }
    }

    /// Name of the lot.
    pub fn lot(&self) -> &str {
        &self.lot
    }

    /// Number of readings.
    pub fn n(&self) -> u64 {
        self.readings.n()
    }

    /// Number of independent readings that would say as much of the spool.
    pub fn effective(&self) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "a count")]
        let n = self.n() as f64;
        effective_readings(n, self.readings.lag1().unwrap_or(0.0))
    }

    /// The readings in figures.
    pub fn readings(&self) -> &Readings {
        &self.readings
    }

    /// The machines the spool is meant for.
    pub fn watches(&self) -> &[Watch] {
        self.watches.as_deref().unwrap_or_default()
    }

    /// Takes a reading.
    #[inline]
    pub fn push(&mut self, record: &Diameter<'_>, machines: &Machines, out: &mut Out) {
        let axes = Axes {
            dx_mm: record.dx_mm.get(),
            dy_mm: record.dy_mm.map(f64::from),
            dz_mm: record.dz_mm.map(f64::from),
        };
        if self.readings.push(&axes) {
            self.most_oval_at_m = record.position_m;
        }
        self.gauge.note(record.gauge.as_ref());
        let half_gap_m = self.advance(record) / 2.0;
        let (min_mm, max_mm) = (axes.min_mm(), axes.max_mm());
        let reading = Reading { record, min_mm, max_mm, number: self.readings.n(), half_gap_m };
        if self.watches.is_none() {
            self.watches = watches(machines, axes.dx_mm);
        }
        for watch in self.watches.iter_mut().flatten() {
            watch.push(&reading, out);
        }
    }

    /// Moves on to the position of a reading; how far that is. A step back, or none,
    /// adds no length.
    #[inline]
    fn advance(&mut self, record: &Diameter<'_>) -> f64 {
        let after = |now: Option<Number>, before: Option<Number>| match (now, before) {
            (Some(now), Some(before)) => Some(now.get() - before.get()),
            _ => None,
        };
        let along = after(record.position_m, self.last_m);
        if along.or(after(record.time_s, self.last_s)).is_some_and(|d| d <= 0.0) {
            self.out_of_order += 1;
        }
        self.from_m = self.from_m.or(record.position_m);
        self.last_m = record.position_m.or(self.last_m);
        self.last_s = record.time_s.or(self.last_s);
        let gap = along.unwrap_or(0.0).max(0.0);
        self.length_m += gap;
        gap
    }

    /// Ends what is open at the end of the input.
    pub fn close(&mut self, out: &mut Out) {
        for watch in self.watches.iter_mut().flatten() {
            watch.close(&self.lot, out);
        }
    }

    /// Length covered, in m; none without positions.
    pub fn length_m(&self) -> Option<f64> {
        self.from_m.map(|_| self.length_m)
    }

    /// The spool in figures.
    pub fn summary(&self) -> DiameterSummary<'static> {
        let all = &self.readings;
        let number = |x: Option<f64>| x.and_then(Number::new);
        let size = |x: Option<f64>| x.and_then(NonNegative::new);
        let oval = size(all.ovality_max_mm().map(rounded));
        DiameterSummary {
            lot: Name::from(self.lot.clone()),
            readings: Count(all.n()),
            axes: Count::from(all.common_axes()),
            mean_mm: number(all.mean_mm()).unwrap_or_default(),
            sd_mm: size(all.sd_mm()),
            min_mm: number(all.min_mm()).unwrap_or_default(),
            max_mm: number(all.max_mm()).unwrap_or_default(),
            area_mm: number(all.area_mm()).unwrap_or_default(),
            lag1: number(all.lag1()),
            dx_mean_mm: number(all.axis_mean_mm(0)),
            dx_sd_mm: size(all.axis_sd_mm(0)),
            dy_mean_mm: number(all.axis_mean_mm(1)),
            dy_sd_mm: size(all.axis_sd_mm(1)),
            dz_mean_mm: number(all.axis_mean_mm(2)),
            dz_sd_mm: size(all.axis_sd_mm(2)),
            ovality_mean_mm: size(all.ovality_mean_mm()),
            ovality_max_mm: oval,
            ovality_max_at_m: oval.and(self.most_oval_at_m),
            from_m: self.from_m,
            to_m: self.last_m,
            length_m: size(self.length_m().map(rounded)),
            out_of_order: Count(self.out_of_order),
            gauge: self.gauge.name(),
            ..DiameterSummary::default()
        }
    }
}

/// A watch for each machine that filament of this diameter is meant for; none where
/// it is meant for no machine, so that the next reading is asked.
fn watches(machines: &Machines, diameter_mm: f64) -> Option<Vec<Watch>> {
    let meant = machines.all().iter().filter(|fit| fit.is_meant(diameter_mm));
    let watches: Vec<_> = meant.cloned().map(Watch::new).collect();
    (!watches.is_empty()).then_some(watches)
}
