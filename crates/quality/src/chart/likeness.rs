//! Whether subgroups were made like those of a baseline, when all that is kept of the baseline
//! are the figures of its limits.
//!
//! Five questions, each answered by a probability that counts in how little the baseline itself
//! knows of its centre, its spread and its autocorrelation:
//!
//! - **level**: Student's t of the difference of the two means, each with the variance that the mean
//!   of so many points of a first-order autoregression has; the autocorrelation corrected
//!   for its bias (Kendall 1954, Biometrika 41:403), and the degrees of freedom cut down to what the
//!   errors of standard deviation and autocorrelation leave of them (Satterthwaite);
//! - **jump**: the residual furthest from zero, by Student's t of a prediction, times their number
//!   (Bonferroni);
//! - **unrest**: mean square of the residuals over the baseline's, by F;
//! - **spread**: mean logarithm of the standard deviations within subgroups, by t;
//! - **burst**: the widest subgroup, by t of a prediction of its logarithm, times their number.
//!   Logarithms of standard deviations reach further down than up, so this errs
//!   to the safe side.
//!
//! The smallest of the five, times five, is the probability of the whole (Bonferroni).
//!
//! Probabilities hold where the baseline counts for [`BASELINE_LEAST`] independent subgroups and does not remember
//! too long ([`Likeness::remembers_long`]); otherwise a difference is not sure. Of lots made like their
//! baseline, 200 subgroups of 20 readings, so many are told apart surely at 1 %, 4000 seeded runs each,
//! r the lag-1 autocorrelation of readings, or of subgroups to which independent readings come
//! (`tests/likeness_laws.rs`):
//!
//! | memory | r | 20 subgroups | 50 | 200 |
//! |---|---|---|---|---|
//! | of readings | 0 | 0.0 % | 0.1 % | 0.4 % |
//! | of readings | 0.5 | 0.1 % | 0.6 % | 0.7 % |
//! | of readings | 0.8 | 0.5 % | 0.7 % | 0.8 % |
//! | of readings | 0.95 | 0.3 % | 0.5 % | 0.7 % |
//! | of subgroups | 0 | 0.1 % | 0.7 % | 0.6 % |
//! | of subgroups | 0.5 | 0.4 % | 0.8 % | 0.7 % |
//! | of subgroups | 0.8 | 1.5 % | 0.8 % | 0.7 % |
//! | of subgroups | 0.95 | 4.0 % | 4.6 % | 1.6 % |
//!
//! The last row stays above 1 %: a process that remembers longer than its baseline lasts cannot be known from it. Lots that
//! were changed are told apart in (500 runs, subgroups with r 0.3):
//!
//! | change | 20 subgroups | 50 | 200 |
//! |---|---|---|---|
//! | mean by one standard deviation of a mean | 3 % | 52 % | 100 % |
//! | mean by two | 27 % | 98 % | 100 % |
//! | spread by 1.2 | 27 % | 99 % | 100 % |
//! | spread by 1.4 | 33 % | 99 % | 100 % |

use crate::distributions::{Split, fisher_f, student_t};
use crate::mean_interval::unbiased_lag1;

/// Number of questions.
const QUESTIONS: f64 = 5.0;
/// Fewest independent subgroups that a baseline must count for: with fewer, its own spread and
/// autocorrelation are known so badly that the probabilities here do not hold.
pub const BASELINE_LEAST: f64 = 8.0;
/// Memory of the baseline, as an autocorrelation, beyond which a difference is not sure: what is learned from a
/// baseline says too little of a process that remembers so long.
pub const LONG_MEMORY: f64 = 0.85;
/// Largest autocorrelation that is reckoned with.
const LAG1_MAX: f64 = 0.99;
/// A spread smaller than this share of the baseline's is taken as this share, so that a subgroup
/// whose readings never differ has a logarithm.
const SPREAD_LEAST: f64 = 0.05;

/// What is kept of a baseline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// Subgroups of it.
    pub subgroups: f64,
    /// Mean of the subgroup means.
    pub centre: f64,
    /// Standard deviation of a subgroup mean.
    pub sd: f64,
    /// Lag-1 autocorrelation of the subgroup means, 0 to below 1.
    pub lag1: f64,
    /// Mean of the standard deviations within subgroups.
    pub spread: f64,
    /// Standard deviation of these.
    pub spread_sd: f64,
}

/// A question whose answer sets a lot apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Question {
    /// The mean of the lot as a whole.
    Level,
    /// One mean against the one before.
    Jump,
    /// Means against those before, all of them.
    Unrest,
    /// The spread within subgroups, all of them.
    Spread,
    /// The spread of one subgroup.
    Burst,
}

/// The answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Answer {
    /// Chance that a lot made like the baseline is as far from it in any of the five.
    pub p: f64,
    /// The question in which it is furthest.
    pub question: Question,
    /// Lasting shift of the mean that would have been told at the level asked for, in the unit of
    /// the readings; none where it has no bound.
    pub shift_told: Option<f64>,
}

/// Subgroups on their way to an answer.
#[derive(Debug, Clone)]
pub struct Likeness {
    known: Known,
    /// Autocorrelation, corrected for its bias.
    r: f64,
    /// The same and its standard error: memory that reaches further than the lag-1 autocorrelation
    /// tells is common, as where readings are noisy as well.
    r_high: f64,
    /// Standard deviation of a residual.
    residual_sd: f64,
    /// Centre and standard deviation of the logarithms of spreads.
    log_centre: f64,
    log_sd: f64,
    count: u32,
    mean: f64,
    before: Option<f64>,
    residuals: u32,
    squares: f64,
    furthest: f64,
    logs: Following,
    widest: f64,
}

/// Mean and lag-1 autocorrelation of a sequence, about a value given beforehand.
#[derive(Debug, Clone, Copy, Default)]
struct Following {
    sum: f64,
    squares: f64,
    products: f64,
    before: Option<f64>,
}

impl Likeness {
    /// Nothing seen yet; none where the figures make no sense.
    #[must_use]
    pub fn new(known: Known) -> Option<Self> {
        let m = known.subgroups;
        let sound = m >= 8.0
            && known.sd > 0.0
            && known.spread > 0.0
            && known.spread_sd > 0.0
            && known.lag1.abs() < 1.0;
        let finite = [m, known.centre, known.sd, known.spread, known.spread_sd];
        if !sound || !finite.iter().all(|x| x.is_finite()) {
            return None;
        }
        // A spread like the root of a chi square over its freedom has a logarithm of about this
        // mean and variance.
        let relative = (known.spread_sd / known.spread).powi(2);
        let r = unbiased_lag1(m, known.lag1).clamp(0.0, LAG1_MAX);
        Some(Self {
            known,
            r,
            r_high: (r + ((1.0 - r * r) / m).sqrt()).min(LAG1_MAX),
            residual_sd: known.sd * (1.0 - known.lag1 * known.lag1).sqrt(),
            log_centre: known.spread.ln() - relative / 2.0,
            log_sd: (relative * (1.0 + 2.0 * relative)).sqrt(),
            count: 0,
            mean: 0.0,
            before: None,
            residuals: 0,
            squares: 0.0,
            furthest: 0.0,
            logs: Following::default(),
            widest: f64::NEG_INFINITY,
        })
    }

    /// Takes the next subgroup.
    pub fn push(&mut self, mean: f64, sd: f64) {
        let distance = mean - self.known.centre;
        self.count = self.count.saturating_add(1);
        self.mean += (distance - self.mean) / f64::from(self.count);
        if let Some(before) = self.before.replace(distance) {
            let residual = (distance - self.r * before) / self.residual_sd;
            self.residuals = self.residuals.saturating_add(1);
            self.squares += residual * residual;
            self.furthest = self.furthest.max(residual.abs());
        }
        let log = sd.max(SPREAD_LEAST * self.known.spread).ln();
        let standardised = (log - self.log_centre) / self.log_sd;
        self.logs.push(standardised);
        self.widest = self.widest.max(standardised);
    }

    /// What comes next does not follow on, as after a gap.
    pub fn restart(&mut self) {
        self.before = None;
        self.logs.before = None;
    }

    /// Number of subgroups.
    #[must_use]
    pub fn count(&self) -> u32 {
        self.count
    }

    /// Independent subgroups that the baseline counts for.
    #[must_use]
    pub fn baseline_counts_for(&self) -> f64 {
        self.known.subgroups / inflation(self.known.subgroups, self.r_high)
    }

    /// How far the mean lies above the baseline's.
    #[must_use]
    pub fn shift(&self) -> f64 {
        self.mean
    }

    /// Whether the baseline remembers too long for a difference to be sure.
    #[must_use]
    pub fn remembers_long(&self) -> bool {
        self.r_high > LONG_MEMORY
    }

    /// The answer, and the lasting shift that would have been told at a level; none of fewer than
    /// two subgroups.
    #[must_use]
    pub fn answer(&self, level: f64) -> Option<Answer> {
        let (k, m) = (f64::from(self.count), self.known.subgroups);
        if self.count < 2 {
            return None;
        }
        let own = m - 2.0;
        let two_sided =
            |t: f64, freedom: f64| Some(2.0 * student_t::tails(freedom, t.abs())?.above);
        let predicted = (1.0 + 1.0 / m).sqrt();
        let shift_sd = self.shift_sd();
        let freedom = self.level_freedom();
        let mut found = vec![(Question::Level, two_sided(self.mean / shift_sd, freedom)?)];
        if self.residuals > 0 {
            let n = f64::from(self.residuals);
            found.push((Question::Jump, n * two_sided(self.furthest / predicted, own)?));
            let f = fisher_f::tails(n, own, self.squares / n)?;
            found.push((Question::Unrest, 2.0 * f.above.min(f.below)));
        }
        let mean_log = self.logs.sum / k;
        let log_sd = (self.logs.inflation(k) * (1.0 / k + 1.0 / m)).sqrt();
        found.push((Question::Spread, two_sided(mean_log / log_sd, own)?));
        let above = student_t::tails(own, self.widest / predicted)?.above;
        found.push((Question::Burst, k * above));
        let (question, p) = found.into_iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
        let each = level / QUESTIONS;
        let told = Split::with_below(1.0 - each / 2.0)
            .and_then(|split| student_t::quantile(freedom, split))
            .map(|t| t * shift_sd);
        Some(Answer {
            p: (QUESTIONS * p).min(1.0),
            question,
            shift_told: told.filter(|x| x.is_finite()),
        })
    }

    /// Standard deviation of the difference of the two means.
    fn shift_sd(&self) -> f64 {
        let (k, m) = (f64::from(self.count), self.known.subgroups);
        // The standard deviation of few points that follow one another is taken about their
        // own mean and comes out too small.
        let own = inflation(m, self.r_high) / m;
        let shrunk = (1.0 - (own - 1.0 / m) / (1.0 - 1.0 / m)).max(0.1);
        self.known.sd / shrunk.sqrt() * (inflation(k, self.r_high) / k + own).sqrt()
    }

    /// Degrees of freedom that the errors of the standard deviation, 2 (1 + r^2) / (m (1 - r^2))
    /// of its variance, and of the autocorrelation, 4 / (m (1 - r^2)) of the variance of a
    /// mean, leave.
    fn level_freedom(&self) -> f64 {
        let (m, r2) = (self.known.subgroups, self.r * self.r);
        (m * (1.0 - r2) / (3.0 + r2)).max(1.0)
    }
}

/// How many times the variance of a mean of `n` points with a lag-1 autocorrelation `r` is that
/// of independent ones: 1 + 2 sum (1 - j/n) r^j.
fn inflation(n: f64, r: f64) -> f64 {
    if r <= 0.0 {
        return 1.0;
    }
    let open = 1.0 - r;
    1.0 + 2.0 * (r / open - r * (1.0 - r.powf(n)) / (n * open * open))
}

impl Following {
    fn push(&mut self, x: f64) {
        self.sum += x;
        self.squares += x * x;
        if let Some(before) = self.before.replace(x) {
            self.products += x * before;
        }
    }

    /// The same by the autocorrelation of the sequence itself, where it is positive.
    fn inflation(&self, n: f64) -> f64 {
        let mean = self.sum / n;
        let (variance, together) =
            (self.squares / n - mean * mean, self.products / n - mean * mean);
        let r = if variance > 0.0 { (together / variance).clamp(0.0, 0.9) } else { 0.0 };
        inflation(n, r)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test fails by panicking")]
    use super::*;

    #[test]
    fn the_variance_of_a_mean_is_that_of_a_first_order_autoregression() {
        for (n, r) in [(2.0, 0.5_f64), (20.0, 0.8), (200.0, 0.95), (50.0, 0.0)] {
            let mut direct = 1.0;
            for j in 1..n as i32 {
                direct += 2.0 * (1.0 - f64::from(j) / n) * r.powi(j);
            }
            assert!((inflation(n, r) - direct).abs() < 1e-9, "{n} {r}");
        }
    }

    #[test]
    fn a_baseline_that_follows_itself_closely_counts_for_few() {
        let known = |lag1| Known {
            subgroups: 50.0,
            centre: 1.75,
            sd: 0.01,
            lag1,
            spread: 0.01,
            spread_sd: 0.002,
        };
        let counts = |lag1| Likeness::new(known(lag1)).unwrap().baseline_counts_for();
        assert!(counts(0.0) > 25.0 && counts(0.0) < 50.0);
        assert!(counts(0.9) < BASELINE_LEAST);
        assert!(Likeness::new(known(0.9)).unwrap().remembers_long());
        assert!(Likeness::new(Known { spread_sd: 0.0, ..known(0.0) }).is_none());
        assert!(Likeness::new(Known { lag1: 1.0, ..known(0.0) }).is_none());
    }

    #[test]
    fn a_gap_gives_no_residual_and_a_still_subgroup_is_no_infinity() {
        let known =
            Known { subgroups: 50.0, centre: 0.0, sd: 1.0, lag1: 0.5, spread: 1.0, spread_sd: 0.2 };
        let mut likeness = Likeness::new(known).unwrap();
        likeness.push(0.0, 1.0);
        likeness.restart();
        likeness.push(50.0, 0.0);
        assert_eq!(likeness.residuals, 0);
        let answer = likeness.answer(0.01).unwrap();
        assert!(answer.p.is_finite() && answer.p < 1e-3);
    }
}
