//! Which lot was made of which: the genealogy, oldest at the top.

use super::Figure;
use super::axes::WIDTH;
use super::layers::Layout;
use super::svg::{Anchor, Drawing, fitted, n, width_of};
use crate::collect::Parent;
use crate::numbers::percent;
use std::collections::BTreeMap;

/// Lots of a drawing that can still be read.
pub(crate) const LOTS_MAX: usize = 80;
const PITCH: f64 = 52.0;
const BOX: f64 = 20.0;
const NAME_MAX: f64 = 120.0;

/// The drawing; none where there is nothing to draw, or more than can be read.
pub(crate) fn draw(parents: &[Parent]) -> Option<Figure> {
    let mut numbers: BTreeMap<&str, usize> = BTreeMap::new();
    let mut names: Vec<&str> = Vec::new();
    let mut edges = Vec::new();
    for p in parents.iter().filter(|p| p.lot != p.from) {
        for name in [p.from.as_str(), p.lot.as_str()] {
            if !numbers.contains_key(name) {
                numbers.insert(name, names.len());
                names.push(name);
            }
        }
        edges.push((numbers[p.from.as_str()], numbers[p.lot.as_str()]));
    }
    if names.is_empty() || names.len() > LOTS_MAX {
        return None;
    }
    let layout = Layout::new(names.len(), &edges);
    let widths =
        |node: usize| names.get(node).map_or(6.0, |name| width_of(&fitted(name, NAME_MAX)) + 12.0);
    let (at, width) = layout.places(&widths, 8.0, WIDTH);
    let mut row_of = vec![0; at.len()];
    for (i, row) in layout.rows.iter().enumerate() {
        row.iter().for_each(|node| row_of[*node] = i);
    }
    let top = |node: usize| 6.0 + PITCH * row_of[node] as f64;
    let mut drawing = Drawing::new(width, PITCH * layout.rows.len() as f64 - PITCH + BOX + 12.0);
    let shares = parents.iter().filter(|p| p.lot != p.from).map(|p| p.share_pct);
    for (chain, share) in layout.chains.iter().zip(shares) {
        let (Some(first), Some(last)) = (chain.first(), chain.last()) else { continue };
        let mut d = format!("M{} {}", n(at[*first]), n(top(*first) + BOX));
        for pair in chain.windows(2) {
            let (from, to) = (top(pair[0]) + BOX, top(pair[1]));
            let middle = f64::midpoint(from, to);
            let (x0, x) = (at[pair[0]], at[pair[1]]);
            d.push_str(&format!(
                "C{} {} {} {} {} {}",
                n(x0),
                n(middle),
                n(x),
                n(middle),
                n(x),
                n(to)
            ));
            if pair[1] != *last {
                d.push_str(&format!("V{}", n(to + BOX)));
            }
        }
        let class = match share {
            Some(pct) if pct >= 66.0 => "kin most",
            Some(pct) if pct >= 33.0 => "kin much",
            _ => "kin",
        };
        let part = share.map(|pct| format!(", {} % of it", percent(pct))).unwrap_or_default();
        drawing.path(d, class, format!("{} from {}{part}", names[*last], names[*first]));
    }
    for (i, name) in names.iter().enumerate() {
        let w = widths(i);
        drawing.rect((at[i] - w / 2.0, top(i)), (w, BOX), "box", *name);
        drawing.text((at[i], top(i) + 14.0), Anchor::Middle, "node", fitted(name, NAME_MAX));
    }
    let roots = names.iter().enumerate().filter(|(i, _)| edges.iter().all(|(_, to)| to != i));
    let roots: Vec<&str> = roots.map(|(_, name)| *name).collect();
    Some(Figure {
        title: "Which lot came from which".to_owned(),
        description: format!("{} lots. First of all: {}.", names.len(), roots.join(", ")),
        caption: "From top to bottom. A line leads from a lot to one that was made of it; the broader, the greater its share.".to_owned(),
        drawing,
        network: true,
    })
}
