//! How often the interval of the drying time holds the truth, by the code that the program runs.

#![allow(
    clippy::print_stdout,
    clippy::panic,
    reason = "a test prints its table and fails by panicking"
)]

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use secondmelt_plastics::drying::{Granule, Outlook, outlook};

const RUNS: u32 = 2_000;
const SCATTER: f64 = 0.03;

struct Noise(ChaCha8Rng);

impl Noise {
    fn uniform(&mut self) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "53 bits fit")]
        let x = (self.0.next_u64() >> 11) as f64;
        (x + 0.5) / (1_u64 << 53) as f64
    }

    /// Box and Muller.
    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}

/// Shares of the runs whose interval holds the truth, that have an upper end, and that fit.
fn covered(
    shape: Granule,
    said: Option<Granule>,
    (end_share, known): (f64, bool),
    n: u32,
    noise: &mut Noise,
) -> [f64; 3] {
    let (mut held, mut bounded, mut fitted) = (0, 0, 0);
    for _ in 0..RUNS {
        let start = 0.1 + 0.5 * noise.uniform();
        let end = end_share * start;
        let last = shape.when_left(0.12 + 0.23 * noise.uniform()).unwrap_or(f64::NAN);
        let longest_h = 2.0 + 6.0 * noise.uniform();
        let rate = last / longest_h;
        let limit = end + 0.1 * (start - end);
        let truth = shape.when_left(0.1).unwrap_or(f64::NAN) / rate;
        let readings: Vec<_> = (0..n)
            .map(|i| {
                let h = longest_h * f64::from(i) / f64::from(n - 1);
                let true_pct = end + (start - end) * shape.left(rate * h);
                (h, true_pct * (1.0 + SCATTER * noise.normal()))
            })
            .collect();
        match outlook(said, &readings, known.then_some(end), limit) {
            Outlook::Hours { low, high, .. } => {
                fitted += 1;
                bounded += u32::from(high.is_some());
                held += u32::from(low <= truth && high.is_none_or(|high| truth <= high));
            }
            Outlook::Never { .. } => fitted += 1,
            Outlook::Unknown | Outlook::Misfit => {}
        }
    }
    let share = |a: u32, b: u32| 100.0 * f64::from(a) / f64::from(b);
    [share(held, fitted), share(bounded, fitted), share(fitted, RUNS)]
}

fn check(name: &str, shape: Granule, seed: u64) {
    let mut outside = Vec::new();
    for n in 4..=12 {
        let mut row = format!("//! | {name} | {n} |");
        for (column, (end, known)) in (0_u64..).zip([(0.0, false), (0.05, false), (0.05, true)]) {
            let mut noise = Noise(ChaCha8Rng::seed_from_u64(seed + 10 * u64::from(n) + column));
            let [held, bounded, fitted] = covered(shape, Some(shape), (end, known), n, &mut noise);
            row += &format!(" {held:.1} ({bounded:.0}) |");
            if !(93.0..=97.0).contains(&held) || fitted < 97.0 {
                outside.push(format!("n {n}, end {end}, known {known}: {held} of {fitted} %"));
            }
        }
        println!("{row}");
    }
    assert!(outside.is_empty(), "{name}: {outside:#?}");
}

#[test]
fn plates_are_covered() {
    check("plate", Granule::Plate, 1_000);
}

#[test]
fn cylinders_are_covered() {
    check("cylinder", Granule::Cylinder, 2_000);
}

#[test]
fn spheres_are_covered() {
    check("sphere", Granule::Sphere, 3_000);
}

#[test]
fn pellets_are_covered() {
    check("pellet", Granule::Pellet { slenderness: 1.2 }, 4_000);
}

/// Where the shape is not said the interval takes in several, and is too wide if anything.
#[test]
fn a_shape_that_is_not_said_costs_width_and_not_truth() {
    let pellet = Granule::Pellet { slenderness: 1.2 };
    for (seed, shape) in (5_000..).zip([Granule::Plate, Granule::Sphere, pellet]) {
        for (n, cell) in [(5, (0.05, false)), (6, (0.05, true)), (12, (0.05, true))] {
            let mut noise = Noise(ChaCha8Rng::seed_from_u64(seed));
            let [held, bounded, fitted] = covered(shape, None, cell, n, &mut noise);
            println!("not said: {shape:?}, {n} readings: {held:.1} ({bounded:.0}), {fitted:.1}");
            assert!(held >= 93.0 && fitted > 97.0, "{shape:?} {n}: {held} of {fitted} %");
        }
    }
}
