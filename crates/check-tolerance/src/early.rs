//! Readings that came before it was known for which machines a spool is meant.

use crate::reading::Reading;

/// How many are kept. After so many of them the spool is taken as meant for the machines that are
/// nearest.
const KEPT: usize = 20;

/// Such readings, in order.
#[derive(Debug, Default)]
pub struct Early(Vec<Kept>);

#[derive(Debug)]
struct Kept {
    reading: Reading<'static>,
    recent_mm: Option<f64>,
}

impl Early {
    /// Keeps a reading, and the mean diameter of late. True where no more are kept.
    pub fn push(&mut self, reading: &Reading<'_>, recent_mm: Option<f64>) -> bool {
        self.0.push(Kept { reading: Reading { lot: "", ..*reading }, recent_mm });
        self.0.len() >= KEPT
    }

    /// The middle diameter of them, in mm.
    pub fn median_mm(&self) -> Option<f64> {
        let mut all: Vec<f64> = self.0.iter().map(|kept| kept.reading.min_mm).collect();
        all.sort_by(f64::total_cmp);
        all.get(all.len() / 2).copied()
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Gives the readings of a lot back, each as it was taken.
    pub fn replay(&self, lot: &str, mut take: impl FnMut(&Reading<'_>, Option<f64>)) {
        for kept in &self.0 {
            take(&Reading { lot, ..kept.reading }, kept.recent_mm);
        }
    }
}
