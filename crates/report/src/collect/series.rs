//! A curve of any length in bounded memory. Neighbouring values are drawn together into one
//! point, which keeps the lowest and the highest of them: no extreme is ever hidden.

/// Points of one curve; between half as many and this many are in use. More than a drawing has
/// columns.
const POINTS_MAX: usize = 1024;

/// Neighbouring values as one point. Single precision is finer than any drawing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Point {
    /// Where the first of them lies.
    pub(crate) from: f32,
    /// Where the last of them lies.
    pub(crate) to: f32,
    pub(crate) mean: f32,
    pub(crate) low: f32,
    pub(crate) low_at: f32,
    pub(crate) high: f32,
    pub(crate) high_at: f32,
    count: u32,
}

impl Point {
    /// Takes the values of the point that follows.
    fn join(&mut self, next: &Self) {
        let (n, m) = (f64::from(self.count), f64::from(next.count));
        let mean =
            f64::from(self.mean) + (f64::from(next.mean) - f64::from(self.mean)) * m / (n + m);
        self.mean = mean as f32;
        self.to = next.to;
        if next.low < self.low {
            (self.low, self.low_at) = (next.low, next.low_at);
        }
        if next.high > self.high {
            (self.high, self.high_at) = (next.high, next.high_at);
        }
        self.count = self.count.saturating_add(next.count);
    }
}

/// A curve.
#[derive(Debug, Default)]
pub(crate) struct Series {
    points: Vec<Point>,
    /// How many values a point takes.
    each: u32,
}

impl Series {
    /// Adds a value between `low` and `high`, equal where there is only one.
    pub(crate) fn push(&mut self, at: f64, low: f64, mean: f64, high: f64) {
        let (at, low, mean, high) = (small(at), small(low), small(mean), small(high));
        let next = Point { from: at, to: at, mean, low, low_at: at, high, high_at: at, count: 1 };
        let each = self.each.max(1);
        if let Some(last) = self.points.last_mut()
            && last.count < each
        {
            last.join(&next);
            return;
        }
        if self.points.len() == POINTS_MAX {
            self.halve();
        }
        self.points.push(next);
    }

    fn halve(&mut self) {
        let pairs = self.points.chunks(2).map(|pair| {
            let mut first = pair[0];
            pair.iter().skip(1).for_each(|next| first.join(next));
            first
        });
        self.points = pairs.collect();
        self.each = self.each.max(1).saturating_mul(2);
    }

    pub(crate) fn points(&self) -> &[Point] {
        &self.points
    }

    /// Whether each point is one value.
    pub(crate) fn is_single(&self) -> bool {
        self.points.iter().all(|p| p.count == 1)
    }

    /// The least and the greatest value.
    pub(crate) fn range(&self) -> Option<(f64, f64)> {
        let low = self.points.iter().map(|p| p.low).reduce(f32::min)?;
        let high = self.points.iter().map(|p| p.high).reduce(f32::max)?;
        Some((f64::from(low), f64::from(high)))
    }

    /// The least and the greatest place.
    pub(crate) fn places(&self) -> Option<(f64, f64)> {
        let ends = || self.points.iter().flat_map(|p| [p.from, p.to]);
        let (least, most) = (ends().reduce(f32::min)?, ends().reduce(f32::max)?);
        Some((f64::from(least), f64::from(most)))
    }
}

/// Single precision, always finite.
pub(super) fn small(x: f64) -> f32 {
    x.clamp(-1e30, 1e30) as f32
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Held against the plain minimum, maximum and mean of all values.
        #[test]
        fn no_extreme_is_hidden_however_long_the_curve(
            values in prop::collection::vec(-10.0_f32..10.0, 1..6000),
        ) {
            let mut series = Series::default();
            for (i, v) in values.iter().enumerate() {
                let v = f64::from(*v);
                series.push(i as f64, v, v, v);
            }
            prop_assert!(series.points().len() <= POINTS_MAX);
            let least = values.iter().copied().reduce(f32::min).unwrap();
            let most = values.iter().copied().reduce(f32::max).unwrap();
            prop_assert_eq!(series.range(), Some((f64::from(least), f64::from(most))));
            for point in series.points() {
                prop_assert_eq!(values[point.low_at as usize], point.low);
                prop_assert_eq!(values[point.high_at as usize], point.high);
                let of = &values[point.from as usize..=point.to as usize];
                let mean = of.iter().map(|v| f64::from(*v)).sum::<f64>() / of.len() as f64;
                prop_assert!((f64::from(point.mean) - mean).abs() < 1e-4);
                prop_assert_eq!(point.count as usize, of.len());
            }
            let count: usize = series.points().iter().map(|p| p.count as usize).sum();
            prop_assert_eq!(count, values.len());
        }
    }
}
