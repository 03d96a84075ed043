//! Waves along a spool, and what makes them.

use crate::causes;
use crate::line::{Line, Recorded};
use secondmelt_quality::period_match::{PartMatch, SeenWave};
use secondmelt_quality::spectrum::{Peak, ScanSettings, WaveScan, Waves};
use secondmelt_record::findings::Wave;
use secondmelt_record::{Count, Fraction, Name, NonNegative, Out, Positive, Text};

/// The search in one spool.
#[derive(Debug)]
pub struct Search {
    /// None where it is not wanted, or once the log has gone back on itself.
    scan: Option<WaveScan>,
    way_m: f64,
}

impl Search {
    /// Nothing read yet; no search unless it is `wanted`.
    pub fn new(wanted: bool) -> Self {
        let scan = wanted.then(|| WaveScan::new(ScanSettings::default())).flatten();
        Self { scan, way_m: 0.0 }
    }

    /// Takes a diameter, `along_m` after the one before; a gap counts as its length.
    #[inline]
    pub fn push(&mut self, diameter_mm: f64, along_m: f64) {
        self.way_m += along_m;
        if let Some(scan) = &mut self.scan {
            scan.push(self.way_m, diameter_mm);
        }
    }

    /// Gives the search up: what goes back and forth has no spectrum.
    pub fn give_up(&mut self) {
        self.scan = None;
    }

    /// Writes each wave with the part that fits it, and what it does to a lot whose diameter has
    /// the standard deviation `sd_mm`.
    pub fn write(
        &self,
        lot: &str,
        readings_per_m: Option<f64>,
        sd_mm: f64,
        line: &Line,
        out: &mut Out,
    ) {
        let Some(waves) = self.scan.as_ref().and_then(WaveScan::waves) else { return };
        for peak in &waves.peaks {
            let seen = SeenWave {
                frequency_per_m: peak.frequency,
                reach_per_m: (2.0 * peak.frequency_u).max(waves.resolution),
                readings_per_m,
            };
            if let Some(wave) = finding(lot, peak, &waves, &line.fits(lot, &seen)) {
                out.write(&wave);
                if let Some(cause) = causes::of_wave(&wave, sd_mm) {
                    out.write(&cause);
                }
            }
        }
    }
}

fn finding<'a>(
    lot: &'a str,
    peak: &Peak,
    waves: &Waves,
    fits: &[(&'a Recorded, PartMatch)],
) -> Option<Wave<'a>> {
    let best = fits.first();
    let base = peak.harmonic_of.and_then(|(place, _)| waves.peaks.get(place));
    let same = |fit: &&(&Recorded, PartMatch)| {
        best.is_some_and(|best| {
            (fit.1.aliased, fit.1.waves_a_turn) == (best.1.aliased, best.1.waves_a_turn)
        })
    };
    let others: Vec<_> = fits.iter().skip(1).filter(same).map(|(part, _)| part.words()).collect();
    Some(Wave {
        lot: Name::from(lot),
        period_m: Positive::new(peak.period())?,
        u_period_m: NonNegative::new(peak.period_u())?,
        amplitude_mm: NonNegative::new(peak.amplitude)?,
        u_amplitude_mm: NonNegative::new(peak.amplitude_u)?,
        false_alarm: Fraction::new(peak.p)?,
        overtone_of_m: base.and_then(|base| Positive::new(base.period())),
        part: best.map(|(recorded, _)| recorded.part),
        machine: best.map(|(recorded, _)| Name::from(recorded.machine.as_str())),
        part_period_m: best.and_then(|(_, fit)| Positive::new(fit.period_m)),
        waves_a_turn: best.map(|(_, fit)| Count(u64::from(fit.waves_a_turn))),
        or_else: (!others.is_empty()).then(|| Text::from(others.join(", "))),
        shortest_m: Positive::new(waves.shortest)?,
        longest_m: Positive::new(waves.longest)?,
        ..Wave::default()
    })
}
