//! Seeded noise for simulations.

#![allow(dead_code, reason = "not every test needs all")]

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A source of normal values.
pub struct Noise(ChaCha8Rng);

impl Noise {
    pub fn of(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// A number between 0 and 1.
    pub fn even(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A standard normal value (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let (u, v) = (1.0 - self.even(), self.even());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }

    /// A first-order autoregression of standard deviation one.
    pub fn following(&mut self, n: usize, r: f64) -> Vec<f64> {
        let mut x = self.normal();
        let step = (1.0 - r * r).sqrt();
        let mut next = || {
            let now = x;
            x = r * x + step * self.normal();
            now
        };
        (0..n).map(|_| next()).collect()
    }

    /// A second-order autoregression of standard deviation one that swings about a period
    /// of so many values without keeping step; `hold` is what is left of a swing after one
    /// value.
    pub fn swinging(&mut self, n: usize, hold: f64, period: f64) -> Vec<f64> {
        let (a, b) = (2.0 * hold * (std::f64::consts::TAU / period).cos(), -hold * hold);
        let variance = (1.0 - b) / ((1.0 + b) * ((1.0 - b).powi(2) - a * a));
        let (mut x, mut before) = (0.0, 0.0);
        let mut next = || {
            let now = a * x + b * before + self.normal() / variance.sqrt();
            (before, x) = (x, now);
            now
        };
        (0..100).for_each(|_| {
            next();
        });
        (0..n).map(|_| next()).collect()
    }
}
