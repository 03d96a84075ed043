//! Which turning part of the line a wave in the diameter comes from.
//!
//! A part that makes one error a turn leaves waves as long as the filament that passes in
//! one turn: line speed over turns a minute, or pi times the diameter of a roller that the
//! filament runs over, whatever the speed (which is how the two are told apart). Common
//! practice; the lengths are plain kinematics, and no draw after the part is allowed for.

use crate::spectrum::apparent_frequency;

/// Length in m of the wave of a part with `turns_min` turns a minute in a line that runs at
/// `line_speed_m_min`. None unless both are above zero.
#[must_use]
pub fn turning_period_m(line_speed_m_min: f64, turns_min: f64) -> Option<f64> {
    quotient(line_speed_m_min, turns_min)
}

/// Length in m of the wave of an uneven roller of `diameter_mm`: its circumference. None
/// unless it is above zero.
#[must_use]
pub fn roller_period_m(diameter_mm: f64) -> Option<f64> {
    quotient(std::f64::consts::PI * diameter_mm, 1000.0)
}

/// Readings a second that show a wave of `period_m` with `readings_a_wave`: two at least
/// (sampling theorem), ten are wanted (common practice).
#[must_use]
pub fn readings_per_s(line_speed_m_min: f64, period_m: f64, readings_a_wave: f64) -> Option<f64> {
    quotient(line_speed_m_min * readings_a_wave, 60.0 * period_m)
}

fn quotient(above: f64, below: f64) -> Option<f64> {
    let quotient = above / below;
    (above > 0.0 && below > 0.0 && quotient.is_finite() && quotient > 0.0).then_some(quotient)
}

/// A part that turns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TurningPart {
    /// Turns at a rate of its own, as a screw does.
    Turns {
        /// Turns a minute.
        rpm: f64,
    },
    /// The filament runs over it without slip.
    Roller {
        /// Diameter in mm.
        diameter_mm: f64,
    },
    /// Geared to the screw.
    Geared {
        /// Turns of the screw a minute.
        screw_rpm: f64,
        /// Turns of this part for one turn of the screw.
        turns_a_screw_turn: f64,
    },
}

impl TurningPart {
    /// Length in m of its wave in a line at `line_speed_m_min`; a roller needs no speed.
    #[must_use]
    pub fn period_m(&self, line_speed_m_min: Option<f64>) -> Option<f64> {
        match *self {
            Self::Turns { rpm } => turning_period_m(line_speed_m_min?, rpm),
            Self::Roller { diameter_mm } => roller_period_m(diameter_mm),
            Self::Geared { screw_rpm, turns_a_screw_turn } => {
                turning_period_m(line_speed_m_min?, screw_rpm * turns_a_screw_turn)
            }
        }
    }
}

/// A wave to be explained.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeenWave {
    /// Waves a metre.
    pub frequency_per_m: f64,
    /// Largest difference of frequency that still counts as the same, waves a metre: twice
    /// the uncertainty of the frequency, and no less than the spectrum can tell apart.
    pub reach_per_m: f64,
    /// Readings a metre, if waves may be shorter than two readings and so show at another
    /// frequency.
    pub readings_per_m: Option<f64>,
}

/// What is known of the line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineSettings {
    /// Speed of the filament in m/min.
    pub line_speed_m_min: Option<f64>,
    /// Share by which a speed, a rate or a diameter given may be off, 0.02 for 2 %.
    pub settings_off: f64,
}

/// A part that fits a wave.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PartMatch {
    /// Place of the part in the list.
    pub part: usize,
    /// How many waves it makes a turn.
    pub waves_a_turn: u32,
    /// Length of the wave that the part would make, in m.
    pub period_m: f64,
    /// Frequency at which that shows, waves a metre.
    pub frequency_per_m: f64,
    /// Difference from the wave seen over what is allowed; at most one.
    pub off: f64,
    /// Whether it shows at another frequency than its own, being shorter than two readings.
    pub aliased: bool,
}

/// Waves a turn that are tried: a part may have two, three or four uneven places.
const WAVES_A_TURN: u32 = 4;

/// Parts that fit a wave, best first: one wave a turn before several, a wave at its own
/// frequency before one that shows at another, then the closest. Where two fit equally
/// well, the readings do not tell them apart; run the line at another speed.
#[must_use]
pub fn matching_parts(
    wave: &SeenWave,
    parts: &[TurningPart],
    line: &LineSettings,
) -> Vec<PartMatch> {
    let of_part = |(place, part): (usize, &TurningPart)| {
        let period_m = part.period_m(line.line_speed_m_min)?;
        let fits = |waves| fit(wave, place, period_m / f64::from(waves), waves, line.settings_off);
        (1..=WAVES_A_TURN).find_map(fits)
    };
    let mut found: Vec<PartMatch> = parts.iter().enumerate().filter_map(of_part).collect();
    found.sort_by(|a, b| {
        let rank = |m: &PartMatch| (m.aliased, m.waves_a_turn);
        rank(a).cmp(&rank(b)).then(a.off.total_cmp(&b.off))
    });
    found
}

fn fit(
    wave: &SeenWave,
    part: usize,
    period_m: f64,
    waves_a_turn: u32,
    settings_off: f64,
) -> Option<PartMatch> {
    let own = 1.0 / period_m;
    let rate = wave.readings_per_m.filter(|rate| own > 0.5 * rate);
    let shown = match rate {
        Some(rate) => apparent_frequency(own, rate)?,
        None => own,
    };
    let allowed = wave.reach_per_m.max(0.0) + own * settings_off.max(0.0);
    let off = (wave.frequency_per_m - shown).abs() / allowed;
    // What may show anywhere explains nothing: no overtones at a frequency not their own,
    // and no wave whose length is hardly known.
    let vague = rate.is_some_and(|rate| waves_a_turn > 1 || allowed > 0.1 * rate);
    (off <= 1.0 && !vague).then_some(PartMatch {
        part,
        waves_a_turn,
        period_m,
        frequency_per_m: shown,
        off,
        aliased: rate.is_some(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const LINE: LineSettings = LineSettings { line_speed_m_min: Some(6.0), settings_off: 0.02 };

    fn wave(period_m: f64) -> SeenWave {
        SeenWave { frequency_per_m: 1.0 / period_m, reach_per_m: 0.02, readings_per_m: Some(20.0) }
    }

    const PARTS: [TurningPart; 3] = [
        TurningPart::Turns { rpm: 20.0 },
        TurningPart::Roller { diameter_mm: 60.0 },
        TurningPart::Geared { screw_rpm: 20.0, turns_a_screw_turn: 4.2 },
    ];

    #[test]
    fn a_wave_is_traced_to_the_part_that_makes_it() {
        let parts = |period| {
            matching_parts(&wave(period), &PARTS, &LINE).iter().map(|m| m.part).collect::<Vec<_>>()
        };
        assert_eq!(parts(0.3), [0]);
        assert_eq!(parts(0.1885), [1]);
        assert_eq!(parts(0.23), [] as [usize; 0]);
        let twice = matching_parts(&wave(0.15), &PARTS, &LINE);
        assert_eq!((twice[0].part, twice[0].waves_a_turn), (0, 2));
    }

    #[test]
    fn a_wave_shorter_than_two_readings_is_traced_through_its_alias() {
        // 84 turns a minute at 6 m a minute are 14 waves a metre; 20 readings a metre show
        // them at 6.
        let found = matching_parts(&wave(1.0 / 6.0), &PARTS, &LINE);
        assert!(found.iter().any(|m| m.part == 2 && m.aliased), "{found:?}");
    }

    #[test]
    fn without_a_line_speed_only_rollers_are_known() {
        let line = LineSettings { line_speed_m_min: None, ..LINE };
        assert!(matching_parts(&wave(0.3), &PARTS, &line).is_empty());
        assert_eq!(matching_parts(&wave(0.1885), &PARTS, &line).len(), 1);
    }

    #[test]
    fn what_does_not_turn_makes_no_wave() {
        assert_eq!(turning_period_m(6.0, 0.0), None);
        assert_eq!(turning_period_m(-6.0, 10.0), None);
        assert_eq!(roller_period_m(f64::NAN), None);
        assert_eq!(readings_per_s(6.0, 0.0, 2.0), None);
    }

    proptest! {
        #[test]
        fn a_part_fits_its_own_wave_and_only_a_roller_keeps_it_at_another_speed(
            rpm in 5.0_f64..60.0, diameter_mm in 20.0_f64..120.0, speed in 2.0_f64..12.0,
        ) {
            let parts = [TurningPart::Turns { rpm }, TurningPart::Roller { diameter_mm }];
            for (place, part) in parts.iter().enumerate() {
                let line = LineSettings { line_speed_m_min: Some(speed), settings_off: 0.01 };
                let period_m = part.period_m(Some(speed)).unwrap();
                let seen = SeenWave { frequency_per_m: 1.0 / period_m, reach_per_m: 1e-6, readings_per_m: None };
                prop_assert!(matching_parts(&seen, &parts, &line).iter().any(|m| m.part == place && m.off < 1e-6));
                let faster = LineSettings { line_speed_m_min: Some(1.3 * speed), ..line };
                let still = matching_parts(&seen, &parts[place..=place], &faster).iter().any(|m| m.waves_a_turn == 1);
                prop_assert_eq!(still, place == 1);
            }
        }
    }
}
