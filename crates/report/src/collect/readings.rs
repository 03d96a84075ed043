//! The raw readings of each lot, as a curve and as a histogram. Only where something is drawn.

use super::series::Series;
use crate::keep;
use secondmelt_record::facts::Diameter;
use std::collections::HashMap;

/// Lots whose readings are drawn.
const LOTS_MAX: usize = 200;
/// Bars of a histogram before it is drawn, each a micrometre wide.
const BARS: usize = 4096;

/// What places along a curve are.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) enum Place {
    Metres,
    Seconds,
    #[default]
    Number,
}

/// The readings of a lot.
#[derive(Debug, Default)]
pub(crate) struct Curve {
    pub(crate) place: Place,
    pub(crate) series: Series,
    pub(crate) bars: Bars,
    pub(crate) readings: u64,
    last: f64,
}

/// How many diameters, each axis for itself, fall on each micrometre.
#[derive(Debug, Default)]
pub(crate) struct Bars {
    pub(crate) counts: Vec<u32>,
    /// Diameters beyond the last bar.
    pub(crate) beyond: u64,
}

impl Bars {
    fn add(&mut self, mm: f64) {
        if self.counts.is_empty() {
            self.counts.resize(BARS, 0);
        }
        match self.counts.get_mut((mm * 1000.0).round() as usize) {
            Some(count) => *count = count.saturating_add(1),
            None => self.beyond += 1,
        }
    }
}

/// The readings of all lots that are drawn.
#[derive(Debug, Default)]
pub(crate) struct Readings {
    names: HashMap<String, usize>,
    curves: Vec<Curve>,
    /// The lot of the reading before: as a rule that of the next one, too.
    latest: Option<(String, Option<usize>)>,
}

impl Readings {
    pub(super) fn take(&mut self, reading: &Diameter<'_>) {
        // Readings of a gauge study belong to no spool.
        if reading.part.is_some() {
            return;
        }
        let at = match &self.latest {
            Some((lot, at)) if *lot == *reading.lot => *at,
            _ => {
                let at = self.find(&reading.lot);
                self.latest = Some((reading.lot.to_string(), at));
                at
            }
        };
        if let Some(curve) = at.and_then(|at| self.curves.get_mut(at)) {
            curve.take(reading);
        }
    }

    fn find(&mut self, lot: &str) -> Option<usize> {
        let name = keep::name(lot);
        if let Some(at) = self.names.get(&name) {
            return Some(*at);
        }
        if self.curves.len() == LOTS_MAX {
            return None;
        }
        self.names.insert(name, self.curves.len());
        self.curves.push(Curve::default());
        Some(self.curves.len() - 1)
    }

    pub(crate) fn of(&self, lot: &str) -> Option<&Curve> {
        self.curves.get(*self.names.get(lot)?)
    }
}

impl Curve {
    fn take(&mut self, reading: &Diameter<'_>) {
        self.readings += 1;
        let (metres, seconds) = (reading.position_m, reading.time_s);
        if self.readings == 1 {
            self.place = match (metres, seconds) {
                (Some(_), _) => Place::Metres,
                (None, Some(_)) => Place::Seconds,
                (None, None) => Place::Number,
            };
        }
        let at = match self.place {
            Place::Metres => metres.map(|m| m.get()),
            Place::Seconds => seconds.map(|s| s.get()),
            Place::Number => Some(self.readings as f64),
        };
        // A reading without a place is drawn where the one before it is.
        self.last = at.unwrap_or(self.last);
        let x = reading.dx_mm.get();
        let (mut low, mut high, mut product, mut axes) = (x, x, x, 1.0);
        self.bars.add(x);
        for axis in [reading.dy_mm, reading.dz_mm].into_iter().flatten() {
            let d = axis.get();
            self.bars.add(d);
            (low, high, product, axes) = (low.min(d), high.max(d), product * d, axes + 1.0);
        }
        let mean = if axes == 1.0 {
            x
        } else if axes == 2.0 {
            product.sqrt()
        } else {
            product.cbrt()
        };
        self.series.push(self.last, low, mean, high);
    }
}
