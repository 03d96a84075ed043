//! Findings in the form in which the report keeps them: names shortened, numbers plain.

use secondmelt_record::findings::Decision;
use std::collections::BTreeMap;

/// What a finding is about. Empty where it does not say.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash)]
pub(crate) struct Subject {
    pub(crate) lot: String,
    pub(crate) step: String,
    pub(crate) machine: String,
}

/// A verdict.
#[derive(Debug)]
pub(crate) struct Ruling {
    pub(crate) check: String,
    pub(crate) result: Decision,
    pub(crate) about: Subject,
    pub(crate) value: Option<f64>,
    pub(crate) limit: Option<f64>,
    pub(crate) unit: String,
    /// Number of its rule in [`super::Findings::rules`].
    pub(crate) rule: Option<usize>,
    pub(crate) probability: Option<f64>,
    pub(crate) why: String,
}

/// An adjustment.
#[derive(Debug)]
pub(crate) struct Proposal {
    pub(crate) what: String,
    pub(crate) about: Subject,
    pub(crate) from: Option<f64>,
    pub(crate) to: Option<f64>,
    pub(crate) interval: Option<(f64, f64)>,
    pub(crate) unit: String,
    pub(crate) because: String,
    pub(crate) basis: String,
    pub(crate) confidence: Option<f64>,
}

/// A caution; the same one may hold for several lots.
#[derive(Debug)]
pub(crate) struct Danger {
    pub(crate) danger: String,
    pub(crate) defer_to: String,
    pub(crate) about: Vec<Subject>,
}

/// The diameter of a lot.
#[derive(Debug)]
pub(crate) struct DiameterFigures {
    pub(crate) readings: u64,
    pub(crate) axes: u64,
    pub(crate) mean_mm: f64,
    pub(crate) sd_mm: Option<f64>,
    pub(crate) min_mm: f64,
    pub(crate) max_mm: f64,
    pub(crate) area_mm: f64,
    pub(crate) lag1: Option<f64>,
    pub(crate) ovality_mean_mm: Option<f64>,
    pub(crate) ovality_max_mm: Option<f64>,
    pub(crate) ovality_max_at_m: Option<f64>,
    pub(crate) length_m: Option<f64>,
    pub(crate) out_of_order: u64,
    pub(crate) gaps: u64,
    pub(crate) effective: Option<f64>,
    pub(crate) mean_mm_95: Option<(f64, f64)>,
    pub(crate) middle_90_mm: Option<(f64, f64)>,
    pub(crate) mass_g: Option<f64>,
}

/// A stretch out of tolerance.
#[derive(Debug)]
pub(crate) struct ExcursionFigures {
    pub(crate) side: &'static str,
    pub(crate) readings: u64,
    pub(crate) first_reading: u64,
    pub(crate) from_m: Option<f64>,
    pub(crate) to_m: Option<f64>,
    pub(crate) length_m: Option<f64>,
    pub(crate) from_s: Option<f64>,
    pub(crate) to_s: Option<f64>,
    pub(crate) worst_mm: f64,
    pub(crate) beyond_mm: f64,
}

/// The share of a lot that is out of a machine's tolerance.
#[derive(Debug)]
pub(crate) struct Share {
    pub(crate) machine: String,
    pub(crate) nominal_mm: f64,
    pub(crate) tolerance_mm: f64,
    pub(crate) readings_out: u64,
    pub(crate) readings_out_pct: f64,
    pub(crate) excursions: u64,
    pub(crate) out_m: Option<f64>,
    pub(crate) out_pct: Option<f64>,
    pub(crate) pieces: Option<u64>,
    pub(crate) kept_m: Option<f64>,
    pub(crate) kept_g: Option<f64>,
}

/// What the diameter of a lot does to the flow of a machine.
#[derive(Debug)]
pub(crate) struct FlowFigures {
    pub(crate) machine: String,
    pub(crate) error_pct: f64,
    pub(crate) factor: f64,
    pub(crate) smoothing_m: Option<f64>,
    pub(crate) spread_pct: Option<f64>,
    pub(crate) least_pct: Option<f64>,
    pub(crate) most_pct: Option<f64>,
}

/// How a lot fits the tolerance of a machine as a process.
#[derive(Debug)]
pub(crate) struct CapabilityFigures {
    pub(crate) machine: String,
    pub(crate) pp: f64,
    pub(crate) pp_low: Option<f64>,
    pub(crate) ppk: f64,
    pub(crate) ppk_low: Option<f64>,
    pub(crate) cpk: Option<f64>,
    /// None below 0.0001.
    pub(crate) estimated_out_pct: Option<f64>,
    pub(crate) estimated_out_high_pct: Option<f64>,
    pub(crate) observed_out_pct: f64,
}

/// How the diameter of a lot drifts.
#[derive(Debug)]
pub(crate) struct DriftFigures {
    pub(crate) over_length_mm: f64,
    pub(crate) slope_mm_per_m: f64,
    pub(crate) interval: Option<(f64, f64)>,
    pub(crate) probability: f64,
}

/// A wave in a lot.
#[derive(Debug)]
pub(crate) struct WaveFigures {
    pub(crate) period_m: f64,
    pub(crate) u_period_m: f64,
    pub(crate) amplitude_mm: f64,
    pub(crate) u_amplitude_mm: f64,
    pub(crate) cause: String,
    /// The part that fits it, in short.
    pub(crate) name: String,
    /// From the shortest to the longest wave that was looked for.
    pub(crate) looked_for_m: (f64, f64),
}

/// Inclusions of a lot.
#[derive(Debug)]
pub(crate) struct CleanFigures {
    pub(crate) inclusions: u64,
    pub(crate) length_m: f64,
    pub(crate) low_per_m: f64,
    pub(crate) high_per_m: f64,
}

/// The cut list of a lot for a machine: its first stretches.
#[derive(Debug, Default)]
pub(crate) struct CutList {
    pub(crate) first: Vec<PieceFigures>,
    pub(crate) total: u64,
    pub(crate) cuts: u64,
}

/// A stretch of the cut list.
#[derive(Debug)]
pub(crate) struct PieceFigures {
    pub(crate) keep: bool,
    pub(crate) from_m: f64,
    pub(crate) to_m: f64,
    pub(crate) length_m: f64,
}

/// The balance of a lot.
#[derive(Debug)]
pub(crate) struct LotFigures {
    pub(crate) made_g: f64,
    pub(crate) used_g: f64,
    pub(crate) stock_g: Option<f64>,
    pub(crate) unexplained_g: Option<f64>,
    pub(crate) u_unexplained_g: Option<f64>,
    pub(crate) used_pct: Option<f64>,
    pub(crate) not_weighed: u64,
}

/// The balance of a step.
#[derive(Debug)]
pub(crate) struct StepFigures {
    pub(crate) step: String,
    pub(crate) in_g: f64,
    pub(crate) out_g: f64,
    pub(crate) losses: BTreeMap<String, f64>,
    pub(crate) unexplained_g: Option<f64>,
    pub(crate) u_unexplained_g: Option<f64>,
    pub(crate) yield_pct: Option<f64>,
    pub(crate) u_yield_pct: Option<f64>,
    pub(crate) not_weighed: u64,
}

/// A melt-flow result.
#[derive(Debug)]
pub(crate) struct MeltFlowFigures {
    pub(crate) run: String,
    pub(crate) temp_c: f64,
    pub(crate) load_kg: f64,
    pub(crate) cuts: u64,
    pub(crate) mfr_g_10min: f64,
    pub(crate) sd_g_10min: Option<f64>,
    pub(crate) spread_pct: Option<f64>,
    pub(crate) mvr_cm3_10min: Option<f64>,
    pub(crate) melt_density_g_cm3: Option<f64>,
}

/// Verdicts of one sort about one thing.
#[derive(Debug, Default, Clone, Copy)]
pub(crate) struct Decided {
    pub(crate) fails: u64,
    pub(crate) undecided: u64,
    pub(crate) conforms: u64,
}

impl Decided {
    pub(crate) fn add(&mut self, result: Decision) {
        match result {
            Decision::Fails => self.fails += 1,
            Decision::Undecided => self.undecided += 1,
            Decision::Conforms => self.conforms += 1,
        }
    }

    pub(crate) fn total(self) -> u64 {
        self.fails + self.undecided + self.conforms
    }

    /// The result that needs a person most.
    pub(crate) fn worst(self) -> Option<Decision> {
        match self {
            Self { fails: 1.., .. } => Some(Decision::Fails),
            Self { undecided: 1.., .. } => Some(Decision::Undecided),
            Self { conforms: 1.., .. } => Some(Decision::Conforms),
            Self { .. } => None,
        }
    }
}
