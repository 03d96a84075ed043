//! Which gauges read a spool, and what is known of each.

use secondmelt_record::{Name, facts};

/// Gauges that are told apart; of more, the others count as not named.
const GAUGES_MAX: usize = 16;

/// The gauges that read a spool.
#[derive(Debug, Default)]
pub struct Gauges {
    names: Vec<String>,
    /// Whether a reading names none, or one too many.
    unnamed: bool,
}

impl Gauges {
    /// Takes the gauge that a reading names.
    #[inline]
    pub fn note(&mut self, name: Option<&Name<'_>>) {
        match (name, self.names.last()) {
            (Some(name), Some(last)) if last == name.as_str() => {}
            (None, _) => self.unnamed = true,
            (Some(name), _) => self.other(name.as_str()),
        }
    }

    #[cold]
    fn other(&mut self, name: &str) {
        if let Some(place) = self.names.iter().position(|known| known == name) {
            let last = self.names.len() - 1;
            self.names.swap(place, last);
        } else if self.names.len() < GAUGES_MAX {
            self.names.push(name.to_owned());
        } else {
            self.unnamed = true;
        }
    }

    /// Its name, where every reading names the same.
    pub fn name(&self) -> Option<Name<'static>> {
        match self.names.as_slice() {
            [one] if !self.unnamed => Some(Name::from(one.clone())),
            _ => None,
        }
    }

    /// The largest standard uncertainty of those that are known, and whether all are.
    pub fn u_mm(&self, known: impl Fn(&str) -> Option<f64>) -> Uncertainty {
        let all: Vec<_> = self.names.iter().map(|name| known(name)).collect();
        Uncertainty {
            largest_mm: all.iter().flatten().copied().reduce(f64::max),
            of_all: !self.unnamed && !all.is_empty() && all.iter().all(Option::is_some),
        }
    }
}

/// The standard uncertainty of the readings of a spool.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Uncertainty {
    /// The largest that is known, in mm.
    pub largest_mm: Option<f64>,
    /// Whether that of every reading is known.
    pub of_all: bool,
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
    /// Takes a record; false where it says another thing than one before, and the larger of both is kept.
    pub fn note(&mut self, gauge: &facts::Gauge<'_>) -> bool {
        let mut same = true;
        for (own, other) in [
            (&mut self.recorded_mm, gauge.u_mm.map(f64::from)),
            (&mut self.resolution_mm, gauge.resolution_mm.map(f64::from)),
        ] {
            same &= (*own).zip(other).is_none_or(|(own, other)| own == other);
            *own = [*own, other].into_iter().flatten().reduce(f64::max);
        }
        same
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
