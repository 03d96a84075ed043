//! Where the readings of a spool stand: direction, order, length, gaps in the log.

use crate::reading::Place;
use secondmelt_record::Number;

/// A step this many times longer than the usual one is a gap, unless a length is given. Chosen so that a
/// logger that misses a few readings is not called broken.
const GAP_TIMES: f64 = 20.0;
/// Steps after which the usual one is the mean so far; before, it is the median.
const GAP_STEPS: usize = 20;
/// Steps before which nothing is usual.
const FEW_STEPS: usize = 3;
/// A step back no longer than so many usual ones is the jitter of a counter of length (common
/// practice, no source).
const JITTER_TIMES: f64 = 3.0;

/// How long steps usually are, gaps left out.
#[derive(Debug, Default)]
struct Usual {
    first: Vec<f64>,
    sum: f64,
    count: f64,
}

impl Usual {
    #[inline]
    fn push(&mut self, step: f64) {
        self.sum += step;
        self.count += 1.0;
        if self.first.len() < GAP_STEPS {
            self.first.push(step);
        }
    }

    /// The usual step; none where nothing is usual yet.
    #[inline]
    fn step(&self) -> Option<f64> {
        if self.first.len() < GAP_STEPS { self.median() } else { Some(self.sum / self.count) }
    }

    #[cold]
    fn median(&self) -> Option<f64> {
        let mut steps = self.first.clone();
        steps.sort_by(f64::total_cmp);
        steps.get(steps.len() / 2).copied().filter(|_| steps.len() >= FEW_STEPS)
    }

    #[inline]
    fn is_gap(&self, step: f64) -> bool {
        self.step().is_some_and(|usual| step > GAP_TIMES * usual)
    }

    /// The first steps, while they are few: where one of them turns out to have been a gap, it is taken out,
    /// and how long it was.
    fn late_gap(&mut self) -> Option<f64> {
        let usual = self.median().filter(|_| self.first.len() <= 2 * FEW_STEPS)?;
        let place = self.first.iter().position(|step| *step > GAP_TIMES * usual)?;
        let step = self.first.remove(place);
        self.sum -= step;
        self.count -= 1.0;
        Some(step)
    }
}

/// The way along a spool, from either end.
#[derive(Debug, Default)]
pub struct Path {
    /// Position of the first reading.
    pub from_m: Option<Number>,
    /// Position of the last reading.
    pub last_m: Option<Number>,
    /// Position furthest along.
    furthest_m: f64,
    /// Time of the last reading, and the latest.
    last_s: Option<Number>,
    latest_s: f64,
    /// Which way positions go: 1, -1, or 0 while that is not known.
    direction: f64,
    /// Length covered, gaps left out and nothing counted twice.
    length_m: f64,
    /// Length of the gaps that nobody has passed before or since.
    unread_m: f64,
    /// Steps that were no gap.
    usual: Usual,
    /// Where the last step began and what was new of it, where that was a gap.
    jump: Option<(f64, f64)>,
    /// The same by time, in a log without positions, and how long its gaps are.
    usual_s: Usual,
    unread_s: f64,
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
        let Some(now) = now else {
            self.note(true);
            return Step::None;
        };
        let Some(before) = self.last_s else {
            self.latest_s = now.get();
            self.note(true);
            return Step::None;
        };
        let passed_s = now.get() - before.get();
        self.note(now.get() > self.latest_s);
        self.out_of_order += u64::from(passed_s <= 0.0);
        if passed_s < 0.0 {
            return Step::Back;
        }
        let new_s = (now.get() - self.latest_s).clamp(0.0, passed_s);
        self.latest_s = self.latest_s.max(now.get());
        if self.usual_s.is_gap(passed_s) {
            self.gaps += 1;
            self.unread_s += new_s;
            return Step::Pause(before, now);
        }
        if passed_s > 0.0 {
            self.usual_s.push(passed_s);
        }
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
            return self.back(now, -along_m);
        }
        let new_m = ((now.get() - self.furthest_m) * self.direction()).clamp(0.0, along_m);
        if new_m > 0.0 {
            self.furthest_m = now.get();
        }
        self.note(new_m > 0.0);
        if self.is_gap(along_m) {
            self.gaps += 1;
            self.unread_m += new_m;
            self.jump = Some((before.get(), new_m));
            return Step::Gap(before, now);
        }
        self.jump = None;
        self.new_m = new_m;
        self.length_m += new_m;
        self.usual.push(along_m);
        Step::Along(along_m)
    }

    /// A step back, or none, by this length.
    #[cold]
    fn back(&mut self, now: Number, by_m: f64) -> Step {
        self.out_of_order += 1;
        self.note(false);
        // A log that began with a jitter goes the other way.
        let from_m = self.from_m.map_or(0.0, Number::get);
        let behind_m = (from_m - now.get()) * self.direction();
        if behind_m > self.length_m && self.usual.first.len() < FEW_STEPS {
            self.direction = -self.direction();
            self.furthest_m = now.get();
            self.note(true);
            return Step::Along(by_m);
        }
        // One position far off, and back to where it was: that was no gap, and no end.
        if let Some((before_m, new_m)) = self.jump.take()
            && !self.usual.is_gap((now.get() - before_m).abs())
        {
            self.furthest_m = before_m;
            self.unread_m -= new_m;
            self.gaps -= 1;
            return Step::Back;
        }
        let jitter = self.usual.step().is_some_and(|usual| by_m <= JITTER_TIMES * usual);
        if by_m > 0.0 && !jitter { Step::Back } else { Step::Along(0.0) }
    }

    #[inline]
    fn is_gap(&self, along_m: f64) -> bool {
        match self.gap_m {
            Some(gap_m) => along_m > gap_m,
            None => self.usual.is_gap(along_m),
        }
    }

    /// Whether one of the first steps, which nothing told from the others, turns out to have been a gap: its
    /// length, in m, and whether the log goes on beyond it; else it was one position far off. It is told once,
    /// and no length is counted for it any more.
    #[inline]
    pub fn late_gap_m(&mut self) -> Option<(f64, bool)> {
        if self.gap_m.is_some() || self.usual.first.len() > 2 * FEW_STEPS {
            return None;
        }
        let gap_m = self.usual.late_gap()?;
        self.length_m = (self.length_m - gap_m).max(0.0);
        let now_m = self.last_m.map_or(self.furthest_m, Number::get);
        if (self.furthest_m - now_m) * self.direction() > gap_m / 2.0 {
            self.furthest_m = now_m;
            return Some((gap_m, false));
        }
        self.unread_m += gap_m;
        self.gaps += 1;
        Some((gap_m, true))
    }

    /// Whether readings have times and no positions.
    pub fn is_timed(&self) -> bool {
        self.from_m.is_none() && self.last_s.is_some()
    }

    /// How long was read in a log by time, gaps left out, in s.
    pub fn read_s(&self) -> f64 {
        self.usual_s.sum
    }

    /// How long the gaps of a log by time are, in s; none where there is none.
    pub fn unread_s(&self) -> Option<f64> {
        Some(self.unread_s).filter(|s| *s > 0.0)
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
