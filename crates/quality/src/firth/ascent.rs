//! The way up to the top of the penalised likelihood.

use super::cholesky::Cholesky;
use super::{At, Fit, Trials, dot};

/// Most steps of an ascent.
const STEPS: usize = 200;
/// Most halvings of one step.
const HALVINGS: usize = 40;
/// Longest change of the logarithm of the odds of any trial in a step.
const STRIDE: f64 = 5.0;
/// Least part of the gain that the slope foretells which makes a step a good one.
const PART: f64 = 1e-4;
/// Rounding of a logarithm of a likelihood, as a part of it.
const NOISE: f64 = 1e-14;
/// Gain of a next step at which the ground is flat: a squared distance, in standard errors.
const FLAT: f64 = 1e-20;
/// The same where steps no longer get shorter, by rounding.
const NEARLY_FLAT: f64 = 1e-10;
/// Part of the last gain at which steps count as no shorter.
const STILL: f64 = 0.9;
/// Part of the last gain at which the curvature is worked out again, more exactly.
const SLOW: f64 = 0.1;
/// Step, in standard errors, over which slopes are compared for that.
const NEAR: f64 = 1e-5;
/// Parts of the rough curvature that are added to the exact one until it bends downwards everywhere.
const DAMPING: [f64; 9] = [0.0, 1e-4, 4e-4, 0.0016, 0.0064, 0.0256, 0.1, 0.4, 1.6];
/// Rounds of inverse iteration for the direction off a saddle.
const ROUNDS: usize = 8;

type Matrix = Vec<Vec<f64>>;

impl Trials {
    /// Climbs to a top from a start, one coefficient held where it is. The penalised likelihood need
    /// not have one top only; a saddle is left.
    pub(super) fn climb(&self, start: &[f64], held: Option<usize>) -> Option<Fit> {
        let mut here = start.to_vec();
        let mut at = self.at(&here)?;
        let mut gain = f64::INFINITY;
        for _ in 0..STEPS {
            let mut step = solve(&at.curvature, held, &at.slope)?;
            let last = std::mem::replace(&mut gain, dot(&step, &at.slope));
            if gain > SLOW * last
                && let Some(damped) = self.damped(&here, &at, held)
            {
                step = solve(&damped, held, &at.slope)?;
                gain = dot(&step, &at.slope);
            }
            if gain <= FLAT || (gain < NEARLY_FLAT && gain > STILL * last) {
                let Some(off) = self.off_a_saddle(&here, &at, held) else { break };
                ((here, at), gain) = (off, f64::INFINITY);
                continue;
            }
            let mut scale = (STRIDE / self.longest(&step)).min(1.0);
            let next = (0..HALVINGS).find_map(|_| {
                let enough = at.ln_likelihood + PART * scale * gain - rounding(&at);
                let next = self.moved(&here, scale, &step);
                scale *= 0.5;
                next.filter(|(_, next)| next.ln_likelihood >= enough)
            });
            let Some(next) = next else { break };
            (here, at) = next;
        }
        (gain < NEARLY_FLAT).then_some(Fit { coefficients: here, ln_likelihood: at.ln_likelihood })
    }

    fn moved(&self, here: &[f64], scale: f64, step: &[f64]) -> Option<(Vec<f64>, At)> {
        let there: Vec<f64> = here.iter().zip(step).map(|(x, d)| x + scale * d).collect();
        let at = self.at(&there)?;
        Some((there, at))
    }

    /// Largest change of the logarithm of the odds of a trial in a step.
    fn longest(&self, step: &[f64]) -> f64 {
        let changes = self.alike.iter().map(|alike| dot(&alike.row, step).abs());
        changes.fold(0.0, f64::max)
    }

    /// The curvature of likelihood and penalty, from the slopes close by.
    fn exact(&self, here: &[f64], at: &At) -> Option<Matrix> {
        let width = here.len();
        let mut curvature = vec![vec![0.0; width]; width];
        for j in 0..width {
            let near = NEAR / at.curvature[j][j].sqrt();
            let mut there = here.to_vec();
            there[j] += near;
            let slope = self.at(&there)?.slope;
            for i in 0..width {
                let bent = 0.5 * (at.slope[i] - slope[i]) / near;
                curvature[i][j] += bent;
                curvature[j][i] += bent;
            }
        }
        Some(curvature)
    }

    /// The same with so much of the rough one that it bends downwards everywhere (Levenberg 1944,
    /// Quart. Appl. Math. 2:164).
    fn damped(&self, here: &[f64], at: &At, held: Option<usize>) -> Option<Matrix> {
        let exact = self.exact(here, at)?;
        let mut with = DAMPING.iter().map(|part| plus(&exact, *part, &at.curvature));
        with.find(|damped| solve(damped, held, &at.slope).is_some())
    }

    /// A higher point beside a flat one, along the direction in which it bends upwards most. None
    /// where there is none: at a top.
    fn off_a_saddle(&self, here: &[f64], at: &At, held: Option<usize>) -> Option<(Vec<f64>, At)> {
        let exact = self.exact(here, at)?;
        if solve(&exact, held, &at.slope).is_some() {
            return None;
        }
        let damped = self.damped(here, at, held)?;
        // Alike in no two coefficients, so that it has a part of every direction.
        let mut way: Vec<f64> = (0..here.len()).map(|j| 1.0 / (1.0 + j as f64)).collect();
        for _ in 0..ROUNDS {
            way = solve(&damped, held, &times(&at.curvature, &way))?;
            let size = dot(&way, &times(&at.curvature, &way)).sqrt();
            way.iter_mut().for_each(|x| *x /= size);
        }
        let scales = (0..HALVINGS / 2).map(|halvings| 0.5_f64.powi(halvings as i32));
        let mut beside =
            scales.flat_map(|scale| [scale, -scale]).filter_map(|t| self.moved(here, t, &way));
        beside.find(|(_, beside)| beside.ln_likelihood > at.ln_likelihood + rounding(at))
    }
}

fn rounding(at: &At) -> f64 {
    NOISE * (1.0 + at.ln_likelihood.abs())
}

/// A vector times the inverse of a positive definite matrix, without the row and column that are
/// held, where it is 0.
pub(super) fn solve(matrix: &[Vec<f64>], held: Option<usize>, b: &[f64]) -> Option<Vec<f64>> {
    let free: Vec<usize> = (0..b.len()).filter(|j| Some(*j) != held).collect();
    let rows = free.iter().map(|i| free.iter().map(|j| matrix[*i][*j]).collect());
    let part: Vec<f64> = free.iter().map(|j| b[*j]).collect();
    let solved = Cholesky::new(&rows.collect::<Matrix>())?.solve(&part);
    let mut whole = vec![0.0; b.len()];
    for (j, x) in free.into_iter().zip(solved) {
        whole[j] = x;
    }
    Some(whole)
}

fn plus(a: &[Vec<f64>], part: f64, b: &[Vec<f64>]) -> Matrix {
    let rows = a.iter().zip(b);
    rows.map(|(a, b)| a.iter().zip(b).map(|(a, b)| a + part * b).collect()).collect()
}

fn times(matrix: &[Vec<f64>], x: &[f64]) -> Vec<f64> {
    matrix.iter().map(|row| dot(row, x)).collect()
}
