//! Waves in a few readings, all fitted together.

use super::lomb_scargle::LombScargle;

/// Most waves that are fitted.
const WAVES_MAX: usize = 8;
/// Rounds of fitting each wave to what the others leave.
const ROUNDS: u32 = 40;
/// Most readings that are taken; more belong to [`super::WaveScan`].
pub const FEW_MAX: usize = 2000;

/// A wave in a few readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FewWave {
    /// Waves per unit of position.
    pub frequency: f64,
    /// Half the height, in the unit of the readings.
    pub amplitude: f64,
    /// Cosine and sine parts about the mean position.
    parts: (f64, f64),
    /// Chance that independent noise shows so strong a wave at any frequency searched.
    pub false_alarm: f64,
}

impl FewWave {
    /// Length of a wave.
    #[must_use]
    pub fn period(&self) -> f64 {
        1.0 / self.frequency
    }
}

/// What counts as a wave among few readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FewSettings {
    /// Highest frequency searched: half of one over the spacing for even readings.
    pub highest: f64,
    /// Largest chance that noise shows such a wave.
    pub alpha: f64,
    /// Smallest amplitude of interest: below the resolution of the gauge a wave is made of
    /// rounding.
    pub least_amplitude: f64,
}

/// Waves in readings (position, value), highest first: the highest peak of the
/// Lomb-Scargle periodogram is taken off, the next sought in what is left, and after each
/// all are fitted again in turn until they no longer move. The noise is taken as
/// independent. None of fewer than five readings or more than [`FEW_MAX`], where a number
/// is not finite, or nothing varies.
#[must_use]
pub fn waves_of_few(readings: &[(f64, f64)], settings: &FewSettings) -> Option<Vec<FewWave>> {
    if readings.len() > FEW_MAX {
        return None;
    }
    let whole = LombScargle::new(readings)?;
    let mut waves: Vec<FewWave> = Vec::new();
    while waves.len() < WAVES_MAX {
        let Some(rest) = whole.without(parts_of(&waves, None)) else { break };
        let Some(peak) = rest.peak(rest.lowest(), settings.highest) else { break };
        if peak.false_alarm > settings.alpha || peak.amplitude < settings.least_amplitude {
            break;
        }
        waves.push(FewWave {
            frequency: peak.frequency,
            amplitude: peak.amplitude,
            parts: rest.parts(peak.frequency),
            false_alarm: peak.false_alarm,
        });
        fit_in_turn(&whole, &mut waves);
    }
    waves.sort_by(|a, b| b.amplitude.total_cmp(&a.amplitude));
    Some(waves)
}

/// Frequencies and parts of all waves but one.
fn parts_of(waves: &[FewWave], but: Option<usize>) -> impl Iterator<Item = (f64, (f64, f64))> {
    let others = waves.iter().enumerate().filter(move |(place, _)| Some(*place) != but);
    others.map(|(_, wave)| (wave.frequency, wave.parts))
}

/// Fits each wave to what the others leave, until none moves.
fn fit_in_turn(whole: &LombScargle, waves: &mut [FewWave]) {
    for _ in 0..ROUNDS {
        let mut moved = 0.0_f64;
        for place in 0..waves.len() {
            let Some(rest) = whole.without(parts_of(waves, Some(place))) else { continue };
            let Some(wave) = waves.get_mut(place) else { continue };
            let reach = 0.5 * rest.lowest();
            let frequency =
                rest.climbed((wave.frequency - reach).max(0.1 * reach), wave.frequency + reach);
            let parts = rest.parts(frequency);
            let amplitude = parts.0.hypot(parts.1);
            moved = moved.max((amplitude / wave.amplitude - 1.0).abs());
            (wave.frequency, wave.parts, wave.amplitude) = (frequency, parts, amplitude);
        }
        if moved < 1e-9 {
            return;
        }
    }
}
