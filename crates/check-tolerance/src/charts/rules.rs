//! The signals that charts can give, each of which can be switched off.

use secondmelt_quality::cusum;
use secondmelt_quality::run_rules::Rule;

/// A signal. Those on residuals see what is left of each subgroup mean once the one before
/// has told what to expect, since run rules need points that are independent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Signal {
    /// A subgroup mean beyond its limits
    Mean,
    /// A standard deviation within a subgroup beyond its limits
    Spread,
    /// A residual more than three standard deviations from zero (ISO 7870-2)
    Residual,
    /// Seven residuals in a row on one side (ISO 7870-2)
    OneSide,
    /// Seven residuals in a row rising or falling (ISO 7870-2)
    Trend,
    /// Two of three residuals beyond two standard deviations on one side (Nelson 1984)
    TwoOfThree,
    /// Four of five residuals beyond one standard deviation on one side (Nelson 1984)
    FourOfFive,
    /// Fourteen residuals going up and down in turn (Nelson 1984)
    Alternating,
    /// Fifteen residuals in a row within one standard deviation (Nelson 1984)
    Hugging,
    /// Eight residuals in a row beyond one standard deviation on either side (Nelson 1984)
    Avoiding,
    /// Moving average of the residuals, weight 0.2, beyond three of its standard deviations
    Ewma,
    /// Cumulative sum of the residuals, slack 0.5, beyond five standard deviations
    Cusum,
}

/// Weight of a new residual in the moving average.
pub const EWMA_WEIGHT: f64 = 0.2;
/// Reach of its limits, in its standard deviations.
pub const EWMA_REACH: f64 = 3.0;
/// Slack of the cumulative sum, in standard deviations of a residual.
pub const CUSUM_SLACK: f64 = 0.5;
/// Its decision interval, likewise.
pub const CUSUM_LIMIT: f64 = 5.0;

impl Signal {
    /// Every signal, in the order in which they are told.
    pub const ALL: [Self; 12] = [
        Self::Mean,
        Self::Spread,
        Self::Residual,
        Self::OneSide,
        Self::Trend,
        Self::TwoOfThree,
        Self::FourOfFive,
        Self::Alternating,
        Self::Hugging,
        Self::Avoiding,
        Self::Ewma,
        Self::Cusum,
    ];

    /// Its name in records and on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::Mean => "mean",
            Self::Spread => "spread",
            Self::Residual => "residual",
            Self::OneSide => "one-side",
            Self::Trend => "trend",
            Self::TwoOfThree => "two-of-three",
            Self::FourOfFive => "four-of-five",
            Self::Alternating => "alternating",
            Self::Hugging => "hugging",
            Self::Avoiding => "avoiding",
            Self::Ewma => "ewma",
            Self::Cusum => "cusum",
        }
    }

    /// What it says, to end a sentence.
    pub fn words(self) -> &'static str {
        match self {
            Self::Mean => "the mean of a subgroup is beyond its limits",
            Self::Spread => "the spread within a subgroup is beyond its limits",
            Self::Residual => "the mean jumped by more than three standard deviations",
            Self::OneSide => "seven means in a row came out on one side of what was expected",
            Self::Trend => "seven means in a row rose or fell",
            Self::TwoOfThree => "two of three means came out far to one side",
            Self::FourOfFive => "four of five means came out to one side",
            Self::Alternating => "fourteen means went up and down in turn",
            Self::Hugging => "fifteen means in a row lay close to the centre",
            Self::Avoiding => "eight means in a row kept away from the centre",
            Self::Ewma => "the moving average shows a lasting shift of the mean",
            Self::Cusum => "the cumulative sum shows a lasting shift of the mean",
        }
    }

    /// The run rule that it is, where it is one.
    pub fn rule(self) -> Option<Rule> {
        Some(match self {
            Self::Mean | Self::Spread | Self::Ewma | Self::Cusum => return None,
            Self::Residual => Rule::Beyond { sigmas: 3.0 },
            Self::OneSide => Rule::OneSide { run: 7 },
            Self::Trend => Rule::Trend { run: 7 },
            Self::TwoOfThree => Rule::Several { needed: 2, window: 3, sigmas: 2.0 },
            Self::FourOfFive => Rule::Several { needed: 4, window: 5, sigmas: 1.0 },
            Self::Alternating => Rule::Alternating { run: 14 },
            Self::Hugging => Rule::Hugging { run: 15, sigmas: 1.0 },
            Self::Avoiding => Rule::Avoiding { run: 8, sigmas: 1.0 },
        })
    }

    /// Chance of it at a subgroup of a steady process.
    pub fn by_chance(self) -> f64 {
        match self {
            Self::Cusum => {
                cusum::run_length(CUSUM_SLACK, CUSUM_LIMIT, 0.0, 0.0).map_or(0.0, f64::recip)
            }
            _ => self.rule().unwrap_or(Rule::Beyond { sigmas: EWMA_REACH }).by_chance(),
        }
    }
}

/// A set of signals.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Signals(u16);

impl Signals {
    /// The set of these.
    pub fn of(signals: &[Signal]) -> Self {
        Self(signals.iter().fold(0, |set, signal| set | 1 << *signal as u16))
    }

    /// Puts one in.
    pub fn put(&mut self, signal: Signal) {
        self.0 |= 1 << signal as u16;
    }

    /// Whether one is in it.
    pub fn has(self, signal: Signal) -> bool {
        self.0 >> signal as u16 & 1 == 1
    }

    /// Those of both sets.
    pub fn and(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }

    /// Those of either set.
    pub fn or(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Those that are not in another set.
    pub fn without(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    /// The signals in it, in order.
    pub fn each(self) -> impl Iterator<Item = Signal> {
        Signal::ALL.into_iter().filter(move |signal| self.has(*signal))
    }

    /// Their names, separated by commas; none where it is empty.
    pub fn names(self) -> Option<String> {
        let names: Vec<_> = self.each().map(Signal::name).collect();
        (!names.is_empty()).then(|| names.join(","))
    }
}
