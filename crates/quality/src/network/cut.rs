//! Flows that were not measured: a flow follows from the others where it alone joins two
//! parts of the network of such flows (it is a bridge of that graph).

use super::laplacian::Laplacian;
use super::merge::Merge;
use super::{Class, Estimate, Flow, OUTSIDE};

/// Crossing flows looked at for the uncertainties of one network, at most, so that time
/// stays bounded in a network of long unmeasured chains. Beyond it a value has no `sd`.
const LOOKED_AT: usize = 20_000_000;

/// The flows that were not measured, and a forest of them.
pub(super) struct Unmeasured<'a> {
    flows: &'a [Flow],
    merge: &'a Merge,
    balances: &'a Laplacian,
    /// Unmeasured flows at each node.
    at: Vec<Vec<usize>>,
    /// Measured flows at each node.
    measured_at: Vec<Vec<usize>>,
    /// Nodes in the order in which the forest was entered, roots first.
    entered: Vec<usize>,
    /// Place of each node in `entered`, and one past the last node below it.
    place: Vec<usize>,
    end: Vec<usize>,
    /// The flow by which each node was entered.
    by: Vec<Option<usize>>,
    low: Vec<usize>,
}

impl<'a> Unmeasured<'a> {
    pub(super) fn new(
        nodes: usize,
        flows: &'a [Flow],
        merge: &'a Merge,
        balances: &'a Laplacian,
    ) -> Self {
        let (mut at, mut measured_at) = (vec![Vec::new(); nodes], vec![Vec::new(); nodes]);
        for (n, flow) in flows.iter().enumerate().filter(|(_, flow)| flow.from != flow.to) {
            let list = if flow.measured.is_none() { &mut at } else { &mut measured_at };
            list[flow.from].push(n);
            list[flow.to].push(n);
        }
        let none = vec![usize::MAX; nodes];
        let mut forest = Self {
            flows,
            merge,
            balances,
            at,
            measured_at,
            entered: Vec::with_capacity(nodes),
            place: none.clone(),
            end: none.clone(),
            by: vec![None; nodes],
            low: none,
        };
        for node in 0..nodes {
            if forest.place[node] == usize::MAX {
                forest.walk(node);
            }
        }
        forest
    }

    /// Depth first without recursion; `low` is the earliest place that a part reaches by a
    /// flow other than the one it was entered by (Tarjan 1974).
    fn walk(&mut self, start: usize) {
        let mut path = vec![(start, 0)];
        self.enter(start, None);
        while let Some((node, next)) = path.last_mut() {
            let node = *node;
            let Some(flow) = self.at[node].get(*next).copied() else {
                path.pop();
                self.end[node] = self.entered.len();
                if let Some((parent, _)) = path.last() {
                    self.low[*parent] = self.low[*parent].min(self.low[node]);
                }
                continue;
            };
            *next += 1;
            let other = self.other(flow, node);
            if self.by[node] == Some(flow) {
                continue;
            }
            if self.place[other] == usize::MAX {
                self.enter(other, Some(flow));
                path.push((other, 0));
            } else {
                self.low[node] = self.low[node].min(self.place[other]);
            }
        }
    }

    fn enter(&mut self, node: usize, by: Option<usize>) {
        self.place[node] = self.entered.len();
        self.low[node] = self.entered.len();
        self.by[node] = by;
        self.entered.push(node);
    }

    fn other(&self, flow: usize, node: usize) -> usize {
        let Flow { from, to, .. } = self.flows[flow];
        if from == node { to } else { from }
    }

    /// Works out each flow that follows from the others.
    pub(super) fn fill(&self, estimates: &mut [Estimate]) {
        // What the measured flows leave in each node, added up over the part below it.
        let mut left = vec![0.0; self.place.len()];
        for (flow, estimate) in self.flows.iter().zip(estimates.iter()) {
            if let Some(value) = estimate.value.filter(|_| flow.measured.is_some()) {
                left[flow.to] += value;
                left[flow.from] -= value;
            }
        }
        let mut budget = LOOKED_AT;
        for node in self.entered.iter().rev().copied() {
            let Some(flow) = self.by[node] else { continue };
            let parent = self.other(flow, node);
            if self.low[node] == self.place[node] {
                let outward = self.flows[flow].from == node;
                estimates[flow] = Estimate {
                    class: Class::Observable,
                    value: Some(if outward { left[node] } else { -left[node] }),
                    sd: self.sd(node, &mut budget),
                    z: None,
                    bias: None,
                };
            }
            left[parent] += left[node];
        }
    }

    /// Uncertainty of what the measured flows leave in the part below a node.
    fn sd(&self, node: usize, budget: &mut usize) -> Option<f64> {
        let part = self.place[node]..self.end[node];
        let (mut variance, mut moved) = (0.0, Vec::new());
        for inner in &self.entered[part.clone()] {
            *budget = budget.checked_sub(1 + self.measured_at[*inner].len())?;
            for n in &self.measured_at[*inner] {
                let flow = &self.flows[*n];
                let measured = flow.measured?;
                if part.contains(&self.place[self.other(*n, *inner)]) {
                    continue;
                }
                let v = measured.sigma * measured.sigma;
                variance += v;
                let (from, to) = (self.merge.node(flow.from), self.merge.node(flow.to));
                if from != to {
                    let into = if flow.to == *inner { v } else { -v };
                    moved.extend([(to, into), (from, -into)]);
                }
            }
        }
        debug_assert!(node != OUTSIDE);
        Some((variance - self.balances.quadratic(&moved)).max(0.0).sqrt())
    }
}
