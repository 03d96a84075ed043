//! Where the readings of a spool stand: length, order, gaps in the log.

use secondmelt_record::Number;
use secondmelt_record::facts::Diameter;

/// A step this many times longer than the steps so far is a gap, unless a length is given.
/// Chosen so that a logger that misses a few readings is not called broken.
const GAP_TIMES: f64 = 20.0;
/// Steps after which the usual one is known well enough for that.
const GAP_STEPS: u32 = 20;

/// The way along a spool.
#[derive(Debug, Default)]
pub struct Path {
    /// Position of the first reading.
    pub from_m: Option<Number>,
    /// Position of the last reading.
    pub last_m: Option<Number>,
    /// Time of the last reading.
    last_s: Option<Number>,
    /// Length covered, gaps left out.
    length_m: f64,
    /// Steps that were no gap.
    steps: u32,
    /// Gaps in the log.
    pub gaps: u64,
    /// Readings not after the one before.
    pub out_of_order: u64,
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
    /// Back to an earlier position, from where.
    Back(Number),
}

impl Path {
    /// No reading yet. A step longer than `gap_m` is a gap; by default one much longer
    /// than the steps so far.
    pub fn new(gap_m: Option<f64>) -> Self {
        Self { gap_m, ..Self::default() }
    }

    /// Goes on to a reading.
    #[inline]
    pub fn advance(&mut self, record: &Diameter<'_>) -> Step {
        let step = self.step(record);
        self.from_m = self.from_m.or(record.position_m);
        self.last_m = record.position_m.or(self.last_m);
        self.last_s = record.time_s.or(self.last_s);
        step
    }

    #[inline]
    fn step(&mut self, record: &Diameter<'_>) -> Step {
        let (Some(now), Some(before)) = (record.position_m, self.last_m) else {
            let time = record.time_s.zip(self.last_s);
            self.out_of_order += u64::from(time.is_some_and(|(now, before)| now <= before));
            return Step::None;
        };
        let along_m = now.get() - before.get();
        if along_m <= 0.0 {
            self.out_of_order += 1;
            return if along_m < 0.0 { Step::Back(before) } else { Step::Along(0.0) };
        }
        if self.is_gap(along_m) {
            self.gaps += 1;
            return Step::Gap(before, now);
        }
        self.length_m += along_m;
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

    /// Length covered, gaps left out, in m; none without positions.
    pub fn length_m(&self) -> Option<f64> {
        self.from_m.map(|_| self.length_m)
    }
}
