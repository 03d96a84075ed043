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
/// Standard deviation of the noise.
const NOISE_MM: f64 = 0.01;
const AMPLITUDE_MM: f64 = 0.008;

/// Noise by the parts of its variance: shares with a lag-1 autocorrelation each.
struct Kind {
    name: &'static str,
    parts: &'static [(f64, f64)],
    /// Share that swings about a period of 20 readings without keeping step.
    swinging: f64,
}

const KINDS: [Kind; 8] = [
    Kind { name: "white", parts: &[(1.0, 0.0)], swinging: 0.0 },
    Kind { name: "r 0.5", parts: &[(1.0, 0.5)], swinging: 0.0 },
    Kind { name: "r 0.8", parts: &[(1.0, 0.8)], swinging: 0.0 },
    Kind { name: "r 0.9, 30 % white", parts: &[(0.7, 0.9), (0.3, 0.0)], swinging: 0.0 },
    Kind { name: "r 0.97", parts: &[(1.0, 0.97)], swinging: 0.0 },
    Kind { name: "r 0.97, 30 % white", parts: &[(0.7, 0.97), (0.3, 0.0)], swinging: 0.0 },
    Kind { name: "r 0.99 and r 0.7", parts: &[(0.5, 0.99), (0.5, 0.7)], swinging: 0.0 },
    Kind { name: "a broad hump", parts: &[(0.3, 0.5)], swinging: 0.7 },
];

impl Kind {
    fn noise(&self, n: usize, source: &mut Noise) -> Vec<f64> {
        let mut sum = vec![0.0; n];
        for (share, r) in self.parts {
            let part = source.following(n, *r);
            sum.iter_mut().zip(part).for_each(|(sum, x)| *sum += share.sqrt() * x);
        }
        if self.swinging > 0.0 {
            let part = source.swinging(n, 0.75, 20.0);
            sum.iter_mut().zip(part).for_each(|(sum, x)| *sum += self.swinging.sqrt() * x);
        }
        sum
    }
}

/// Searches a spool; no wave where `period_m` is none.
fn searched(
    kind: &Kind,
    n: usize,
    spacing_m: f64,
    period_m: Option<f64>,
    seed: u64,
) -> Option<Waves> {
    let mut source = Noise::of(seed);
    let phase = std::f64::consts::TAU * source.even();
    let mut scan = WaveScan::new(ScanSettings::default())?;
    for (i, z) in kind.noise(n, &mut source).iter().enumerate() {
        let position_m = spacing_m * i as f64;
        let turn = |period_m| std::f64::consts::TAU * position_m / period_m + phase;
        let wave_mm = period_m.map_or(0.0, |period_m| AMPLITUDE_MM * turn(period_m).sin());
        let reading = 1.75 + NOISE_MM * z + wave_mm;
        // The gauge reads whole micrometres.
        scan.push(position_m, (reading * 1000.0).round() / 1000.0);
    }
    scan.waves()
}

fn main() {
    println!("A wave of 0.008 mm in noise of 0.01 mm over 200 m, {RUNS} spools each");
    println!(
        "{:>20} {:>7} {:>6} {:>7} {:>9} {:>9} {:>6} {:>6} {:>6}",
        "noise", "spacing", "period", "found", "period", "height", "in 2 u", "in 2 u", "others"
    );
    for kind in &KINDS[..4] {
        for spacing_m in [0.05, 0.1] {
            for period_m in [0.26, 0.7, 2.3, 6.1] {
                found_row(kind, spacing_m, period_m);
            }
        }
    }
    println!("Spools of noise alone, {RUNS} each, that show a wave, by length in readings");
    let lengths = [40, 100, 250, 600, 2000, 4000, 20_000];
    println!("{:>20} {}", "noise", lengths.map(|n| format!("{n:>8}")).concat());
    for kind in &KINDS {
        let shown = lengths.map(|n| {
            let shows = |seed: &u64| {
                searched(kind, n, 0.1, None, *seed).is_some_and(|w| !w.peaks.is_empty())
            };
            let share = (0..RUNS).filter(shows).count() as f64 / RUNS as f64;
            format!("{:>6.1} %", 100.0 * share)
        });
        println!("{:>20} {}", kind.name, shown.concat());
    }
}

/// How often a wave is found within 1.5 % of its period, the worst errors of period and
/// height among those found, how many intervals of two uncertainties hold the truth, and
/// how many other waves were told.
fn found_row(kind: &Kind, spacing_m: f64, period_m: f64) {
    let (mut found, mut others, mut worst_period, mut worst_height) = (0, 0, 0.0_f64, 0.0_f64);
    let (mut period_held, mut height_held) = (0, 0);
    for seed in 0..RUNS {
        let n = (200.0 / spacing_m) as usize;
        let Some(waves) = searched(kind, n, spacing_m, Some(period_m), seed) else { continue };
        let off = |period: f64| (period / period_m - 1.0).abs();
        let Some(peak) = waves.peaks.iter().find(|peak| off(peak.period()) < 0.015) else {
            continue;
        };
        found += 1;
        others += waves.peaks.len() - 1;
        worst_period = worst_period.max(off(peak.period()));
        worst_height = worst_height.max((peak.amplitude / AMPLITUDE_MM - 1.0).abs());
        period_held += u32::from((peak.period() - period_m).abs() <= 2.0 * peak.period_u());
        height_held += u32::from((peak.amplitude - AMPLITUDE_MM).abs() <= 2.0 * peak.amplitude_u);
    }
    let share = |count: u32| 100.0 * f64::from(count) / RUNS as f64;
    println!(
        "{:>20} {spacing_m:>5} m {period_m:>4} m {:>5.1} % {:>7.3} % {:>7.1} % {:>4.0} % {:>4.0} % {others:>6}",
        kind.name,
        share(found),
        100.0 * worst_period,
        100.0 * worst_height,
        share(period_held),
        share(height_held),
    );
}
