//! The weighted Laplacian of the balances, eliminated without a subtraction.

use super::merge::{Merge, join, root};
use super::{Flow, OUTSIDE};
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// A node when it was eliminated: what it was tied to then, with its share of the pivot.
#[derive(Debug, Default)]
struct Row {
    /// Neighbours that were eliminated later, in order of number, and weight over pivot.
    later: Vec<(usize, f64)>,
    pivot: f64,
    /// Elements of the inverse: of the node itself, and towards each of `later`.
    own: f64,
    towards: Vec<f64>,
}

/// The factors of A V A', and its inverse where they have an entry.
#[derive(Debug)]
pub(super) struct Laplacian {
    order: Vec<usize>,
    place: Vec<usize>,
    rows: Vec<Row>,
    group: Vec<usize>,
}

fn add(row: &mut Vec<(usize, f64)>, node: usize, weight: f64) {
    match row.binary_search_by_key(&node, |(n, _)| *n) {
        Ok(at) => row[at].1 += weight,
        Err(at) => row.insert(at, (node, weight)),
    }
}

impl Laplacian {
    pub(super) fn new(nodes: usize, merge: &Merge, flows: &[Flow]) -> Self {
        let mut ties: Vec<Vec<(usize, f64)>> = vec![Vec::new(); nodes];
        let mut ground = vec![0.0; nodes];
        let mut group: Vec<_> = (0..nodes).collect();
        for flow in flows {
            let (from, to) = (merge.node(flow.from), merge.node(flow.to));
            let weight = flow.measured.map_or(0.0, |m| m.sigma * m.sigma);
            if from == to || weight <= 0.0 {
                continue;
            }
            match (from, to) {
                (OUTSIDE, node) | (node, OUTSIDE) => ground[node] += weight,
                _ => {
                    add(&mut ties[from], to, weight);
                    add(&mut ties[to], from, weight);
                    join(&mut group, from, to);
                }
            }
        }
        let group = (0..nodes).map(|node| root(&mut group, merge.node(node))).collect();
        let mut factors = Self {
            order: Vec::with_capacity(nodes),
            place: vec![usize::MAX; nodes],
            rows: (0..nodes).map(|_| Row::default()).collect(),
            group,
        };
        factors.eliminate(ties, ground);
        factors.invert();
        factors
    }

    /// Node after node, the one with the fewest ties first: its ties become ties among its
    /// neighbours. All terms are positive.
    fn eliminate(&mut self, mut ties: Vec<Vec<(usize, f64)>>, mut ground: Vec<f64>) {
        let mut next: BinaryHeap<_> =
            (1..ties.len()).map(|node| Reverse((ties[node].len(), node))).collect();
        while let Some(Reverse((degree, node))) = next.pop() {
            if self.place[node] != usize::MAX || degree != ties[node].len() {
                continue;
            }
            self.place[node] = self.order.len();
            self.order.push(node);
            let mut later = std::mem::take(&mut ties[node]);
            let pivot = ground[node] + later.iter().map(|(_, w)| w).sum::<f64>();
            let share = if pivot > 0.0 { 1.0 / pivot } else { 0.0 };
            for (n, (a, weight_a)) in later.iter().enumerate() {
                if let Ok(at) = ties[*a].binary_search_by_key(&node, |(n, _)| *n) {
                    ties[*a].remove(at);
                }
                ground[*a] += weight_a * (ground[node] * share);
                for (b, weight_b) in &later[n + 1..] {
                    let weight = weight_a * (weight_b * share);
                    add(&mut ties[*a], *b, weight);
                    add(&mut ties[*b], *a, weight);
                }
            }
            for (a, weight) in &mut later {
                *weight *= share;
                next.push(Reverse((ties[*a].len(), *a)));
            }
            self.rows[node] = Row { later, pivot, ..Row::default() };
        }
    }

    /// The elements of the inverse that the factors have a place for (Takahashi, Fagan and
    /// Chen 1973, from memory), last node first.
    fn invert(&mut self) {
        for at in (0..self.order.len()).rev() {
            let node = self.order[at];
            let later = &self.rows[node].later;
            let towards: Vec<f64> = later
                .iter()
                .map(|(j, _)| later.iter().map(|(i, share)| share * self.inverse(*i, *j)).sum())
                .collect();
            let through: f64 = later.iter().zip(&towards).map(|((_, share), z)| share * z).sum();
            let row = &mut self.rows[node];
            row.own = through + if row.pivot > 0.0 { 1.0 / row.pivot } else { 0.0 };
            row.towards = towards;
        }
    }

    /// An element of the inverse; 0 for the outside, and for two nodes that are not tied.
    pub(super) fn inverse(&self, a: usize, b: usize) -> f64 {
        if a == OUTSIDE || b == OUTSIDE {
            return 0.0;
        }
        if a == b {
            return self.rows[a].own;
        }
        let (first, last) = if self.place[a] < self.place[b] { (a, b) } else { (b, a) };
        let row = &self.rows[first];
        let at = row.later.binary_search_by_key(&last, |(n, _)| *n);
        at.ok().and_then(|at| row.towards.get(at)).copied().unwrap_or(0.0)
    }

    /// Variance of the difference of two nodes' multipliers.
    pub(super) fn between(&self, a: usize, b: usize) -> f64 {
        self.inverse(a, a) + self.inverse(b, b) - 2.0 * self.inverse(a, b)
    }

    /// The multipliers that belong to residuals.
    pub(super) fn solve(&self, residuals: &[f64]) -> Vec<f64> {
        let mut x = residuals.to_vec();
        for node in &self.order {
            let carried = x[*node];
            for (later, share) in &self.rows[*node].later {
                x[*later] += share * carried;
            }
        }
        for node in self.order.iter().rev() {
            let row = &self.rows[*node];
            let own = if row.pivot > 0.0 { x[*node] / row.pivot } else { 0.0 };
            let from_later: f64 = row.later.iter().map(|(later, share)| share * x[*later]).sum();
            x[*node] = own + from_later;
        }
        x[OUTSIDE] = 0.0;
        x
    }

    /// b' M^-1 b for a sparse b; only what b reaches is visited.
    pub(super) fn quadratic(&self, b: &[(usize, f64)]) -> f64 {
        let mut waiting: std::collections::BTreeMap<usize, (usize, f64)> =
            std::collections::BTreeMap::new();
        for (node, x) in b.iter().filter(|(node, _)| *node != OUTSIDE) {
            waiting.entry(self.place[*node]).or_insert((*node, 0.0)).1 += x;
        }
        let mut sum = 0.0;
        while let Some((_, (node, x))) = waiting.pop_first() {
            let row = &self.rows[node];
            if row.pivot > 0.0 {
                sum += x * (x / row.pivot);
            }
            for (later, share) in &row.later {
                waiting.entry(self.place[*later]).or_insert((*later, 0.0)).1 += share * x;
            }
        }
        sum
    }

    /// Whether a node's balance adds something to those of the others.
    pub(super) fn independent(&self, node: usize) -> bool {
        self.rows[node].pivot > 0.0
    }

    /// A number of the set of nodes that check one another.
    pub(super) fn group(&self, node: usize) -> usize {
        self.group[node]
    }
}
