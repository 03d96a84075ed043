//! How often the interval of the drying time holds the truth, on simulated drying with the
//! errors that the fit assumes. Asked for: 93 to 97 of 100.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use secondmelt_plastics::drying::{Granule, fit};
use secondmelt_quality::distributions::{Split, student_t};

/// Even numbers from 0 to 1 (SplitMix64), the same in every run.
struct Chance(u64);

impl Chance {
    #[expect(clippy::cast_precision_loss, reason = "53 bits fit")]
    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.even()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.even()).cos()
    }
}

#[test]
fn the_interval_of_the_drying_time_holds_the_truth() {
    const RUNS: u32 = 2000;
    let mut chance = Chance(20_260_318);
    for readings in [4_u32, 6, 8, 12] {
        let (mut held, mut none) = (0_u32, 0_u32);
        for _ in 0..RUNS {
            let (start, rate) = (0.15 + 0.3 * chance.even(), 0.03 + 0.05 * chance.even());
            let made: Vec<_> = (0..readings)
                .map(|n| 4.0 * f64::from(n) / f64::from(readings - 1))
                .map(|h| {
                    (h, start * Granule::Plate.left(rate * h) * (0.05 * chance.normal()).exp())
                })
                .collect();
            let truth = Granule::Plate.when_left(0.1).unwrap() / rate;
            let target = 0.1 * start;
            let Some((hours, u)) =
                fit(Granule::Plate, &made, 0.0).and_then(|curve| curve.hours_to(target))
            else {
                none += 1;
                continue;
            };
            let t = student_t::quantile(f64::from(readings - 2), Split::with_above(0.025).unwrap());
            held += u32::from((truth.ln() - hours.ln()).abs() <= t.unwrap() * u);
        }
        let share = f64::from(held) / f64::from(RUNS);
        println!("{readings} readings: {share:.4} held, {none} without a curve");
        assert!((0.93..=0.97).contains(&share), "{readings} readings: {share}");
    }
}
