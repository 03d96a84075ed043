//! Logistic regression with Firth's penalty: finite whatever the trials, also where a setting
//! parts the good ones from the bad ones altogether.
//!
//! Maximises the likelihood times the root of the determinant of the information (Firth 1993,
//! Biometrika 80:27); tests and intervals by the profile of that penalised likelihood (Heinze and
//! Schemper 2002, Statist. Med. 21:2409). Assumption: the trials are independent, and the logarithm
//! of the odds of a good one is a straight line in each setting.

use crate::distributions::gamma;
use std::collections::BTreeMap;

/// Most steps of an ascent.
const STEPS: usize = 200;
/// Most halvings of one step.
const HALVINGS: usize = 40;
/// Longest change of one coefficient in a step.
const STRIDE: f64 = 3.0;
/// Largest slope at which the top is taken as reached.
const FLAT: f64 = 1e-9;
/// Most different sets of settings.
const ALIKE_MAX: usize = 2000;
/// Furthest that an end of an interval is looked for.
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

/// Likelihood, slope and information at a point.
struct At {
    ln_likelihood: f64,
    slope: Vec<f64>,
    information: Vec<Vec<f64>>,
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
        let twice = self.twice_below(fit, which, 0.0)?;
        gamma::chi_square_tails(1.0, twice.max(0.0)).map(|split| split.above)
    }

    /// Interval of a coefficient by the profile of the penalised likelihood. None where an end is
    /// beyond 200.
    #[must_use]
    pub fn interval(&self, fit: &Fit, which: usize, confidence: f64) -> Option<(f64, f64)> {
        let split = crate::distributions::Split::with_below(confidence)?;
        let allowed = gamma::chi_square_quantile(1.0, split)?;
        let end = |sign: f64| {
            let best = *fit.coefficients.get(which)?;
            let (mut within, mut reach) = (0.0, 1.0);
            while self.twice_below(fit, which, best + sign * reach)? < allowed {
                within = reach;
                reach *= 2.0;
                if reach > FAR {
                    return None;
                }
            }
            for _ in 0..60 {
                let middle = f64::midpoint(within, reach);
                let below = self.twice_below(fit, which, best + sign * middle)?;
                if below < allowed { within = middle } else { reach = middle }
            }
            Some(best + sign * reach)
        };
        Some((end(-1.0)?, end(1.0)?))
    }

    fn width(&self) -> usize {
        self.alike.first().map_or(0, |alike| alike.row.len())
    }

    /// Twice the logarithm by which the likelihood falls with a coefficient held at `value`.
    fn twice_below(&self, fit: &Fit, which: usize, value: f64) -> Option<f64> {
        let mut start = fit.coefficients.clone();
        *start.get_mut(which)? = value;
        let held = self.climb(&start, Some(which))?;
        Some(2.0 * (fit.ln_likelihood - held.ln_likelihood))
    }

    /// Climbs to the top from a start, one coefficient held where it is.
    fn climb(&self, start: &[f64], held: Option<usize>) -> Option<Fit> {
        let mut here = start.to_vec();
        let mut at = self.at(&here)?;
        for _ in 0..STEPS {
            let free: Vec<usize> = (0..here.len()).filter(|j| Some(*j) != held).collect();
            if free.iter().all(|j| at.slope[*j].abs() < FLAT) {
                break;
            }
            let part: Vec<Vec<f64>> = free
                .iter()
                .map(|i| free.iter().map(|j| at.information[*i][*j]).collect())
                .collect();
            let slope: Vec<f64> = free.iter().map(|j| at.slope[*j]).collect();
            let step = Cholesky::new(&part)?.solve(&slope);
            let longest = step.iter().fold(0.0_f64, |most, x| most.max(x.abs()));
            let mut scale = if longest > STRIDE { STRIDE / longest } else { 1.0 };
            let mut moved = false;
            for _ in 0..HALVINGS {
                let mut there = here.clone();
                for (j, change) in free.iter().zip(&step) {
                    there[*j] += scale * change;
                }
                if let Some(next) = self.at(&there)
                    && next.ln_likelihood > at.ln_likelihood
                {
                    (here, at, moved) = (there, next, true);
                    break;
                }
                scale *= 0.5;
            }
            // Nothing higher within rounding: this is the top.
            if !moved {
                break;
            }
        }
        let top = at.slope.iter().enumerate();
        let flat = top.filter(|(j, _)| Some(*j) != held).all(|(_, slope)| slope.abs() < 1e-5);
        flat.then_some(Fit { coefficients: here, ln_likelihood: at.ln_likelihood })
    }

    fn at(&self, coefficients: &[f64]) -> Option<At> {
        let width = coefficients.len();
        let mut ln_likelihood = 0.0;
        let mut information = vec![vec![0.0; width]; width];
        let mut chances = Vec::with_capacity(self.alike.len());
        for Alike { row, good, bad } in &self.alike {
            let odds: f64 = row.iter().zip(coefficients).map(|(x, b)| x * b).sum();
            let (p, q) = (1.0 / (1.0 + (-odds).exp()), 1.0 / (1.0 + odds.exp()));
            // ln p without loss: -ln(1 + exp(-odds)).
            let ln = |u: f64| if u > 0.0 { -(-u).exp().ln_1p() } else { u - u.exp().ln_1p() };
            ln_likelihood += weighted(*good, ln(odds)) + weighted(*bad, ln(-odds));
            for i in 0..width {
                for j in 0..width {
                    information[i][j] += (good + bad) * p * q * row[i] * row[j];
                }
            }
            chances.push((p, q));
        }
        let root = Cholesky::new(&information)?;
        ln_likelihood += 0.5 * root.ln_determinant();
        let mut slope = vec![0.0; width];
        for (Alike { row, good, bad }, (p, q)) in self.alike.iter().zip(&chances) {
            let leverage: f64 =
                p * q * root.solve(row).iter().zip(row).map(|(a, b)| a * b).sum::<f64>();
            let residual = good * q - bad * p + (good + bad) * leverage * (0.5 - p);
            for (sum, x) in slope.iter_mut().zip(row) {
                *sum += residual * x;
            }
        }
        Some(At { ln_likelihood, slope, information })
    }
}

/// A sum of so many equal terms; of none it is nothing, whatever the term.
fn weighted(count: f64, term: f64) -> f64 {
    if count > 0.0 { count * term } else { 0.0 }
}

/// The lower triangle L of a positive definite matrix L L'.
struct Cholesky(Vec<Vec<f64>>);

impl Cholesky {
    /// None where the matrix is not positive definite, or only by rounding.
    fn new(a: &[Vec<f64>]) -> Option<Self> {
        let n = a.len();
        let mut l = vec![vec![0.0; n]; n];
        for i in 0..n {
            for j in 0..=i {
                let below: f64 = (0..j).map(|k| l[i][k] * l[j][k]).sum();
                let left = a[i][j] - below;
                if i == j {
                    if left.is_nan() || left <= 1e-12 * a[i][i] || left < f64::MIN_POSITIVE {
                        return None;
                    }
                    l[i][i] = left.sqrt();
                } else {
                    l[i][j] = left / l[j][j];
                }
            }
        }
        Some(Self(l))
    }

    fn solve(&self, b: &[f64]) -> Vec<f64> {
        let (l, n) = (&self.0, b.len());
        let mut x = b.to_vec();
        for i in 0..n {
            let below: f64 = (0..i).map(|k| l[i][k] * x[k]).sum();
            x[i] = (x[i] - below) / l[i][i];
        }
        for i in (0..n).rev() {
            let above: f64 = (i + 1..n).map(|k| l[k][i] * x[k]).sum();
            x[i] = (x[i] - above) / l[i][i];
        }
        x
    }

    fn ln_determinant(&self) -> f64 {
        self.0.iter().enumerate().map(|(i, row)| 2.0 * row[i].ln()).sum()
    }
}
