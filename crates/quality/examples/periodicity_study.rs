//! How often waves of known height and length are found in noise, and how often noise
//! alone shows one: the study whose results stand in the documentation of `spectrum`.
//!
//! Run it with `cargo run --release -p secondmelt-quality --example periodicity_study`.

#![expect(clippy::print_stdout, reason = "a study prints its results")]

use secondmelt_quality::spectrum::{ScanSettings, WaveScan, Waves};

#[path = "../tests/noise/mod.rs"]
mod noise;
use noise::Noise;

const RUNS: u64 = 200;

/// A spool of 200 m: noise of 0.01 mm and a wave.
#[derive(Clone, Copy)]
struct Spool {
    spacing_m: f64,
    lag1: f64,
    /// Share of the noise's variance that is the gauge's own, without memory.
    white: f64,
    amplitude_mm: f64,
    period_m: f64,
}

fn searched(spool: Spool, seed: u64) -> Option<Waves> {
    let n = (200.0 / spool.spacing_m) as usize;
    let mut noise = Noise::of(seed);
    let phase = std::f64::consts::TAU * noise.even();
    let wander = noise.following(n, spool.lag1);
    let mut scan = WaveScan::new(ScanSettings::default())?;
    for (i, z) in wander.iter().enumerate() {
        let position_m = spool.spacing_m * i as f64;
        let turn = std::f64::consts::TAU * position_m / spool.period_m;
        let noise_mm =
            0.01 * ((1.0 - spool.white).sqrt() * z + spool.white.sqrt() * noise.normal());
        let reading = 1.75 + spool.amplitude_mm * (turn + phase).sin() + noise_mm;
        // The gauge reads whole micrometres.
        scan.push(position_m, (reading * 1000.0).round() / 1000.0);
    }
    scan.waves()
}

fn main() {
    println!(
        "spacing lag1 white  period   found   worst period error   worst amplitude error   extra"
    );
    for spacing_m in [0.05, 0.1] {
        for (lag1, white) in [(0.0, 0.0), (0.5, 0.0), (0.8, 0.0), (0.9, 0.3)] {
            for period_m in [0.26, 0.7, 2.3, 6.1] {
                found_row(Spool { spacing_m, lag1, white, amplitude_mm: 0.008, period_m });
            }
        }
    }
    println!("spacing lag1 white  spools with a wave that is not there");
    for spacing_m in [0.05, 0.1, 0.3] {
        for (lag1, white) in
            [(0.0, 0.0), (0.5, 0.0), (0.9, 0.0), (0.97, 0.0), (0.99, 0.0), (0.97, 0.3), (-0.3, 0.0)]
        {
            let spool = Spool { spacing_m, lag1, white, amplitude_mm: 0.0, period_m: 1.0 };
            let shown = (0..RUNS)
                .filter(|seed| searched(spool, *seed).is_some_and(|w| !w.peaks.is_empty()));
            println!(
                "{spacing_m:7} {lag1:4} {white:5}  {:.1} %",
                100.0 * shown.count() as f64 / RUNS as f64
            );
        }
    }
}

fn found_row(spool: Spool) {
    let (mut found, mut extra, mut worst_period, mut worst_amplitude) = (0, 0, 0.0_f64, 0.0_f64);
    let (mut within, mut within_a) = (0, 0);
    for seed in 0..RUNS {
        let Some(waves) = searched(spool, seed) else { continue };
        let off = |period: f64| (period / spool.period_m - 1.0).abs();
        let Some(peak) = waves.peaks.first().filter(|peak| off(peak.period()) < 0.05) else {
            continue;
        };
        found += 1;
        extra += waves.peaks.len() - 1;
        worst_period = worst_period.max(off(peak.period()));
        worst_amplitude = worst_amplitude.max((peak.amplitude / spool.amplitude_mm - 1.0).abs());
        within_a +=
            u32::from((peak.amplitude - spool.amplitude_mm).abs() <= 2.0 * peak.amplitude_u);
        within += u32::from((peak.period() - spool.period_m).abs() <= 2.0 * peak.period_u());
    }
    let Spool { spacing_m, lag1, white, period_m, .. } = spool;
    println!(
        "{spacing_m:7} {lag1:4} {white:5} {period_m:5} m {:6.1} % {:10.4} % {:17.1} % {extra:18}  within 2u {within} {within_a}",
        100.0 * f64::from(found) / RUNS as f64,
        100.0 * worst_period,
        100.0 * worst_amplitude
    );
}
