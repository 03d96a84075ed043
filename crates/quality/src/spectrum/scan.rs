//! The search for waves along a spool, one reading at a time.

use super::grid::{Even, EvenGrid};
use super::peaks::{Waves, waves};
use super::welch::Welch;

/// Values held before the length of segments is fixed.
const HELD_MAX: usize = 8192;
/// Length of segments once so many values have come.
const SEGMENT: usize = 2048;
/// Fewest values that are searched.
const FEWEST: usize = 32;

/// Settings of a search.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScanSettings {
    /// Finest step of the grid, in the unit of position: closer readings are averaged.
    pub finest: f64,
    /// Chance that a spool without waves shows one.
    pub alpha: f64,
    /// Smallest amplitude of interest: rounding to the gauge's resolution makes waves, too.
    pub least_amplitude: f64,
}

impl Default for ScanSettings {
    /// For positions in metres and readings in millimetres: a centimetre, one in a hundred,
    /// a tenth of a micrometre.
    fn default() -> Self {
        Self { finest: 0.01, alpha: 0.01, least_amplitude: 1e-4 }
    }
}

/// Looks for waves in readings along a spool.
#[derive(Debug, Clone)]
pub struct WaveScan {
    settings: ScanSettings,
    grid: EvenGrid,
    stage: Stage,
}

#[derive(Debug, Clone)]
enum Stage {
    /// Few values yet, and after how many of them gaps come.
    Held { values: Vec<f64>, gaps: Vec<usize> },
    /// Many.
    Running(Box<Welch>),
}

impl WaveScan {
    /// A search; none unless `finest` is zero or more and 0 < alpha < 1.
    #[must_use]
    pub fn new(settings: ScanSettings) -> Option<Self> {
        let sound = settings.alpha > 0.0 && settings.alpha < 1.0;
        let grid = EvenGrid::new(settings.finest).filter(|_| sound)?;
        Some(Self { settings, grid, stage: Stage::Held { values: Vec::new(), gaps: Vec::new() } })
    }

    /// Adds a reading at a position; positions rise. One that is not finite is left out.
    pub fn push(&mut self, position: f64, value: f64) {
        let stage = &mut self.stage;
        self.grid.push(position, value, &mut |even| stage.take(even));
    }

    /// The waves in what has come so far; the search can go on. None of too few readings.
    #[must_use]
    pub fn waves(&self) -> Option<Waves> {
        let mut whole = self.clone();
        let stage = &mut whole.stage;
        whole.grid.finish(&mut |even| stage.take(even));
        let step = whole.grid.step()?;
        let welch = match whole.stage {
            Stage::Held { values, gaps } => folded(&values, &gaps)?,
            Stage::Running(welch) => *welch,
        };
        waves(&welch, step, &self.settings)
    }
}

impl Stage {
    fn take(&mut self, even: Even) {
        match self {
            Self::Held { values, gaps } => {
                match even {
                    Even::Value(x) => values.push(x),
                    // Gaps on end are one, so there are no more of them than values.
                    Even::Gap if gaps.last() == Some(&values.len()) => {}
                    Even::Gap => gaps.push(values.len()),
                }
                if values.len() >= HELD_MAX
                    && let Some(mut welch) = Welch::new(SEGMENT)
                {
                    fold(&mut welch, values, gaps);
                    *self = Self::Running(Box::new(welch));
                }
            }
            Self::Running(welch) => match even {
                Even::Value(x) => welch.push(x),
                Even::Gap => welch.gap(),
            },
        }
    }
}

/// Runs of values between gaps.
fn runs<'a>(values: &'a [f64], gaps: &'a [usize]) -> impl Iterator<Item = &'a [f64]> {
    let ends = gaps.iter().copied().chain(std::iter::once(values.len()));
    ends.scan(0, |start, end| {
        let run = values.get(*start..end);
        *start = end;
        Some(run.unwrap_or_default())
    })
}

fn fold(welch: &mut Welch, values: &[f64], gaps: &[usize]) {
    for run in runs(values, gaps) {
        welch.gap();
        run.iter().for_each(|x| welch.push(*x));
    }
    if gaps.last() == Some(&values.len()) {
        welch.gap();
    }
}

/// The spectrum of few values, in segments whose length suits their number.
fn folded(values: &[f64], gaps: &[usize]) -> Option<Welch> {
    let longest = runs(values, gaps).map(<[f64]>::len).max()?;
    let mut welch = Welch::new(segment_for(longest)?)?;
    fold(&mut welch, values, gaps);
    Some(welch)
}

/// Length of segments for a run of values: all of few, half of some, two sevenths (six
/// segments) of many.
fn segment_for(run: usize) -> Option<usize> {
    let length = match run {
        ..FEWEST => return None,
        FEWEST..256 => run,
        256..1024 => run / 2,
        _ => run * 2 / 7,
    };
    Some(length.min(SEGMENT) / 2 * 2)
}
