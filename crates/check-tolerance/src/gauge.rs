//! Which gauge read a spool.

use secondmelt_record::{Name, facts};

/// Which gauge read a spool.
#[derive(Debug)]
pub enum Gauge {
    /// Nothing read yet.
    Unread,
    /// Every reading so far names this one.
    Named(String),
    /// A reading names none, or another.
    Unclear,
}

impl Gauge {
    #[inline]
    /// Takes the gauge that a reading names.
    pub fn note(&mut self, name: Option<&Name<'_>>) {
        match (&*self, name) {
            (Self::Unclear, _) => {}
            (Self::Named(one), Some(name)) if one == name.as_str() => {}
            (Self::Unread, Some(name)) => *self = Self::Named(name.to_string()),
            _ => *self = Self::Unclear,
        }
    }

    /// Its name, where every reading names the same.
    pub fn name(&self) -> Option<Name<'static>> {
        match self {
            Self::Named(name) => Some(Name::from(name.clone())),
            Self::Unread | Self::Unclear => None,
        }
    }
}

/// What is known of the uncertainty of a gauge, in mm.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Known {
    /// Standard uncertainty on record.
    recorded_mm: Option<f64>,
    /// Step of its display.
    resolution_mm: Option<f64>,
    /// Standard deviation that a study showed.
    studied_mm: Option<f64>,
}

impl Known {
    /// Takes a record.
    pub fn note(&mut self, gauge: &facts::Gauge<'_>) {
        self.recorded_mm = gauge.u_mm.map(f64::from).or(self.recorded_mm);
        self.resolution_mm = gauge.resolution_mm.map(f64::from).or(self.resolution_mm);
    }

    /// Takes what a study showed; nothing where its repeats never differed.
    pub fn studied(&mut self, sd_mm: f64) {
        self.studied_mm = Some(sd_mm).filter(|sd_mm| *sd_mm > 0.0).or(self.studied_mm);
    }

    /// Standard uncertainty: the largest of what is on record, what a study showed, and what the step of the
    /// display alone makes, the step over the root of twelve (JCGM 100:2008, F.2.2.1).
    pub fn u_mm(&self) -> Option<f64> {
        let step = self.resolution_mm.filter(|mm| *mm > 0.0).map(|mm| mm / 12.0_f64.sqrt());
        [self.recorded_mm, self.studied_mm, step].into_iter().flatten().reduce(f64::max)
    }
}
