//! Waves along a spool: how long, how high, and whether they are more than noise.
//!
//! [`WaveScan`] takes readings as they come and needs the same memory for any length of
//! spool. Readings are put on an even grid, the powers of half overlapping segments under a
//! Hann window are averaged (Welch 1967), a smooth background is fitted, and what stands
//! out of it more than noise would, anywhere in the spectrum, is a wave. For a handful of
//! readings there are [`waves_of_few`], [`LombScargle`] and [`fisher_test`], which take the
//! noise as independent.
//!
//! # Limits
//!
//! - A segment is all of up to 255 values of the grid, half of up to 1023, two sevenths of
//!   more, and 2048 values at most. Two waves closer than two reciprocals of its length in
//!   frequency are seen as one; one longer than a third of it is taken for drift. A wave
//!   that wanders in frequency by more than that is spread out and may not be found.
//! - The step of the grid is the spacing of the readings, or a centimetre where they stand
//!   closer ([`ScanSettings::finest`]). A wave shorter than two steps shows at the frequency
//!   that [`apparent_frequency`] gives, or is averaged away where readings stand closer.
//! - The frequency comes from how far a wave advances from segment to segment, so it is
//!   finer than the resolution for a wave that keeps step.
//!
//! # What it finds
//!
//! `examples/periodicity_study.rs`: a wave of amplitude 0.008 mm in noise of standard
//! deviation 0.01 mm along 200 m, read to 0.001 mm, 200 seeded spools for each row; r is the
//! lag-1 autocorrelation of the noise. Found means within 1.5 % of the period. Worst errors
//! are those of the waves found; their intervals of two standard uncertainties held the
//! period in all and the amplitude in 90 to 98 % of spools.
//!
//! | noise | spacing | period | found | worst period | worst amplitude |
//! |---|---|---|---|---|---|
//! | white | 0.05 m | 0.26 m | 100.0 % | 0.010 % | 9.5 % |
//! | white | 0.05 m | 0.7 m | 100.0 % | 0.030 % | 8.0 % |
//! | white | 0.05 m | 2.3 m | 100.0 % | 0.095 % | 11.1 % |
//! | white | 0.05 m | 6.1 m | 100.0 % | 0.274 % | 9.1 % |
//! | white | 0.1 m | 0.26 m | 100.0 % | 0.012 % | 13.1 % |
//! | white | 0.1 m | 0.7 m | 100.0 % | 0.030 % | 12.1 % |
//! | white | 0.1 m | 2.3 m | 100.0 % | 0.094 % | 14.0 % |
//! | white | 0.1 m | 6.1 m | 100.0 % | 0.330 % | 13.2 % |
//! | r 0.5 | 0.05 m | 0.26 m | 100.0 % | 0.010 % | 10.0 % |
//! | r 0.5 | 0.05 m | 0.7 m | 100.0 % | 0.042 % | 12.3 % |
//! | r 0.5 | 0.05 m | 2.3 m | 100.0 % | 0.167 % | 19.7 % |
//! | r 0.5 | 0.05 m | 6.1 m | 100.0 % | 0.494 % | 15.8 % |
//! | r 0.5 | 0.1 m | 0.26 m | 100.0 % | 0.007 % | 7.3 % |
//! | r 0.5 | 0.1 m | 0.7 m | 100.0 % | 0.031 % | 13.5 % |
//! | r 0.5 | 0.1 m | 2.3 m | 100.0 % | 0.166 % | 25.1 % |
//! | r 0.5 | 0.1 m | 6.1 m | 100.0 % | 0.576 % | 24.2 % |
//! | r 0.8 | 0.05 m | 0.26 m | 100.0 % | 0.006 % | 6.3 % |
//! | r 0.8 | 0.05 m | 0.7 m | 100.0 % | 0.033 % | 11.6 % |
//! | r 0.8 | 0.05 m | 2.3 m | 100.0 % | 0.251 % | 29.7 % |
//! | r 0.8 | 0.05 m | 6.1 m | 100.0 % | 0.834 % | 26.4 % |
//! | r 0.8 | 0.1 m | 0.26 m | 100.0 % | 0.004 % | 4.0 % |
//! | r 0.8 | 0.1 m | 0.7 m | 100.0 % | 0.023 % | 9.5 % |
//! | r 0.8 | 0.1 m | 2.3 m | 100.0 % | 0.215 % | 28.0 % |
//! | r 0.8 | 0.1 m | 6.1 m | 96.5 % | 1.055 % | 32.2 % |
//! | r 0.9, 30 % white | 0.05 m | 0.26 m | 100.0 % | 0.008 % | 5.8 % |
//! | r 0.9, 30 % white | 0.05 m | 0.7 m | 100.0 % | 0.019 % | 9.2 % |
//! | r 0.9, 30 % white | 0.05 m | 2.3 m | 100.0 % | 0.209 % | 27.4 % |
//! | r 0.9, 30 % white | 0.05 m | 6.1 m | 98.5 % | 0.862 % | 29.3 % |
//! | r 0.9, 30 % white | 0.1 m | 0.26 m | 100.0 % | 0.006 % | 8.1 % |
//! | r 0.9, 30 % white | 0.1 m | 0.7 m | 100.0 % | 0.029 % | 8.5 % |
//! | r 0.9, 30 % white | 0.1 m | 2.3 m | 100.0 % | 0.165 % | 18.1 % |
//! | r 0.9, 30 % white | 0.1 m | 6.1 m | 99.0 % | 1.094 % | 31.5 % |
//!
//! At most 2 other waves were told in the 200 spools of a row. Spools of noise alone that
//! show a wave, 200 of each kind, readings every 0.1 m:
//!
//! | noise | 40 readings | 100 | 250 | 600 | 2000 | 4000 | 20 000 |
//! |---|---|---|---|---|---|---|---|
//! | white | 0.0 % | 0.0 % | 0.5 % | 0.0 % | 0.5 % | 0.0 % | 1.0 % |
//! | r 0.5 | 0.5 % | 0.0 % | 0.5 % | 0.0 % | 0.5 % | 0.0 % | 1.0 % |
//! | r 0.8 | 1.0 % | 0.0 % | 1.0 % | 0.0 % | 0.5 % | 0.5 % | 0.5 % |
//! | r 0.9, 30 % white | 0.0 % | 1.0 % | 0.5 % | 0.0 % | 0.0 % | 1.5 % | 0.5 % |
//! | r 0.97 | 0.5 % | 0.0 % | 0.5 % | 0.0 % | 0.0 % | 0.0 % | 0.5 % |
//! | r 0.97, 30 % white | 0.0 % | 1.0 % | 1.0 % | 0.5 % | 0.0 % | 1.0 % | 0.5 % |
//! | r 0.99 and r 0.7 | 0.0 % | 0.5 % | 0.0 % | 0.5 % | 0.0 % | 1.0 % | 1.0 % |
//! | a broad hump about 2 m | 0.0 % | 0.0 % | 0.0 % | 0.5 % | 1.0 % | 0.5 % | 0.5 % |

mod background;
mod few;
mod fisher;
mod grid;
mod lomb_scargle;
mod peaks;
mod scan;
mod shape;
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
