//! How often each diameter occurs, against the tolerances.

use super::Figure;
use super::axes::{ACROSS, Axes, WIDTH};
use super::scale::Scale;
use super::svg::{Anchor, Drawing, fitted, width_of};
use super::trace::Judged;
use crate::collect::Curve;
use crate::numbers::{count, fixed, percent, significant};

/// Bars of a drawing, about.
const BARS: usize = 44;
const TOP: f64 = 66.0;
const BOTTOM: f64 = 200.0;

pub(crate) fn draw(lot: &str, curve: &Curve, judged: &[Judged<'_>]) -> Option<Figure> {
    let bars = &curve.bars;
    let total: u64 = bars.counts.iter().map(|n| u64::from(*n)).sum::<u64>() + bars.beyond;
    let least = bars.counts.iter().position(|n| *n > 0)?;
    let most = bars.counts.iter().rposition(|n| *n > 0)?;
    let micrometres = |mm: f64| (mm * 1000.0).round().clamp(0.0, 4095.0) as usize;
    let limits: Vec<(usize, usize, &str, f64)> = judged
        .iter()
        .map(|j| j.share)
        .map(|s| {
            let (low, high) = (s.nominal_mm - s.tolerance_mm, s.nominal_mm + s.tolerance_mm);
            (micrometres(low), micrometres(high), s.machine.as_str(), s.tolerance_mm)
        })
        .collect();
    // A few far readings must not press all others into one bar: they are told instead.
    let (from, to) = middle(&bars.counts, total);
    let from = limits.iter().map(|l| l.0).fold(from, usize::min);
    let to = limits.iter().map(|l| l.1).fold(to, usize::max);
    // All of it, where that is not much more.
    let (all, shown) = (most.max(to) - least.min(from), to - from);
    let wide = 5 * all <= 8 * shown;
    let (from, to) = if wide { (least.min(from), most.max(to)) } else { (from, to) };
    let width = ((to - from) / BARS + 1).max(1);
    let groups: Vec<u64> = (from..=to)
        .step_by(width)
        .map(|start| {
            bars.counts[start..(start + width).min(bars.counts.len())]
                .iter()
                .map(|n| u64::from(*n))
                .sum()
        })
        .collect();
    let share = |n: u64| 100.0 * n as f64 / total.max(1) as f64;
    let highest = groups.iter().copied().max().unwrap_or(0);
    let mm = |um: f64| (um - 0.5) / 1000.0;
    let end = from + groups.len() * width;
    let x = Scale::new((mm(from as f64), mm(end as f64)), ACROSS);
    let axes = Axes::new(x, Scale::new((0.0, share(highest) * 1.03), (BOTTOM, TOP)), TOP, BOTTOM);
    let mut drawing = Drawing::new(WIDTH, BOTTOM + 36.0);
    axes.upright(&mut drawing, "");
    drawing.text((2.0, 12.0), Anchor::Start, "name", "share of diameters, %");
    for (i, n) in groups.iter().enumerate().filter(|(_, n)| **n > 0) {
        let (start, stop) = (mm((from + i * width) as f64), mm((from + (i + 1) * width) as f64));
        let middle = f64::midpoint(start, stop);
        let out = limits
            .iter()
            .filter(|l| middle < l.0 as f64 / 1000.0 || middle > l.1 as f64 / 1000.0)
            .count();
        let class = match out {
            0 => "bar",
            n if n == limits.len() => "bar all-out",
            _ => "bar some-out",
        };
        let (left, top) = axes.at(start, share(*n));
        let title = format!(
            "{} to {} mm: {} ({} %)",
            fixed(start, 4),
            fixed(stop, 4),
            count(*n),
            percent(share(*n))
        );
        drawing.rect(
            (left + 0.4, top.min(BOTTOM - 1.2)),
            (axes.x.at(stop) - left - 0.8, (BOTTOM - top).max(1.2)),
            class,
            title,
        );
    }
    marks(&mut drawing, &axes, &limits);
    axes.level(&mut drawing, BOTTOM, "diameter along an axis, mm");
    let below: u64 = bars.counts[..from].iter().map(|n| u64::from(*n)).sum();
    let above =
        bars.counts.get(end..).map_or(0, |b| b.iter().map(|n| u64::from(*n)).sum()) + bars.beyond;
    let mut caption = format!(
        "{} diameters from {} to {} mm; most often {} mm; a bar is {} \u{b5}m wide.",
        count(total),
        fixed(least as f64 / 1000.0, 3),
        if bars.beyond > 0 { "above 4.095".to_owned() } else { fixed(most as f64 / 1000.0, 3) },
        fixed(peak(&groups, from, width), 3),
        count(width as u64)
    );
    for (n, side) in [(below, "below"), (above, "above")] {
        if n > 0 {
            caption.push_str(&format!(" {} {side} what is drawn.", count(n)));
        }
    }
    Some(Figure {
        title: format!("Histogram of the diameters of lot {lot}"),
        description: caption.clone(),
        caption,
        drawing,
        network: false,
    })
}

/// The middle of the fullest bar, in mm.
fn peak(groups: &[u64], from: usize, width: usize) -> f64 {
    let at = groups.iter().enumerate().max_by_key(|(_, n)| **n).map_or(0, |(i, _)| i);
    (from as f64 + (at as f64 + 0.5) * width as f64 - 0.5) / 1000.0
}

/// Where all but the last thousandth at either end lies.
fn middle(counts: &[u32], total: u64) -> (usize, usize) {
    let tail = total / 1000;
    let from = reach(counts.iter().enumerate(), tail);
    let to = reach(counts.iter().enumerate().rev(), tail);
    (from.saturating_sub(2), (to.max(from) + 2).min(counts.len() - 1))
}

/// The bar at which more than `tail` have been passed.
fn reach<'a>(mut bars: impl Iterator<Item = (usize, &'a u32)>, tail: u64) -> usize {
    let mut sum = 0;
    let passed = bars.find(|(_, n)| {
        sum += u64::from(**n);
        sum > tail
    });
    passed.map_or(0, |(i, _)| i)
}

/// Limits as upright lines, named over them.
fn marks(drawing: &mut Drawing, axes: &Axes, limits: &[(usize, usize, &str, f64)]) {
    for (i, (low, high, machine, tolerance)) in limits.iter().take(3).enumerate() {
        let y = 26.0 + 16.0 * i as f64;
        let ends = [low, high].map(|um| axes.x.within(*um as f64 / 1000.0));
        for x in ends {
            drawing.line((x, y - 4.0), (x, axes.bottom), "limit");
        }
        let label = format!("{} \u{b1} {}", fitted(machine, 140.0), significant(*tolerance, 3));
        let half = width_of(&label) / 2.0;
        let middle = f64::midpoint(ends[0], ends[1]);
        let at = middle.clamp(axes.left + half, axes.right - half);
        drawing.text((at, y), Anchor::Middle, "label", label);
    }
}
