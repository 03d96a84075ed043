//! Random numbers from a seed: the same seed gives the same numbers on every machine.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A source of random numbers.
#[derive(Debug, Clone)]
pub struct Random(ChaCha8Rng);

impl Random {
    /// The source of a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// A number between 0 and 1, neither of them included.
    pub fn uniform(&mut self) -> f64 {
        ((self.0.next_u64() >> 12) as f64 + 0.5) / (1_u64 << 52) as f64
    }

    /// A whole number from 0 to one less than `n`, which is not 0.
    pub fn below(&mut self, n: usize) -> usize {
        // So small a part of 2^64 that its bias cannot be seen.
        let (n, random) = (n.max(1) as u128, u128::from(self.0.next_u64()));
        usize::try_from((random * n) >> 64).unwrap_or(0)
    }

    /// A standard normal number (Box and Muller 1958, Ann. Math. Stat. 29:610).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }

    /// A number by Student's t with so many degrees of freedom, a whole number of them: normal
    /// over the root of a mean square of others.
    pub fn student_t(&mut self, freedom: u64) -> f64 {
        // A chi-square of two degrees of freedom is -2 ln u.
        let pairs: f64 = (0..freedom / 2).map(|_| -2.0 * self.uniform().ln()).sum();
        let odd = if freedom % 2 == 1 { self.normal().powi(2) } else { 0.0 };
        self.normal() / ((pairs + odd) / freedom as f64).sqrt()
    }

    /// Puts a list in a random order, each as likely as any other (Fisher and Yates 1938).
    pub fn shuffle<T>(&mut self, list: &mut [T]) {
        for i in (1..list.len()).rev() {
            list.swap(i, self.below(i + 1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moments(mut draw: impl FnMut() -> f64) -> (f64, f64) {
        let n = 200_000;
        let values: Vec<f64> = (0..n).map(|_| draw()).collect();
        let mean = values.iter().sum::<f64>() / f64::from(n);
        let variance = values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / f64::from(n);
        (mean, variance)
    }

    #[test]
    fn moments_are_those_of_the_distributions() {
        let mut random = Random::new(1);
        let (mean, variance) = moments(|| random.uniform());
        assert!((mean - 0.5).abs() < 0.005 && (variance - 1.0 / 12.0).abs() < 0.002);
        let (mean, variance) = moments(|| random.normal());
        assert!(mean.abs() < 0.01 && (variance - 1.0).abs() < 0.02);
        // Variance of t: freedom / (freedom - 2).
        let (mean, variance) = moments(|| random.student_t(9));
        assert!(mean.abs() < 0.01 && (variance - 9.0 / 7.0).abs() < 0.03, "{variance}");
    }

    #[test]
    fn every_order_of_three_comes_as_often() {
        let mut random = Random::new(2);
        let mut seen = std::collections::BTreeMap::new();
        for _ in 0..6000 {
            let mut list = [1, 2, 3];
            random.shuffle(&mut list);
            *seen.entry(list).or_insert(0) += 1;
        }
        // Five standard deviations of a binomial count.
        assert!(seen.len() == 6 && seen.values().all(|n: &i32| (n - 1000).abs() < 145), "{seen:?}");
    }
}
