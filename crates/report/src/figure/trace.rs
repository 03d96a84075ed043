//! The diameter along a spool: from the lowest to the highest in every column, the tolerance of
//! each machine, where it is out, and what is kept.

use super::Figure;
use super::axes::{ACROSS, Axes, WIDTH};
use super::scale::Scale;
use super::svg::{Anchor, Drawing, fitted, n};
use crate::collect::{Curve, Place, Share, Stretch, Stretches};
use crate::numbers::{count, fixed, significant};

/// Machines whose tolerance is drawn.
const MACHINES: usize = 4;
const TOP: f64 = 28.0;
const BOTTOM: f64 = 190.0;
/// Readings up to which each is drawn for itself.
const DOTS: u64 = 100;
/// Height of what is said of one machine under the curve.
const STRIP: f64 = 34.0;

/// A machine's limits and its stretches of a lot.
pub(crate) struct Judged<'a> {
    pub(crate) share: &'a Share,
    pub(crate) stretches: Option<&'a Stretches>,
}

impl Judged<'_> {
    fn limits(&self) -> (f64, f64) {
        (
            self.share.nominal_mm - self.share.tolerance_mm,
            self.share.nominal_mm + self.share.tolerance_mm,
        )
    }
}

/// What is seen in one column of the drawing.
#[derive(Clone, Copy)]
struct Column {
    low: f64,
    high: f64,
    mean: Option<f64>,
}

pub(crate) fn draw(lot: &str, curve: &Curve, judged: &[Judged<'_>]) -> Option<Figure> {
    let (least, most) = curve.series.range()?;
    let judged = &judged[..judged.len().min(MACHINES)];
    let limits = judged.iter().flat_map(|j| [j.limits().0, j.limits().1]);
    let (low, high) = limits.fold((least, most), |(l, h), x| (l.min(x), h.max(x)));
    let x = Scale::new(curve.series.places()?, ACROSS);
    let axes = Axes::new(x, Scale::roomy((low, high), (BOTTOM, TOP), 0.04), TOP, BOTTOM);
    // Only where something is said of it, a machine has a strip.
    let strips: Vec<&Judged<'_>> =
        judged.iter().filter(|j| j.stretches.is_some() && curve.place == Place::Metres).collect();
    let floor = BOTTOM + 8.0 + STRIP * strips.len() as f64;
    let mut drawing = Drawing::new(WIDTH, floor + 36.0);
    axes.upright(&mut drawing, "diameter, mm");
    bands(&mut drawing, &axes, judged);
    if curve.readings <= DOTS && curve.series.is_single() {
        dots(&mut drawing, &axes, curve, judged);
    } else {
        curves(&mut drawing, &axes, &columns(curve, &axes), judged);
    }
    names(&mut drawing, &axes, judged);
    for (i, judged) in strips.iter().enumerate() {
        strip(&mut drawing, &axes, BOTTOM + 8.0 + STRIP * i as f64, judged);
    }
    let place = match curve.place {
        Place::Metres => "position, m",
        Place::Seconds => "time, s",
        Place::Number => "number of the reading",
    };
    axes.level(&mut drawing, floor, place);
    Some(Figure {
        title: format!("Diameter along lot {lot}"),
        description: description(curve, judged, (least, most)),
        caption: description(curve, judged, (least, most)),
        drawing,
        network: false,
    })
}

fn description(curve: &Curve, judged: &[Judged<'_>], range: (f64, f64)) -> String {
    let mut text = format!(
        "{} readings from {} to {} mm.",
        count(curve.readings),
        fixed(range.0, 3),
        fixed(range.1, 3)
    );
    for j in judged {
        let s = j.share;
        text.push_str(&format!(
            " {} allows {} \u{b1} {} mm: {} readings out.",
            s.machine,
            fixed(s.nominal_mm, 2),
            significant(s.tolerance_mm, 3),
            count(s.readings_out)
        ));
    }
    text
}

/// Readings gathered by column: each point counts where its extremes lie.
fn columns(curve: &Curve, axes: &Axes) -> Vec<Option<Column>> {
    let mut columns: Vec<Option<Column>> = vec![None; (axes.right - axes.left) as usize + 1];
    let index = |x: f32| (axes.x.within(f64::from(x)) - axes.left).round() as usize;
    for p in curve.series.points() {
        for (at, value) in [(p.low_at, p.low), (p.high_at, p.high)] {
            let Some(slot) = columns.get_mut(index(at)) else { continue };
            let v = f64::from(value);
            let c = slot.get_or_insert(Column { low: v, high: v, mean: None });
            (c.low, c.high) = (c.low.min(v), c.high.max(v));
        }
        if let Some(Some(c)) = columns.get_mut(index(p.low_at)) {
            c.mean = Some(f64::from(p.mean));
        }
    }
    columns
}

/// Bands, the widest first.
fn bands(drawing: &mut Drawing, axes: &Axes, judged: &[Judged<'_>]) {
    for j in widest_first(judged) {
        let (low, high) = j.limits();
        let (top, bottom) = (axes.y.within(high), axes.y.within(low));
        drawing.rect((axes.left, top), (axes.right - axes.left, bottom - top), "band", "");
        for y in [top, bottom] {
            drawing.line((axes.left, y), (axes.right, y), "limit");
        }
    }
}

/// Names of the machines at their upper limits, where there is room.
fn names(drawing: &mut Drawing, axes: &Axes, judged: &[Judged<'_>]) {
    let mut named: Vec<f64> = Vec::new();
    for j in widest_first(judged) {
        let top = axes.y.within(j.limits().1);
        if named.iter().all(|y| (y - top).abs() > 11.0) {
            let machine = fitted(&j.share.machine, 140.0);
            let label = format!("{machine} \u{b1} {}", significant(j.share.tolerance_mm, 3));
            drawing.text((axes.right, top - 3.0), Anchor::End, "label", label);
            named.push(top);
        }
    }
}

fn widest_first<'a, 'b>(judged: &'a [Judged<'b>]) -> Vec<&'a Judged<'b>> {
    let mut order: Vec<&Judged<'_>> = judged.iter().collect();
    order.sort_by(|a, b| b.share.tolerance_mm.total_cmp(&a.share.tolerance_mm));
    order
}

/// How far out a stretch of diameters is: a word for the class of a line.
fn outside(low: f64, high: f64, judged: &[Judged<'_>]) -> Outside {
    let out = |j: &&Judged<'_>| low < j.limits().0 || high > j.limits().1;
    match judged.iter().filter(out).count() {
        0 => Outside::None,
        n if n == judged.len() => Outside::All,
        _ => Outside::Some,
    }
}

/// Of how many tolerances something is outside.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Outside {
    None,
    Some,
    All,
}

/// A few readings, each for itself.
fn dots(drawing: &mut Drawing, axes: &Axes, curve: &Curve, judged: &[Judged<'_>]) {
    for p in curve.series.points() {
        let (low, high) = (f64::from(p.low), f64::from(p.high));
        let class = match outside(low, high, judged) {
            Outside::None => "reading",
            Outside::Some => "reading some-out",
            Outside::All => "reading all-out",
        };
        let x = axes.x.at(f64::from(p.from));
        let d = format!("M{} {}V{}", n(x), n(axes.y.at(low)), n(axes.y.at(high)));
        let title = format!("{} to {} mm", fixed(low, 3), fixed(high, 3));
        drawing.path(d, class, title);
    }
}

fn curves(drawing: &mut Drawing, axes: &Axes, columns: &[Option<Column>], judged: &[Judged<'_>]) {
    let (mut all, mut some, mut every, mut line) =
        (String::new(), String::new(), String::new(), String::new());
    let mut last: Option<usize> = None;
    for (i, column) in columns.iter().enumerate() {
        let Some(c) = column else { continue };
        let x = axes.left + i as f64;
        let (top, bottom) = (axes.y.at(c.high), axes.y.at(c.low));
        // A single reading is still a dot to be seen.
        let stroke = |from: f64, to: f64| format!("M{} {}V{}", n(x), n(from - 0.4), n(to + 0.4));
        every.push_str(&stroke(top, bottom));
        match outside(c.low, c.high, judged) {
            Outside::None => {}
            Outside::Some => some.push_str(&stroke(top, bottom)),
            Outside::All => all.push_str(&stroke(top, bottom)),
        }
        if let Some(mean) = c.mean {
            let near = last.is_some_and(|l| i - l <= 8);
            line.push_str(&format!(
                "{}{} {}",
                if near { 'L' } else { 'M' },
                n(x),
                n(axes.y.at(mean))
            ));
            last = Some(i);
        }
    }
    drawing.path(every, "spread", "");
    drawing.path(some, "spread some-out", "");
    drawing.path(all, "spread all-out", "");
    drawing.path(line, "mean", "");
}

/// What to keep for one machine, and where it is out.
fn strip(drawing: &mut Drawing, axes: &Axes, y: f64, judged: &Judged<'_>) {
    let Some(s) = judged.stretches else { return };
    let share = judged.share;
    let kept = share.kept_m.map(|m| format!(", {} m kept", fixed(m, 1))).unwrap_or_default();
    let label = format!(
        "{}: {} {}{kept}",
        fitted(&share.machine, 180.0),
        count(share.excursions),
        if share.excursions == 1 { "excursion" } else { "excursions" }
    );
    drawing.text((axes.left, y + 12.0), Anchor::Start, "label", label);
    let span = |s: &Stretch| {
        let (from, to) = (axes.x.within(f64::from(s.from)), axes.x.within(f64::from(s.to)));
        (from, (to - from).max(0.8))
    };
    let said = |what: &str, s: &Stretch| {
        format!("{what} {} to {} m", fixed(f64::from(s.from), 3), fixed(f64::from(s.to), 3))
    };
    for piece in &s.kept {
        let (x, w) = span(piece);
        drawing.rect((x, y + 20.0), (w, 9.0), "keep", said("keep", piece));
    }
    for piece in &s.cut {
        let (x, w) = span(piece);
        drawing.rect((x, y + 20.0), (w, 9.0), "cut", said("cut out", piece));
    }
    let mut ticks = String::new();
    let mut last = f64::NEG_INFINITY;
    for out in &s.out {
        let (x, w) = span(out);
        let x = x + w / 2.0;
        if (x - last).abs() >= 0.8 {
            ticks.push_str(&format!("M{} {}V{}", n(x), n(y + 14.5), n(y + 19.0)));
            last = x;
        }
    }
    drawing.path(ticks, "out-tick", "");
}
