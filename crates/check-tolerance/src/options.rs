//! What the person who runs it asks for.

use crate::charts::{Signal, Signals};
use crate::live::Every;
use crate::machines::Fit;
use secondmelt_record::shape::Range;
use secondmelt_record::{NonNegative, Positive};

/// Options of its own.
#[derive(Debug, clap::Args)]
pub struct Options {
    /// Check against this filament diameter too, in mm, without a machine record
    #[arg(long, value_name = "MM", requires = "tolerance_mm")]
    pub(crate) nominal_mm: Option<f64>,
    /// Tolerance either way that goes with it, in mm
    #[arg(long, value_name = "MM", requires = "nominal_mm")]
    pub(crate) tolerance_mm: Option<f64>,
    /// Largest ovality that goes with it, in mm
    #[arg(long, value_name = "MM", requires = "nominal_mm")]
    pub(crate) ovality_mm: Option<f64>,
    /// How a tolerance is decided: by the readings as they stand, or with the uncertainty of the
    /// gauge as a guard band
    #[arg(long, value_enum, default_value_t = Rule::Known)]
    pub(crate) rule: Rule,
    /// Shortest piece worth keeping, in m
    #[arg(long, value_name = "M", default_value_t = 1.0)]
    pub(crate) piece_m: f64,
    /// Left between a piece and what is out of tolerance, in m
    #[arg(long, value_name = "M", default_value_t = 0.05)]
    pub(crate) margin_m: f64,
    /// Excursions no further apart than this count as one, in m
    #[arg(long, value_name = "M", default_value_t = 0.0)]
    pub(crate) merge_m: f64,
    /// A longer step between two readings is a gap in the log, in m [default: 20 times the
    /// usual step]
    #[arg(long, value_name = "M")]
    pub(crate) gap_m: Option<f64>,
    /// Length over which flow is averaged for its spread, in m
    #[arg(long, value_name = "M", default_value_t = 0.2)]
    pub(crate) smoothing_m: f64,
    /// Do not look for waves along the spool
    #[arg(long)]
    pub(crate) no_waves: bool,
    /// Length of a subgroup on the control charts, in m
    #[arg(long, value_name = "M", default_value_t = 1.0)]
    pub(crate) subgroup_m: f64,
    /// Signals that the control charts look for
    #[arg(
        long,
        value_name = "NAME",
        value_enum,
        value_delimiter = ',',
        default_value = "mean,spread,residual,one-side,trend,ewma,cusum"
    )]
    pub(crate) signals: Vec<Signal>,
    /// Learn the limits of the control charts from this lot, and write them as a record that later
    /// runs can be fed (repeatable: from all of them together)
    #[arg(long, value_name = "LOT")]
    pub(crate) baseline: Vec<String>,
    /// Keep no control charts; a mean on its way out gives no alarm then
    #[arg(long, conflicts_with = "baseline")]
    pub(crate) no_charts: bool,
    /// Give no alarms while the readings come in
    #[arg(long)]
    pub(crate) no_alarms: bool,
    /// Write running figures of a lot at this interval: 10s, 2min, 50m or 1000 (readings)
    #[arg(long, value_name = "INTERVAL")]
    pub(crate) every: Option<Every>,
    /// Work out sampling plans: accept a lot with this share of readings outside (95 %), in per cent
    #[arg(long, value_name = "PCT", requires = "bad_pct")]
    pub(crate) good_pct: Option<f64>,
    /// Refuse a lot with this share of readings outside (90 %), in per cent, below 50
    #[arg(long, value_name = "PCT", requires = "good_pct")]
    pub(crate) bad_pct: Option<f64>,
}

/// How it is decided whether a spool keeps a tolerance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Rule {
    /// Guarded where the uncertainty of the gauge is known, else simple
    Known,
    /// Simple acceptance
    Simple,
    /// Guarded acceptance; undecided where the uncertainty of the gauge is not known
    Guarded,
    /// By the probability that the diameter furthest out is within: at least 95 % conforms, at most
    /// 5 % fails; undecided where the uncertainty of the gauge is not known
    Probability,
}

/// How a spool is looked at, lengths in m.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Settings {
    pub(crate) rule: Rule,
    pub(crate) piece_m: f64,
    pub(crate) margin_m: f64,
    pub(crate) merge_m: f64,
    pub(crate) gap_m: Option<f64>,
    pub(crate) smoothing_m: f64,
    pub(crate) waves: bool,
    pub(crate) subgroup_m: f64,
    /// Signals of charts; none where no charts are kept.
    pub(crate) charts: Option<Signals>,
    pub(crate) alarms: bool,
}

impl Settings {
    /// The settings of the options.
    pub(crate) fn new(options: &Options) -> Result<Self, String> {
        let length = |name: &str, x: f64| {
            NonNegative::new(x).map(f64::from).ok_or_else(|| unfit(name, x, NonNegative::RANGE))
        };
        let above_zero = |name: &str, x: f64| {
            Positive::new(x).map(f64::from).ok_or_else(|| unfit(name, x, Positive::RANGE))
        };
        Ok(Self {
            rule: options.rule,
            piece_m: length("piece-m", options.piece_m)?,
            margin_m: length("margin-m", options.margin_m)?,
            merge_m: length("merge-m", options.merge_m)?,
            gap_m: options.gap_m.map(|x| above_zero("gap-m", x)).transpose()?,
            smoothing_m: above_zero("smoothing-m", options.smoothing_m)?,
            waves: !options.no_waves,
            subgroup_m: above_zero("subgroup-m", options.subgroup_m)?,
            charts: (!options.no_charts).then(|| Signals::of(&options.signals)),
            alarms: !options.no_alarms,
        })
    }
}

fn unfit(name: &str, x: f64, expected: Range) -> String {
    format!("--{name} {x}: expected {expected}")
}

/// A machine from the command line.
pub(crate) fn asked_for(nominal: f64, tolerance: f64, ovality: Option<f64>) -> Result<Fit, String> {
    let nominal_mm =
        Positive::new(nominal).ok_or_else(|| unfit("nominal-mm", nominal, Positive::RANGE))?;
    let length =
        |name: &str, x: f64| NonNegative::new(x).ok_or_else(|| unfit(name, x, NonNegative::RANGE));
    let tolerance_mm = length("tolerance-mm", tolerance)?;
    let ovality_mm = ovality.map(|x| length("ovality-mm", x)).transpose()?;
    let fit = Fit::new("(as asked)".to_owned(), nominal_mm, tolerance_mm, ovality_mm);
    Ok(Fit { asked_for: true, ..fit })
}
