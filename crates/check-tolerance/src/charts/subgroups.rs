//! From readings to subgroups by length.

use super::rules::Signals;

/// Subgroups that are kept of a spool; of a longer one neighbours are put together.
const POINTS_MAX: usize = 1024;
/// Fewest readings in a subgroup, where readings stand far apart.
const FEWEST: u32 = 5;
/// Readings in a subgroup where they have no positions.
const WITHOUT_LENGTH: u32 = 20;

/// A finished subgroup.
#[derive(Debug, Clone, Copy)]
pub struct Point {
    /// Position of its middle; none without positions.
    pub at_m: Option<f64>,
    /// Number of its last reading.
    pub last_reading: u64,
    /// Readings in it.
    pub n: u32,
    /// Their mean, in mm.
    pub mean_mm: f64,
    /// Sum of their squared deviations from it, in mm2.
    squares_mm2: f64,
    /// What signalled here while it was read.
    pub signals: Signals,
    /// Whether a gap or a step back lies before it.
    pub after_break: bool,
}

impl Point {
    /// Standard deviation within it, divisor n - 1.
    pub fn sd_mm(&self) -> f64 {
        (self.squares_mm2 / f64::from(self.n - 1)).max(0.0).sqrt()
    }

    /// Both as one.
    fn with(self, next: Self) -> Self {
        let (n, a, b) = (self.n + next.n, f64::from(self.n), f64::from(next.n));
        let apart = next.mean_mm - self.mean_mm;
        Self {
            at_m: self.at_m.zip(next.at_m).map(|(a, b)| (a + b) / 2.0),
            last_reading: next.last_reading,
            n,
            mean_mm: self.mean_mm + apart * b / f64::from(n),
            squares_mm2: self.squares_mm2 + next.squares_mm2 + apart * apart * a * b / f64::from(n),
            signals: self.signals.or(next.signals),
            after_break: self.after_break,
        }
    }
}

/// Readings on their way into subgroups.
#[derive(Debug)]
pub struct Subgroups {
    length_m: f64,
    open: Open,
    /// The last one that was full.
    last: Option<Point>,
    points: Vec<Point>,
    /// Full subgroups in a point.
    in_a_point: u32,
    /// The point being put together from full subgroups, and how many are in it.
    gathering: Option<(Point, u32)>,
    /// Length of all full subgroups together.
    covered_m: f64,
    full: u64,
}

/// The subgroup that is not full yet. Sums are of deviations from its first reading, so that
/// a large common part costs no digits.
#[derive(Debug, Default, Clone, Copy)]
struct Open {
    n: u32,
    way_m: f64,
    first_mm: f64,
    sum: f64,
    squares: f64,
    after_break: bool,
}

impl Open {
    fn mean_mm(&self) -> f64 {
        self.first_mm + self.sum / f64::from(self.n)
    }
}

impl Subgroups {
    /// Subgroups of a length, in m.
    pub fn new(length_m: f64) -> Self {
        // Sums of steps that make up the length may miss it by their rounding.
        let length_m = length_m * (1.0 - 1e-9);
        Self {
            length_m,
            open: Open::default(),
            last: None,
            points: Vec::new(),
            in_a_point: 1,
            gathering: None,
            covered_m: 0.0,
            full: 0,
        }
    }

    /// Takes a diameter, `along_m` after the one before, none without positions. True where it
    /// fills a subgroup; [`Self::fill`] must follow then.
    #[inline]
    pub fn push(&mut self, diameter_mm: f64, along_m: Option<f64>) -> bool {
        let open = &mut self.open;
        if open.n == 0 {
            open.first_mm = diameter_mm;
        }
        let deviation = diameter_mm - open.first_mm;
        open.n += 1;
        open.sum += deviation;
        open.squares += deviation * deviation;
        match along_m {
            Some(along_m) => {
                open.way_m += along_m;
                open.way_m >= self.length_m && open.n >= FEWEST
            }
            None => open.n >= WITHOUT_LENGTH,
        }
    }

    /// The subgroup that a reading filled, with its number and position.
    pub fn fill(&mut self, reading: u64, at_m: Option<f64>, direction: f64) -> Point {
        let open = std::mem::take(&mut self.open);
        let n = f64::from(open.n);
        let point = Point {
            at_m: at_m.map(|at_m| at_m - direction * open.way_m / 2.0),
            last_reading: reading,
            n: open.n,
            mean_mm: open.mean_mm(),
            squares_mm2: (open.squares - open.sum * open.sum / n).max(0.0),
            signals: Signals::default(),
            after_break: open.after_break,
        };
        self.last = Some(point);
        self.covered_m += open.way_m;
        self.full += 1;
        point
    }

    /// Drops what is not full yet, as after a gap in the log.
    pub fn restart(&mut self) {
        self.open = Open { after_break: true, ..Open::default() };
        if let Some((point, _)) = self.gathering.take() {
            self.keep(point);
        }
    }

    /// Keeps a full subgroup.
    pub fn add(&mut self, point: Point) {
        let (point, parts) = match self.gathering.take() {
            Some((before, parts)) => (before.with(point), parts + 1),
            None => (point, 1),
        };
        if parts >= self.in_a_point {
            self.keep(point);
        } else {
            self.gathering = Some((point, parts));
        }
    }

    fn keep(&mut self, point: Point) {
        self.points.push(point);
        if self.points.len() < POINTS_MAX {
            return;
        }
        self.in_a_point = self.in_a_point.saturating_mul(2);
        let mut points = std::mem::take(&mut self.points).into_iter().peekable();
        while let Some(point) = points.next() {
            let next = points.next_if(|next| !next.after_break);
            self.points.push(next.map_or(point, |next| point.with(next)));
        }
    }

    /// The points so far; of a very long spool each is several subgroups.
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// Mean length of a subgroup, in m; none without positions.
    pub fn subgroup_m(&self) -> Option<f64> {
        #[expect(clippy::cast_precision_loss, reason = "a count")]
        let length_m = self.covered_m / self.full as f64;
        (self.covered_m > 0.0 && length_m.is_finite()).then_some(length_m)
    }

    /// Mean length of a point, in m; none without positions.
    pub fn point_m(&self) -> Option<f64> {
        Some(self.subgroup_m()? * f64::from(self.in_a_point))
    }

    /// Mean diameter over the last full subgroup and what came since.
    pub fn recent_mm(&self) -> Option<f64> {
        let open = self.open;
        match (self.last, open.n) {
            (None, 0) => None,
            (None, _) => Some(open.mean_mm()),
            (Some(last), 0) => Some(last.mean_mm),
            (Some(last), n) => {
                let share = f64::from(n) / f64::from(n + last.n);
                Some(last.mean_mm + (open.mean_mm() - last.mean_mm) * share)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test fails by panicking")]
    use super::*;

    fn filled(readings: impl IntoIterator<Item = f64>) -> Subgroups {
        let mut subgroups = Subgroups::new(1.0);
        for (i, d) in readings.into_iter().enumerate() {
            if subgroups.push(d, Some(0.05)) {
                let point = subgroups.fill(i as u64 + 1, Some((i + 1) as f64 * 0.05), 1.0);
                subgroups.add(point);
            }
        }
        subgroups
    }

    #[test]
    fn a_subgroup_is_as_long_as_was_asked() {
        let subgroups = filled((0..60).map(|i| 1.75 + f64::from(i % 2) * 0.01));
        let points = subgroups.points();
        assert_eq!(
            points.iter().map(|p| (p.n, p.last_reading)).collect::<Vec<_>>(),
            [(20, 20), (20, 40), (20, 60)]
        );
        assert!(points.iter().all(|p| (p.mean_mm - 1.755).abs() < 1e-12));
        // Ten times five micrometres either way of the mean, divisor 19.
        assert!(
            points.iter().all(|p| (p.sd_mm() - (20.0 * 25e-6 / 19.0_f64).sqrt()).abs() < 1e-12)
        );
        assert!((points[1].at_m.unwrap() - 1.5).abs() < 1e-9);
        assert!((subgroups.point_m().unwrap() - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_long_spool_keeps_its_mean_and_spread_in_fewer_points() {
        let value = |i: u32| 1.7 + f64::from(i * 7919 % 101) / 1000.0;
        let all: Vec<f64> = (0..20 * 5000).map(value).collect();
        let subgroups = filled(all.iter().copied());
        let points = subgroups.points();
        assert!(points.len() <= POINTS_MAX && points.len() > POINTS_MAX / 4, "{}", points.len());
        let gathered: u32 = points.iter().map(|p| p.n).sum();
        let all = &all[..gathered as usize];
        let mean = all.iter().sum::<f64>() / all.len() as f64;
        let joined = points.iter().copied().reduce(Point::with).unwrap();
        assert!((joined.mean_mm - mean).abs() < 1e-12);
        let squares: f64 = all.iter().map(|d| (d - mean).powi(2)).sum();
        assert!((joined.squares_mm2 / squares - 1.0).abs() < 1e-9);
    }

    #[test]
    fn nothing_is_put_together_across_a_gap() {
        let mut subgroups = Subgroups::new(1.0);
        for i in 0..40 {
            if i == 30 {
                subgroups.restart();
            }
            if subgroups.push(if i < 30 { 1.75 } else { 1.80 }, Some(0.05)) {
                let point = subgroups.fill(i + 1, None, 1.0);
                subgroups.add(point);
            }
        }
        assert_eq!(subgroups.points().len(), 1);
        assert_eq!(subgroups.points()[0].mean_mm, 1.75);
    }
}
