//! A drying curve fitted to readings, and when it meets a limit.
//!
//! Readings are taken to scatter by the same share of their value, independently. For each
//! rate the curve is a straight sum of its start and its end, so that a weighted linear fit
//! gives the best of both; what is left is a search along the rate. How long it takes to a limit
//! is found by the profile of the sum of squares (Bates and Watts 1988, chapter 6): every time
//! that a curve not much worse than the best one would take. Where the end moisture is not known
//! it is fitted, below zero, too, since a bound there would make the interval too short.

use super::Granule;

/// Step of the search, in the logarithm of the rate.
const STEP: f64 = 0.2;
/// Step of the search, in the logarithm of the time.
const SCAN: f64 = 0.5;
/// Logarithm of the slowest rate, times the longest drying.
const SLOWEST: f64 = -8.0;
/// Rates tried among those that the readings allow.
const RATES: u32 = 30;
/// Beyond this many times the longest drying so far, a time is as good as never.
const FAR: f64 = 30.0;

/// A drying curve fitted to readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Moisture at the start, in per cent.
    pub start_pct: f64,
    /// Moisture at which it ends, in per cent; below zero where the readings say nothing of it.
    pub end_pct: f64,
    /// D / size², per hour.
    pub rate_h: f64,
    /// Standard deviation of the readings about the curve, as a share of the reading.
    pub scatter: f64,
    /// Degrees of freedom of that.
    pub freedom: u32,
    /// What a bend that the curve does not have would explain; none where too few readings tell.
    pub bend: Option<Bend>,
    squares: f64,
    fitted: Weighted,
}

/// Test for a lack of fit: F of a bend with its degrees of freedom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bend {
    /// Square explained by the bend over the mean square left.
    pub f: f64,
    /// Degrees of freedom of what is left.
    pub freedom: u32,
}

/// When a curve meets a limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reach {
    /// Between two times, in hours from the start.
    Hours {
        /// By the best curve; none where that one ends above the limit.
        best: Option<f64>,
        /// Lower end of the interval.
        low: f64,
        /// Upper end; none where the readings do not bound it.
        high: Option<f64>,
    },
    /// Not at all: it ends above.
    Never {
        /// Lower end of the interval of the end moisture, in per cent.
        end_low_pct: f64,
        /// Upper end.
        end_high_pct: f64,
    },
}

/// The best curve of one rate.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Node {
    rate_h: f64,
    squares: f64,
    start: f64,
    end: f64,
    /// Covariance of start and end over the variance of a weighted reading.
    covariance: [f64; 3],
}

#[derive(Debug, Clone, PartialEq)]
struct Weighted {
    granule: Granule,
    readings: Vec<(f64, f64)>,
    weights: Vec<f64>,
    end: Option<f64>,
    /// Shortest drying of any reading above 0, and the longest.
    hours: (f64, f64),
}

impl Weighted {
    /// The curves of rates from one that does not bend to one that is over at once.
    fn nodes(&self) -> Vec<Node> {
        let (shortest, longest) = self.hours;
        grid(SLOWEST - longest.ln(), 1.6 - shortest.ln(), STEP)
            .filter_map(|log| self.node(log.exp()))
            .collect()
    }

    /// Weights by a curve, since those of the readings would favour low ones.
    fn weigh(&mut self, by: &Node) {
        let weight = |&(h, y): &(f64, f64)| {
            let left = self.granule.left(by.rate_h * h);
            (by.end + (by.start - by.end) * left).max(0.2 * y).powi(-2)
        };
        self.weights = self.readings.iter().map(weight).collect();
    }

    fn node(&self, rate_h: f64) -> Option<Node> {
        let (mut aa, mut ab, mut bb, mut ay, mut by) = (0.0, 0.0, 0.0, 0.0, 0.0);
        let shares: Vec<f64> =
            self.readings.iter().map(|&(h, _)| self.granule.left(rate_h * h)).collect();
        for ((&(_, y), w), a) in self.readings.iter().zip(&self.weights).zip(&shares) {
            let b = 1.0 - a;
            aa += w * a * a;
            ab += w * a * b;
            bb += w * b * b;
            ay += w * a * y;
            by += w * b * y;
        }
        let (start, end, covariance) = match self.end {
            Some(end) => ((ay - end * ab) / aa, end, [1.0 / aa, 0.0, 0.0]),
            None => {
                let det = aa * bb - ab * ab;
                if det <= 1e-12 * aa * bb {
                    return None;
                }
                let start = (bb * ay - ab * by) / det;
                let end = (aa * by - ab * ay) / det;
                (start, end, [bb / det, -ab / det, aa / det])
            }
        };
        let off = |((&(_, y), w), a): ((&(f64, f64), &f64), &f64)| {
            w * (y - a * start - (1.0 - a) * end).powi(2)
        };
        let squares = self.readings.iter().zip(&self.weights).zip(&shares).map(off).sum();
        (aa > 0.0 && start.is_finite()).then_some(Node { rate_h, squares, start, end, covariance })
    }
}

/// Fits start, rate and end to readings (hours dried, per cent); the end is not fitted where it is
/// given. None without a reading more than there are unknowns, without two different times,
/// where a reading is not above zero or not finite, where a pellet is no pellet (longer than wide by
/// more than a thousand, or the other way round), or where the readings do not fall.
#[must_use]
pub fn fit(granule: Granule, readings: &[(f64, f64)], end_pct: Option<f64>) -> Option<Curve> {
    let unknowns = if end_pct.is_some() { 2 } else { 3 };
    let freedom = u32::try_from(readings.len()).ok()?.checked_sub(unknowns).filter(|&n| n > 0)?;
    let usable =
        |&(h, pct): &(f64, f64)| h >= 0.0 && h.is_finite() && pct > 1e-9 && pct.is_finite();
    let shaped = match granule {
        Granule::Pellet { slenderness } => (1e-3..=1e3).contains(&slenderness),
        _ => true,
    };
    if !shaped || !readings.iter().all(usable) {
        return None;
    }
    let after = readings.iter().map(|r| r.0).filter(|&h| h > 0.0);
    let (shortest, longest) =
        after.fold((f64::INFINITY, 0.0), |(low, high): (f64, f64), h| (low.min(h), high.max(h)));
    if longest < 1e-9 {
        return None;
    }
    // What is over within so small a part of the time is over at once.
    let shortest = shortest.max(1e-4 * longest);
    let mut fitted = Weighted {
        granule,
        readings: readings.to_vec(),
        weights: readings.iter().map(|r| r.1.powi(-2)).collect(),
        end: end_pct,
        hours: (shortest, longest),
    };
    let first = fitted.nodes().into_iter().min_by(|a, b| a.squares.total_cmp(&b.squares))?;
    let mut best = closer(&fitted, first);
    for _ in 0..2 {
        fitted.weigh(&best);
        best = closer(&fitted, best);
    }
    // With the end given, the slowest rate means that nothing leaves.
    let stands = end_pct.is_some() && best.rate_h * longest < 2.0 * SLOWEST.exp();
    (best.start > best.end && !stands).then(|| Curve {
        start_pct: best.start,
        end_pct: best.end,
        rate_h: best.rate_h,
        scatter: (best.squares / f64::from(freedom)).sqrt(),
        freedom,
        bend: bend(&fitted, &best, freedom),
        squares: best.squares,
        fitted,
    })
}

/// Numbers from one to another by the step.
fn grid(from: f64, to: f64, step: f64) -> impl Iterator<Item = f64> {
    (0_u32..).map(move |n| from + step * f64::from(n)).take_while(move |&x| x <= to)
}

/// The best curve within two steps of one.
fn closer(fitted: &Weighted, best: Node) -> Node {
    let (mut low, mut high) = (best.rate_h.ln() - 2.0 * STEP, best.rate_h.ln() + 2.0 * STEP);
    let squares = |log: f64| fitted.node(log.exp()).map_or(f64::INFINITY, |node| node.squares);
    for _ in 0..30 {
        let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if squares(a) < squares(b) { high = b } else { low = a }
    }
    fitted.node(f64::midpoint(low, high).exp()).unwrap_or(best)
}

/// Adds one bend more than the curve has, a Chebyshev polynomial in the root of the time, and
/// tests whether it explains more than the scatter would.
fn bend(fitted: &Weighted, best: &Node, freedom: u32) -> Option<Bend> {
    let left_over = freedom.checked_sub(1).filter(|&n| n > 0)?;
    let (_, longest) = fitted.hours;
    let mut columns: Vec<Vec<f64>> = vec![Vec::new(); 5];
    for (&(h, y), w) in fitted.readings.iter().zip(&fitted.weights) {
        let left = |shift: f64| fitted.granule.left(best.rate_h * shift.exp() * h);
        let (a, slope) = (left(0.0), (left(1e-4) - left(-1e-4)) / 2e-4);
        let root = w.sqrt();
        let moisture = best.end + (best.start - best.end) * a;
        let x = 2.0 * (h / longest).sqrt() - 1.0;
        let further = match fitted.end {
            Some(_) => 2.0 * x * x - 1.0,
            None => (4.0 * x * x - 3.0) * x,
        };
        let end = if fitted.end.is_some() { 0.0 } else { 1.0 - a };
        let row = [a, end, (best.start - best.end) * slope, moisture * further, y - moisture];
        columns.iter_mut().zip(row).for_each(|(column, value)| column.push(root * value));
    }
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    for n in 1..columns.len() {
        let (done, rest) = columns.split_at_mut(n);
        let whole = dot(&rest[0], &rest[0]);
        // Twice, since one pass leaves rounding errors behind; the residual last, against all.
        for _ in 0..2 {
            for other in done.iter().take(3) {
                let length = dot(other, other);
                if length > 0.0 {
                    let share = dot(other, &rest[0]) / length;
                    rest[0].iter_mut().zip(other).for_each(|(x, o)| *x -= share * o);
                }
            }
        }
        // A column that the others make up says nothing of its own.
        if dot(&rest[0], &rest[0]) <= 1e-16 * whole {
            rest[0].fill(0.0);
        }
    }
    let length = dot(&columns[3], &columns[3]);
    let explained = dot(&columns[3], &columns[4]).powi(2) / length;
    let rest = (dot(&columns[4], &columns[4]) - explained) / f64::from(left_over);
    (length > 0.0 && rest > 0.0).then(|| Bend { f: explained / rest, freedom: left_over })
}

/// Where what holds at a point ends within a step of it.
fn edge(inside: f64, step: f64, holds: impl Fn(f64) -> bool) -> f64 {
    let (mut inside, mut outside) = (inside, inside + step);
    for _ in 0..20 {
        let middle = f64::midpoint(inside, outside);
        if holds(middle) { inside = middle } else { outside = middle }
    }
    f64::midpoint(inside, outside)
}

impl Curve {
    /// Share of the removable water left after some hours.
    #[must_use]
    pub fn pct_at(&self, hours: f64) -> f64 {
        let left = self.fitted.granule.left(self.rate_h * hours);
        self.end_pct + (self.start_pct - self.end_pct) * left
    }

    /// The largest sum of squares of a curve that is not rejected, `t` being the two-sided
    /// quantile of Student's t with the degrees of freedom of the curve.
    fn bound(&self, t: f64) -> f64 {
        self.squares * (1.0 + t * t / f64::from(self.freedom))
    }

    /// The best curves of evenly spaced rates that the readings allow.
    fn allowed(&self, bound: f64) -> Vec<Node> {
        let best = self.rate_h.ln();
        let rates = self.fitted.nodes().into_iter().filter(|n| n.squares <= bound);
        let (first, last) = rates
            .map(|node| node.rate_h.ln())
            .fold((best, best), |(low, high), log| (low.min(log), high.max(log)));
        let holds =
            |log: f64| self.fitted.node(log.exp()).is_some_and(|node| node.squares <= bound);
        let from = edge(first, -STEP, holds);
        let step = (edge(last, STEP, holds) - from) / f64::from(RATES);
        let all = (0..=RATES).filter_map(|n| self.fitted.node((from + step * f64::from(n)).exp()));
        all.collect()
    }

    /// Hours of drying, from the start, to a moisture.
    #[must_use]
    pub fn hours_to(&self, target_pct: f64, t: f64) -> Reach {
        let bound = self.bound(t);
        let allowed = self.allowed(bound);
        let fits = |log_h: f64| self.least(&allowed, target_pct, log_h.exp()) <= bound;
        let share = (target_pct - self.end_pct) / (self.start_pct - self.end_pct);
        let best = self.fitted.granule.when_left(share).map(|f| f / self.rate_h);
        let (shortest, longest) = self.fitted.hours;
        let far = (FAR * longest).ln();
        let (first, last) = grid(shortest.ln() - 5.0, far, SCAN)
            .chain([far])
            .filter(|&log_h| fits(log_h))
            .chain(best.map(f64::ln))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), log| (a.min(log), b.max(log)));
        if first > last {
            let (end_low_pct, end_high_pct) = self.end_interval_pct(t);
            return Reach::Never { end_low_pct, end_high_pct };
        }
        let high = (last < far).then(|| edge(last, SCAN, fits).exp());
        Reach::Hours { best, low: edge(first, -SCAN, fits).exp(), high }
    }

    /// Least sum of squares of a curve that meets a moisture at a time. What it is made of changes
    /// smoothly from rate to rate, though it has a narrow valley itself: so those parts are
    /// interpolated about the best rate.
    fn least(&self, allowed: &[Node], target_pct: f64, hours: f64) -> f64 {
        let parts = |node: &Node| {
            let a = self.fitted.granule.left(node.rate_h * hours);
            let b = 1.0 - a;
            let [start, both, end] = node.covariance;
            let variance = a * a * start + 2.0 * a * b * both + b * b * end;
            [node.squares, target_pct - a * node.start - b * node.end, variance]
        };
        let squares = |[squares, off, variance]: [f64; 3]| {
            if variance > 0.0 { squares.max(0.0) + off * off / variance } else { f64::INFINITY }
        };
        let all: Vec<[f64; 3]> = allowed.iter().map(parts).collect();
        let best = |&a: &usize, &b: &usize| squares(all[a]).total_cmp(&squares(all[b]));
        let Some(n) = (0..all.len()).min_by(best) else { return f64::INFINITY };
        let at = squares(all[n]);
        let n = n.clamp(1, all.len().saturating_sub(2).max(1));
        let Some(&[left, middle, right]) =
            all.get(n - 1..=n + 1).and_then(|three| three.first_chunk())
        else {
            return at;
        };
        let between = |x: f64| {
            let (l, m, r) = (0.5 * x * (x - 1.0), 1.0 - x * x, 0.5 * x * (x + 1.0));
            [0, 1, 2].map(|i| l * left[i] + m * middle[i] + r * right[i])
        };
        (-15_i32..=15).map(|x| squares(between(f64::from(x) / 16.0))).fold(at, f64::min)
    }

    /// Interval of the moisture at which it ends, in per cent, `t` as in [`Self::hours_to`].
    #[must_use]
    pub fn end_interval_pct(&self, t: f64) -> (f64, f64) {
        let bound = self.bound(t);
        let none = (self.end_pct, self.end_pct);
        self.allowed(bound).iter().fold(none, |(low, high), node| {
            let reach = ((bound - node.squares).max(0.0) * node.covariance[2]).sqrt();
            (low.min(node.end - reach), high.max(node.end + reach))
        })
    }
}
