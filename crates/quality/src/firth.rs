//! Logistic regression with Firth's penalty: finite whatever the trials, also where a setting
//! parts the good ones from the bad ones altogether.
//!
//! Maximises the likelihood times the root of the determinant of the information (Firth 1993,
//! Biometrika 80:27); tests and intervals by the profile of that penalised likelihood (Heinze and
//! Schemper 2002, Statist. Med. 21:2409). Assumption: the trials are independent, and the logarithm
//! of the odds of a good one is a straight line in each setting.
//!
//! The penalised likelihood may have more tops than one where settings go along with one another;
//! tests and intervals follow the highest ridge that is found from several starts.

mod ascent;
mod cholesky;
mod profile;

use crate::distributions::{Split, gamma, root};
use cholesky::Cholesky;
use profile::Profile;
use std::collections::BTreeMap;

/// Most different sets of settings.
const ALIKE_MAX: usize = 2000;
/// Most changes to a higher ridge on the way to an end.
const RIDGES: usize = 8;
/// Furthest from the fit that an end of an interval is looked for.
const FAR: f64 = 200.0;

/// Trials with their settings. The first coefficient is that of a constant one.
#[derive(Debug, Clone)]
pub struct Trials {
    alike: Vec<Alike>,
}

/// Trials with the same settings.
#[derive(Debug, Clone)]
struct Alike {
    row: Vec<f64>,
    good: f64,
    bad: f64,
}

/// A fit: its coefficients, and the logarithm of the penalised likelihood.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Constant first, then one for each setting.
    pub coefficients: Vec<f64>,
    /// Logarithm of the penalised likelihood.
    pub ln_likelihood: f64,
}

/// Likelihood, slope and curvature at a point.
struct At {
    ln_likelihood: f64,
    slope: Vec<f64>,
    /// The information, where the penalty counts as trials, half of them good: as many as the
    /// leverage. It is exact where each set of settings has a chance of its own. Without the penalty a
    /// step overshoots, with one trial by as much again, and never comes to rest.
    curvature: Vec<Vec<f64>>,
}

impl Trials {
    /// Trials with the settings of each. Settings of about unit size serve best. None unless each
    /// trial has as many settings, all finite, and there are more trials than settings.
    #[must_use]
    pub fn new(settings: &[Vec<f64>], good: &[bool]) -> Option<Self> {
        let width = settings.first()?.len();
        let fits = settings.len() == good.len()
            && settings.len() > width
            && settings.iter().all(|row| row.len() == width && row.iter().all(|x| x.is_finite()));
        if !fits {
            return None;
        }
        let mut alike: BTreeMap<Vec<u64>, Alike> = BTreeMap::new();
        for (settings, good) in settings.iter().zip(good) {
            let key = settings.iter().map(|x| x.to_bits()).collect();
            let same = alike.entry(key).or_insert_with(|| Alike {
                row: std::iter::once(1.0).chain(settings.iter().copied()).collect(),
                good: 0.0,
                bad: 0.0,
            });
            if *good { same.good += 1.0 } else { same.bad += 1.0 }
        }
        (alike.len() <= ALIKE_MAX).then(|| Self { alike: alike.into_values().collect() })
    }

    /// The fit. None where settings depend on one another, so that they cannot be told apart.
    #[must_use]
    pub fn fit(&self) -> Option<Fit> {
        self.climb(&vec![0.0; self.width()], None)
    }

    /// Probability of so large a coefficient were it none (penalised likelihood ratio,
    /// chi-square with one degree of freedom). `which` counts from 0, the constant.
    #[must_use]
    pub fn probability(&self, fit: &Fit, which: usize) -> Option<f64> {
        let mut profile = Profile::new(self, fit, which)?;
        let (mut twice, _) = profile.below(0.0)?;
        if profile.rises() {
            (twice, _) = profile.below(0.0)?;
        }
        gamma::chi_square_tails(1.0, twice.max(0.0)).map(|split| split.above)
    }

    /// Interval of a coefficient by the profile of the penalised likelihood. None where an end is
    /// further than 200 from the fit.
    #[must_use]
    pub fn interval(&self, fit: &Fit, which: usize, confidence: f64) -> Option<(f64, f64)> {
        let allowed = gamma::chi_square_quantile(1.0, Split::with_below(confidence)?)?;
        let best = *fit.coefficients.get(which)?;
        // By a parabola.
        let near = allowed.sqrt() * self.standard_error(fit, which)?;
        let end = |sign: f64| {
            let mut profile = Profile::new(self, fit, which)?;
            let mut reach = near;
            for _ in 0..RIDGES {
                reach = root::of_increasing(reach, near, |reach| {
                    if reach <= 0.0 {
                        return Some((-allowed, 0.0));
                    }
                    let (twice, slope) = profile.below(best + sign * reach.min(FAR))?;
                    let found = reach <= FAR || twice >= allowed;
                    found.then_some((twice - allowed, sign * slope))
                })?;
                if !profile.rises() {
                    break;
                }
            }
            Some(best + sign * reach)
        };
        Some((end(-1.0)?, end(1.0)?))
    }

    fn width(&self) -> usize {
        self.alike.first().map_or(0, |alike| alike.row.len())
    }

    fn standard_error(&self, fit: &Fit, which: usize) -> Option<f64> {
        let mut unit = vec![0.0; fit.coefficients.len()];
        *unit.get_mut(which)? = 1.0;
        let inverse = Cholesky::new(&self.at(&fit.coefficients)?.curvature)?.solve(&unit);
        inverse.get(which).map(|variance| variance.sqrt())
    }

    fn at(&self, coefficients: &[f64]) -> Option<At> {
        let width = coefficients.len();
        let mut ln_likelihood = 0.0;
        let mut information = vec![vec![0.0; width]; width];
        let mut chances = Vec::with_capacity(self.alike.len());
        for Alike { row, good, bad } in &self.alike {
            let odds = dot(row, coefficients);
            let (p, q) = (1.0 / (1.0 + (-odds).exp()), 1.0 / (1.0 + odds.exp()));
            // ln p without loss: -ln(1 + exp(-odds)).
            let ln = |u: f64| if u > 0.0 { -(-u).exp().ln_1p() } else { u - u.exp().ln_1p() };
            ln_likelihood += weighted(*good, ln(odds)) + weighted(*bad, ln(-odds));
            add_square(&mut information, (good + bad) * p * q, row);
            chances.push((p, q));
        }
        let root = Cholesky::new(&information)?;
        ln_likelihood += 0.5 * root.ln_determinant();
        let mut slope = vec![0.0; width];
        let mut curvature = information;
        for (Alike { row, good, bad }, (p, q)) in self.alike.iter().zip(&chances) {
            let leverage = (good + bad) * p * q * dot(&root.solve(row), row);
            let residual = good * q - bad * p + leverage * (0.5 - p);
            for (sum, x) in slope.iter_mut().zip(row) {
                *sum += residual * x;
            }
            add_square(&mut curvature, leverage * p * q, row);
        }
        Some(At { ln_likelihood, slope, curvature })
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Adds so many times a row crossed with itself.
fn add_square(sum: &mut [Vec<f64>], times: f64, row: &[f64]) {
    for (sums, x) in sum.iter_mut().zip(row) {
        for (sum, y) in sums.iter_mut().zip(row) {
            *sum += times * x * y;
        }
    }
}

/// A sum of so many equal terms; of none it is nothing, whatever the term.
fn weighted(count: f64, term: f64) -> f64 {
    if count > 0.0 { count * term } else { 0.0 }
}
