//! Melt flow by the number of passes: tested lots, the line through them, and what the next pass
//! should bring.

use super::Figure;
use super::axes::{ACROSS, Axes, WIDTH};
use super::scale::Scale;
use super::svg::{Anchor, Drawing, fitted, n, width_of};
use crate::collect::{FlowDrift, Left};
use crate::numbers::{fixed, significant};

const TOP: f64 = 28.0;
const BOTTOM: f64 = 206.0;

/// A tested lot.
#[derive(Debug)]
pub(crate) struct Tested<'a> {
    pub(crate) lot: &'a str,
    pub(crate) passes: u64,
    pub(crate) mfr: f64,
}

/// One material at one temperature and load: tests, lines of families, limits.
pub(crate) fn draw(tested: &[Tested<'_>], drifts: &[&FlowDrift], left: &[&Left]) -> Option<Figure> {
    let first = drifts.first()?;
    let passes =
        tested.iter().map(|t| t.passes as f64).chain(drifts.iter().map(|d| d.next_pass as f64));
    let most = passes.fold(1.0, f64::max);
    let shown = tested.iter().map(|t| t.mfr).chain(drifts.iter().flat_map(|d| d.next));
    let shown = shown.chain(left.iter().map(|l| l.limit_g_10min));
    let (lowest, highest) =
        shown.fold((f64::INFINITY, 0.0), |(l, h): (f64, f64), x| (l.min(x), h.max(x)));
    let x = Scale::new((-0.3, most + 0.4), ACROSS);
    let axes = Axes::new(x, Scale::roomy((lowest, highest), (BOTTOM, TOP), 0.1), TOP, BOTTOM);
    let mut drawing = Drawing::new(WIDTH, BOTTOM + 36.0);
    axes.upright(&mut drawing, "melt flow rate, g/10 min");
    for limit in left {
        let y = axes.y.at(limit.limit_g_10min);
        drawing.line((axes.left, y), (axes.right, y), "limit");
        let label = format!("limit {}", significant(limit.limit_g_10min, 3));
        drawing.text((axes.left + 4.0, y - 3.0), Anchor::Start, "label", label);
    }
    for drift in drifts {
        line(&mut drawing, &axes, drift);
    }
    for t in tested {
        let title =
            format!("{}: {} g/10 min after {} passes", t.lot, significant(t.mfr, 3), t.passes);
        drawing.circle(axes.at(t.passes as f64, t.mfr), 3.5, "tested", title);
    }
    level(&mut drawing, &axes, most);
    let families = drifts.iter().map(|d| {
        format!(
            "{}: one pass multiplies it by {} ({} to {} at 95 %); pass {} should give {} ({} to {} for one lot at 95 %).",
            d.lot,
            fixed(d.factor[0], 3), fixed(d.factor[1], 3), fixed(d.factor[2], 3),
            d.next_pass,
            significant(d.next[0], 3), significant(d.next[1], 3), significant(d.next[2], 3)
        )
    });
    let at = format!(
        "{} at {} \u{b0}C and {} kg",
        first.material,
        significant(first.temp_c, 4),
        fixed(first.load_kg, 2)
    );
    Some(Figure {
        title: format!("Melt flow of {at} by pass"),
        description: families.collect::<Vec<_>>().join(" "),
        caption: "Dots: tested lots; lines: the fit through each family of lots, named by its oldest; whiskers: 95 % prediction interval of one lot after the next pass; dashed: limits.".to_owned(),
        drawing,
        network: false,
    })
}

/// The fit of a family, a straight line in the logarithms, and the interval of the next pass.
fn line(drawing: &mut Drawing, axes: &Axes, d: &FlowDrift) {
    let next = d.next_pass as f64;
    let value = |pass: f64| d.next[0] * d.factor[0].powf(pass - next);
    let (from, to) = (d.from_pass as f64, d.to_pass as f64);
    let stretch = |from: f64, to: f64| {
        (0..=24)
            .map(|i| {
                let pass = from + (to - from) * f64::from(i) / 24.0;
                let (x, y) = axes.at(pass, value(pass));
                format!("{}{} {}", if i == 0 { 'M' } else { 'L' }, n(x), n(y))
            })
            .collect::<String>()
    };
    drawing.path(stretch(from, to), "fit", "");
    drawing.path(stretch(to, next), "fit ahead", "");
    let (x, low) = axes.at(next, d.next[1]);
    let high = axes.y.at(d.next[2]);
    let caps = format!(
        "M{} {}V{}M{} {}h8M{} {}h8",
        n(x),
        n(low),
        n(high),
        n(x - 4.0),
        n(low),
        n(x - 4.0),
        n(high)
    );
    drawing.path(
        caps,
        "whisker",
        format!(
            "pass {}: {} to {}",
            d.next_pass,
            significant(d.next[1], 3),
            significant(d.next[2], 3)
        ),
    );
    drawing.circle((x, axes.y.at(d.next[0])), 2.6, "expected", "");
    let label = fitted(&d.lot, 90.0);
    let start = (x + 7.0).min(axes.right - width_of(&label));
    let beside = if start < x + 7.0 { high - 5.0 } else { axes.y.at(d.next[0]) + 4.0 };
    drawing.text((start, beside), Anchor::Start, "label", label);
}

/// Whole passes only.
fn level(drawing: &mut Drawing, axes: &Axes, most: f64) {
    drawing.line((axes.left, axes.bottom), (axes.right, axes.bottom), "axis");
    let step = (most / 12.0).ceil().max(1.0);
    let mut pass = 0.0;
    while pass <= most {
        let x = axes.x.at(pass);
        drawing.line((x, axes.bottom), (x, axes.bottom + 4.0), "axis");
        drawing.text((x, axes.bottom + 16.0), Anchor::Middle, "tick", fixed(pass, 0));
        pass += step;
    }
    drawing.text((axes.right, axes.bottom + 31.0), Anchor::End, "name", "times melted");
}
