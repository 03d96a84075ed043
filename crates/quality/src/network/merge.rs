//! Nodes joined by flows that were not measured have one balance together.

use super::{Flow, Measured, OUTSIDE};

/// Which nodes share a balance.
#[derive(Debug)]
pub(super) struct Merge {
    of: Vec<usize>,
}

/// The representative of a node in a forest of parents, with the path halved on the way.
pub(super) fn root(parents: &mut [usize], mut node: usize) -> usize {
    while parents[node] != node {
        parents[node] = parents[parents[node]];
        node = parents[node];
    }
    node
}

/// Joins two sets; the smaller number stands for both.
pub(super) fn join(parents: &mut [usize], a: usize, b: usize) {
    let (a, b) = (root(parents, a), root(parents, b));
    parents[a.max(b)] = a.min(b);
}

impl Merge {
    pub(super) fn of_unmeasured(nodes: usize, flows: &[Flow]) -> Self {
        let mut parents: Vec<_> = (0..nodes).collect();
        for flow in flows.iter().filter(|flow| flow.measured.is_none()) {
            join(&mut parents, flow.from, flow.to);
        }
        let of = (0..nodes).map(|node| root(&mut parents, node)).collect();
        Self { of }
    }

    /// The node whose balance a node shares: the smallest, so that the outside stays itself.
    pub(super) fn node(&self, node: usize) -> usize {
        self.of[node]
    }

    /// What the measurements leave in each merged node; nothing is asked of the outside.
    pub(super) fn residuals(&self, flows: &[Flow]) -> Vec<f64> {
        let mut residuals = vec![0.0; self.of.len()];
        for flow in flows {
            let Some(Measured { value, .. }) = flow.measured else { continue };
            let (from, to) = (self.of[flow.from], self.of[flow.to]);
            if from != to {
                residuals[to] += value;
                residuals[from] -= value;
            }
        }
        residuals[OUTSIDE] = 0.0;
        residuals
    }
}
