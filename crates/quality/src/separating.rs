//! Several settings changed between a failed trial and a good one: which single trial tells best
//! which of them made the difference.
//!
//! One explanation a setting (the chance of a good trial depends on that setting alone, whether
//! it is as in the good trial or as in the failed one), and one by which it depends on none of
//! them. They are equally likely beforehand, and so is every chance between 0 and 1, which gives
//! their likelihoods in closed form (beta-binomial, the rule of succession of Laplace). The
//! information expected of a trial is the mean by which it lessens the uncertainty about the
//! explanation, in bits (Lindley 1956, Ann. Math. Stat. 27:986).

/// A trial: for each changed setting whether it was as in the good trial, and how it came out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tried {
    /// Whether each setting was as in the good trial.
    pub as_good: Vec<bool>,
    /// Whether the trial was good.
    pub good: bool,
}

/// Chance of each explanation and what a trial is expected to tell.
#[derive(Debug, Clone, PartialEq)]
pub struct Next {
    /// For each setting, whether to leave it as in the good trial.
    pub as_good: Vec<bool>,
    /// Expected information, in bits.
    pub bits: f64,
    /// Uncertainty about the explanation before it, in bits.
    pub open_bits: f64,
    /// Probability of each setting being what made the difference, and last of none of them.
    pub probabilities: Vec<f64>,
}

/// Most settings that every trial of is looked at.
pub const SETTINGS_MAX: usize = 12;

/// The trial that is expected to tell most; of equals the one that is closest to the good trial,
/// and of those the first. None without a setting, with more than [`SETTINGS_MAX`], or where a
/// trial does not name them all.
#[must_use]
pub fn best(settings: usize, tried: &[Tried]) -> Option<Next> {
    let fits = (1..=SETTINGS_MAX).contains(&settings)
        && tried.iter().all(|trial| trial.as_good.len() == settings);
    if !fits {
        return None;
    }
    let explanations: Vec<Explanation> =
        (0..=settings).map(|at| Explanation::new((at < settings).then_some(at), tried)).collect();
    let most = explanations.iter().fold(f64::NEG_INFINITY, |most, e| most.max(e.ln_likelihood));
    let weights: Vec<f64> = explanations.iter().map(|e| (e.ln_likelihood - most).exp()).collect();
    let total: f64 = weights.iter().sum();
    let probabilities: Vec<f64> = weights.iter().map(|w| w / total).collect();
    let mut found: Option<(u32, Next)> = None;
    // Bit set: put back to the value of the failed trial.
    for back in 0_u32..1 << settings {
        let chances = explanations.iter().map(|e| e.chance(back));
        let (mut mean, mut left) = (0.0, 0.0);
        for (p, chance) in probabilities.iter().zip(chances) {
            mean += p * chance;
            left += p * entropy(chance);
        }
        let bits = (entropy(mean) - left).max(0.0);
        let better = found.as_ref().is_none_or(|(before, next)| {
            bits > next.bits + 1e-12
                || (bits > next.bits - 1e-12 && back.count_ones() < before.count_ones())
        });
        if better {
            let as_good = (0..settings).map(|s| back >> s & 1 == 0).collect();
            let next = Next { as_good, bits, open_bits: 0.0, probabilities: Vec::new() };
            found = Some((back, next));
        }
    }
    let open_bits = probabilities.iter().filter(|p| **p > 0.0).map(|p| -p * p.log2()).sum();
    found.map(|(_, next)| Next { open_bits, probabilities, ..next })
}

/// Uncertainty about an outcome of that chance, in bits.
fn entropy(p: f64) -> f64 {
    let term = |p: f64| if p > 0.0 { -p * p.log2() } else { 0.0 };
    term(p) + term(1.0 - p)
}

/// Good and bad trials with the setting as in the good trial, and otherwise.
struct Explanation {
    setting: Option<usize>,
    with: (f64, f64),
    without: (f64, f64),
    ln_likelihood: f64,
}

impl Explanation {
    fn new(setting: Option<usize>, tried: &[Tried]) -> Self {
        let (mut with, mut without) = ((0.0, 0.0), (0.0, 0.0));
        for trial in tried {
            let as_good = setting.is_none_or(|s| trial.as_good[s]);
            let counts = if as_good { &mut with } else { &mut without };
            if trial.good { counts.0 += 1.0 } else { counts.1 += 1.0 }
        }
        let ln = |(good, bad): (f64, f64)| {
            libm::lgamma(good + 1.0) + libm::lgamma(bad + 1.0) - libm::lgamma(good + bad + 2.0)
        };
        let ln_likelihood = ln(with) + if setting.is_some() { ln(without) } else { 0.0 };
        Self { setting, with, without, ln_likelihood }
    }

    /// Chance that the next trial is good, with some settings put back.
    fn chance(&self, back: u32) -> f64 {
        let put_back = self.setting.is_some_and(|s| back >> s & 1 == 1);
        let (good, bad) = if put_back { self.without } else { self.with };
        (good + 1.0) / (good + bad + 2.0)
    }
}
