//! Several settings changed between a failed trial and a good one: which of them made the
//! difference, alone or together, and which single trial tells best.
//!
//! An explanation is a set of the settings and a way in which they work: all of them are needed as
//! in the good trial, or any of them is enough, or each combination of them has a chance of its own.
//! Of one setting these are the same; of none the chance of a good trial is always the same.
//! Beforehand every number of settings is equally likely, and within a number every set and way is:
//! many settings do not bury the few (Scott and Berger 2010, Ann. Stat. 38:2587, section 2.2). Every
//! chance between 0 and 1 is equally likely, too, which gives the likelihoods in closed form
//! (beta-binomial, the rule of succession of Laplace). The information expected of a trial is the mean
//! by which it lessens the uncertainty about the explanation, in bits (Lindley 1956, Ann. Math. Stat.
//! 27:986).
//!
//! Trials count as independent, and as alike but for these settings.
//!
//! # Error rates
//!
//! Two settings crossed, each of the four combinations tried so often: in how many per cent of 2,000
//! simulated labs a row the first and the second setting are named as having made a difference for the
//! better (a probability of 95 % or more), and cleared (5 % or less), by the chances of a good trial
//! with none, the second, the first and both as in the good trial (seeded; `cargo test -p
//! secondmelt-quality --test separating -- --nocapture` prints it):
//!
//! | chances | of each | first named, % | second named | first cleared | second cleared |
//! |---|---|---|---|---|---|
//! | 0.5, 0.5, 0.5, 0.5 | 4 | 0.4 | 0.7 | 0.0 | 0.0 |
//! | 0.5, 0.5, 0.5, 0.5 | 8 | 0.4 | 0.2 | 0.0 | 0.0 |
//! | 0.5, 0.5, 0.5, 0.5 | 16 | 0.1 | 0.3 | 0.0 | 0.0 |
//! | 0.9, 0.9, 0.9, 0.9 | 4 | 0.0 | 0.0 | 0.0 | 0.0 |
//! | 0.9, 0.9, 0.9, 0.9 | 8 | 0.0 | 0.0 | 0.0 | 0.0 |
//! | 0.9, 0.9, 0.9, 0.9 | 16 | 0.1 | 0.1 | 0.0 | 0.0 |
//! | 0.1, 0.1, 0.9, 0.9 | 4 | 78.0 | 0.0 | 0.0 | 0.0 |
//! | 0.1, 0.1, 0.9, 0.9 | 8 | 99.5 | 0.0 | 0.0 | 3.5 |
//! | 0.1, 0.1, 0.9, 0.9 | 16 | 100.0 | 0.0 | 0.0 | 26.3 |
//! | 0.3, 0.3, 0.9, 0.9 | 4 | 36.2 | 0.1 | 0.0 | 0.0 |
//! | 0.3, 0.3, 0.9, 0.9 | 8 | 74.3 | 0.2 | 0.0 | 0.1 |
//! | 0.3, 0.3, 0.9, 0.9 | 16 | 98.3 | 0.0 | 0.0 | 3.2 |
//! | 0.1, 0.1, 0.1, 0.9 | 4 | 36.7 | 35.4 | 0.0 | 0.0 |
//! | 0.1, 0.1, 0.1, 0.9 | 8 | 79.2 | 80.8 | 0.0 | 0.0 |
//! | 0.1, 0.1, 0.1, 0.9 | 16 | 99.2 | 99.2 | 0.0 | 0.0 |
//! | 0.1, 0.9, 0.9, 0.9 | 4 | 38.2 | 39.3 | 0.0 | 0.0 |
//! | 0.1, 0.9, 0.9, 0.9 | 8 | 81.2 | 81.3 | 0.0 | 0.0 |
//! | 0.1, 0.9, 0.9, 0.9 | 16 | 99.0 | 99.5 | 0.0 | 0.0 |
//! | 0.1, 0.5, 0.5, 0.9 | 4 | 9.3 | 10.1 | 0.0 | 0.0 |
//! | 0.1, 0.5, 0.5, 0.9 | 8 | 34.2 | 36.5 | 0.0 | 0.0 |
//! | 0.1, 0.5, 0.5, 0.9 | 16 | 73.9 | 72.8 | 0.0 | 0.0 |
//! | 0.05, 0.3, 0.7, 0.95 | 4 | 48.0 | 1.4 | 0.0 | 0.0 |
//! | 0.05, 0.3, 0.7, 0.95 | 8 | 89.5 | 7.2 | 0.0 | 0.1 |
//! | 0.05, 0.3, 0.7, 0.95 | 16 | 100.0 | 21.1 | 0.0 | 0.6 |

use std::collections::BTreeMap;

/// A trial: for each changed setting whether it was as in the good trial, and how it came out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tried {
    /// Whether each setting was as in the good trial.
    pub as_good: Vec<bool>,
    /// Whether the trial was good.
    pub good: bool,
}

/// Which values a setting may have in the next trial.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct May {
    /// That of the good trial.
    pub stay: bool,
    /// That of the failed trial.
    pub go_back: bool,
}

/// How settings work together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    /// All of them are needed.
    All,
    /// Any of them is enough.
    Any,
    /// Each combination of them has a chance of its own.
    Each,
}

/// What trials say of one setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Made {
    /// Probability that it made a difference, alone or with others.
    pub probability: f64,
    /// Whether a good trial is the likelier with it as in the good trial, taken together where all
    /// others are as there and where all are put back.
    pub helps: bool,
}

/// The next trial and what it is expected to tell.
#[derive(Debug, Clone, PartialEq)]
pub struct Next {
    /// For each setting, whether to leave it as in the good trial.
    pub as_good: Vec<bool>,
    /// Expected information, in bits.
    pub bits: f64,
}

/// What trials say of the explanations.
#[derive(Debug, Clone)]
pub struct Weighed {
    settings: usize,
    explanations: Vec<Explanation>,
}

/// Most settings that every trial of is looked at.
pub const SETTINGS_MAX: usize = 10;

/// What trials say of so many settings. None without a setting, with more than [`SETTINGS_MAX`], or
/// where a trial does not name them all.
#[must_use]
pub fn weigh(settings: usize, tried: &[Tried]) -> Option<Weighed> {
    let fits = (1..=SETTINGS_MAX).contains(&settings)
        && tried.iter().all(|trial| trial.as_good.len() == settings);
    if !fits {
        return None;
    }
    let mut counts: BTreeMap<u32, Counts> = BTreeMap::new();
    for trial in tried {
        let back = trial.as_good.iter().enumerate().filter(|(_, as_good)| !**as_good);
        let (good, bad) = counts.entry(back.map(|(at, _)| 1 << at).sum()).or_default();
        if trial.good { *good += 1.0 } else { *bad += 1.0 }
    }
    let mut explanations = Vec::new();
    for mask in 0_u32..1 << settings {
        let size = mask.count_ones();
        let ways: &[Way] = if size < 2 { &[Way::All] } else { &[Way::All, Way::Any, Way::Each] };
        let share = choose(settings, size as usize) * ways.len() as f64;
        let prior = -share.ln();
        explanations.extend(ways.iter().map(|way| Explanation::new(mask, *way, prior, &counts)));
    }
    let most = explanations.iter().fold(f64::NEG_INFINITY, |most, one| most.max(one.weight));
    let mut total = 0.0;
    for one in &mut explanations {
        one.weight = (one.weight - most).exp();
        total += one.weight;
    }
    explanations.iter_mut().for_each(|one| one.weight /= total);
    Some(Weighed { settings, explanations })
}

/// In how many ways so many are chosen of n.
fn choose(n: usize, of: usize) -> f64 {
    (0..of).fold(1.0, |ways, at| ways * (n - at) as f64 / (at + 1) as f64)
}

impl Weighed {
    /// Uncertainty about the explanation, in bits.
    #[must_use]
    pub fn open_bits(&self) -> f64 {
        let weights = self.explanations.iter().map(|one| one.weight).filter(|p| *p > 0.0);
        weights.map(|p| -p * p.log2()).sum::<f64>().max(0.0)
    }

    /// Probability that none of the settings made a difference.
    #[must_use]
    pub fn none(&self) -> f64 {
        self.sum(|one| one.mask == 0)
    }

    /// What is known of a setting. None unless there is one of that number.
    #[must_use]
    pub fn made(&self, setting: usize) -> Option<Made> {
        let bit = (setting < self.settings).then(|| 1_u32 << setting)?;
        let all = (1_u32 << self.settings) - 1;
        let chance = |back| -> f64 {
            self.explanations.iter().map(|one| one.weight * one.side(back).chance).sum()
        };
        Some(Made {
            probability: self.sum(|one| one.mask & bit != 0),
            helps: chance(0) + chance(all & !bit) > chance(bit) + chance(all),
        })
    }

    fn sum(&self, of: impl Fn(&Explanation) -> bool) -> f64 {
        let weights = self.explanations.iter().filter(|one| of(one)).map(|one| one.weight);
        weights.sum::<f64>().clamp(0.0, 1.0)
    }

    /// The trial that is expected to tell most, of those with every setting at a value that it may
    /// have; of equals the one that is closest to the good trial, and of those the first. None where a
    /// setting may have neither value.
    #[must_use]
    pub fn next(&self, may: &[May]) -> Option<Next> {
        let allowed = |back: u32| {
            let ok = |(at, may): (usize, &May)| {
                if back >> at & 1 == 1 { may.go_back } else { may.stay }
            };
            may.len() == self.settings && may.iter().enumerate().all(ok)
        };
        let mut found: Option<(u32, f64)> = None;
        // Bit set: put back to the value of the failed trial.
        for back in (0_u32..1 << self.settings).filter(|back| allowed(*back)) {
            let (mut mean, mut left) = (0.0, 0.0);
            for one in &self.explanations {
                let side = one.side(back);
                mean += one.weight * side.chance;
                left += one.weight * side.entropy;
            }
            let bits = (entropy(mean) - left).max(0.0);
            let better = found.is_none_or(|(before, most)| {
                bits > most + 1e-12
                    || (bits > most - 1e-12 && back.count_ones() < before.count_ones())
            });
            if better {
                found = Some((back, bits));
            }
        }
        let (back, bits) = found?;
        Some(Next { as_good: (0..self.settings).map(|at| back >> at & 1 == 0).collect(), bits })
    }
}

/// Uncertainty about an outcome of that chance, in bits.
fn entropy(p: f64) -> f64 {
    let term = |p: f64| if p > 0.0 { -p * p.log2() } else { 0.0 };
    term(p) + term(1.0 - p)
}

/// Good and bad trials.
type Counts = (f64, f64);

/// The chance of the next trial to be good, and the uncertainty about it.
#[derive(Debug, Clone, Copy)]
struct Side {
    chance: f64,
    entropy: f64,
}

impl Side {
    fn new((good, bad): Counts) -> Self {
        let chance = (good + 1.0) / (good + bad + 2.0);
        Self { chance, entropy: entropy(chance) }
    }
}

#[derive(Debug, Clone)]
struct Explanation {
    /// Bit set: the setting belongs to it.
    mask: u32,
    way: Way,
    /// What trials say of each case that it tells apart, by case; those not tried are missing.
    sides: Vec<(u32, Side)>,
    /// First the logarithm of prior times likelihood, then the probability.
    weight: f64,
}

impl Explanation {
    fn new(mask: u32, way: Way, prior: f64, counts: &BTreeMap<u32, Counts>) -> Self {
        let mut cases: BTreeMap<u32, Counts> = BTreeMap::new();
        for (back, (good, bad)) in counts {
            let case = cases.entry(case(mask, way, *back)).or_default();
            *case = (case.0 + good, case.1 + bad);
        }
        let ln = |(good, bad): &Counts| {
            libm::lgamma(good + 1.0) + libm::lgamma(bad + 1.0) - libm::lgamma(good + bad + 2.0)
        };
        let weight = prior + cases.values().map(ln).sum::<f64>();
        let sides = cases.into_iter().map(|(case, counts)| (case, Side::new(counts))).collect();
        Self { mask, way, sides, weight }
    }

    /// What is known of a trial with some settings put back.
    fn side(&self, back: u32) -> Side {
        let case = case(self.mask, self.way, back);
        let at = self.sides.binary_search_by_key(&case, |(case, _)| *case);
        let known = at.ok().and_then(|at| self.sides.get(at));
        known.map_or(Side { chance: 0.5, entropy: 1.0 }, |(_, side)| *side)
    }
}

/// Which case of an explanation a trial with some settings put back is.
fn case(mask: u32, way: Way, back: u32) -> u32 {
    match way {
        Way::All => u32::from(mask & back != 0),
        Way::Any => u32::from(mask & back == mask),
        Way::Each => mask & back,
    }
}
