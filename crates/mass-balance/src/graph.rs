//! The network of steps and lots: each weighing is a flow between two of its nodes.

use crate::book::{Book, Weighing};
use crate::lot::{self, Part, Sides};
use crate::names::Id;
use crate::step::WATER_OFF;
use secondmelt_quality::network::{Flow, Measured, OUTSIDE};
use secondmelt_record::facts::Role;
use std::collections::{BTreeMap, HashMap, HashSet};

/// The network.
#[derive(Debug)]
pub(crate) struct Graph<'a> {
    pub(crate) book: &'a Book,
    /// One flow a weighing, in an order that does not depend on that of the records.
    pub(crate) streams: Vec<Stream<'a>>,
    /// What was left of lots and not weighed, and what came in of lots that no step made.
    implied: Vec<Flow>,
    /// Step or lot of each node; the first is the outside.
    nodes: Vec<Node>,
}

/// A weighing and its flow.
#[derive(Debug)]
pub(crate) struct Stream<'a> {
    pub(crate) weighing: &'a Weighing,
    pub(crate) flow: Flow,
}

/// What a node stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Node {
    Outside,
    Step(Id),
    Lot(Id),
}

/// Nodes by step and lot.
struct Numbers {
    steps: HashMap<Id, usize>,
    lots: HashMap<Id, usize>,
    nodes: Vec<Node>,
}

impl Numbers {
    /// Steps with something on both sides, and every lot, by name. A step that has nothing
    /// going in, or nothing coming out, has no balance and is taken as the outside.
    fn new(book: &Book) -> Self {
        let mut sides: HashMap<Id, (bool, bool)> = HashMap::new();
        let mut lots: BTreeMap<&str, Id> = BTreeMap::new();
        for weighing in book.weighings() {
            lots.insert(book.name(weighing.lot), weighing.lot);
            let side = sides.entry(weighing.step).or_default();
            side.0 |= weighing.role == Role::In;
            side.1 |= !matches!(weighing.role, Role::In | Role::Stock);
        }
        let both = sides.iter().filter(|(_, (fed, out))| *fed && *out);
        let steps: BTreeMap<&str, Id> = both.map(|(step, _)| (book.name(*step), *step)).collect();
        let mut numbers =
            Self { steps: HashMap::new(), lots: HashMap::new(), nodes: vec![Node::Outside] };
        for step in steps.into_values() {
            numbers.steps.insert(step, numbers.nodes.len());
            numbers.nodes.push(Node::Step(step));
        }
        for lot in lots.into_values() {
            numbers.lots.insert(lot, numbers.nodes.len());
            numbers.nodes.push(Node::Lot(lot));
        }
        numbers
    }

    fn step(&self, step: Id) -> usize {
        self.steps.get(&step).copied().unwrap_or(OUTSIDE)
    }

    fn lot(&self, lot: Id) -> usize {
        self.lots.get(&lot).copied().unwrap_or(OUTSIDE)
    }
}

impl<'a> Graph<'a> {
    pub(crate) fn new(book: &'a Book) -> Self {
        let (sides, numbers) = (Sides::new(book), Numbers::new(book));
        let mut streams: Vec<_> = book
            .weighings()
            .iter()
            .filter(|weighing| weighing.role != Role::Stock)
            .map(|weighing| Stream { weighing, flow: flow(book, weighing, &sides, &numbers) })
            .collect();
        let mut made: HashSet<usize> = HashSet::new();
        let mut used_unweighed: HashSet<usize> = HashSet::new();
        for Stream { weighing, flow } in &streams {
            made.insert(flow.to);
            if weighing.mass_g.is_none() {
                used_unweighed.insert(flow.from);
            }
        }
        let mut implied = Vec::new();
        let stocks: HashMap<_, _> =
            lot::balances(book).iter().map(|b| (b.lot(), b.stock_now())).collect();
        for (lot, node) in numbers.nodes.iter().enumerate().filter_map(|(n, node)| match node {
            Node::Lot(lot) => Some((*lot, n)),
            _ => None,
        }) {
            if !made.contains(&node) {
                implied.push(Flow { from: OUTSIDE, to: node, measured: None });
            }
            match stocks.get(&lot).copied().flatten() {
                Some(weighing) => streams.push(Stream {
                    weighing,
                    flow: Flow { from: node, to: OUTSIDE, measured: measured(book, weighing) },
                }),
                // What flowed on and was not weighed was the whole of what was left.
                None if used_unweighed.contains(&node) => {}
                None => implied.push(Flow { from: node, to: OUTSIDE, measured: None }),
            }
        }
        implied.extend(waters(book, &numbers));
        streams.sort_by_cached_key(|stream| key(book, stream.weighing));
        Self { book, streams, implied, nodes: numbers.nodes }
    }

    pub(crate) fn nodes(&self) -> &[Node] {
        &self.nodes
    }

    /// Whether a stream puts plastic into its lot.
    pub(crate) fn makes(&self, stream: &Stream<'_>) -> bool {
        stream.weighing.role == Role::Out
            || matches!(self.nodes.get(stream.flow.to), Some(Node::Lot(lot)) if *lot == stream.weighing.lot)
    }

    /// Every flow: those of the weighings in the order of `streams`, then what is implied.
    pub(crate) fn flows(&self) -> Vec<Flow> {
        self.streams.iter().map(|stream| stream.flow).chain(self.implied.iter().copied()).collect()
    }
}

/// Water that moisture readings account for in steps that dry or wash, as flows that are known.
fn waters(book: &Book, numbers: &Numbers) -> Vec<Flow> {
    let mut steps: BTreeMap<usize, (Id, Vec<&Weighing>)> = BTreeMap::new();
    for weighing in book.weighings() {
        if let Some(node) = numbers.steps.get(&weighing.step) {
            steps.entry(*node).or_insert((weighing.step, Vec::new())).1.push(weighing);
        }
    }
    let water = |(node, (step, weighings)): (usize, (Id, Vec<&Weighing>))| {
        let water = book.water_g(step, &weighings).filter(|water| *water != 0.0)?;
        let measured = Some(Measured { value: water.abs(), sigma: WATER_OFF * water.abs() });
        let (from, to) = if water > 0.0 { (node, OUTSIDE) } else { (OUTSIDE, node) };
        Some(Flow { from, to, measured })
    };
    steps.into_iter().filter_map(water).collect()
}

type Key = (String, String, Role, Option<u64>, Option<i64>, String);

fn key(book: &Book, weighing: &Weighing) -> Key {
    let text = |id| book.name(id).to_owned();
    let mass = weighing.mass_g.map(f64::to_bits);
    let place = book.place(weighing);
    (text(weighing.step), text(weighing.lot), weighing.role, mass, weighing.at_ms, place)
}

/// A weighing without a known uncertainty has no weight, and is left out like one that was
/// not made.
fn measured(book: &Book, weighing: &Weighing) -> Option<Measured> {
    let (value, sigma) = weighing.mass_g.zip(book.u_g(weighing))?;
    Some(Measured { value, sigma })
}

fn flow(book: &Book, weighing: &Weighing, sides: &Sides, numbers: &Numbers) -> Flow {
    let (step, lot) = (numbers.step(weighing.step), numbers.lot(weighing.lot));
    let (from, to) = match (sides.part(weighing), weighing.role) {
        (Part::Used, Role::In) => (lot, step),
        (Part::Used, _) => (lot, OUTSIDE),
        (Part::Made, _) => (step, lot),
        (Part::Neither | Part::Stock, _) => (step, OUTSIDE),
    };
    Flow { from, to, measured: measured(book, weighing) }
}
