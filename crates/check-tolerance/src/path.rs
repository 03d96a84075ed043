//! Where the readings of a spool stand: direction, order, length, gaps in the log.

use crate::reading::Place;
use secondmelt_record::Number;

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
    /// Length of the gaps that nobody has passed before or since.
    unread_m: f64,
    /// Steps that were no gap.
    steps: u32,
    /// Time that steps took that were no gap, in a log by time, and their number.
    by_time: (f64, u32),
    /// Gaps in the log.
    pub gaps: u64,
    /// Readings not after the one before.
    pub out_of_order: u64,
    /// Readings that stand where none stood before; all, where there are no positions.
    pub fresh: u64,
    /// Whether the last reading is one of them.
    pub is_fresh: bool,
    /// As much of the last step as nobody has passed before, in m.
    pub new_m: f64,
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
    /// Over a gap in a log by time, from and to.
    Pause(Number, Number),
    /// Back to an earlier position, or time.
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
    pub fn advance(&mut self, place: Place) -> Step {
        self.new_m = 0.0;
        let step = match (place.at_m, self.last_m) {
            (Some(now), Some(before)) => self.step(now, before),
            (Some(now), None) => self.start(now),
            (None, _) => self.by_time(place.at_s),
        };
        self.last_m = place.at_m.or(self.last_m);
        self.last_s = place.at_s.or(self.last_s);
        step
    }

    fn start(&mut self, now: Number) -> Step {
        self.from_m = Some(now);
        self.furthest_m = now.get();
        self.note(true);
        Step::None
    }

    #[inline]
    fn note(&mut self, fresh: bool) {
        self.is_fresh = fresh;
        self.fresh += u64::from(fresh);
    }

    #[inline]
    fn by_time(&mut self, now: Option<Number>) -> Step {
        let Some((now, before)) = now.zip(self.last_s) else {
            self.note(true);
            return Step::None;
        };
        let passed_s = now.get() - before.get();
        self.note(passed_s > 0.0);
        self.out_of_order += u64::from(passed_s <= 0.0);
        if passed_s < 0.0 {
            return Step::Back;
        }
        let (sum, count) = &mut self.by_time;
        if *count >= GAP_STEPS && passed_s * f64::from(*count) > GAP_TIMES * *sum {
            self.gaps += 1;
            return Step::Pause(before, now);
        }
        *sum += passed_s;
        *count = count.saturating_add(1);
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
            self.note(false);
            return if along_m < 0.0 { Step::Back } else { Step::Along(0.0) };
        }
        let new_m = ((now.get() - self.furthest_m) * self.direction()).clamp(0.0, along_m);
        if new_m > 0.0 {
            self.furthest_m = now.get();
        }
        self.note(new_m > 0.0);
        if self.is_gap(along_m) {
            self.gaps += 1;
            self.unread_m += new_m;
            return Step::Gap(before, now);
        }
        self.new_m = new_m;
        self.length_m += new_m;
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

    /// Time of the last reading.
    pub fn last_s(&self) -> Option<Number> {
        self.last_s
    }

    /// Length of the gaps, in m; none without positions.
    pub fn unread_m(&self) -> Option<f64> {
        self.from_m.map(|_| self.unread_m)
    }

    /// Length covered, in m; none without positions.
    pub fn length_m(&self) -> Option<f64> {
        self.from_m.map(|_| self.length_m)
    }
}
