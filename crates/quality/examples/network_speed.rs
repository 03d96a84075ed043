//! Time that one reconciliation takes, with standard deviations, tests and classes, of a network read
//! from standard input: a line with the number of nodes, then a line a flow: from, to, value,
//! standard deviation; node 0 is the outside. `benches/network.py` runs it beside scipy on
//! the same network.
//!
//! Prints milliseconds, and the sum of squares, which both must agree on.

#![expect(clippy::print_stdout, reason = "a benchmark prints its results")]

use secondmelt_quality::network::{Flow, Measured, reconcile};
use std::time::Instant;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let text = std::io::read_to_string(std::io::stdin())?;
    let mut lines = text.lines();
    let nodes: usize = lines.next().ok_or("no nodes")?.parse()?;
    let mut flows = Vec::new();
    for line in lines {
        let fields: Vec<&str> = line.split(' ').collect();
        let [from, to, value, sigma] = fields.as_slice() else { return Err(line.into()) };
        let measured = Some(Measured { value: value.parse()?, sigma: sigma.parse()? });
        flows.push(Flow { from: from.parse()?, to: to.parse()?, measured });
    }
    let begun = Instant::now();
    let found = reconcile(nodes, &flows).ok_or("no network")?;
    println!("{} {}", begun.elapsed().as_secs_f64() * 1000.0, found.objective);
    Ok(())
}
