//! The control charts of a lot: means and spreads of its subgroups, their limits, their signals.

use super::Figure;
use super::axes::{ACROSS, Axes, WIDTH};
use super::scale::Scale;
use super::svg::{Drawing, n};
use crate::collect::{ChartCurves, Series};
use crate::numbers::{count, fixed};

/// Subgroups up to which each is a dot of its own.
const DOTS: usize = 240;

pub(crate) fn draw(lot: &str, curves: &ChartCurves) -> Option<Figure> {
    let x = Scale::new(curves.means.places()?, ACROSS);
    let lines = curves.limits.as_ref();
    let mut drawing = Drawing::new(WIDTH, 316.0);
    let signals = |of: fn(&crate::collect::Signal) -> f32| {
        curves
            .signals
            .iter()
            .map(move |s| (f64::from(s.at), f64::from(of(s)), s.rules.as_str()))
            .collect::<Vec<_>>()
    };
    let (mean, spread) = (lines.map(|l| l.mean), lines.map(|l| l.spread));
    panel(
        &mut drawing,
        x,
        (28.0, 160.0),
        "mean of a subgroup, mm",
        &curves.means,
        mean,
        &signals(|s| s.mean),
    );
    panel(
        &mut drawing,
        x,
        (192.0, 280.0),
        "standard deviation within it, mm",
        &curves.spreads,
        spread,
        &signals(|s| s.sd),
    );
    let axes = Axes::new(x, x, 192.0, 280.0);
    axes.level(
        &mut drawing,
        280.0,
        if curves.by_length { "position, m" } else { "number of the reading" },
    );
    Some(Figure {
        title: format!("Control charts of lot {lot}"),
        description: description(curves),
        caption: caption(curves),
        drawing,
        network: false,
    })
}

fn description(curves: &ChartCurves) -> String {
    let mut text = match &curves.limits {
        Some(l) => format!(
            "{} subgroups; limits of their means {} to {} mm. ",
            count(l.subgroups),
            fixed(l.mean[0], 4),
            fixed(l.mean[2], 4)
        ),
        None => String::new(),
    };
    text.push_str(&match curves.signals_total {
        0 => "No rule signals.".to_owned(),
        n => format!("At {} of them a rule signals.", count(n)),
    });
    text
}

fn caption(curves: &ChartCurves) -> String {
    let mut text = description(curves);
    let Some(lines) = &curves.limits else { return text };
    match &lines.learned_from {
        Some(lots) => text.push_str(&format!(" Limits learned from {lots}.")),
        None => text.push_str(" The limits are the lot's own."),
    }
    let rules: Vec<String> = lines
        .signals
        .iter()
        .filter(|(_, seen, _)| *seen > 0.0)
        .map(|(rule, seen, chance)| {
            format!("{rule} {} (by chance {})", fixed(*seen, 0), fixed(*chance, 1))
        })
        .collect();
    if !rules.is_empty() {
        text.push_str(&format!(" Signals: {}.", rules.join(", ")));
    }
    text
}

fn panel(
    drawing: &mut Drawing,
    x: Scale,
    (top, bottom): (f64, f64),
    name: &str,
    series: &Series,
    lines: Option<[f64; 3]>,
    signals: &[(f64, f64, &str)],
) {
    let (least, most) = series.range().unwrap_or((0.0, 1.0));
    let (low, high) = lines.map_or((least, most), |l| (least.min(l[0]), most.max(l[2])));
    let axes = Axes::new(x, Scale::roomy((low, high), (bottom, top), 0.06), top, bottom);
    axes.upright(drawing, name);
    if let Some([low, centre, high]) = lines {
        for (value, class) in [(low, "limit"), (centre, "centre"), (high, "limit")] {
            let y = axes.y.at(value);
            drawing.line((axes.left, y), (axes.right, y), class);
        }
    }
    let points = series.points();
    if series.is_single() && points.len() <= DOTS {
        let mut line = String::new();
        for (i, p) in points.iter().enumerate() {
            let (px, py) = axes.at(f64::from(p.from), f64::from(p.mean));
            line.push_str(&format!("{}{} {}", if i == 0 { 'M' } else { 'L' }, n(px), n(py)));
        }
        drawing.path(line, "joined", "");
        let dots: String = points
            .iter()
            .map(|p| {
                let (px, py) = axes.at(f64::from(p.from), f64::from(p.mean));
                // A line without length and with round ends is a dot.
                format!("M{} {}h0", n(px), n(py))
            })
            .collect();
        drawing.path(dots, "dots", "");
    } else {
        let strokes: String = points
            .iter()
            .map(|p| {
                let px = axes.x.at(f64::from(p.from));
                format!(
                    "M{} {}V{}",
                    n(px),
                    n(axes.y.at(f64::from(p.high)) - 0.4),
                    n(axes.y.at(f64::from(p.low)) + 0.4)
                )
            })
            .collect();
        drawing.path(strokes, "spread", "");
    }
    for (at, value, rules) in signals {
        drawing.circle(
            axes.at(*at, *value),
            4.0,
            "signal",
            format!("{rules} at {}", fixed(*at, 1)),
        );
    }
}
