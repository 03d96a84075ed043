//! Chance from a seed, and a sine, by arithmetic that is the same on every machine.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A source of random numbers.
pub struct Chance(ChaCha8Rng);

impl Chance {
    /// The source with this seed; each stream is independent of the others, so that
    /// a change in one part of the lab leaves the other parts as they are.
    pub fn of(seed: u64, stream: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        Self(rng)
    }

    /// A number that is close to standard normal: the sum of twelve even ones, less six.
    /// It needs no logarithm, whose last digit differs between machines.
    pub fn normal(&mut self) -> f64 {
        let mut sum = 0_u32;
        for _ in 0..3 {
            let mut bits = self.0.next_u64();
            for _ in 0..4 {
                sum += (bits & 0xffff) as u32;
                bits >>= 16;
            }
        }
        (f64::from(sum) - 12.0 * 32_767.5) / 65_536.0
    }
}

/// The sine of an angle in turns, right to nine digits.
pub fn sine(turns: f64) -> f64 {
    let turn = turns - turns.floor();
    let (turn, sign) = if turn < 0.5 { (turn, 1.0) } else { (turn - 0.5, -1.0) };
    let turn = if turn < 0.25 { turn } else { 0.5 - turn };
    let x = turn * std::f64::consts::TAU;
    let (mut term, mut sum) = (x, x);
    for n in 1..8 {
        let n = f64::from(2 * n);
        term = -term * x * x / (n * (n + 1.0));
        sum += term;
    }
    sign * sum
}
