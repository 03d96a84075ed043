//! Waves that stand out of the background of an averaged spectrum.

use super::background::{Background, background};
use super::scan::ScanSettings;
use super::welch::Welch;
use crate::tails::f_above;

/// Fewest waves in a segment; longer ones cannot be told from drift.
const FEWEST_WAVES: usize = 3;
/// Bins on either side of a peak that belong to it under a Hann window.
const LOBE: usize = 2;
/// Most waves that are told.
const PEAKS_MAX: usize = 16;
/// Highest harmonic that is recognised.
const HARMONIC_MAX: u32 = 8;

/// A wave.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peak {
    /// Waves per unit of position.
    pub frequency: f64,
    /// Standard uncertainty of the frequency.
    pub frequency_u: f64,
    /// Half the height of the wave, in the unit of the readings.
    pub amplitude: f64,
    /// Standard uncertainty of the amplitude, from the background.
    pub amplitude_u: f64,
    /// Power over that of the background.
    pub ratio: f64,
    /// Chance that noise with this background shows such a peak anywhere.
    pub p: f64,
    /// Which of the peaks this is a harmonic of, and which one: its place in the list, and
    /// 2 for the first overtone.
    pub harmonic_of: Option<(usize, u32)>,
}

impl Peak {
    /// Length of a wave.
    #[must_use]
    pub fn period(&self) -> f64 {
        1.0 / self.frequency
    }

    /// Standard uncertainty of the length.
    #[must_use]
    pub fn period_u(&self) -> f64 {
        self.frequency_u / (self.frequency * self.frequency)
    }
}

/// Waves found in a spectrum, and what it can show.
#[derive(Debug, Clone, PartialEq)]
pub struct Waves {
    /// The waves, highest first.
    pub peaks: Vec<Peak>,
    /// Distance below which two frequencies are seen as one: two bins.
    pub resolution: f64,
    /// Longest wave that is looked for: a third of a segment.
    pub longest: f64,
    /// Shortest wave that can be seen: two steps of the grid. A shorter one shows at the
    /// frequency that [`super::apparent_frequency`] gives.
    pub shortest: f64,
    /// Length of a segment.
    pub segment: f64,
    /// Number of segments averaged.
    pub segments: u32,
}

/// The spectrum as far as peaks have been taken from it.
struct Search<'a> {
    welch: &'a Welch,
    power: Vec<f64>,
    background: Background,
    /// What peaks already taken leak into each bin, at most.
    leaked: Vec<f64>,
    step: f64,
}

/// Waves in the segments, values being `step` apart, that noise would show with no more
/// than the chance set. None of fewer than one segment or too short ones.
pub(super) fn waves(welch: &Welch, step: f64, settings: &ScanSettings) -> Option<Waves> {
    let power: Vec<f64> = welch.power()?.into_iter().skip(FEWEST_WAVES).collect();
    let background = background(&power, FEWEST_WAVES, welch.length(), welch.freedom());
    let mut peaks: Vec<Peak> = Vec::new();
    if let Some(background) = background {
        let leaked = vec![0.0; power.len()];
        let mut search = Search { welch, power, background, leaked, step };
        while peaks.len() < PEAKS_MAX
            && let Some(peak) = search.strongest(settings.alpha)
        {
            peaks.push(peak);
        }
    }
    peaks.retain(|peak| peak.amplitude >= settings.least_amplitude);
    peaks.sort_by(|a, b| b.amplitude.total_cmp(&a.amplitude));
    mark_harmonics(&mut peaks);
    #[expect(clippy::cast_precision_loss, reason = "a count")]
    let segment = welch.length() as f64 * step;
    Some(Waves {
        peaks,
        resolution: 2.0 / segment,
        longest: segment / 3.0,
        shortest: 2.0 * step,
        segment,
        segments: welch.segments(),
    })
}

impl Search<'_> {
    fn ratio(&self, k: usize) -> Option<f64> {
        let below = self.background.powers.get(k)? + self.leaked.get(k)?;
        Some(self.power.get(k)? / below)
    }

    /// Takes the peak that stands out most, if it stands out enough.
    fn strongest(&mut self, alpha: f64) -> Option<Peak> {
        let is_top = |k: &usize| {
            let at = |k: usize| self.power.get(k).copied().unwrap_or(0.0);
            at(*k) >= at(k + 1) && (*k == 0 || at(*k) >= at(k - 1))
        };
        let ratios = (0..self.power.len()).filter(is_top).filter_map(|k| Some((k, self.ratio(k)?)));
        let (place, ratio) = ratios.max_by(|a, b| a.1.total_cmp(&b.1))?;
        let below = *self.background.freedoms.get(place)?;
        let single = f_above(ratio, self.welch.freedom(), below)?;
        #[expect(clippy::cast_precision_loss, reason = "a count")]
        let p = -((-single).ln_1p() * self.power.len() as f64).exp_m1();
        if p.is_nan() || p > alpha {
            return None;
        }
        let (bins, bins_u) = self.frequency_in_bins(place);
        let amplitude = self.amplitude(place);
        self.leak(bins, amplitude);
        let bin = 1.0 / (self.step * self.length());
        Some(Peak {
            frequency: bins * bin,
            frequency_u: bins_u * bin,
            amplitude,
            amplitude_u: self.amplitude_u(place),
            ratio,
            p,
            harmonic_of: None,
        })
    }

    #[expect(clippy::cast_precision_loss, reason = "a count")]
    fn length(&self) -> f64 {
        self.welch.length() as f64
    }

    /// Power above the background at a place.
    fn above(&self, k: usize) -> f64 {
        let (power, below) = (self.power.get(k), self.background.powers.get(k));
        power.zip(below).map_or(0.0, |(power, below)| (power - below).max(0.0))
    }

    /// Height of the wave from all that its lobe holds above the background: a sine of
    /// amplitude a puts a^2 N / 4 into it.
    fn amplitude(&self, place: usize) -> f64 {
        let lobe = place.saturating_sub(LOBE)..=place + LOBE;
        let sum: f64 = lobe
            .map(|k| match (self.power.get(k), self.background.powers.get(k)) {
                (Some(power), Some(below)) => power - below,
                _ => 0.0,
            })
            .sum();
        (4.0 * sum.max(0.0) / self.length()).sqrt()
    }

    /// Noise in the amplitude: of n readings with power b about the frequency it has
    /// variance 2 b / n; half as much again for the Hann window, and a quarter for noise in
    /// the outer bins of the lobe.
    fn amplitude_u(&self, place: usize) -> f64 {
        let below = self.background.powers.get(place).copied().unwrap_or(0.0);
        (7.5 * below / (self.length() * self.welch.freedom())).sqrt()
    }

    /// Frequency in bins with its uncertainty: from the two highest bins of the lobe (the
    /// Hann window fixes their ratio), then, where segments join, from how far the wave
    /// advances from one to the next.
    fn frequency_in_bins(&self, place: usize) -> (f64, f64) {
        #[expect(clippy::cast_precision_loss, reason = "a count")]
        let bin = (place + FEWEST_WAVES) as f64;
        let left = if place == 0 { 0.0 } else { self.above(place - 1) };
        let (right, top) = (self.above(place + 1), self.above(place));
        let share = |beside: f64| {
            let a = (beside / top).sqrt();
            ((2.0 * a - 1.0) / (a + 1.0)).clamp(-0.5, 0.5)
        };
        let coarse = if top <= 0.0 {
            bin
        } else if right >= left {
            bin + share(right)
        } else {
            bin - share(left)
        };
        let Some((advance, u)) = self.welch.advance(place + FEWEST_WAVES) else {
            return (coarse, 0.25);
        };
        // A segment starts half a segment after the one before: half a wave a bin.
        let waves = advance + (0.5 * coarse - advance).round();
        (2.0 * waves, (2.0 * u).min(0.5))
    }

    /// Adds what a wave leaks into other bins: in its lobe all is its own, beyond it the
    /// envelope of the Hann window's side lobes, doubled.
    fn leak(&mut self, bins: f64, amplitude: f64) {
        let full = amplitude * amplitude * self.length() / 6.0;
        #[expect(clippy::cast_precision_loss, reason = "a count")]
        for (k, leaked) in self.leaked.iter_mut().enumerate() {
            let distance = ((k + FEWEST_WAVES) as f64 - bins).abs();
            *leaked += if distance < 2.5 {
                f64::MAX / 64.0
            } else {
                let side = std::f64::consts::PI * distance * (distance * distance - 1.0);
                2.0 * full / (side * side)
            };
        }
    }
}

/// Marks peaks whose frequency is a whole multiple of a lower peak's, within twice their
/// joint uncertainty or a quarter of a bin, whichever is more.
fn mark_harmonics(peaks: &mut [Peak]) {
    let all = peaks.to_vec();
    for peak in peaks.iter_mut() {
        let lower = all.iter().enumerate().filter(|(_, other)| other.frequency < peak.frequency);
        peak.harmonic_of = lower
            .filter_map(|(place, other)| Some((place, other.frequency, harmonic(peak, other)?)))
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(place, _, multiple)| (place, multiple));
    }
}

fn harmonic(peak: &Peak, lower: &Peak) -> Option<u32> {
    let multiple = (2..=HARMONIC_MAX).min_by(|a, b| {
        let off = |m: u32| (peak.frequency - f64::from(m) * lower.frequency).abs();
        off(*a).total_cmp(&off(*b))
    })?;
    let m = f64::from(multiple);
    let allowed = 2.0 * peak.frequency_u.hypot(m * lower.frequency_u);
    let allowed = allowed.max(1e-3 * peak.frequency);
    ((peak.frequency - m * lower.frequency).abs() <= allowed).then_some(multiple)
}
