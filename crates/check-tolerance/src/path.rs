//! Where the readings of a spool stand: direction, order, length, gaps in the log.

use secondmelt_record::Number;
use secondmelt_record::facts::Diameter;

/// A step this many times longer than the steps so far is a gap, unless a length is given.
/// Chosen so that a logger that misses a few readings is not called broken.
const GAP_TIMES: f64 = 20.0;
/// Steps after which the usual one is known well enough for that.
const GAP_STEPS: u32 = 20;

/// The way along a spool, from either end.
#[derive(Debug, Default)]
pub struct Path {
    /// Position of the first reading.
    pub from_m: Option<Number>,
    /// Position of the last reading.
    pub last_m: Option<Number>,
    /// Position furthest along.
    furthest_m: f64,
    /// Time of the last reading.
    last_s: Option<Number>,
    /// Which way positions go: 1, -1, or 0 while that is not known.
    direction: f64,
    /// Length covered, gaps left out and nothing counted twice.
    length_m: f64,
    /// Steps that were no gap.
    steps: u32,
    /// Gaps in the log.
    pub gaps: u64,
    /// Readings not after the one before.
    pub out_of_order: u64,
    /// Readings that stand where none stood before; all, where there are no positions.
    pub fresh: u64,
    gap_m: Option<f64>,
}

/// The step from one reading to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// To the first reading, or without positions.
    None,
    /// Along the filament, by this many metres (zero for a repeated position).
    Along(f64),
    /// Over a gap in the log, from and to.
    Gap(Number, Number),
    /// Back to an earlier position.
    Back,
}

impl Path {
    /// No reading yet. A step longer than `gap_m` is a gap; by default one much longer
    /// than the steps so far.
    pub fn new(gap_m: Option<f64>) -> Self {
        Self { gap_m, ..Self::default() }
    }

    /// Which way positions go: 1 or -1.
    #[inline]
    pub fn direction(&self) -> f64 {
        if self.direction < 0.0 { -1.0 } else { 1.0 }
    }

    /// Goes on to a reading.
    #[inline]
    pub fn advance(&mut self, record: &Diameter<'_>) -> Step {
        let step = match (record.position_m, self.last_m) {
            (Some(now), Some(before)) => self.step(now, before),
            (Some(now), None) => self.start(now),
            (None, _) => self.by_time(record.time_s),
        };
        self.last_m = record.position_m.or(self.last_m);
        self.last_s = record.time_s.or(self.last_s);
        step
    }

    fn start(&mut self, now: Number) -> Step {
        self.from_m = Some(now);
        self.furthest_m = now.get();
        self.fresh += 1;
        Step::None
    }

    #[inline]
    fn by_time(&mut self, now: Option<Number>) -> Step {
        let back = now.zip(self.last_s).is_some_and(|(now, before)| now <= before);
        self.out_of_order += u64::from(back);
        self.fresh += u64::from(!back);
        Step::None
    }

    #[inline]
    fn step(&mut self, now: Number, before: Number) -> Step {
        let difference = now.get() - before.get();
        if self.direction == 0.0 && difference != 0.0 {
            self.direction = difference.signum();
        }
        let along_m = difference * self.direction();
        if along_m <= 0.0 {
            self.out_of_order += 1;
            return if along_m < 0.0 { Step::Back } else { Step::Along(0.0) };
        }
        let new_m = (now.get() - self.furthest_m) * self.direction();
        if new_m > 0.0 {
            self.furthest_m = now.get();
            self.fresh += 1;
        }
        if self.is_gap(along_m) {
            self.gaps += 1;
            return Step::Gap(before, now);
        }
        self.length_m += new_m.clamp(0.0, along_m);
        self.steps = self.steps.saturating_add(1);
        Step::Along(along_m)
    }

    #[inline]
    fn is_gap(&self, along_m: f64) -> bool {
        match self.gap_m {
            Some(gap_m) => along_m > gap_m,
            None => {
                self.steps >= GAP_STEPS
                    && along_m * f64::from(self.steps) > GAP_TIMES * self.length_m
            }
        }
    }

    /// Length covered, in m; none without positions.
    pub fn length_m(&self) -> Option<f64> {
        self.from_m.map(|_| self.length_m)
    }
}
