//! Plots of what was found.

use crate::collect::ChartFigures;
use crate::document::{Block, Document, Figure, Level, Point};

/// The control chart of a lot: means of subgroups with their limits and signals.
pub(super) fn control(document: &mut Document, lot: &str, chart: &ChartFigures) {
    let Some((centre, low, high)) = chart.lines_mm else { return };
    let signals = chart.points.iter().filter(|(.., signals)| !signals.is_empty()).count();
    let limits = match chart.limits_of.as_str() {
        "" => "its own".to_owned(),
        lots => format!("those of {lots}"),
    };
    let point = |(x, y, signals): &(f64, f64, String)| Point {
        x: *x,
        y: *y,
        marked: (!signals.is_empty()).then(|| signals.clone()),
    };
    let level = |y, is_limit| Level { y, is_limit };
    document.blocks.push(Block::Figure(Figure {
        title: format!("Control chart of {lot}"),
        description: format!(
            "{} means of subgroups about {centre:.4} mm, limits {low:.4} and {high:.4} mm, {limits}; {signals} of them with a \
             signal, in circles. Signals by chance alone are counted beside them in the table chart",
            chart.points.len()
        ),
        x_title: if chart.by_position { "position, m" } else { "reading" }.to_owned(),
        y_title: "mean diameter, mm".to_owned(),
        points: chart.points.iter().map(point).collect(),
        lines: vec![level(centre, false), level(low, true), level(high, true)],
    }));
}
