//! Waves along a spool: how long, how high, and whether they are more than noise.

mod background;
mod few;
mod fisher;
mod grid;
mod lomb_scargle;
mod peaks;
mod scan;
mod welch;

pub use few::{FEW_MAX, FewSettings, FewWave, waves_of_few};
pub use fisher::{FisherTest, fisher_critical, fisher_p, fisher_test};
pub use grid::{Even, EvenGrid};
pub use lomb_scargle::{LombPeak, LombScargle};
pub use peaks::{Peak, Waves};
pub use scan::{ScanSettings, WaveScan};
pub use welch::Welch;

/// The frequency at which a wave of `frequency` shows in readings taken at `rate`, folded
/// about whole multiples of the rate into 0 ..= rate / 2. None unless `rate` is above zero
/// and both are finite.
#[must_use]
pub fn apparent_frequency(frequency: f64, rate: f64) -> Option<f64> {
    let apparent = (frequency - rate * (frequency / rate).round()).abs();
    (rate > 0.0 && apparent.is_finite()).then_some(apparent)
}
