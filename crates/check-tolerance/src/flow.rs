//! What the diameter does to the flow of a printer that feeds by length.

use crate::machines::Fit;
use crate::reading::rounded;
use secondmelt_quality::regression::DriftSums;
use secondmelt_quality::sums::Sums;
use secondmelt_record::findings::{Drift, FlowFit};
use secondmelt_record::{Count, Fraction, Name, NonNegative, Number, Positive};

/// Level of the interval of a drift.
const CONFIDENCE: f64 = 0.95;

/// Areas averaged over windows along the spool.
#[derive(Debug)]
pub struct Windows {
    smoothing_m: f64,
    /// Squared diameter of the reading before, in mm2.
    last_mm2: f64,
    length_m: f64,
    /// Squared diameter times length within the window.
    integral: f64,
    /// Mean squared diameters of the windows, in mm2.
    means: Sums,
    least_mm2: f64,
    most_mm2: f64,
    /// Way along the spool up to here, gaps left out of account.
    way_m: f64,
    /// Diameters of the windows along that way.
    drift: DriftSums,
}

impl Windows {
    /// No window yet.
    pub fn new(smoothing_m: f64) -> Self {
        Self {
            smoothing_m,
            last_mm2: 0.0,
            length_m: 0.0,
            integral: 0.0,
            means: Sums::default(),
            least_mm2: f64::INFINITY,
            most_mm2: f64::NEG_INFINITY,
            way_m: 0.0,
            drift: DriftSums::default(),
        }
    }

    /// Goes on to a reading, `along_m` after the one before (trapezoidal rule).
    #[inline]
    pub fn push(&mut self, square_mm2: f64, along_m: f64) {
        self.integral += (self.last_mm2 + square_mm2) / 2.0 * along_m;
        self.length_m += along_m;
        self.way_m += along_m;
        self.last_mm2 = square_mm2;
        if self.length_m >= self.smoothing_m {
            self.fill();
        }
    }

    /// Starts anew after a gap or a step back; what was begun is left out.
    pub fn restart(&mut self, square_mm2: f64) {
        (self.last_mm2, self.length_m, self.integral) = (square_mm2, 0.0, 0.0);
    }

    fn fill(&mut self) {
        let mean = self.integral / self.length_m;
        self.means.push(mean, 1.0);
        self.least_mm2 = self.least_mm2.min(mean);
        self.most_mm2 = self.most_mm2.max(mean);
        self.drift.push(self.way_m - self.length_m / 2.0, mean.sqrt());
        (self.length_m, self.integral) = (0.0, 0.0);
    }

    /// How the diameter drifts over `length_m` of the spool; none of a handful of windows.
    pub fn drift(&self, lot: &str, length_m: f64) -> Option<Drift<'static>> {
        let drift = self.drift.drift()?;
        let (low, high) = drift.slope_interval(CONFIDENCE)?;
        let slope = drift.line.slope;
        Some(Drift {
            lot: Name::from(lot.to_owned()),
            slope_mm_per_m: Number::new(slope)?,
            low_mm_per_m: Number::new(low),
            high_mm_per_m: Number::new(high),
            over_length_mm: Number::new(rounded(slope * length_m))?,
            window_m: Positive::new(self.smoothing_m)?,
            windows: Count(self.drift.n()),
            effective_windows: NonNegative::new(drift.effective)?,
            probability: Fraction::new(drift.p)?,
            ..Drift::default()
        })
    }

    /// What it means for a machine, with the diameter of the mean area.
    pub fn fit(&self, lot: &str, area_mm: f64, fit: &Fit) -> Option<FlowFit<'static>> {
        let nominal_mm2 = fit.nominal_mm.get().powi(2);
        let ratio = area_mm * area_mm / nominal_mm2;
        let percent = |mm2: f64| Number::new(rounded(100.0 * (mm2 / nominal_mm2 - 1.0)));
        let windows = self.means.n();
        let spread = self.means.sd(1.0).map(|sd| rounded(100.0 * sd / nominal_mm2));
        Some(FlowFit {
            lot: Name::from(lot.to_owned()),
            machine: Name::from(fit.machine.clone()),
            nominal_mm: fit.nominal_mm,
            error_pct: percent(area_mm * area_mm)?,
            factor: Positive::new(1.0 / ratio)?,
            smoothing_m: (windows > 0).then(|| Positive::new(self.smoothing_m)).flatten(),
            windows: (windows > 0).then_some(Count(windows)),
            spread_pct: spread.and_then(NonNegative::new),
            least_pct: (windows > 0).then(|| percent(self.least_mm2)).flatten(),
            most_pct: (windows > 0).then(|| percent(self.most_mm2)).flatten(),
            ..FlowFit::default()
        })
    }
}
