//! Reconciliation of a network of flows: what enters a node leaves it, and the masses that
//! were weighed are moved by as little as their uncertainties allow.
//!
//! Weighted least squares with linear constraints: x = y - V A' (A V A')^-1 A y with
//! covariance V - V A' (A V A')^-1 A V (Narasimhan and Jordache, Data Reconciliation and
//! Gross Error Detection, 2000, from memory; checked in `tests/reconciliation.rs`).
//!
//! Each flow runs from one node to another, so A V A' is the weighted Laplacian of a graph and
//! projecting a flow that was not measured out of the equations merges its two nodes. The
//! elimination of such a matrix adds positive numbers only, so that nothing cancels however
//! far apart the uncertainties are. Cost and memory grow with the fill, which is small for
//! networks that are nearly trees.

mod cut;
mod laplacian;
mod merge;
mod test;

pub use test::{Leak, bonferroni_critical, chi_square_critical, sidak_critical};

use cut::Unmeasured;
use laplacian::Laplacian;
use merge::Merge;

/// The node that stands for all that lies outside the network. It has no balance.
pub const OUTSIDE: usize = 0;

/// A flow from one node to another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flow {
    /// Node that it leaves.
    pub from: usize,
    /// Node that it enters.
    pub to: usize,
    /// What was measured; none where it was not.
    pub measured: Option<Measured>,
}

/// A measured flow, in any unit, the same for all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// The value.
    pub value: f64,
    /// Its standard uncertainty; 0 is a value that is held fixed.
    pub sigma: f64,
}

/// What the balances say of a flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Class {
    /// Measured, and checked by the others.
    Redundant,
    /// Measured, and no other says anything of it.
    JustMeasured,
    /// Not measured, and follows from the others.
    Observable,
    /// Not measured, and does not follow from the others.
    NotObservable,
}

/// A flow after reconciliation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// What the balances say of it.
    pub class: Class,
    /// The value that balances; none where it is not observable.
    pub value: Option<f64>,
    /// Its standard uncertainty.
    pub sd: Option<f64>,
    /// Measured minus reconciled over the standard deviation of that difference (the
    /// measurement test); of redundant flows only.
    pub z: Option<f64>,
    /// How much too large the measurement would have to be for all else to be right
    /// (its generalised likelihood ratio is z squared).
    pub bias: Option<f64>,
}

/// A reconciled network.
#[derive(Debug, Clone, PartialEq)]
pub struct Reconciled {
    /// One estimate a flow, in the order of the flows.
    pub flows: Vec<Estimate>,
    /// Weighted sum of squared adjustments: chi-square if nothing but chance is in it.
    pub objective: f64,
    /// Independent balances that check the measurements.
    pub freedom: usize,
    /// For each node, a leak that would explain the imbalance; none where nothing checks it.
    pub leaks: Vec<Option<Leak>>,
    /// Group of each flow: flows of different groups do not check one another.
    pub groups: Vec<usize>,
    /// Objective and independent balances by group.
    pub by_group: Vec<(f64, usize)>,
}

/// Reconciles a network of `nodes` nodes, [`OUTSIDE`] among them. None where a flow names a
/// node that is not there, or a number is not finite or an uncertainty negative.
#[must_use]
pub fn reconcile(nodes: usize, flows: &[Flow]) -> Option<Reconciled> {
    flows.iter().all(|flow| usable(flow, nodes)).then(|| {
        let merge = Merge::of_unmeasured(nodes, flows);
        let balances = Laplacian::new(nodes, &merge, flows);
        solved(nodes, flows, &merge, &balances)
    })
}

fn usable(flow: &Flow, nodes: usize) -> bool {
    let sound = |m: Measured| m.value.is_finite() && m.sigma.is_finite() && m.sigma >= 0.0;
    flow.from < nodes && flow.to < nodes && flow.measured.is_none_or(sound)
}

fn solved(nodes: usize, flows: &[Flow], merge: &Merge, balances: &Laplacian) -> Reconciled {
    let residuals = merge.residuals(flows);
    let pressure = balances.solve(&residuals);
    let mut estimates: Vec<_> =
        flows.iter().map(|flow| measured(flow, merge, balances, &pressure)).collect();
    Unmeasured::new(nodes, flows, merge, balances).fill(&mut estimates);
    let groups: Vec<_> = flows.iter().map(|flow| group(flow, merge, balances)).collect();
    let mut by_group = vec![(0.0, 0); nodes];
    for node in 0..nodes {
        if let Some(slot) = by_group.get_mut(balances.group(node)) {
            slot.0 += residuals[node] * pressure[node];
            slot.1 += usize::from(balances.independent(node));
        }
    }
    let leak = |node: usize| {
        let merged = merge.node(node);
        let variance = balances.inverse(merged, merged);
        (variance > 0.0).then(|| Leak::new(pressure[merged], variance))
    };
    Reconciled {
        flows: estimates,
        objective: by_group.iter().map(|(objective, _)| objective).sum(),
        freedom: by_group.iter().map(|(_, freedom)| freedom).sum(),
        leaks: (0..nodes).map(leak).collect(),
        groups,
        by_group,
    }
}

fn group(flow: &Flow, merge: &Merge, balances: &Laplacian) -> usize {
    let (from, to) = (merge.node(flow.from), merge.node(flow.to));
    balances.group(if from == merge.node(OUTSIDE) { to } else { from })
}

fn measured(flow: &Flow, merge: &Merge, balances: &Laplacian, pressure: &[f64]) -> Estimate {
    let not = Estimate { class: Class::NotObservable, value: None, sd: None, z: None, bias: None };
    let Some(Measured { value, sigma }) = flow.measured else { return not };
    let (from, to) = (merge.node(flow.from), merge.node(flow.to));
    let variance = sigma * sigma;
    let spread = balances.between(from, to);
    if from == to || spread <= 0.0 {
        let class = Class::JustMeasured;
        return Estimate { class, value: Some(value), sd: Some(sigma), ..not };
    }
    let drop = pressure[to] - pressure[from];
    // What is left of the variance is at least nothing, whatever the rounding.
    let left = (1.0 - variance * spread).max(0.0);
    Estimate {
        class: Class::Redundant,
        value: Some(value - variance * drop),
        sd: Some(sigma * left.sqrt()),
        z: Some(drop / spread.sqrt()),
        bias: Some(drop / spread),
    }
}
