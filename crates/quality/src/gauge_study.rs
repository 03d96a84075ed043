//! Gauge studies: how much of the spread of readings is the gauge's.
//!
//! A crossed study has every appraiser read every part the same number of times. Readings
//! spread by the parts, by repeating (equipment variation, repeatability), by appraiser
//! (reproducibility), and by the two together (interaction). Two ways to tell them apart, by
//! analysis of variance in [`crossed`] and by averages and ranges in [`ranges`] (AIAG,
//! Measurement Systems Analysis, 4th ed. 2010, chapter III section B). [`one_way`] tells
//! groups from what is within them.

pub mod crossed;
pub mod one_way;
pub mod ranges;

use crate::decimal;
use std::fmt;

/// Ratio of part variation to gauge variation that makes one distinct category, after AIAG;
/// the square root of two, rounded.
pub const CATEGORY: f64 = 1.41;

/// Readings of a crossed study, by appraiser, then trial, then part.
#[derive(Debug, Clone, PartialEq)]
pub struct Study {
    /// Readings less the first one.
    deviations: Vec<Vec<Vec<f64>>>,
    /// The first reading.
    origin: f64,
}

/// Why readings make no crossed study.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StudyError {
    /// Fewer than two appraisers, trials or parts.
    TooFew,
    /// Not every appraiser read every part equally often.
    Unbalanced,
    /// A reading is not a finite number.
    NotFinite,
}

impl fmt::Display for StudyError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::TooFew => "a gauge study needs two appraisers, two trials and two parts or more",
            Self::Unbalanced => "every appraiser must read every part equally often",
            Self::NotFinite => "a reading is not a finite number",
        })
    }
}

impl std::error::Error for StudyError {}

impl Study {
    /// A study from `readings[appraiser][trial][part]`.
    ///
    /// # Errors
    /// Says why readings make no study.
    pub fn new(readings: &[Vec<Vec<f64>>]) -> Result<Self, StudyError> {
        let all: Vec<f64> = readings.iter().flatten().flatten().copied().collect();
        if all.iter().any(|x| !x.is_finite()) {
            return Err(StudyError::NotFinite);
        }
        let first = readings.first().ok_or(StudyError::TooFew)?;
        let parts = first.first().ok_or(StudyError::TooFew)?.len();
        let trials_differ = readings.iter().any(|trials| trials.len() != first.len());
        if trials_differ || readings.iter().flatten().any(|trial| trial.len() != parts) {
            return Err(StudyError::Unbalanced);
        }
        if readings.len() < 2 || first.len() < 2 || parts < 2 {
            return Err(StudyError::TooFew);
        }
        let mut deviations = from_first(&all).into_iter();
        let shaped = |trials: &Vec<Vec<f64>>| {
            trials.iter().map(|trial| deviations.by_ref().take(trial.len()).collect()).collect()
        };
        let deviations = readings.iter().map(shaped).collect();
        Ok(Self { deviations, origin: all.first().copied().unwrap_or_default() })
    }

    /// Number of appraisers.
    #[must_use]
    pub fn appraisers(&self) -> usize {
        self.deviations.len()
    }

    /// Number of times each appraiser read each part.
    #[must_use]
    pub fn trials(&self) -> usize {
        self.deviations.first().map_or(0, Vec::len)
    }

    /// Number of parts.
    #[must_use]
    pub fn parts(&self) -> usize {
        self.deviations.first().and_then(|trials| trials.first()).map_or(0, Vec::len)
    }

    /// Readings of one appraiser on one part, less the first reading of all.
    fn cell(trials: &[Vec<f64>], part: usize) -> impl Iterator<Item = f64> + '_ {
        trials.iter().filter_map(move |trial| trial.get(part).copied())
    }
}

/// Standard deviations of the parts of the spread, in the unit of the readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Variation {
    /// Repeatability: equipment variation EV.
    pub repeatability: f64,
    /// Reproducibility: appraiser variation AV.
    pub reproducibility: f64,
    /// Interaction of appraiser and part; zero where it is not told apart.
    pub interaction: f64,
    /// Gauge as a whole: GRR, root of the sum of squares of the three.
    pub gauge: f64,
    /// Parts: PV.
    pub parts: f64,
    /// Total: TV, root of the sum of squares of gauge and parts.
    pub total: f64,
}

impl Variation {
    /// From the variances of the four.
    fn of(repeatability: f64, reproducibility: f64, interaction: f64, parts: f64) -> Self {
        let gauge = repeatability + reproducibility + interaction;
        Self {
            repeatability: repeatability.sqrt(),
            reproducibility: reproducibility.sqrt(),
            interaction: interaction.sqrt(),
            gauge: gauge.sqrt(),
            parts: parts.sqrt(),
            total: (gauge + parts).sqrt(),
        }
    }

    /// A standard deviation in percent of the total; none where nothing varies.
    #[must_use]
    pub fn percent_of_total(&self, sd: f64) -> Option<f64> {
        let percent = 100.0 * sd / self.total;
        percent.is_finite().then_some(percent)
    }

    /// Six gauge standard deviations in percent of the width of the limits: %P/T (AIAG,
    /// Measurement Systems Analysis, 4th ed., chapter III section B). None unless the width
    /// is positive.
    #[must_use]
    pub fn percent_of_tolerance(&self, width: f64) -> Option<f64> {
        let percent = 600.0 * self.gauge / width;
        (width > 0.0 && percent.is_finite()).then_some(percent)
    }

    /// Number of distinct categories that the gauge tells, before it is cut to a whole
    /// number: 1.41 PV / GRR. None where the gauge shows no spread.
    #[must_use]
    pub fn categories(&self) -> Option<f64> {
        let categories = CATEGORY * self.parts / self.gauge;
        categories.is_finite().then_some(categories)
    }
}

/// Values less the first one. Where all are decimals of at most nine places the differences
/// are exact before they are rounded once, so that a large common part costs no digits.
fn from_first(values: &[f64]) -> Vec<f64> {
    let scale = values.iter().try_fold(0, |scale, x| decimal::scale_of(*x, scale));
    let exact = |scale: usize| -> Option<Vec<f64>> {
        let first = decimal::mantissa(*values.first()?, scale)?;
        let one = decimal::power(scale);
        let difference = |x: &f64| Some((decimal::mantissa(*x, scale)? - first) as f64 / one);
        values.iter().map(difference).collect()
    };
    scale.and_then(exact).unwrap_or_else(|| {
        let first = values.first().copied().unwrap_or_default();
        values.iter().map(|x| x - first).collect()
    })
}

/// A sum whose rounding errors are carried along (Neumaier 1974).
fn sum(values: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut lost) = (0.0_f64, 0.0_f64);
    for x in values {
        let next = sum + x;
        lost += if sum.abs() >= x.abs() { (sum - next) + x } else { (x - next) + sum };
        sum = next;
    }
    sum + lost
}

/// Mean of values; not a number of none.
fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let mut n = 0_u32;
    let total = sum(values.inspect(|_| n += 1));
    total / f64::from(n)
}

fn square(x: f64) -> f64 {
    x * x
}
