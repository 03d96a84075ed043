//! What each accumulator costs for one reading, in nanoseconds.
//!
//! Run it with `cargo run --release -p secondmelt-quality --example cost_per_reading`.

#![expect(clippy::print_stdout, reason = "a measurement prints its results")]

use secondmelt_quality::autocorrelation::Lags;
use secondmelt_quality::chart::{Baseline, Individuals, Subgrouper};
use secondmelt_quality::cusum::Cusum;
use secondmelt_quality::ewma::Ewma;
use secondmelt_quality::regression::{DriftSums, LineSums};
use secondmelt_quality::run_rules::{NELSON, RunRules};
use secondmelt_quality::spectrum::{ScanSettings, WaveScan};
use std::hint::black_box;
use std::time::Instant;

#[path = "../tests/noise/mod.rs"]
mod noise;

const READINGS: usize = 1_000_000;

fn main() {
    let readings: Vec<f64> =
        noise::Noise::of(1).following(READINGS, 0.9).iter().map(|z| 1.75 + 0.01 * z).collect();
    let time = |name: &str, push: &mut dyn FnMut(usize, f64)| {
        let start = Instant::now();
        readings.iter().enumerate().for_each(|(i, x)| push(i, *x));
        println!("{name:>24} {:>7.1} ns", start.elapsed().as_nanos() as f64 / READINGS as f64);
    };

    let (mut subgrouper, mut baseline) = (Subgrouper::new(5), Baseline::default());
    time("subgroups of five", &mut |_, x| {
        if let Some(subgroup) = subgrouper.as_mut().and_then(|s| s.push(x)) {
            black_box(baseline.push(&subgroup));
        }
    });
    let mut individuals = Individuals::default();
    time("individuals", &mut |_, x| {
        black_box(individuals.push(x));
    });
    let mut rules = RunRules::new(&NELSON);
    time("Nelson's eight rules", &mut |_, x| {
        black_box(rules.push((x - 1.75) / 0.01));
    });
    let mut ewma = Ewma::new(1.75, 0.01, 0.2, 3.0);
    time("moving average", &mut |_, x| {
        black_box(ewma.as_mut().and_then(|e| e.push(x)));
    });
    let mut cusum = Cusum::new(1.75, 0.005, 0.05, 0.0);
    time("cumulative sums", &mut |_, x| {
        black_box(cusum.as_mut().and_then(|c| c.push(x)));
    });
    for lags in [10, 100] {
        let mut sums = Lags::new(lags);
        time(&format!("{lags} lags"), &mut |_, x| {
            if let Some(sums) = &mut sums {
                sums.push(black_box(x));
            }
        });
    }
    let mut line = LineSums::with_intercept();
    time("line", &mut |i, x| line.push(i as f64, black_box(x)));
    let mut drift = DriftSums::default();
    time("drift", &mut |i, x| drift.push(i as f64, black_box(x)));
    for spacing_m in [0.05, 0.001] {
        let mut scan = WaveScan::new(ScanSettings::default());
        time(&format!("waves, every {spacing_m} m"), &mut |i, x| {
            if let Some(scan) = &mut scan {
                scan.push(spacing_m * i as f64, black_box(x));
            }
        });
        let start = Instant::now();
        let peaks = scan.and_then(|scan| scan.waves()).map(|waves| waves.peaks.len());
        println!(
            "{:>24} {:>7.1} ms, {peaks:?} waves",
            "asked for waves",
            start.elapsed().as_secs_f64() * 1e3
        );
    }
}
