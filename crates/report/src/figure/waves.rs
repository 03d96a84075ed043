//! Waves along a spool by their length: an amplitude over each period, named by what fits it.

use super::Figure;
use super::axes::{ACROSS, Axes, WIDTH};
use super::scale::Scale;
use super::svg::{Anchor, Drawing, fitted, width_of};
use crate::collect::WaveFigures;
use crate::numbers::significant;

const TOP: f64 = 28.0;
const BOTTOM: f64 = 170.0;
/// Waves that are named.
const NAMED: usize = 6;

pub(crate) fn draw(lot: &str, waves: &[WaveFigures]) -> Option<Figure> {
    let first = waves.first()?;
    let (shortest, longest) = waves
        .iter()
        .fold(first.looked_for_m, |(s, l), w| (s.min(w.looked_for_m.0), l.max(w.looked_for_m.1)));
    let highest = waves.iter().map(|w| w.amplitude_mm + 2.0 * w.u_amplitude_mm).fold(0.0, f64::max);
    let x = Scale::log((shortest, longest), ACROSS);
    let axes = Axes::new(x, Scale::new((0.0, 1000.0 * highest * 1.25), (BOTTOM, TOP)), TOP, BOTTOM);
    let mut drawing = Drawing::new(WIDTH, BOTTOM + 36.0);
    axes.upright(&mut drawing, "amplitude, \u{b5}m");
    let mut named: Vec<(f64, f64, f64)> = Vec::new();
    for (i, w) in waves.iter().enumerate() {
        let (px, py) = axes.at(w.period_m, 1000.0 * w.amplitude_mm);
        drawing.line((px, BOTTOM), (px, py), "stick");
        let (low, high) =
            (w.amplitude_mm - 2.0 * w.u_amplitude_mm, w.amplitude_mm + 2.0 * w.u_amplitude_mm);
        drawing.line((px, axes.y.within(1000.0 * low)), (px, axes.y.at(1000.0 * high)), "whisker");
        drawing.circle(
            (px, py),
            3.5,
            "peak",
            format!(
                "{} m, {} \u{b5}m: {}",
                significant(w.period_m, 4),
                significant(1000.0 * w.amplitude_mm, 3),
                w.cause
            ),
        );
        if i >= NAMED {
            continue;
        }
        let label = format!("{} m: {}", significant(w.period_m, 3), fitted(&w.name, 150.0));
        let half = width_of(&label) / 2.0;
        let at = (px.clamp(axes.left + half, (axes.right - half).max(axes.left + half)), py - 9.0);
        // Where names would stand on one another, the table has them.
        if named.iter().all(|(x, y, h)| (x - at.0).abs() > h + half || (y - at.1).abs() > 12.0) {
            drawing.text(at, Anchor::Middle, "label", label);
            named.push((at.0, at.1, half));
        }
    }
    axes.level(&mut drawing, BOTTOM, "length of a wave, m (logarithmic)");
    let told = waves.iter().take(NAMED).map(|w| {
        format!(
            "{} m, {} \u{b5}m, {}",
            significant(w.period_m, 3),
            significant(1000.0 * w.amplitude_mm, 3),
            w.cause
        )
    });
    Some(Figure {
        title: format!("Waves along lot {lot}"),
        description: format!("Significant waves: {}.", told.collect::<Vec<_>>().join("; ")),
        caption: format!(
            "Looked for from {} to {} m.",
            significant(shortest, 2),
            significant(longest, 2)
        ),
        drawing,
        network: false,
    })
}
