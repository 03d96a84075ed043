//! How often the wrong weighing of a line of 60 steps is the one that is named: seeded
//! simulations. `cargo run --release -p secondmelt-quality --example power`
#![allow(clippy::print_stdout, reason = "it prints a table")]

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use secondmelt_quality::distributions::normal;
use secondmelt_quality::network::{Flow, Measured, OUTSIDE, reconcile, sidak_critical};

const STEPS: usize = 60;
const SIGMA: f64 = 0.1;
const RUNS: usize = 2000;

fn uniform(rng: &mut ChaCha8Rng) -> f64 {
    (f64::from(rng.next_u32()) + 0.5) / 4_294_967_296.0
}

/// A line: each step takes in the product of the one before, weighed again, and loses some.
fn line(rng: &mut ChaCha8Rng) -> (usize, Vec<Flow>) {
    let mut weigh = |from, to, mass: f64| {
        let error = normal::quantile_below(uniform(rng)).unwrap_or(0.0);
        Flow { from, to, measured: Some(Measured { value: mass + SIGMA * error, sigma: SIGMA }) }
    };
    let (mut flows, mut mass) = (Vec::new(), 10_000.0);
    for step in 0..STEPS {
        let (node, lot, next) = (1 + 2 * step, 2 * step, 2 + 2 * step);
        flows.push(weigh(if step == 0 { OUTSIDE } else { lot }, node, mass));
        flows.push(weigh(node, OUTSIDE, 0.03 * mass));
        mass *= 0.97;
        flows.push(weigh(node, if step + 1 == STEPS { OUTSIDE } else { next }, mass));
    }
    (1 + 2 * STEPS, flows)
}

fn main() {
    let mut rng = ChaCha8Rng::seed_from_u64(60);
    println!("| off by (standard deviations) | an alarm, % | the right one named, % |");
    println!("|---|---|---|");
    for off in [0.0, 4.0, 6.0, 8.0, 10.0, 15.0] {
        let (mut alarms, mut right) = (0_usize, 0_usize);
        for _ in 0..RUNS {
            let (nodes, mut flows) = line(&mut rng);
            let wrong = rng.next_u32() as usize % flows.len();
            if let Some(measured) = &mut flows[wrong].measured {
                measured.value += if rng.next_u32() % 2 == 0 { off * SIGMA } else { -off * SIGMA };
            }
            let Some(found) = reconcile(nodes, &flows) else { continue };
            let Some(critical) = sidak_critical(flows.len(), 0.05) else { continue };
            let z = |n: usize| found.flows[n].z.map_or(0.0, f64::abs);
            let worst = (0..flows.len()).max_by(|a, b| z(*a).total_cmp(&z(*b))).unwrap_or(0);
            if z(worst) > critical {
                alarms += 1;
                right += usize::from(worst == wrong);
            }
        }
        let pct = |n: usize| 100.0 * n as f64 / RUNS as f64;
        println!("| {off} | {:.1} | {:.1} |", pct(alarms), pct(right));
    }
}
