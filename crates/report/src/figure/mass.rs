//! Where the plastic went: steps as bars as long as what went in, lots as bands as broad as
//! their mass, losses as the part of a bar that goes no further.

use super::Figure;
use super::axes::WIDTH;
use super::layers::Layout;
use super::svg::{Anchor, Drawing, fitted, n, width_of};
use crate::collect::{Edge, Way};
use crate::numbers::{grams, percent};
use std::collections::BTreeMap;

/// Steps of a drawing that can still be read.
pub(crate) const STEPS_MAX: usize = 40;
/// How broad the broadest row is, in units.
const BROADEST: f64 = 250.0;
/// From row to row, and the height of a bar.
const PITCH: f64 = 84.0;
const BAR: f64 = 10.0;
const GAP: f64 = 10.0;
/// The longest name, in units.
const NAME_MAX: f64 = 110.0;

/// A step, or a lot at the start or the end of the network.
#[derive(Debug, Default)]
struct Node {
    name: String,
    is_step: bool,
    into: f64,
    out: f64,
    lost: BTreeMap<&'static str, f64>,
}

/// Plastic of a lot from node to node: mass at its start and at its end.
#[derive(Debug)]
struct Band {
    from: usize,
    to: usize,
    lot: String,
    left: f64,
    arrived: f64,
}

/// Nodes, each with a mass.
type Parts = Vec<(usize, f64)>;

#[derive(Debug, Default)]
struct Network {
    nodes: Vec<Node>,
    bands: Vec<Band>,
}

/// The drawing; none where there is nothing to draw, or more than can be read.
pub(crate) fn draw(edges: &[Edge]) -> Option<Figure> {
    let network = Network::new(edges)?;
    let pairs: Vec<(usize, usize)> = network.bands.iter().map(|b| (b.from, b.to)).collect();
    let layout = Layout::new(network.nodes.len(), &pairs);
    let heaviest = layout.rows.iter().map(|row| row.iter().map(|n| network.mass(*n)).sum::<f64>());
    let unit = BROADEST / heaviest.fold(1e-9, f64::max);
    let widths = |node: usize| match network.nodes.get(node) {
        Some(known) => (network.mass(node) * unit)
            .max(width_of(&fitted(&known.name, NAME_MAX)))
            .max(width_of(&known.loses())),
        None => 6.0,
    };
    let (at, width) = layout.places(&widths, GAP, WIDTH);
    let mut drawing = Drawing::new(width, PITCH * layout.rows.len() as f64 - PITCH / 2.0 + 10.0);
    let mut row_of = vec![0; at.len()];
    for (i, row) in layout.rows.iter().enumerate() {
        row.iter().for_each(|node| row_of[*node] = i);
    }
    let bar = |node: usize| 28.0 + PITCH * row_of[node] as f64;
    network.bands(&mut drawing, &layout, &at, unit, &bar);
    for (i, node) in network.nodes.iter().enumerate() {
        node.draw(&mut drawing, at[i], bar(i), unit);
    }
    Some(Figure {
        title: "Mass flow through the steps".to_owned(),
        description: network.described(),
        caption: "From top to bottom. Dark bars: steps, as long as the mass that goes in; red end: what is lost there. Bands: lots, as broad as their mass. Masses are reconciled where they could be.".to_owned(),
        drawing,
        network: true,
    })
}

impl Network {
    fn new(edges: &[Edge]) -> Option<Self> {
        let mut network = Self::default();
        let mut steps: BTreeMap<&str, usize> = BTreeMap::new();
        // Makers and users of each lot: node and mass.
        let mut lots: BTreeMap<&str, (Parts, Parts)> = BTreeMap::new();
        for edge in edges.iter().filter(|e| e.way != Way::Stock) {
            let next = network.nodes.len();
            let step = *steps.entry(&edge.step).or_insert(next);
            if step == next {
                network.nodes.push(Node {
                    name: edge.step.clone(),
                    is_step: true,
                    ..Node::default()
                });
            }
            let node = &mut network.nodes[step];
            match edge.way {
                Way::In => {
                    node.into += edge.mass_g;
                    lots.entry(&edge.lot).or_default().1.push((step, edge.mass_g));
                }
                Way::Out => {
                    node.out += edge.mass_g;
                    lots.entry(&edge.lot).or_default().0.push((step, edge.mass_g));
                }
                Way::Lost(cause) => *node.lost.entry(cause).or_default() += edge.mass_g,
                Way::Stock => {}
            }
        }
        if steps.is_empty() || steps.len() > STEPS_MAX || lots.len() > 3 * STEPS_MAX {
            return None;
        }
        for (lot, (makers, users)) in &lots {
            network.lot(lot, makers, users);
        }
        Some(network)
    }

    /// Bands of a lot. What has no maker, or no user, is a node of its own.
    fn lot(&mut self, lot: &str, makers: &[(usize, f64)], users: &[(usize, f64)]) {
        let sum = |list: &[(usize, f64)]| list.iter().map(|(_, g)| g).sum::<f64>();
        let (made, used) = (sum(makers), sum(users));
        let end = |network: &mut Self, mass: f64| {
            network.nodes.push(Node {
                name: lot.to_owned(),
                into: mass,
                out: mass,
                ..Node::default()
            });
            vec![(network.nodes.len() - 1, mass)]
        };
        let makers = if makers.is_empty() { end(self, used) } else { makers.to_vec() };
        let users = if users.is_empty() { end(self, made) } else { users.to_vec() };
        let (made, used) = (sum(&makers).max(1e-9), sum(&users).max(1e-9));
        for (from, out) in &makers {
            for (to, into) in users.iter().filter(|(to, _)| to != from) {
                self.bands.push(Band {
                    from: *from,
                    to: *to,
                    lot: lot.to_owned(),
                    left: out * into / used,
                    arrived: into * out / made,
                });
            }
        }
    }

    /// The mass of a node that says how long its bar is.
    fn mass(&self, node: usize) -> f64 {
        self.nodes.get(node).map_or(0.0, |n| n.into.max(n.out + n.lost()))
    }

    fn bands(
        &self,
        drawing: &mut Drawing,
        layout: &Layout,
        at: &[f64],
        unit: f64,
        bar: &dyn Fn(usize) -> f64,
    ) {
        // Bands leave and arrive side by side, in the order of what they lead to.
        let start = |node: usize| at[node] - self.mass(node) * unit / 2.0;
        let mut leaves: Vec<f64> = (0..self.nodes.len()).map(start).collect();
        let mut arrives = leaves.clone();
        let mut order: Vec<usize> = (0..self.bands.len()).collect();
        let place = |i: usize, end: fn(&[usize]) -> Option<&usize>| {
            end(&layout.chains[i]).map_or(0.0, |n| at[*n])
        };
        order.sort_by(|a, b| place(*a, |c| c.get(1)).total_cmp(&place(*b, |c| c.get(1))));
        let mut from = vec![0.0; self.bands.len()];
        for i in &order {
            let band = &self.bands[*i];
            from[*i] = leaves[band.from];
            leaves[band.from] += band.left * unit;
        }
        order.sort_by(|a, b| {
            place(*a, |c| c.iter().rev().nth(1)).total_cmp(&place(*b, |c| c.iter().rev().nth(1)))
        });
        for i in order {
            let band = &self.bands[i];
            let to = arrives[band.to];
            arrives[band.to] += band.arrived * unit;
            let chain = &layout.chains[i];
            let mut stops = vec![(from[i], bar(band.from) + BAR, (band.left * unit).max(0.8))];
            for node in chain.iter().skip(1).take(chain.len().saturating_sub(2)) {
                let w = (f64::midpoint(band.left, band.arrived) * unit).max(0.8);
                stops.push((at[*node] - w / 2.0, bar(*node) - 8.0, w));
                stops.push((at[*node] - w / 2.0, bar(*node) + BAR, w));
            }
            stops.push((to, bar(band.to), (band.arrived * unit).max(0.8)));
            let title = format!("{}: {} g", band.lot, grams(band.arrived));
            drawing.path(ribbon(&stops), "band-flow", title);
            // A lot at an end has its name there already.
            if self.nodes[band.from].is_step && self.nodes[band.to].is_step {
                let (x, y, w) = stops[0];
                let (x2, y2, w2) = stops[1];
                let middle =
                    (f64::midpoint(x + w / 2.0, x2 + w2 / 2.0), f64::midpoint(y, y2) - 2.0);
                drawing.text(middle, Anchor::Middle, "lot", fitted(&band.lot, NAME_MAX));
            }
        }
    }

    fn described(&self) -> String {
        let steps = self.nodes.iter().filter(|n| n.is_step);
        let (mut fed, mut lost, mut number) = (0.0, 0.0, 0);
        for node in self.nodes.iter().filter(|n| !n.is_step && n.into > 0.0) {
            if self.bands.iter().any(|b| std::ptr::eq(&self.nodes[b.from], node)) {
                fed += node.out;
            }
        }
        let mut worst: Option<&Node> = None;
        for step in steps {
            number += 1;
            lost += step.lost();
            if worst.is_none_or(|w| step.lost() > w.lost()) {
                worst = Some(step);
            }
        }
        let most = worst.filter(|w| w.lost() > 0.0);
        let most = most.map(|w| format!(" Most of it at {}: {} g.", w.name, grams(w.lost())));
        format!(
            "{number} steps. {} g came in from outside; {} g were lost on the way.{}",
            grams(fed),
            grams(lost),
            most.unwrap_or_default()
        )
    }
}

impl Node {
    fn lost(&self) -> f64 {
        self.lost.values().sum()
    }

    /// What is lost, in a few words.
    fn loses(&self) -> String {
        let lost = self.lost();
        if lost <= 0.0 {
            return String::new();
        }
        let share = if self.into > 0.0 {
            format!(" ({} %)", percent(100.0 * lost / self.into))
        } else {
            String::new()
        };
        format!("\u{2212}{} g{share}", grams(lost))
    }

    fn draw(&self, drawing: &mut Drawing, at: f64, top: f64, unit: f64) {
        let long = (self.into.max(self.out + self.lost()) * unit).max(2.0);
        let left = at - long / 2.0;
        let causes: Vec<String> =
            self.lost.iter().map(|(cause, g)| format!("{cause} {} g", grams(*g))).collect();
        let lost = if causes.is_empty() {
            String::new()
        } else {
            format!("; lost: {}", causes.join(", "))
        };
        let title =
            format!("{}: {} g in, {} g out{lost}", self.name, grams(self.into), grams(self.out));
        drawing.rect((left, top), (long, BAR), if self.is_step { "step" } else { "end" }, title);
        let short = self.lost() * unit;
        if short > 0.0 {
            drawing.rect((left + long - short.max(1.0), top), (short.max(1.0), BAR), "lost", "");
        }
        let loses = self.loses();
        let up = if loses.is_empty() { 4.0 } else { 15.0 };
        let class = if self.is_step { "node" } else { "lot" };
        drawing.text((at, top - up), Anchor::Middle, class, fitted(&self.name, NAME_MAX));
        if !loses.is_empty() {
            drawing.text((at, top - 4.0), Anchor::Middle, "loses", loses);
        }
    }
}

/// A band through stops, each with its left end, its height on the drawing and its breadth.
fn ribbon(stops: &[(f64, f64, f64)]) -> String {
    let mut d = String::new();
    let Some((x, y, _)) = stops.first() else { return d };
    d.push_str(&format!("M{} {}", n(*x), n(*y)));
    for pair in stops.windows(2) {
        let ((_, y0, _), (x, y, _)) = (pair[0], pair[1]);
        let middle = f64::midpoint(y0, y);
        d.push_str(&format!(
            "C{} {} {} {} {} {}",
            n(pair[0].0),
            n(middle),
            n(x),
            n(middle),
            n(x),
            n(y)
        ));
    }
    for pair in stops.windows(2).rev() {
        let ((x0, y0, w0), (x, y, w)) = (pair[0], pair[1]);
        if d.ends_with(&format!("{} {}", n(x), n(y))) {
            d.push_str(&format!("H{}", n(x + w)));
        }
        let middle = f64::midpoint(y0, y);
        d.push_str(&format!(
            "C{} {} {} {} {} {}",
            n(x + w),
            n(middle),
            n(x0 + w0),
            n(middle),
            n(x0 + w0),
            n(y0)
        ));
    }
    d + "Z"
}
