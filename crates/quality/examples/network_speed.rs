//! Time that the reconciliation of a network of 100,000 flows takes by itself, for comparison with
//! `benches/network.py`. `cargo run --release -p secondmelt-quality --example network_speed`
#![allow(clippy::print_stdout, reason = "it prints a figure")]

use secondmelt_quality::network::{Flow, Measured, OUTSIDE, reconcile};

fn main() {
    let mut flows = Vec::new();
    let mut weigh = |from, to, value: f64| {
        flows.push(Flow { from, to, measured: Some(Measured { value, sigma: 0.1 }) });
    };
    let mut mass = 1000.0;
    for n in 0..20_000 {
        let (first, last) = (n % 10 == 0, n % 10 == 9);
        mass = if first { 1000.0 } else { mass };
        let (step, lot) = (1 + 2 * n, if first { OUTSIDE } else { 2 * n });
        let next = if last { OUTSIDE } else { 2 + 2 * n };
        weigh(lot, step, mass + 0.05);
        weigh(step, OUTSIDE, 0.02 * mass);
        weigh(step, OUTSIDE, 0.01 * mass);
        mass *= 0.97;
        weigh(step, next, mass);
        weigh(next, OUTSIDE, if last { mass } else { 0.0 });
    }
    let begin = std::time::Instant::now();
    let found = reconcile(40_001, &flows);
    let freedom = found.map_or(0, |found| found.freedom);
    println!("{} flows, {freedom} balances: {:?}", flows.len(), begin.elapsed());
}
