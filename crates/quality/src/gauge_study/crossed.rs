//! A crossed gauge study by analysis of variance, with parts and appraisers taken as drawn
//! at random (AIAG, Measurement Systems Analysis, 4th ed., chapter III section B, and
//! appendix A).

use super::{Study, Variation, mean, square, sum};
use crate::distributions::gamma::chi_square_quantile;
use crate::distributions::{Split, fisher_f};

/// Level at which the interaction counts as significant, common practice.
pub const INTERACTION_LEVEL: f64 = 0.05;

/// One line of the table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Sum of squares.
    pub ss: f64,
    /// Degrees of freedom.
    pub df: f64,
}

impl Line {
    /// Mean square.
    #[must_use]
    pub fn ms(self) -> f64 {
        self.ss / self.df
    }

    fn with(self, other: Self) -> Self {
        Self { ss: self.ss + other.ss, df: self.df + other.df }
    }

    /// Ratio of mean squares and the probability of so large a one; none where the
    /// denominator is zero.
    #[must_use]
    pub fn against(self, other: Self) -> Option<Ratio> {
        let f = self.ms() / other.ms();
        let p = fisher_f::tails(self.df, other.df, f)?.above;
        f.is_finite().then_some(Ratio { f, p })
    }
}

/// A ratio of mean squares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ratio {
    /// The ratio F.
    pub f: f64,
    /// Probability of so large a ratio if the effect were none.
    pub p: f64,
}

/// The table of the analysis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Table {
    /// Parts.
    pub part: Line,
    /// Appraisers.
    pub appraiser: Line,
    /// Both together.
    pub interaction: Line,
    /// Repeated readings.
    pub error: Line,
    /// Number of trials.
    trials: f64,
}

/// Components of the spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Components {
    /// Their standard deviations.
    pub variation: Variation,
    /// Interaction was put together with the repeated readings.
    pub pooled: bool,
    /// The estimate of the appraisers' variance was negative and was set to zero.
    pub reproducibility_clipped: bool,
    /// The same of the interaction.
    pub interaction_clipped: bool,
    /// The same of the parts.
    pub parts_clipped: bool,
}

/// The analysis of variance of a study: each sum of squares is one of squared effects, so
/// that none is a difference of large numbers.
#[must_use]
pub fn analyse(study: &Study) -> Table {
    let (k, r, n) = (study.appraisers() as f64, study.trials() as f64, study.parts() as f64);
    let all = &study.deviations;
    let grand = mean(all.iter().flatten().flatten().copied());
    let appraisers: Vec<f64> =
        all.iter().map(|trials| mean(trials.iter().flatten().copied())).collect();
    let parts: Vec<f64> = (0..study.parts())
        .map(|part| mean(all.iter().flat_map(move |trials| Study::cell(trials, part))))
        .collect();
    let (mut interaction, mut error) = (Vec::new(), Vec::new());
    for (trials, appraiser) in all.iter().zip(&appraisers) {
        for (i, part) in parts.iter().enumerate() {
            let centre = mean(Study::cell(trials, i));
            interaction.push(r * square(centre - appraiser - part + grand));
            error.extend(Study::cell(trials, i).map(|x| square(x - centre)));
        }
    }
    let spread = |means: &[f64], each: f64| each * sum(means.iter().map(|m| square(m - grand)));
    Table {
        part: Line { ss: spread(&parts, k * r), df: n - 1.0 },
        appraiser: Line { ss: spread(&appraisers, n * r), df: k - 1.0 },
        interaction: Line { ss: sum(interaction.into_iter()), df: (n - 1.0) * (k - 1.0) },
        error: Line { ss: sum(error.into_iter()), df: n * k * (r - 1.0) },
        trials: r,
    }
}

impl Table {
    /// Sum of squares of all readings around their mean.
    #[must_use]
    pub fn ss_total(&self) -> f64 {
        self.part.ss + self.appraiser.ss + self.interaction.ss + self.error.ss
    }

    /// Interaction and repeated readings as one line.
    #[must_use]
    pub fn pooled_error(&self) -> Line {
        self.interaction.with(self.error)
    }

    /// Components with the interaction told apart: parts and appraisers are judged against
    /// the interaction, it against the repeated readings.
    #[must_use]
    pub fn unpooled(&self) -> Components {
        let between = (self.interaction.ms() - self.error.ms()) / self.trials;
        let against = self.interaction.ms();
        self.components(self.error.ms(), between, against, false)
    }

    /// Components where interaction counts as repeated reading.
    #[must_use]
    pub fn pooled(&self) -> Components {
        let error = self.pooled_error().ms();
        self.components(error, 0.0, error, true)
    }

    /// Pooled unless the interaction is significant at [`INTERACTION_LEVEL`].
    #[must_use]
    pub fn usual(&self) -> Components {
        let ratio = self.interaction.against(self.error);
        // Without any spread of repeats every interaction counts, and none does not.
        let significant = ratio.map_or(self.interaction.ss > 0.0, |r| r.p <= INTERACTION_LEVEL);
        if significant { self.unpooled() } else { self.pooled() }
    }

    /// Lower and upper bound of the standard deviation of the gauge as a whole, each at the confidence
    /// given: the sum of positive multiples of independent mean squares by the modified large-sample
    /// method (Graybill and Wang 1980, Journal of the American Statistical Association 75:869).
    /// The interaction is told apart or not as in [`Table::usual`]. None of a confidence
    /// outside 0 to 1.
    #[must_use]
    pub fn gauge_bounds(&self, confidence: f64) -> Option<(f64, f64)> {
        let (n, r) = (self.part.df + 1.0, self.trials);
        let appraiser = (self.appraiser, 1.0 / (n * r));
        let terms = if self.usual().pooled {
            vec![appraiser, (self.pooled_error(), 1.0 - 1.0 / (n * r))]
        } else {
            let between = (self.interaction, 1.0 / r - 1.0 / (n * r));
            vec![appraiser, between, (self.error, 1.0 - 1.0 / r)]
        };
        sd_bounds(&terms, confidence)
    }

    fn components(&self, error: f64, interaction: f64, against: f64, pooled: bool) -> Components {
        let (k, n) = (self.appraiser.df + 1.0, self.part.df + 1.0);
        let appraiser = (self.appraiser.ms() - against) / (n * self.trials);
        let part = (self.part.ms() - against) / (k * self.trials);
        Components {
            variation: Variation::of(
                error,
                appraiser.max(0.0),
                interaction.max(0.0),
                part.max(0.0),
            ),
            pooled,
            reproducibility_clipped: appraiser < 0.0,
            interaction_clipped: interaction < 0.0,
            parts_clipped: part < 0.0,
        }
    }
}

/// Bounds of the root of a sum of positive multiples of expected mean squares.
pub(super) fn sd_bounds(terms: &[(Line, f64)], confidence: f64) -> Option<(f64, f64)> {
    let (mut sum, mut below, mut above) = (0.0, 0.0, 0.0);
    for (line, times) in terms.iter().filter(|(line, times)| line.df > 0.0 && *times > 0.0) {
        let part = times * line.ms();
        let high = chi_square_quantile(line.df, Split::with_below(confidence)?)?;
        let low = chi_square_quantile(line.df, Split::with_above(confidence)?)?;
        sum += part;
        below += square(part * (1.0 - line.df / high));
        above += square(part * (line.df / low - 1.0));
    }
    Some(((sum - below.sqrt()).max(0.0).sqrt(), (sum + above.sqrt()).sqrt()))
}
