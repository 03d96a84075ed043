//! Waves along a spool.

mod fisher;
mod lomb_scargle;

pub use fisher::{FisherTest, fisher_critical, fisher_p, fisher_test};
pub use lomb_scargle::{LombPeak, LombScargle};

/// The frequency at which a wave of `frequency` shows in readings taken at `rate`, folded
/// about whole multiples of the rate into 0 ..= rate / 2. None unless `rate` is above zero
/// and both are finite.
#[must_use]
pub fn apparent_frequency(frequency: f64, rate: f64) -> Option<f64> {
    let apparent = (frequency - rate * (frequency / rate).round()).abs();
    (rate > 0.0 && apparent.is_finite()).then_some(apparent)
}
