//! Averaged spectrum of overlapping segments (Welch 1967, IEEE Transactions on Audio and
//! Electroacoustics 15:70).

use realfft::{RealFftPlanner, RealToComplex};
use rustfft::num_complex::Complex;
use std::cell::RefCell;
use std::collections::HashMap;
use std::sync::{Arc, Weak};

/// Squared correlation of the powers of two Hann segments that overlap by half.
const OVERLAP: f64 = 1.0 / 36.0;

/// Sums over segments of evenly spaced values: half overlapping, each with its straight
/// line taken off, under a Hann window.
#[derive(Clone)]
pub struct Welch {
    tools: Arc<Tools>,
    length: usize,
    ring: Vec<f64>,
    before: Vec<Complex<f64>>,
    joined: bool,
    power: Vec<f64>,
    cross: Vec<Complex<f64>>,
    paired: Vec<f64>,
    segments: u32,
    pairs: u32,
}

/// What segments of one length have in common: as long as many spools are looked at, they share it.
struct Tools {
    fft: Arc<dyn RealToComplex<f64>>,
    window: Vec<f64>,
    window_squares: f64,
}

impl Tools {
    #[expect(clippy::cast_precision_loss, reason = "a count")]
    fn new(length: usize) -> Self {
        let hann = |i: usize| {
            let turn = std::f64::consts::TAU * i as f64 / length as f64;
            0.5 - 0.5 * turn.cos()
        };
        let window: Vec<f64> = (0..length).map(hann).collect();
        Self {
            fft: RealFftPlanner::new().plan_fft_forward(length),
            window_squares: window.iter().map(|w| w * w).sum(),
            window,
        }
    }

    /// Those of a length that are in use, or new ones.
    fn shared(length: usize) -> Arc<Self> {
        TOOLS.with_borrow_mut(|known| {
            known.get(&length).and_then(Weak::upgrade).unwrap_or_else(|| {
                known.retain(|_, tools| tools.strong_count() > 0);
                let tools = Arc::new(Self::new(length));
                known.insert(length, Arc::downgrade(&tools));
                tools
            })
        })
    }
}

/// Room for one segment on its way.
#[derive(Default)]
struct Scratch {
    windowed: Vec<f64>,
    spectrum: Vec<Complex<f64>>,
    inner: Vec<Complex<f64>>,
}

thread_local! {
    static TOOLS: RefCell<HashMap<usize, Weak<Tools>>> = RefCell::default();
    static SCRATCH: RefCell<Scratch> = RefCell::default();
}

impl std::fmt::Debug for Welch {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Welch")
            .field("length", &self.length())
            .field("segments", &self.segments)
            .finish_non_exhaustive()
    }
}

impl Welch {
    /// Segments of `length` values, an even number from 8 to 65 536.
    #[must_use]
    pub fn new(length: usize) -> Option<Self> {
        if !(8..=65_536).contains(&length) || !length.is_multiple_of(2) {
            return None;
        }
        let none = Complex::new(0.0, 0.0);
        Some(Self {
            tools: Tools::shared(length),
            length,
            ring: Vec::with_capacity(length),
            before: vec![none; length / 2],
            joined: false,
            power: vec![0.0; length / 2],
            cross: vec![none; length / 2],
            paired: vec![0.0; length / 2],
            segments: 0,
            pairs: 0,
        })
    }

    /// Length of a segment.
    #[must_use]
    pub fn length(&self) -> usize {
        self.length
    }

    /// Segments so far.
    #[must_use]
    pub fn segments(&self) -> u32 {
        self.segments
    }

    /// Adds a value.
    pub fn push(&mut self, x: f64) {
        self.ring.push(x);
        if self.ring.len() == self.length {
            self.fill();
        }
    }

    /// Values after this do not join on to those before.
    pub fn gap(&mut self) {
        self.ring.clear();
        self.joined = false;
    }

    #[cold]
    fn fill(&mut self) {
        SCRATCH.with_borrow_mut(|scratch| self.take_segment(scratch));
        self.ring.drain(..self.length / 2);
    }

    fn take_segment(&mut self, scratch: &mut Scratch) {
        let Tools { fft, window, window_squares } = &*self.tools;
        let (mean, slope) = line_through(&self.ring);
        let middle = half_of(self.ring.len());
        let mut at = -middle;
        let Scratch { windowed, spectrum, inner } = scratch;
        windowed.clear();
        windowed.extend(self.ring.iter().zip(window).map(|(x, w)| {
            let value = (x - mean - slope * at) * w;
            at += 1.0;
            value
        }));
        let none = Complex::new(0.0, 0.0);
        spectrum.resize(fft.complex_len(), none);
        inner.resize(fft.get_scratch_len(), none);
        // It refuses buffers of another length only, and these are made to measure.
        if fft.process_with_scratch(windowed, spectrum, inner).is_err() {
            return;
        }
        self.segments = self.segments.saturating_add(1);
        self.pairs = self.pairs.saturating_add(u32::from(self.joined));
        let sums = self.power.iter_mut().zip(&mut self.cross).zip(&mut self.paired);
        let spectra = self.before.iter_mut().zip(&*spectrum);
        for (((power, cross), paired), (before, now)) in sums.zip(spectra) {
            *power += now.norm_sqr() / window_squares;
            if self.joined {
                *cross += now * before.conj() / window_squares;
                *paired += 0.5 * (now.norm_sqr() + before.norm_sqr()) / window_squares;
            }
            *before = *now;
        }
        self.joined = true;
    }

    /// Mean power at each whole number of waves in a segment, from none to one less than
    /// half its length; white noise has its variance in each. None without a segment.
    #[must_use]
    pub fn power(&self) -> Option<Vec<f64>> {
        let count = f64::from(self.segments);
        (self.segments > 0).then(|| self.power.iter().map(|power| power / count).collect())
    }

    /// Equivalent degrees of freedom of a power.
    #[must_use]
    pub fn freedom(&self) -> f64 {
        let (segments, pairs) = (f64::from(self.segments), f64::from(self.pairs));
        2.0 * segments / (1.0 + 2.0 * OVERLAP * pairs / segments.max(1.0))
    }

    /// Mean advance of the wave near a bin from one segment to the next: in waves, between
    /// -1/2 and 1/2 and free of whole waves, and its standard uncertainty. None without two
    /// joined segments.
    #[must_use]
    pub fn advance(&self, bin: usize) -> Option<(f64, f64)> {
        if self.pairs == 0 {
            return None;
        }
        let lobe = bin.checked_sub(1)?..(bin + 2).min(self.cross.len());
        let sum: Complex<f64> = self.cross.get(lobe.clone())?.iter().sum();
        let power: f64 = self.paired.get(lobe)?.iter().sum();
        let coherence = (sum.norm() / power).clamp(1e-6, 1.0 - 1e-12);
        let spread = (-2.0 * coherence.ln() / f64::from(self.pairs)).sqrt();
        let turn = std::f64::consts::TAU;
        sum.norm().is_normal().then(|| (sum.arg() / turn, spread / turn))
    }
}

/// Half of one less than a count.
#[expect(clippy::cast_precision_loss, reason = "a count")]
fn half_of(count: usize) -> f64 {
    0.5 * (count as f64 - 1.0)
}

/// Mean and slope of a straight line through values, the slope about their middle.
#[expect(clippy::cast_precision_loss, reason = "a count")]
fn line_through(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let middle = half_of(values.len());
    let mean = values.iter().sum::<f64>() / n;
    let mut at = -middle;
    let mut tilt = 0.0;
    for x in values {
        tilt += at * (x - mean);
        at += 1.0;
    }
    (mean, 12.0 * tilt / (n * (n * n - 1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wave_of_whole_numbers_puts_a_quarter_of_its_squared_height_into_its_lobe() {
        let mut welch = Welch::new(64).unwrap();
        for i in 0..640 {
            welch.push(5.0 + 3.0 * (std::f64::consts::TAU * 8.0 * f64::from(i) / 64.0).cos());
        }
        let power = welch.power().unwrap();
        let lobe: f64 = power[6..=10].iter().sum();
        assert!((4.0 * lobe / 64.0 - 9.0).abs() < 0.01, "{lobe}");
        assert_eq!(welch.segments(), 19);
        let (advance, u) = welch.advance(8).unwrap();
        assert!(advance.abs() < 1e-6 && u < 1e-3, "{advance} {u}");
    }

    /// Computed with scipy 1.17.1: signal.welch(x, window='hann', nperseg=64, noverlap=32,
    /// detrend='linear'), whose one-sided density is twice the power here.
    #[test]
    fn powers_agree_with_a_general_library() {
        let mut welch = Welch::new(64).unwrap();
        for i in 0..200 {
            let i = f64::from(i);
            let wave = 0.005 * (std::f64::consts::TAU * i / 9.7).sin();
            welch.push(1.75 + 0.01 * (1.3 * i * i).cos() + wave + 1e-4 * i);
        }
        let power = welch.power().unwrap();
        for (k, computed) in [
            (1, 1.794_193_853_905e-6),
            (3, 1.593_085_563_641e-5),
            (6, 1.863_792_303_610e-4),
            (7, 2.485_963_294_433e-4),
            (10, 7.968_857_810_010e-6),
            (20, 2.715_176_338_999e-5),
            (31, 8.671_452_924_402e-5),
        ] {
            assert!((power[k] / computed - 1.0).abs() < 1e-8, "{k}: {}", power[k]);
        }
    }

    #[test]
    fn a_straight_line_has_no_power() {
        let mut welch = Welch::new(32).unwrap();
        (0..100).for_each(|i| welch.push(1.0 + 0.5 * f64::from(i)));
        assert!(welch.power().unwrap().iter().all(|power| *power < 1e-20));
    }

    #[test]
    fn segments_do_not_reach_across_a_gap() {
        let mut welch = Welch::new(32).unwrap();
        for _ in 0..5 {
            (0..31).for_each(|i| welch.push(f64::from(i)));
            welch.gap();
        }
        assert_eq!((welch.segments(), welch.power()), (0, None));
        assert!(Welch::new(7).is_none() && Welch::new(0).is_none());
    }
}
