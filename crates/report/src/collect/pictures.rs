//! What is kept only where something is drawn.

use super::readings::Readings;
use super::series::{Series, small};
use crate::keep::{self, Ordered};
use crate::rows::Rows;
use secondmelt_record::findings::{Chart, ChartPoint};
use secondmelt_record::{Kind, Record};

/// Stretches of all lots and machines together, and of one pair.
const STRETCHES_MAX: usize = 20_000;
const OF_PAIR_MAX: usize = 1000;
/// Lots with a control chart, and signals marked on one.
const CHARTS_MAX: usize = 200;
const SIGNALS_MAX: usize = 200;
/// Pairs of lot and machine.
const PAIRS_MAX: usize = 2000;

/// A stretch of a spool, in m.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stretch {
    pub(crate) from: f32,
    pub(crate) to: f32,
}

/// Stretches of a lot for a machine.
#[derive(Debug, Default)]
pub(crate) struct Stretches {
    pub(crate) kept: Vec<Stretch>,
    pub(crate) cut: Vec<Stretch>,
    pub(crate) out: Vec<Stretch>,
}

/// The control chart of a lot.
#[derive(Debug, Default)]
pub(crate) struct ChartCurves {
    pub(crate) limits: Option<ChartLines>,
    pub(crate) means: Series,
    pub(crate) spreads: Series,
    pub(crate) by_length: bool,
    pub(crate) signals: Vec<Signal>,
    pub(crate) signals_total: u64,
}

/// Centre lines and limits.
#[derive(Debug)]
pub(crate) struct ChartLines {
    pub(crate) mean: [f64; 3],
    pub(crate) spread: [f64; 3],
    pub(crate) learned_from: Option<String>,
    pub(crate) subgroups: u64,
    /// Signals seen, and those that chance gives, by rule.
    pub(crate) signals: Vec<(String, f64, f64)>,
}

/// A subgroup at which a rule signals.
#[derive(Debug)]
pub(crate) struct Signal {
    pub(crate) at: f32,
    pub(crate) mean: f32,
    pub(crate) sd: f32,
    pub(crate) rules: String,
}

/// All that is drawn and not shown otherwise.
#[derive(Debug)]
pub(crate) struct Pictures {
    pub(crate) readings: Readings,
    /// Lot and machine.
    pub(crate) stretches: Ordered<(String, String), Stretches>,
    kept: usize,
    pub(crate) charts: Ordered<String, ChartCurves>,
    pub(crate) rows: Rows,
}

impl Default for Pictures {
    fn default() -> Self {
        Self {
            readings: Readings::default(),
            stretches: Ordered::new(PAIRS_MAX),
            kept: 0,
            charts: Ordered::new(CHARTS_MAX),
            rows: Rows::default(),
        }
    }
}

impl Pictures {
    pub(crate) fn take(&mut self, record: &Record<'_>) {
        match record {
            Record::Diameter(reading) => self.readings.take(reading),
            Record::Piece(p) => {
                let stretch = Some((p.from_m.get(), p.to_m.get()));
                let keep = p.keep;
                self.stretch(&p.lot, &p.machine, stretch, |s| {
                    if keep { &mut s.kept } else { &mut s.cut }
                });
            }
            Record::Excursion(e) => {
                let stretch = e.from_m.zip(e.to_m).map(|(from, to)| (from.get(), to.get()));
                self.stretch(&e.lot, &e.machine, stretch, |s| &mut s.out);
            }
            Record::Chart(chart) => self.chart(chart),
            Record::ChartPoint(point) => self.point(point),
            _ => {}
        }
    }

    /// Keeps the line of a record for the tables at the end of the page.
    pub(crate) fn row(&mut self, kind: Kind, line: &str) {
        self.rows.take(kind, line);
    }

    fn stretch(
        &mut self,
        lot: &str,
        machine: &str,
        stretch: Option<(f64, f64)>,
        list: impl FnOnce(&mut Stretches) -> &mut Vec<Stretch>,
    ) {
        let Some((from, to)) = stretch else { return };
        if self.kept == STRETCHES_MAX {
            return;
        }
        let pair = (keep::name(lot), keep::name(machine));
        let Some(list) = self.stretches.entry(&pair).map(list) else { return };
        if list.len() < OF_PAIR_MAX {
            list.push(Stretch { from: small(from), to: small(to) });
            self.kept += 1;
        }
    }

    fn chart(&mut self, c: &Chart<'_>) {
        let Some(curves) = self.charts.entry(&keep::name(&c.lot)) else { return };
        let chance = |name: &str| c.by_chance.0.get(name).map_or(0.0, |n| n.get());
        let signals = c.signals.0.iter().take(20);
        curves.limits.get_or_insert_with(|| ChartLines {
            mean: [c.mean_low_mm.get(), c.mean_mm.get(), c.mean_high_mm.get()],
            spread: [c.spread_low_mm.get(), c.spread_mm.get(), c.spread_high_mm.get()],
            learned_from: c.limits_of.as_deref().map(keep::name),
            subgroups: c.subgroups.0,
            signals: signals.map(|(name, n)| (keep::name(name), n.get(), chance(name))).collect(),
        });
    }

    fn point(&mut self, p: &ChartPoint<'_>) {
        let Some(curves) = self.charts.entry(&keep::name(&p.lot)) else { return };
        let at = p.at_m.map_or(p.last_reading.0 as f64, |m| m.get());
        curves.by_length |= p.at_m.is_some();
        let (mean, sd) = (p.mean_mm.get(), p.sd_mm.get());
        curves.means.push(at, mean, mean, mean);
        curves.spreads.push(at, sd, sd, sd);
        if let Some(rules) = &p.signals {
            curves.signals_total += 1;
            if curves.signals.len() < SIGNALS_MAX {
                curves.signals.push(Signal {
                    at: small(at),
                    mean: small(mean),
                    sd: small(sd),
                    rules: keep::name(rules),
                });
            }
        }
    }
}
