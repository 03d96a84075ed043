//! The ridge of the penalised likelihood, along which one coefficient is held.
//!
//! With settings that go along with one another there may be more ridges than one.

use super::ascent::solve;
use super::{Fit, Trials};

/// Most legs of the way to one value.
const LEGS: usize = 100;
/// Logarithm by which another ridge must be higher, above what rounding does.
const HIGHER: f64 = 1e-8;

/// The ridge, walked from the fit. Each leg starts at the end of the last one, since a start far off
/// the ridge has chances of 0 and 1 that show no way to it.
pub(super) struct Profile<'t> {
    trials: &'t Trials,
    which: usize,
    top: &'t Fit,
    here: Fit,
}

impl<'t> Profile<'t> {
    /// None where there is no such coefficient.
    pub(super) fn new(trials: &'t Trials, fit: &'t Fit, which: usize) -> Option<Self> {
        let there = fit.coefficients.len() == trials.width() && which < trials.width();
        there.then(|| Self { trials, which, top: fit, here: fit.clone() })
    }

    /// Twice the logarithm by which the likelihood falls with the coefficient held at `value`, and
    /// how fast that grows with the value.
    pub(super) fn below(&mut self, value: f64) -> Option<(f64, f64)> {
        let mut aim = value;
        for _ in 0..LEGS {
            match self.leg(aim) {
                Some(there) => {
                    self.here = there;
                    if aim == value {
                        return self.fall();
                    }
                    aim = value;
                }
                None => aim = f64::midpoint(self.here.coefficients[self.which], aim),
            }
        }
        None
    }

    /// The slope is that of the likelihood with the others where they are: along the ridge it does
    /// not change with them.
    fn fall(&self) -> Option<(f64, f64)> {
        let slope = self.trials.at(&self.here.coefficients)?.slope[self.which];
        Some((2.0 * (self.top.ln_likelihood - self.here.ln_likelihood), -2.0 * slope))
    }

    /// Whether another ridge is higher at the value that was reached last, by the ways up with the
    /// others as in the fit, and none of them; then it is walked from here on.
    pub(super) fn rises(&mut self) -> bool {
        let value = self.here.coefficients[self.which];
        let lowest = self.here.ln_likelihood + HIGHER;
        let starts = [self.top.coefficients.clone(), vec![0.0; self.trials.width()]];
        let tops = starts.into_iter().filter_map(|start| self.top_from(start, value));
        let highest = tops.max_by(|a, b| a.ln_likelihood.total_cmp(&b.ln_likelihood));
        let higher = highest.filter(|top| top.ln_likelihood > lowest);
        higher.map(|top| self.here = top).is_some()
    }

    /// The top with the coefficient held at a value, along the tangent of the ridge.
    fn leg(&self, value: f64) -> Option<Fit> {
        self.top_from(self.ahead(value)?, value)
    }

    fn top_from(&self, mut start: Vec<f64>, value: f64) -> Option<Fit> {
        start[self.which] = value;
        self.trials.climb(&start, Some(self.which))
    }

    fn ahead(&self, value: f64) -> Option<Vec<f64>> {
        let here = &self.here.coefficients;
        let at = self.trials.at(here)?;
        let change = value - here[self.which];
        let pull: Vec<f64> = at.curvature[self.which].iter().map(|x| -change * x).collect();
        let tangent = solve(&at.curvature, Some(self.which), &pull)?;
        Some(here.iter().zip(&tangent).map(|(x, d)| x + d).collect())
    }
}
