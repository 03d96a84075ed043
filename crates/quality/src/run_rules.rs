//! Supplementary run rules of control charts, on values standardised as
//! (value - centre) / sigma. Each rule needs a fixed amount of memory.
//!
//! Sources: Western Electric, Statistical Quality Control Handbook (1956), zone tests;
//! Nelson (1984), Journal of Quality Technology 16(4):237-239; ISO 7870-2:2013, pattern
//! tests. Assumption: successive points are independent and normal while all is well;
//! with points that follow one another closely the run rules signal far more often than
//! they should, so chart residuals then (see `chart::Whitener`).
//!
//! "Beyond" is strict. A rule fires at the point that completes its run or window, and
//! goes on counting after that. In a window rule that point must itself be beyond the
//! line, and only points on its side count.

use crate::distributions::binomial;
use crate::tails::normal_above;

/// One rule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rule {
    /// One point beyond `sigmas` on either side.
    Beyond {
        /// Distance from the centre.
        sigmas: f64,
    },
    /// `needed` of `window` points beyond `sigmas` on one side; windows of at most 64.
    Several {
        /// Points beyond the line.
        needed: u32,
        /// Points looked at.
        window: u32,
        /// Distance from the centre.
        sigmas: f64,
    },
    /// `run` points in a row on one side of the centre; a point on it ends the run.
    OneSide {
        /// Points in the run.
        run: u32,
    },
    /// `run` points in a row rising steadily, or falling; equal neighbours end the run.
    Trend {
        /// Points in the run, one more than steps.
        run: u32,
    },
    /// `run` points in a row going up and down in turn.
    Alternating {
        /// Points in the run.
        run: u32,
    },
    /// `run` points in a row not beyond `sigmas`.
    Hugging {
        /// Points in the run.
        run: u32,
        /// Distance from the centre.
        sigmas: f64,
    },
    /// `run` points in a row beyond `sigmas`, on whichever side.
    Avoiding {
        /// Points in the run.
        run: u32,
        /// Distance from the centre.
        sigmas: f64,
    },
}

impl Rule {
    /// Chance that the rule fires at a point of a long sequence, while points are independent
    /// and normal about the centre line. Windows are counted exactly, runs by their length,
    /// directions by the share of orders of so many points that rise, fall or alternate.
    #[must_use]
    pub fn by_chance(self) -> f64 {
        let beyond = |sigmas: f64| normal_above(sigmas.max(0.0));
        match self {
            Self::Beyond { sigmas } => 2.0 * beyond(sigmas),
            Self::Several { needed, window, sigmas } => {
                let (one, before) = (beyond(sigmas), u64::from(window.saturating_sub(1)));
                let more = match u64::from(needed) {
                    0 | 1 => 1.0,
                    needed => binomial::tails(before, needed - 2, one).map_or(0.0, |s| s.above),
                };
                2.0 * one * more
            }
            Self::OneSide { run } => 2.0 * 0.5_f64.powi(power(run)),
            Self::Trend { run } => 2.0 / factorial(run),
            Self::Alternating { run } => 2.0 * alternating(run) / factorial(run),
            Self::Hugging { run, sigmas } => (1.0 - 2.0 * beyond(sigmas)).powi(power(run)),
            Self::Avoiding { run, sigmas } => (2.0 * beyond(sigmas)).powi(power(run)),
        }
    }
}

fn power(run: u32) -> i32 {
    i32::try_from(run).unwrap_or(i32::MAX)
}

fn factorial(n: u32) -> f64 {
    (2..=n).map(f64::from).product()
}

/// Orders of `n` different values that go up and down in turn, the first step up: the zigzag
/// numbers 1, 1, 1, 2, 5, 16, 61 ... (Andre 1881), by the boustrophedon triangle.
fn alternating(n: u32) -> f64 {
    let mut row = vec![1.0];
    for _ in 0..n {
        let mut next = Vec::with_capacity(row.len() + 1);
        let mut sum = 0.0;
        next.push(sum);
        for x in row.iter().rev() {
            sum += x;
            next.push(sum);
        }
        row = next;
    }
    row.last().copied().unwrap_or(1.0)
}

/// The four zone tests of the Western Electric handbook.
pub const WESTERN_ELECTRIC: [Rule; 4] = [
    Rule::Beyond { sigmas: 3.0 },
    Rule::Several { needed: 2, window: 3, sigmas: 2.0 },
    Rule::Several { needed: 4, window: 5, sigmas: 1.0 },
    Rule::OneSide { run: 8 },
];

/// Nelson's eight tests, in his order.
pub const NELSON: [Rule; 8] = [
    Rule::Beyond { sigmas: 3.0 },
    Rule::OneSide { run: 9 },
    Rule::Trend { run: 6 },
    Rule::Alternating { run: 14 },
    Rule::Several { needed: 2, window: 3, sigmas: 2.0 },
    Rule::Several { needed: 4, window: 5, sigmas: 1.0 },
    Rule::Hugging { run: 15, sigmas: 1.0 },
    Rule::Avoiding { run: 8, sigmas: 1.0 },
];

/// The tests of ISO 7870-2:2013 that can be counted: one beyond, seven on one side,
/// seven rising or falling. Run lengths from memory.
pub const ISO_7870_2: [Rule; 3] =
    [Rule::Beyond { sigmas: 3.0 }, Rule::OneSide { run: 7 }, Rule::Trend { run: 7 }];

/// Most rules followed at once.
pub const RULES_MAX: usize = 32;

/// Which rules fired at a point, by their place in the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Fired(u32);

impl Fired {
    /// Whether none fired.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Whether the rule at this place fired.
    #[must_use]
    pub fn has(self, place: usize) -> bool {
        place < RULES_MAX && self.0 >> place & 1 == 1
    }

    /// Places of the rules that fired, in order.
    pub fn places(self) -> impl Iterator<Item = usize> {
        (0..RULES_MAX).filter(move |place| self.has(*place))
    }
}

/// Follows a list of rules along a sequence.
#[derive(Debug, Clone)]
pub struct RunRules {
    rules: Vec<(Rule, Watch)>,
    last: Option<f64>,
}

impl RunRules {
    /// Rules to follow; those after the first [`RULES_MAX`] are left out.
    #[must_use]
    pub fn new(rules: &[Rule]) -> Self {
        let start = |rule: &Rule| (*rule, Watch::default());
        Self { rules: rules.iter().take(RULES_MAX).map(start).collect(), last: None }
    }

    /// Takes the next standardised value. One that is not a number breaks every run.
    pub fn push(&mut self, z: f64) -> Fired {
        if z.is_nan() {
            self.restart();
            return Fired::default();
        }
        let step = self.last.map(|last| sign(z - last));
        self.last = Some(z);
        let mut fired = 0;
        for (place, (rule, watch)) in self.rules.iter_mut().enumerate() {
            fired |= u32::from(watch.fires(*rule, z, step)) << place;
        }
        Fired(fired)
    }

    /// Forgets what came before, as after a gap.
    pub fn restart(&mut self) {
        self.last = None;
        self.rules.iter_mut().for_each(|(_, watch)| *watch = Watch::default());
    }
}

/// What one rule remembers.
#[derive(Debug, Clone, Copy, Default)]
struct Watch {
    /// Points of the run so far.
    run: u32,
    /// Side or direction of the run.
    side: i8,
    /// Which of the last points were beyond the line above, and below; newest first.
    above: u64,
    below: u64,
}

impl Watch {
    fn fires(&mut self, rule: Rule, z: f64, step: Option<i8>) -> bool {
        match rule {
            Rule::Beyond { sigmas } => z.abs() > sigmas,
            Rule::Several { needed, window, sigmas } => self.several(needed, window, sigmas, z),
            Rule::OneSide { run } => self.count(sign(z), run),
            Rule::Trend { run } => self.steps(step, run, |before, now| before == now),
            Rule::Alternating { run } => self.steps(step, run, |before, now| before == -now),
            Rule::Hugging { run, sigmas } => self.count(i8::from(z.abs() <= sigmas), run),
            Rule::Avoiding { run, sigmas } => self.count(i8::from(z.abs() > sigmas), run),
        }
    }

    fn several(&mut self, needed: u32, window: u32, sigmas: f64, z: f64) -> bool {
        let mask = 1_u64.checked_shl(window).map_or(u64::MAX, |bit| bit - 1);
        self.above = (self.above << 1 | u64::from(z > sigmas)) & mask;
        self.below = (self.below << 1 | u64::from(z < -sigmas)) & mask;
        let enough = |points: u64| points & 1 == 1 && points.count_ones() >= needed;
        enough(self.above) || enough(self.below)
    }

    /// Counts points of one side; a point of no side ends the run.
    fn count(&mut self, side: i8, run: u32) -> bool {
        let length = if side != 0 && side == self.side { self.run.saturating_add(1) } else { 1 };
        (self.run, self.side) = (length, side);
        side != 0 && self.run >= run
    }

    /// Counts points joined by steps that go on as they should.
    fn steps(&mut self, step: Option<i8>, run: u32, goes_on: fn(i8, i8) -> bool) -> bool {
        let now = step.unwrap_or(0);
        self.run = match now {
            0 => 1,
            _ if self.run > 1 && goes_on(self.side, now) => self.run.saturating_add(1),
            _ => 2,
        };
        self.side = now;
        self.run >= run
    }
}

fn sign(x: f64) -> i8 {
    i8::from(x > 0.0) - i8::from(x < 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_is_no_number_breaks_every_run() {
        let mut rules = RunRules::new(&[Rule::OneSide { run: 3 }]);
        let fired: Vec<_> =
            [1.0, 1.0, f64::NAN, 1.0, 1.0, 1.0].map(|z| !rules.push(z).is_empty()).into();
        assert_eq!(fired, [false, false, false, false, false, true]);
    }

    /// Zigzag numbers, OEIS A000111.
    #[test]
    fn orders_that_alternate_are_counted() {
        for (n, orders) in [(0, 1.0), (1, 1.0), (2, 1.0), (3, 2.0), (4, 5.0), (5, 16.0), (6, 61.0)]
        {
            assert_eq!(alternating(n), orders, "{n}");
        }
        assert_eq!(alternating(14), 199_360_981.0);
    }

    /// Simulated: two million independent normal points.
    #[test]
    fn what_chance_gives_is_what_chance_gives() {
        let mut seed = 7_u64;
        let mut uniform = || {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            ((seed >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
        };
        let mut rules = RunRules::new(&NELSON);
        let mut counts = [0_u32; 8];
        let points = 2_000_000;
        for _ in 0..points {
            let z = (-2.0 * uniform().ln()).sqrt() * (std::f64::consts::TAU * uniform()).cos();
            rules.push(z).places().for_each(|place| counts[place] += 1);
        }
        for (rule, count) in NELSON.iter().zip(counts) {
            let expected = rule.by_chance() * f64::from(points);
            // Signals of runs come in clumps, so their count scatters more than a Poisson one.
            let reach = 5.0 * (6.0 * expected).sqrt().max(3.0);
            assert!((f64::from(count) - expected).abs() < reach, "{rule:?}: {count}, {expected}");
        }
    }

    #[test]
    fn a_window_of_sixty_four_is_counted() {
        let mut rules = RunRules::new(&[Rule::Several { needed: 64, window: 64, sigmas: 1.0 }]);
        let at = (0..70).position(|_| !rules.push(2.0).is_empty());
        assert_eq!(at, Some(63));
    }

    proptest! {
        /// Every rule but those of direction looks at both sides alike; directions turn, too.
        #[test]
        fn a_sequence_upside_down_signals_at_the_same_points(zs in prop::collection::vec(-4.0_f64..4.0, 0..200)) {
            let mut up = RunRules::new(&NELSON);
            let mut down = RunRules::new(&NELSON);
            for z in zs {
                prop_assert_eq!(up.push(z), down.push(-z));
            }
        }

        /// What one rule says does not hang on which others are followed.
        #[test]
        fn rules_do_not_disturb_one_another(zs in prop::collection::vec(-4.0_f64..4.0, 0..200)) {
            let mut all = RunRules::new(&NELSON);
            let mut each: Vec<_> = NELSON.iter().map(|rule| RunRules::new(&[*rule])).collect();
            for z in zs {
                let fired = all.push(z);
                for (place, one) in each.iter_mut().enumerate() {
                    prop_assert_eq!(one.push(z).has(0), fired.has(place));
                }
            }
        }
    }
}
