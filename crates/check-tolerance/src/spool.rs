//! One spool: its readings in figures, its length, and a watch for each machine.

use crate::alarms::At;
use crate::charts::{Charts, Filled, Learned};
use crate::early::Early;
use crate::flow::Windows;
use crate::gauge::Gauges;
use crate::lab::Lab;
use crate::line::Line;
use crate::live::{Every, Told};
use crate::machines::{Fit, Machines};
use crate::options::{Rule, Settings};
use crate::path::{Path, Step};
use crate::reading::{Place, Reading, rounded};
use crate::watch::{Watch, Whole};
use crate::waves::Search;
use secondmelt_plastics::filament::length_per_kg_m;
use secondmelt_quality::mean_interval::{Interval, effective_readings, of_mean, shown_lag1};
use secondmelt_quality::readings::{Axes, Readings};
use secondmelt_record::facts::Diameter;
use secondmelt_record::findings::{DiameterSummary, Drift, FlowFit, LogGap};
use secondmelt_record::{Count, Name, NonNegative, Number, Out, Positive};

/// Readings whose middle one tells for which of several sorts of machines a spool is meant.
const SOME: usize = 5;

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
    gauges: Gauges,
    by_speed: BySpeed,
    /// Length that its mass makes, in m.
    made_m: Option<f64>,
}

/// Positions of a log by time, from the speed of the line.
#[derive(Debug, Clone, Copy, PartialEq)]
enum BySpeed {
    /// No reading yet.
    Unasked,
    /// Readings have positions, or the speed is not known.
    No,
    /// By this speed, in m/min, from this time on.
    From(f64, f64),
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
            gauges: Gauges::default(),
            by_speed: BySpeed::Unasked,
            made_m: None,
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
        self.evidence_of(self.n(), self.lag1())
    }

    /// The largest lag-1 autocorrelation of the readings and of each axis: each is judged, and an oval that turns
    /// slowly does not show in the mean.
    fn lag1(&self) -> Option<f64> {
        let axes =
            (0..self.readings.common_axes()).filter_map(|axis| self.readings.axis_lag1(axis));
        axes.chain(self.readings.lag1()).reduce(f64::max)
    }

    /// The same for their ovality.
    pub fn ovality_evidence(&self) -> Evidence {
        self.evidence_of(self.readings.ovality_n(), self.readings.ovality_lag1())
    }

    /// Takes its mass, and its density where that is known, as they tell how long it is.
    pub fn weighed(&mut self, mass_g: Option<f64>, density_g_cm3: Option<f64>) {
        let per_kg_m = |density| Some(length_per_kg_m(density, self.readings.area_mm()?));
        let made_m = mass_g.zip(density_g_cm3.and_then(per_kg_m)).map(|(g, m)| g / 1000.0 * m);
        self.made_m = made_m.filter(|m| *m > 0.0 && m.is_finite());
    }

    fn evidence_of(&self, readings: u64, lag1: Option<f64>) -> Evidence {
        #[expect(clippy::cast_precision_loss, reason = "a count")]
        let n = readings as f64;
        let lag1 = shown_lag1(n, lag1.unwrap_or(0.0));
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "at most a count"
        )]
        let independent = effective_readings(n, lag1) as u64;
        Evidence {
            readings,
            fresh: readings.min(self.path.fresh),
            independent: self.by_subgroups().map_or(independent, |n| independent.min(n)),
            timed: self.path.is_timed(),
            read_s: self.path.read_s(),
            unread_s: self.path.unread_s(),
            lag1,
            gaps: self.path.gaps,
            read_m: self.path.length_m(),
            unread_m: self.path.unread_m().filter(|m| *m > 0.0),
            made_m: self.made_m,
        }
    }

    /// Independent readings by the scatter of subgroup means, which sees a memory longer than from one reading to
    /// the next (batch means); none of few subgroups.
    fn by_subgroups(&self) -> Option<u64> {
        let variance = self.charts.as_ref()?.variance_of_grand_mean()?;
        let sd_mm = self.readings.sd_mm()?;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "cut to a whole number"
        )]
        let independent = (sd_mm * sd_mm / variance) as u64;
        (variance > 0.0).then_some(independent)
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

    /// Takes a reading. True where it is the first that goes back to an earlier position or time.
    #[inline]
    pub fn push(&mut self, record: &Diameter<'_>, lab: &Lab, out: &mut Out) -> bool {
        let axes = Axes {
            dx_mm: record.dx_mm.get(),
            dy_mm: record.dy_mm.map(f64::from),
            dz_mm: record.dz_mm.map(f64::from),
        };
        let place = self.place(record, &lab.production);
        if self.readings.push(&axes) {
            self.most_oval_at_m = place.at_m;
        }
        self.gauges.note(record.gauge.as_ref());
        let was_fresh = self.path.is_fresh;
        let (half_gap_m, back, fills) = self.advance(place, axes.square_mm2(), out);
        let reading = Reading {
            lot: record.lot.as_str(),
            place,
            min_mm: axes.min_mm(),
            max_mm: axes.max_mm(),
            number: self.readings.n(),
            half_gap_m,
            // Where the reading before stands on ground passed before, all that is new is this one's.
            new_half_m: if was_fresh { half_gap_m.min(self.path.new_m) } else { self.path.new_m },
            fresh: self.path.is_fresh,
            direction: self.path.direction(),
        };
        if self.watches.is_none() {
            self.meet(&reading, axes.dx_mm, &lab.machines, out);
        } else {
            let recent = || self.charts.as_ref().and_then(Charts::recent_mm);
            for watch in self.watches.iter_mut().flatten() {
                watch_over(watch, &reading, self.settings.alarms, recent, out);
            }
        }
        if fills {
            self.fill(&reading, lab, out);
        }
        back
    }

    /// Where a reading stands. A log by time has positions where the speed of the line is known before its
    /// first reading.
    #[inline]
    fn place(&mut self, record: &Diameter<'_>, line: &Line) -> Place {
        let at_m = match self.by_speed {
            BySpeed::No => record.position_m,
            _ => self.place_by_speed(record, line),
        };
        Place { at_m, at_s: record.time_s }
    }

    #[cold]
    fn place_by_speed(&mut self, record: &Diameter<'_>, line: &Line) -> Option<Number> {
        if self.by_speed == BySpeed::Unasked {
            self.ask_speed(record, line);
        }
        let BySpeed::From(m_min, start_s) = self.by_speed else { return record.position_m };
        Number::new(rounded((record.time_s?.get() - start_s) * m_min / 60.0))
    }

    fn ask_speed(&mut self, record: &Diameter<'_>, line: &Line) {
        let start_s = record.time_s.filter(|_| record.position_m.is_none());
        let speed = line.speed_m_min(&self.lot).filter(|(_, m_min)| *m_min > 0.0);
        self.by_speed = match start_s.zip(speed) {
            Some((start_s, (_, m_min))) => BySpeed::From(m_min, start_s.get()),
            None => BySpeed::No,
        };
    }

    /// A reading fills a subgroup of the charts.
    #[cold]
    fn fill(&mut self, reading: &Reading<'_>, lab: &Lab, out: &mut Out) {
        let Some(charts) = &mut self.charts else { return };
        let at_m = reading.place.at_m.map(Number::get);
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

    /// Finds out for which machines the spool is meant, once a reading tells, or the middle one of some where
    /// machines differ; where so many tell of none, the nearest must do. Readings before that are taken
    /// after all. Machines that come later are not asked.
    #[cold]
    fn meet(&mut self, reading: &Reading<'_>, dx_mm: f64, machines: &Machines, out: &mut Out) {
        let recent_mm = self.recent_mm();
        let full = self.early.push(reading, recent_mm);
        if machines.differ() && self.early.len() < SOME {
            return;
        }
        let mm = if machines.differ() { self.early.median_mm() } else { None };
        let mut watches = self.meant(machines, mm.unwrap_or(dx_mm));
        if watches.is_empty() && !machines.all().is_empty() {
            if !full {
                return;
            }
            watches = self.nearest(machines);
        }
        self.begin(watches, out);
    }

    /// A watch for each of the machines that take filament of this diameter.
    fn meant(&self, machines: &Machines, mm: f64) -> Vec<Watch> {
        let meant = machines.all().iter().filter(|fit| fit.is_meant(mm));
        meant.cloned().map(|fit| Watch::new(fit, &self.settings)).collect()
    }

    /// A watch for each of the machines that are nearest to what was read.
    fn nearest(&self, machines: &Machines) -> Vec<Watch> {
        let nearest = machines.nearest(self.readings.mean_mm().unwrap_or_default());
        nearest.cloned().map(|fit| Watch::new(fit, &self.settings)).collect()
    }

    /// Takes the readings so far for these machines.
    fn begin(&mut self, mut watches: Vec<Watch>, out: &mut Out) {
        let early = std::mem::take(&mut self.early);
        for watch in &mut watches {
            early.replay(&self.lot, |reading, recent_mm| {
                watch_over(watch, reading, self.settings.alarms, || recent_mm, out);
            });
        }
        self.watches = Some(watches);
    }

    /// Goes on to a reading: half the way to it, zero where that is not along the filament,
    /// whether it is the first that goes back, and whether it fills a subgroup.
    #[inline]
    fn advance(&mut self, place: Place, square_mm2: f64, out: &mut Out) -> (f64, bool, bool) {
        let (last_m, last_s) = (self.path.last_m, self.path.last_s());
        let step = self.path.advance(place);
        if let Step::Along(along_m) = step {
            let diameter_mm = square_mm2.sqrt();
            self.windows.push(square_mm2, along_m);
            self.waves.push(diameter_mm, along_m);
            if let Some((gap_m, beyond)) = self.path.late_gap_m() {
                self.late_gap(gap_m, beyond, out);
            }
            let charts = self.charts.as_mut();
            let fills = charts.is_some_and(|charts| charts.push(diameter_mm, Some(along_m)));
            return (along_m / 2.0, false, fills);
        }
        self.windows.restart(square_mm2);
        match step {
            Step::Gap(from_m, to_m) => {
                self.waves.push(square_mm2.sqrt(), (to_m.get() - from_m.get()).abs());
                self.gap(Some((from_m, to_m)), last_s.zip(place.at_s), out);
            }
            Step::Pause(from_s, to_s) => self.gap(None, Some((from_s, to_s)), out),
            Step::Back => {
                self.waves.give_up();
                self.interrupt(last_m, out);
                return (0.0, !std::mem::replace(&mut self.went_back, true), false);
            }
            Step::None if place.at_m.is_none() => {
                let charts = self.charts.as_mut();
                let fills = charts.is_some_and(|charts| charts.push(square_mm2.sqrt(), None));
                return (0.0, false, fills);
            }
            Step::Along(_) | Step::None => {}
        }
        (0.0, false, false)
    }

    /// A gap in the log, from and to by position and by time.
    #[cold]
    fn gap(&mut self, m: Option<(Number, Number)>, s: Option<(Number, Number)>, out: &mut Out) {
        self.interrupt(m.map(|(from, _)| from), out);
        self.watches.iter_mut().flatten().for_each(Watch::after_gap);
        let size = |ends: Option<(Number, Number)>| {
            ends.and_then(|(from, to)| NonNegative::new(rounded((to.get() - from.get()).abs())))
        };
        out.write(&LogGap {
            lot: Name::from(self.lot.as_str()),
            from_m: m.map(|(from, _)| from),
            to_m: m.map(|(_, to)| to),
            length_m: size(m),
            from_s: s.map(|(from, _)| from),
            to_s: s.map(|(_, to)| to),
            duration_s: size(s),
            ..LogGap::default()
        });
    }

    /// One of the first steps was a gap: what was made of it is dropped.
    #[cold]
    fn late_gap(&mut self, gap_m: f64, beyond: bool, out: &mut Out) {
        if let Some(charts) = &mut self.charts {
            charts.restart();
        }
        let last_m = self.path.last_m;
        for watch in self.watches.iter_mut().flatten() {
            watch.forget(gap_m, last_m);
        }
        if beyond {
            out.write(&LogGap {
                lot: Name::from(self.lot.as_str()),
                length_m: NonNegative::new(rounded(gap_m)),
                ..LogGap::default()
            });
        }
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
    pub fn close(&mut self, machines: &Machines, out: &mut Out) {
        if self.watches.is_none() && !self.early.is_empty() {
            let mut watches = self.meant(machines, self.early.median_mm().unwrap_or_default());
            if watches.is_empty() {
                watches = self.nearest(machines);
            }
            self.begin(watches, out);
        }
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

    /// Adds it to a baseline; why it does not fit it, in words that follow its name.
    pub fn teach(&self, learned: &mut Learned) -> Result<(), &'static str> {
        self.charts.as_ref().map_or(Ok(()), |charts| charts.teach(learned))
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

    /// The gauges that read it.
    pub fn gauges(&self) -> &Gauges {
        &self.gauges
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
            unread_m: size(self.path.unread_m().map(rounded)).filter(|m| m.get() > 0.0),
            line_speed_m_min: match self.by_speed {
                BySpeed::From(m_min, _) => Positive::new(m_min),
                BySpeed::Unasked | BySpeed::No => None,
            },
            mass_g: size(whole.length_m.and_then(|m| whole.mass_g(m))),
            gaps: Some(Count(self.path.gaps)),
            out_of_order: Count(self.path.out_of_order),
            gauge: self.gauges.name(),
            ..DiameterSummary::default()
        }
    }
}

/// Shows a reading to a watch, and gives the alarm where one is due.
#[inline]
fn watch_over(
    watch: &mut Watch,
    reading: &Reading<'_>,
    alarms: bool,
    recent_mm: impl Fn() -> Option<f64>,
    out: &mut Out,
) {
    if let Some((side, mm)) = watch.push(reading, out)
        && alarms
    {
        At::of(reading, recent_mm()).outside(&watch.fit, side, mm, out);
    }
}

/// What readings weigh as evidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// Readings.
    pub readings: u64,
    /// Those that stand where none stood before; the others say nothing new of the spool.
    pub fresh: u64,
    /// Independent readings that they count for, where they follow one another.
    pub independent: u64,
    /// Their lag-1 autocorrelation, as far as it shows.
    pub lag1: f64,
    /// Whether they have times and no positions.
    pub timed: bool,
    /// In a log by time, how long was read, in s.
    pub read_s: f64,
    /// And how long its gaps are; none where there is none.
    pub unread_s: Option<f64>,
    /// Gaps in the log.
    pub gaps: u64,
    /// Length that was read, in m.
    pub read_m: Option<f64>,
    /// Length of the gaps, in m; none where there is none.
    pub unread_m: Option<f64>,
    /// Length that its mass makes, in m, where both mass and density are known.
    pub made_m: Option<f64>,
}

/// Share of the length that its mass makes from which a spool counts as read from end to end: mass, density
/// and diameter leave some per cent open (common practice, no source).
const WHOLE: f64 = 0.9;

impl Evidence {
    /// Readings that count: as independent ones, since they are a sample of the spool, unless it
    /// was read from end to end.
    pub fn counted(&self) -> u64 {
        if self.is_whole() { self.fresh } else { self.fresh.min(self.independent) }
    }

    /// Whether readings stand so far apart on average, or have neither positions nor times and so were
    /// chosen by a person.
    pub fn stand_apart(&self, apart_m: f64) -> bool {
        #[expect(clippy::cast_precision_loss, reason = "a count")]
        let steps = self.readings.saturating_sub(1) as f64;
        match self.read_m {
            Some(read_m) => read_m >= apart_m * steps,
            None => !self.timed,
        }
    }

    /// Whether the log covers what its mass makes.
    pub fn is_whole(&self) -> bool {
        self.read_m.zip(self.made_m).is_some_and(|(read, made)| read >= WHOLE * made)
    }

    /// Length that was not read: what the mass makes beyond what was read, or else the gaps.
    pub fn missing_m(&self) -> Option<f64> {
        let beyond = self.made_m.zip(self.read_m).map(|(made, read)| made - read);
        beyond.filter(|_| !self.is_whole()).into_iter().chain(self.unread_m).reduce(f64::max)
    }
}
