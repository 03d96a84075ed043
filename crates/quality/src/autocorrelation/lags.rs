//! Autocorrelations in one pass.

use std::collections::VecDeque;

/// Most lags followed at once.
pub const LAGS_MAX: usize = 10_000;

/// Sums for the autocorrelations r_1..r_m of a sequence, with the mean of all and the sum
/// of all squares as divisor (Box, Jenkins and Reinsel, Time Series Analysis, 2.1). Keeps
/// the first and the last m readings; each reading costs m products.
#[derive(Debug, Clone)]
pub struct Lags {
    lags: usize,
    n: u64,
    origin: f64,
    sum: f64,
    squares: f64,
    steps: f64,
    /// Sums of products at lags 1..=m.
    products: Vec<f64>,
    first: Vec<f64>,
    /// Newest first.
    last: VecDeque<f64>,
}

impl Lags {
    /// Follows lags up to `lags`; none unless 1 <= lags <= [`LAGS_MAX`].
    #[must_use]
    pub fn new(lags: usize) -> Option<Self> {
        (1..=LAGS_MAX).contains(&lags).then(|| Self {
            lags,
            n: 0,
            origin: 0.0,
            sum: 0.0,
            squares: 0.0,
            steps: 0.0,
            products: vec![0.0; lags],
            first: Vec::with_capacity(lags),
            last: VecDeque::with_capacity(lags + 1),
        })
    }

    /// Adds a reading; one that is not finite is left out.
    pub fn push(&mut self, x: f64) {
        if !x.is_finite() {
            return;
        }
        if self.n == 0 {
            self.origin = x;
        }
        let d = x - self.origin;
        self.n += 1;
        self.sum += d;
        self.squares += d * d;
        if let Some(before) = self.last.front() {
            self.steps += (d - before).powi(2);
        }
        for (product, before) in self.products.iter_mut().zip(&self.last) {
            *product += d * before;
        }
        if self.first.len() < self.lags {
            self.first.push(d);
        }
        self.last.truncate(self.lags - 1);
        self.last.push_front(d);
    }

    /// Number of readings.
    #[must_use]
    pub fn n(&self) -> u64 {
        self.n
    }

    #[expect(clippy::cast_precision_loss, reason = "a count")]
    fn count(&self) -> f64 {
        self.n as f64
    }

    /// Sum of squared deviations from the mean; none where nothing varies.
    fn scatter(&self) -> Option<f64> {
        let scatter = self.squares - self.sum * self.sum / self.count();
        (scatter > 0.0 && scatter > 1e-15 * self.squares).then_some(scatter)
    }

    /// r_1, r_2, ... up to the lags followed, fewer where there are not more readings than
    /// lags. None where nothing varies.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "a count")]
    pub fn autocorrelations(&self) -> Option<Vec<f64>> {
        let scatter = self.scatter()?;
        let mean = self.sum / self.count();
        let (mut head, mut tail) = (0.0, 0.0);
        let ends = self.first.iter().zip(&self.last).zip(&self.products).enumerate();
        let r = |(k, ((first, last), product)): (usize, ((&f64, &f64), &f64))| {
            head += first;
            tail += last;
            let pairs = self.count() - (k + 1) as f64;
            let both = 2.0 * self.sum - head - tail;
            (product - mean * both + pairs * mean * mean) / scatter
        };
        let r: Vec<f64> = ends.map(r).collect();
        let most = usize::try_from(self.n.saturating_sub(1)).unwrap_or(usize::MAX);
        Some(r.into_iter().take(most).collect())
    }

    /// Von Neumann's ratio: the sum of squared steps over the sum of squared deviations.
    /// Near two for independent readings, near zero for close ones.
    #[must_use]
    pub fn von_neumann_ratio(&self) -> Option<f64> {
        Some(self.steps / self.scatter()?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn by_definition(xs: &[f64], k: usize) -> f64 {
        let mean = xs.iter().sum::<f64>() / xs.len() as f64;
        let above: f64 = xs.iter().zip(&xs[k..]).map(|(a, b)| (a - mean) * (b - mean)).sum();
        above / xs.iter().map(|x| (x - mean).powi(2)).sum::<f64>()
    }

    #[test]
    fn what_does_not_vary_has_no_autocorrelation() {
        let mut lags = Lags::new(3).unwrap();
        assert_eq!(lags.autocorrelations(), None);
        (0..10).for_each(|_| lags.push(1.75));
        assert_eq!((lags.autocorrelations(), lags.von_neumann_ratio()), (None, None));
        assert!(Lags::new(0).is_none());
    }

    proptest! {
        #[test]
        fn one_pass_is_the_definition(xs in prop::collection::vec(1.7_f64..1.8, 2..80)) {
            let mut lags = Lags::new(20).unwrap();
            xs.iter().for_each(|x| lags.push(*x));
            let Some(found) = lags.autocorrelations() else { return Ok(()) };
            prop_assert_eq!(found.len(), 20.min(xs.len() - 1));
            for (k, r) in found.iter().enumerate() {
                prop_assert!((r - by_definition(&xs, k + 1)).abs() < 1e-9);
            }
        }
    }
}
