//! One spool: its readings in figures, its length, and a watch for each machine.

use crate::alarms::At;
use crate::charts::{Charts, Filled, Learned};
use crate::early::Early;
use crate::flow::Windows;
use crate::gauge::Gauge;
use crate::lab::Lab;
use crate::line::Line;
use crate::live::{Every, Told};
use crate::machines::{Fit, Machines};
use crate::options::{Rule, Settings};
use crate::path::{Path, Step};
use crate::reading::{Reading, rounded};
use crate::watch::{Watch, Whole};
use crate::waves::Search;
use secondmelt_quality::mean_interval::{Interval, of_mean};
use secondmelt_quality::readings::{Axes, Readings};
use secondmelt_record::facts::Diameter;
use secondmelt_record::findings::{DiameterSummary, Drift, FlowFit, LogGap};
use secondmelt_record::{Count, Name, NonNegative, Number, Out};

/// A spool so far.
#[derive(Debug)]
pub struct Spool {
    lot: String,
    readings: Readings,
    /// One for each machine the spool is meant for; none until that is known.
    watches: Option<Vec<Watch>>,
    most_oval_at_m: Option<Number>,
    /// Whether a reading has gone back to an earlier position.
    went_back: bool,
    path: Path,
    early: Early,
    windows: Windows,
    waves: Search,
    charts: Option<Charts>,
    told: Told,
    settings: Settings,
    gauge: Gauge,
}

impl Spool {
    /// A spool without readings.
    pub fn new(lot: String, settings: Settings) -> Self {
        Self {
            lot,
            readings: Readings::default(),
            watches: None,
            most_oval_at_m: None,
            went_back: false,
            path: Path::new(settings.gap_m),
            early: Early::default(),
            windows: Windows::new(settings.smoothing_m),
            waves: Search::new(settings.waves),
            charts: settings.charts.map(|signals| Charts::new(settings.subgroup_m, signals)),
            told: Told::default(),
            settings,
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

    /// What the readings weigh as evidence for the spool as a whole.
    pub fn evidence(&self) -> Evidence {
        self.evidence_of(self.n())
    }

    /// The same for their ovality.
    pub fn ovality_evidence(&self) -> Evidence {
        self.evidence_of(self.readings.ovality_n())
    }

    fn evidence_of(&self, readings: u64) -> Evidence {
        Evidence { readings, counted: readings.min(self.path.fresh) }
    }

    /// How it is decided whether it keeps a tolerance.
    pub fn rule(&self) -> Rule {
        self.settings.rule
    }

    /// The 95 % interval of the mean, where there are enough readings for one.
    fn interval(&self) -> Option<Interval> {
        #[expect(clippy::cast_precision_loss, reason = "a count")]
        let n = self.n() as f64;
        of_mean(self.readings.sd_mm()?, n, self.readings.lag1().unwrap_or(0.0))
    }

    /// The readings in figures.
    pub fn readings(&self) -> &Readings {
        &self.readings
    }

    /// Its largest ovality, to the nanometre, where it is known.
    pub fn most_oval_mm(&self) -> Option<NonNegative> {
        self.readings.ovality_max_mm().map(rounded).and_then(NonNegative::new)
    }

    /// Where that is.
    pub fn most_oval_at_m(&self) -> Option<Number> {
        self.most_oval_at_m
    }

    /// The machines the spool is meant for.
    pub fn watches(&self) -> &[Watch] {
        self.watches.as_deref().unwrap_or_default()
    }

    /// Takes a reading. True where it is the first that goes back to an earlier position.
    #[inline]
    pub fn push(&mut self, record: &Diameter<'_>, lab: &Lab, out: &mut Out) -> bool {
        let axes = Axes {
            dx_mm: record.dx_mm.get(),
            dy_mm: record.dy_mm.map(f64::from),
            dz_mm: record.dz_mm.map(f64::from),
        };
        if self.readings.push(&axes) {
            self.most_oval_at_m = record.position_m;
        }
        self.gauge.note(record.gauge.as_ref());
        let (half_gap_m, back, fills) = self.advance(record, axes.square_mm2(), out);
        let reading = Reading {
            record,
            min_mm: axes.min_mm(),
            max_mm: axes.max_mm(),
            number: self.readings.n(),
            half_gap_m,
            direction: self.path.direction(),
        };
        if self.watches.is_none() {
            self.meet(&reading, &lab.machines, out);
        }
        for watch in self.watches.iter_mut().flatten() {
            if let Some((side, mm)) = watch.push(&reading, out)
                && self.settings.alarms
            {
                let recent_mm = self.charts.as_ref().and_then(Charts::recent_mm);
                At::of(&reading, recent_mm).outside(&watch.fit, side, mm, out);
            }
        }
        if fills {
            self.fill(&reading, lab, out);
        }
        back
    }

    /// A reading fills a subgroup of the charts.
    #[cold]
    fn fill(&mut self, reading: &Reading<'_, '_>, lab: &Lab, out: &mut Out) {
        let Some(charts) = &mut self.charts else { return };
        let at_m = reading.record.position_m.map(Number::get);
        let filled: Filled = charts.fill(reading.number, at_m, reading.direction, &lab.fed);
        let at = At::of(reading, charts.recent_mm());
        for watch in self.watches.iter_mut().flatten() {
            if let Some(above) = watch.mean(filled.point.mean_mm)
                && self.settings.alarms
            {
                at.mean_off(&watch.fit, above, &filled, &lab.production, out);
            }
        }
        if self.settings.alarms {
            at.signals(&filled, out);
        }
    }

    /// Finds out for which machines the spool is meant, once a reading tells. Readings
    /// before that are outside for all of them, and are taken after all.
    #[cold]
    fn meet(&mut self, reading: &Reading<'_, '_>, machines: &Machines, out: &mut Out) {
        self.watches = watches(machines, reading.record.dx_mm.get(), &self.settings);
        let Some(watches) = &mut self.watches else {
            self.early.push(reading);
            return;
        };
        let early = std::mem::take(&mut self.early);
        for watch in watches {
            watch.missed(early.more);
            early.replay(&self.lot, |reading| {
                watch.push(reading, out);
            });
        }
    }

    /// Goes on to a reading: half the way to it, zero where that is not along the filament,
    /// whether it is the first that goes back, and whether it fills a subgroup.
    #[inline]
    fn advance(
        &mut self,
        record: &Diameter<'_>,
        square_mm2: f64,
        out: &mut Out,
    ) -> (f64, bool, bool) {
        let last_m = self.path.last_m;
        let step = self.path.advance(record);
        if let Step::Along(along_m) = step {
            let diameter_mm = square_mm2.sqrt();
            self.windows.push(square_mm2, along_m);
            self.waves.push(diameter_mm, along_m);
            let charts = self.charts.as_mut();
            let fills = charts.is_some_and(|charts| charts.push(diameter_mm, Some(along_m)));
            return (along_m / 2.0, false, fills);
        }
        self.windows.restart(square_mm2);
        match step {
            Step::Gap(from_m, to_m) => {
                self.waves.push(square_mm2.sqrt(), (to_m.get() - from_m.get()).abs());
                self.interrupt(Some(from_m), out);
                let length = NonNegative::new(rounded((to_m.get() - from_m.get()).abs()));
                out.write(&LogGap {
                    lot: Name::from(self.lot.as_str()),
                    from_m,
                    to_m,
                    length_m: length.unwrap_or_default(),
                    ..LogGap::default()
                });
            }
            Step::Back => {
                self.waves.give_up();
                self.interrupt(last_m, out);
                return (0.0, !std::mem::replace(&mut self.went_back, true), false);
            }
            Step::None if record.position_m.is_none() => {
                let charts = self.charts.as_mut();
                let fills = charts.is_some_and(|charts| charts.push(square_mm2.sqrt(), None));
                return (0.0, false, fills);
            }
            Step::Along(_) | Step::None => {}
        }
        (0.0, false, false)
    }

    /// Ends what is open.
    fn interrupt(&mut self, to_m: Option<Number>, out: &mut Out) {
        if let Some(charts) = &mut self.charts {
            charts.restart();
        }
        for watch in self.watches.iter_mut().flatten() {
            watch.close(&self.lot, to_m, self.path.direction(), out);
        }
    }

    /// Ends what is open at the end of the input.
    pub fn close(&mut self, out: &mut Out) {
        self.interrupt(self.path.last_m, out);
    }

    /// What the diameter does to the flow of a machine.
    pub fn flow(&self, fit: &Fit) -> Option<FlowFit<'static>> {
        self.windows.fit(&self.lot, self.readings.area_mm()?, fit)
    }

    /// Writes what its control charts show.
    pub fn write_charts(&self, cut: bool, out: &mut Out) {
        if let Some(charts) = &self.charts {
            charts.write(&self.lot, cut, out);
        }
    }

    /// Adds it to a baseline.
    pub fn teach(&self, learned: &mut Learned) {
        if let Some(charts) = &self.charts {
            charts.teach(learned);
        }
    }

    /// Whether running figures are due.
    pub(crate) fn due(&mut self, every: Option<Every>) -> bool {
        let length_m = self.path.length_m().unwrap_or(0.0);
        self.told.due(every, self.readings.n(), length_m)
    }

    /// Position of its last reading.
    pub fn last_m(&self) -> Option<Number> {
        self.path.last_m
    }

    /// Length covered so far, in m.
    pub fn length_m(&self) -> Option<f64> {
        self.path.length_m()
    }

    /// Mean diameter over the last subgroup and what came since.
    pub fn recent_mm(&self) -> Option<f64> {
        self.charts.as_ref()?.recent_mm()
    }

    /// Writes the waves in its diameter.
    pub fn write_waves(&self, line: &Line, out: &mut Out) {
        #[expect(clippy::cast_precision_loss, reason = "a count")]
        let per_m = self.path.length_m().filter(|m| *m > 0.0).map(|m| self.n() as f64 / m);
        let sd_mm = self.readings.sd_mm().unwrap_or_default();
        self.waves.write(&self.lot, per_m, sd_mm, line, out);
    }

    /// How its diameter drifts.
    pub fn drift(&self) -> Option<Drift<'static>> {
        self.windows.drift(&self.lot, self.path.length_m()?)
    }

    /// Name of the gauge that read it, where every reading names the same.
    pub fn gauge(&self) -> Option<Name<'static>> {
        self.gauge.name()
    }

    /// The spool as a whole; `density_g_cm3` where it is known.
    pub fn whole(&self, density_g_cm3: Option<f64>) -> Whole<'_> {
        Whole {
            lot: &self.lot,
            readings: self.n(),
            length_m: self.path.length_m(),
            area_mm: self.readings.area_mm(),
            density_g_cm3,
        }
    }

    /// The spool in figures.
    pub fn summary(&self, whole: &Whole<'_>) -> DiameterSummary<'static> {
        let all = &self.readings;
        let interval = self.interval();
        let number = |x: Option<f64>| x.and_then(Number::new);
        let size = |x: Option<f64>| x.and_then(NonNegative::new);
        let oval = self.most_oval_mm();
        DiameterSummary {
            lot: Name::from(self.lot.clone()),
            readings: Count(all.n()),
            axes: Count::from(all.common_axes()),
            mean_mm: number(all.mean_mm()).unwrap_or_default(),
            sd_mm: size(all.sd_mm()),
            min_mm: number(all.min_mm()).unwrap_or_default(),
            max_mm: number(all.max_mm()).unwrap_or_default(),
            area_mm: number(all.area_mm()).unwrap_or_default(),
            effective_readings: interval.and_then(|i| NonNegative::new(i.effective)),
            mean_low_mm: number(interval.and_then(|i| Some(all.mean_mm()? - i.half))),
            mean_high_mm: number(interval.and_then(|i| Some(all.mean_mm()? + i.half))),
            p01_mm: number(all.quantile_mm(0.01)),
            p05_mm: number(all.quantile_mm(0.05)),
            median_mm: number(all.quantile_mm(0.5)),
            p95_mm: number(all.quantile_mm(0.95)),
            p99_mm: number(all.quantile_mm(0.99)),
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
            from_m: self.path.from_m,
            to_m: self.path.last_m,
            length_m: size(whole.length_m.map(rounded)),
            mass_g: size(whole.length_m.and_then(|m| whole.mass_g(m))),
            gaps: Some(Count(self.path.gaps)),
            out_of_order: Count(self.path.out_of_order),
            gauge: self.gauge.name(),
            ..DiameterSummary::default()
        }
    }
}

/// A watch for each machine that filament of this diameter is meant for; none where
/// it is meant for no machine, so that the next reading is asked.
fn watches(machines: &Machines, diameter_mm: f64, settings: &Settings) -> Option<Vec<Watch>> {
    let meant = machines.all().iter().filter(|fit| fit.is_meant(diameter_mm));
    let watches: Vec<_> = meant.cloned().map(|fit| Watch::new(fit, settings)).collect();
    (!watches.is_empty()).then_some(watches)
}

/// What readings weigh as evidence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Evidence {
    /// Readings.
    pub readings: u64,
    /// Those that stand where none stood before; the others say nothing new of the spool.
    pub counted: u64,
}
