//! Nodes of a graph in rows, such that edges run downwards: layered drawing after Sugiyama,
//! Tagawa and Toda (IEEE Trans. Syst. Man Cybern. 11, 1981), by longest paths and barycentres.

/// Sweeps that order the rows, and that place what is in them.
const SWEEPS: usize = 12;

/// A graph in rows.
#[derive(Debug, Default)]
pub(crate) struct Layout {
    /// Nodes of each row from left to right. Those from the number of nodes on stand for
    /// an edge that passes.
    pub(crate) rows: Vec<Vec<usize>>,
    /// For each edge, the nodes from its start to its end, those that it passes among them.
    pub(crate) chains: Vec<Vec<usize>>,
    above: Vec<Vec<usize>>,
    below: Vec<Vec<usize>>,
}

impl Layout {
    /// Rows for nodes from 0 to `nodes`. An edge that would close a circle is left out of the
    /// rows, and its chain leads up.
    pub(crate) fn new(nodes: usize, edges: &[(usize, usize)]) -> Self {
        let depth = depths(nodes, edges);
        let rows = depth.iter().max().map_or(0, |d| d + 1);
        let mut layout = Self { rows: vec![Vec::new(); rows], ..Self::default() };
        for (node, d) in depth.iter().enumerate() {
            layout.rows[*d].push(node);
        }
        let mut next = nodes;
        for (from, to) in edges {
            let mut chain = vec![*from];
            for row in depth[*from] + 1..depth[*to] {
                layout.rows[row].push(next);
                chain.push(next);
                next += 1;
            }
            chain.push(*to);
            layout.chains.push(chain);
        }
        layout.above = vec![Vec::new(); next];
        layout.below = vec![Vec::new(); next];
        for (chain, (from, to)) in layout.chains.iter().zip(edges) {
            for pair in chain.windows(2).filter(|_| depth[*from] < depth[*to]) {
                layout.below[pair[0]].push(pair[1]);
                layout.above[pair[1]].push(pair[0]);
            }
        }
        layout.order();
        layout
    }

    /// Orders each row by the middle of what its nodes are joined to, down and up again.
    fn order(&mut self) {
        let mut place = vec![0.0; self.above.len()];
        for sweep in 0..SWEEPS {
            let down = sweep % 2 == 0;
            let joined = if down { &self.above } else { &self.below };
            let mut numbers: Vec<usize> = (0..self.rows.len()).collect();
            if !down {
                numbers.reverse();
            }
            for row in numbers {
                let Some(nodes) = self.rows.get_mut(row) else { continue };
                let middle = |node: usize, own: f64| match joined[node].as_slice() {
                    [] => own,
                    some => some.iter().map(|n| place[*n]).sum::<f64>() / some.len() as f64,
                };
                let mut keyed: Vec<(f64, usize)> = nodes
                    .iter()
                    .enumerate()
                    .map(|(i, node)| (middle(*node, i as f64 / nodes.len() as f64), *node))
                    .collect();
                keyed.sort_by(|a, b| a.0.total_cmp(&b.0));
                *nodes = keyed.iter().map(|(_, node)| *node).collect();
                for (i, node) in nodes.iter().enumerate() {
                    place[*node] = (i as f64 + 0.5) / nodes.len() as f64;
                }
            }
        }
    }

    /// The middle of each node across, where nodes have these widths and stand `gap` apart, and
    /// the width that all of it takes.
    pub(crate) fn places(
        &self,
        widths: &dyn Fn(usize) -> f64,
        gap: f64,
        least: f64,
    ) -> (Vec<f64>, f64) {
        let of_row = |row: &Vec<usize>| {
            row.iter().map(|n| widths(*n)).sum::<f64>() + gap * (row.len() as f64 + 1.0)
        };
        let width = self.rows.iter().map(of_row).fold(least, f64::max);
        let mut at = vec![width / 2.0; self.above.len()];
        for row in &self.rows {
            let mut left = (width - of_row(row)) / 2.0 + gap;
            for node in row {
                at[*node] = left + widths(*node) / 2.0;
                left += widths(*node) + gap;
            }
        }
        for sweep in 0..SWEEPS {
            let down = sweep % 2 == 0;
            let numbers: Vec<usize> = if down {
                (0..self.rows.len()).collect()
            } else {
                (0..self.rows.len()).rev().collect()
            };
            for row in numbers {
                self.settle(&self.rows[row], down, widths, gap, width, &mut at);
            }
        }
        (at, width)
    }

    /// Moves the nodes of a row towards what they are joined to, in their order and apart.
    fn settle(
        &self,
        row: &[usize],
        down: bool,
        widths: &dyn Fn(usize) -> f64,
        gap: f64,
        width: f64,
        at: &mut [f64],
    ) {
        let joined = if down { &self.above } else { &self.below };
        let wanted: Vec<f64> = row
            .iter()
            .map(|node| match joined[*node].as_slice() {
                [] => at[*node],
                some => some.iter().map(|n| at[*n]).sum::<f64>() / some.len() as f64,
            })
            .collect();
        let apart = |a: usize, b: usize| (widths(row[a]) + widths(row[b])) / 2.0 + gap;
        // Between what pushing to the right and what pushing to the left would give.
        let mut right = wanted.clone();
        for i in 1..row.len() {
            right[i] = right[i].max(right[i - 1] + apart(i - 1, i));
        }
        let mut left = wanted;
        for i in (0..row.len().saturating_sub(1)).rev() {
            left[i] = left[i].min(left[i + 1] - apart(i, i + 1));
        }
        let mut placed: Vec<f64> =
            left.iter().zip(&right).map(|(l, r)| f64::midpoint(*l, *r)).collect();
        let mut edge = gap;
        for (i, x) in placed.iter_mut().enumerate() {
            *x = x.max(edge + widths(row[i]) / 2.0);
            edge = *x + widths(row[i]) / 2.0 + gap;
        }
        let mut edge = width - gap;
        for (i, x) in placed.iter_mut().enumerate().rev() {
            *x = x.min(edge - widths(row[i]) / 2.0);
            edge = *x - widths(row[i]) / 2.0 - gap;
        }
        for (node, x) in row.iter().zip(placed) {
            at[*node] = x;
        }
    }
}

/// The row of each node: one below the lowest that leads to it. What nothing leads to stands
/// right over the first that it leads to.
fn depths(nodes: usize, edges: &[(usize, usize)]) -> Vec<usize> {
    let mut into = vec![0_usize; nodes];
    let mut out = vec![Vec::new(); nodes];
    for (from, to) in edges {
        into[*to] += 1;
        out[*from].push(*to);
    }
    let sources: Vec<usize> = (0..nodes).filter(|n| into[*n] == 0).collect();
    let mut depth = vec![0_usize; nodes];
    let mut done = vec![false; nodes];
    let mut ready: Vec<usize> = sources.clone();
    for _ in 0..nodes {
        // Where only circles are left, the first of what remains breaks one.
        let node = match ready.pop() {
            Some(node) => node,
            None => match (0..nodes).find(|n| !done[*n]) {
                Some(node) => node,
                None => break,
            },
        };
        done[node] = true;
        for to in &out[node] {
            if done[*to] {
                continue;
            }
            depth[*to] = depth[*to].max(depth[node] + 1);
            into[*to] -= 1;
            if into[*to] == 0 {
                ready.push(*to);
            }
        }
    }
    for source in sources {
        if let Some(first) = out[source].iter().map(|to| depth[*to]).min() {
            depth[source] = first.saturating_sub(1);
        }
    }
    depth
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn edges_run_down_and_a_late_source_stands_over_its_first_use() {
        // 0 to 1 to 2 to 3, and 4 into 3.
        let layout = Layout::new(5, &[(0, 1), (1, 2), (2, 3), (4, 3)]);
        assert_eq!(layout.rows.iter().map(Vec::len).collect::<Vec<_>>(), [1, 1, 2, 1]);
        assert!(layout.rows[2].contains(&4));
        // An edge over two rows passes one node.
        let layout = Layout::new(3, &[(0, 1), (1, 2), (0, 2)]);
        assert_eq!(layout.chains[2].len(), 3);
    }

    proptest! {
        #[test]
        fn any_graph_is_laid_out_and_nothing_overlaps(
            edges in prop::collection::vec((0_usize..12, 0_usize..12), 0..40),
        ) {
            let edges: Vec<_> = edges.into_iter().filter(|(a, b)| a != b).collect();
            let layout = Layout::new(12, &edges);
            let widths = |n: usize| 10.0 + n as f64;
            let (at, width) = layout.places(&widths, 4.0, 100.0);
            let nodes: usize = layout.rows.iter().flatten().filter(|n| **n < 12).count();
            prop_assert_eq!(nodes, 12);
            for row in &layout.rows {
                for pair in row.windows(2) {
                    let apart = at[pair[1]] - at[pair[0]];
                    prop_assert!(apart + 1e-6 >= (widths(pair[0]) + widths(pair[1])) / 2.0);
                }
                for node in row {
                    prop_assert!((0.0..=width).contains(&at[*node]));
                }
            }
        }
    }
}
