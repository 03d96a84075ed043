//! A plot as inline SVG.

use super::escaped;
use crate::document::Figure;
use std::fmt::Write;

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 260.0;
const LEFT: f64 = 64.0;
const RIGHT: f64 = 12.0;
const TOP: f64 = 12.0;
const BOTTOM: f64 = 40.0;

/// The plot with its title and description; `n` makes its ids unique in the page.
pub(super) fn svg(figure: &Figure, n: usize) -> String {
    let ys = figure.points.iter().map(|p| p.y).chain(figure.lines.iter().map(|l| l.y));
    let (Some(xs), Some(ys)) = (extent(figure.points.iter().map(|p| p.x)), extent(ys)) else {
        return String::new();
    };
    let (xs, ys) = (widened(xs, 0.0), widened(ys, 0.06));
    let x = |v: f64| LEFT + (v - xs.0) / (xs.1 - xs.0) * (WIDTH - LEFT - RIGHT);
    let y = |v: f64| HEIGHT - BOTTOM - (v - ys.0) / (ys.1 - ys.0) * (HEIGHT - TOP - BOTTOM);
    let mut out = format!(
        "<figure>\n<svg viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" aria-labelledby=\"t{n} d{n}\">\n\
         <title id=\"t{n}\">{}</title>\n<desc id=\"d{n}\">{}</desc>\n",
        escaped(&figure.title),
        escaped(&figure.description)
    );
    let (right, bottom) = (WIDTH - RIGHT, HEIGHT - BOTTOM);
    let _ = writeln!(
        out,
        "<rect class=\"frame\" x=\"{LEFT}\" y=\"{TOP}\" width=\"{:.1}\" height=\"{:.1}\"/>",
        right - LEFT,
        bottom - TOP
    );
    for tick in ticks(ys) {
        let at = y(tick);
        let _ = writeln!(
            out,
            "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{}</text>",
            LEFT - 6.0,
            at + 4.0,
            short(tick)
        );
    }
    for tick in ticks(xs) {
        let _ = writeln!(
            out,
            "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>",
            x(tick),
            bottom + 16.0,
            short(tick)
        );
    }
    let _ = writeln!(
        out,
        "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>",
        (LEFT + right) / 2.0,
        HEIGHT - 6.0,
        escaped(&figure.x_title)
    );
    let _ = writeln!(
        out,
        "<text x=\"14\" y=\"{:.1}\" text-anchor=\"middle\" transform=\"rotate(-90 14 {:.1})\">{}</text>",
        (TOP + bottom) / 2.0,
        (TOP + bottom) / 2.0,
        escaped(&figure.y_title)
    );
    for line in &figure.lines {
        let class = if line.is_limit { "limit" } else { "centre" };
        let at = y(line.y);
        let _ = writeln!(
            out,
            "<line class=\"{class}\" x1=\"{LEFT}\" x2=\"{right}\" y1=\"{at:.1}\" y2=\"{at:.1}\"/>"
        );
    }
    let trace: Vec<String> =
        figure.points.iter().map(|p| format!("{:.1},{:.1}", x(p.x), y(p.y))).collect();
    let _ = writeln!(out, "<polyline class=\"trace\" points=\"{}\"/>", trace.join(" "));
    for point in figure.points.iter().filter(|p| p.marked.is_some()) {
        let why = point.marked.as_deref().unwrap_or_default();
        let _ = writeln!(
            out,
            "<circle class=\"signal\" cx=\"{:.1}\" cy=\"{:.1}\" r=\"5\"><title>{}</title></circle>",
            x(point.x),
            y(point.y),
            escaped(why)
        );
    }
    let _ = write!(
        out,
        "</svg>\n<figcaption>{}. {}</figcaption>\n</figure>\n",
        escaped(&figure.title),
        escaped(&figure.description)
    );
    out
}

/// Smallest and largest of finite values.
fn extent(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values.filter(|v| v.is_finite()).fold(None, |ends, v| {
        let (low, high) = ends.unwrap_or((v, v));
        Some((low.min(v), high.max(v)))
    })
}

/// A range with some room, never empty.
fn widened((low, high): (f64, f64), by: f64) -> (f64, f64) {
    let room = (high - low) * by;
    if high > low { (low - room, high + room) } else { (low - 0.5, high + 0.5) }
}

/// Some four round values within a range.
fn ticks((low, high): (f64, f64)) -> Vec<f64> {
    let raw = (high - low) / 4.0;
    let power = 10_f64.powf(raw.log10().floor());
    let step =
        [1.0, 2.0, 5.0, 10.0].map(|m| m * power).into_iter().find(|s| *s >= raw).unwrap_or(raw);
    let first = (low / step).ceil();
    (0..12).map(|n| (first + f64::from(n)) * step).take_while(|tick| *tick <= high).collect()
}

/// A tick without the noise of its sum.
fn short(tick: f64) -> String {
    format!("{}", (tick * 1e9).round() / 1e9)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_within() {
        assert_eq!(
            ticks((1.738, 1.762)).iter().map(|t| short(*t)).collect::<Vec<_>>(),
            ["1.74", "1.75", "1.76"]
        );
        assert_eq!(
            ticks((0.0, 118.0)).iter().map(|t| short(*t)).collect::<Vec<_>>(),
            ["0", "50", "100"]
        );
    }

    #[test]
    fn nothing_and_one_point_do_no_harm() {
        let figure = Figure::default();
        assert_eq!(svg(&figure, 1), "");
        let one = Figure {
            points: vec![crate::document::Point { x: 1.0, y: 2.0, marked: None }],
            ..figure
        };
        assert!(!svg(&one, 1).contains("NaN"));
    }
}
