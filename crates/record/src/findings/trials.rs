//! Findings about trials: whether a step is proven, what went wrong, and what to try next.

use crate::define::{record, words};
use crate::facts::{Does, Fault, Settings};
use crate::quantity::{Count, Fraction, NonNegative, Number, Percent, Positive};
use crate::text::{Name, Text};

words! {
    /// What trials say of a step.
    Proof {
        /// The trials do not tell.
        NotYet = "not yet",
        /// The share of good ones is above what is asked.
        Proven = "proven",
        /// The share of good ones is below what is asked.
        Refuted = "refuted",
    }
}

record! {
    /// What the trials of a step say of its share of good ones, by machine, material and difficulty.
    finding "trial_evidence" => TrialEvidence<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// What is tried.
        need does: Does;
        /// Machine.
        may machine: Name<'a>;
        /// Material (ISO 1043-1); absent where no record of the lots says.
        may material: Name<'a>;
        /// Difficulty of the parts, 1 for the simplest.
        may complexity: Count;
        /// Trials.
        need trials: Count;
        /// Good ones.
        need good: Count;
        /// Share of good ones, in per cent.
        need good_pct: Percent;
        /// Lower end of its 95 % interval (Clopper and Pearson 1934), in per cent.
        need low_pct: Percent;
        /// Upper end of the same, in per cent.
        need high_pct: Percent;
        /// Share that is asked for, in per cent.
        need asked_pct: Percent;
        /// Confidence that is asked for.
        need confidence: Fraction;
        /// Share shown at that confidence by one look (one-sided limit of Clopper and Pearson), in
        /// per cent, were the number of trials fixed beforehand and all with the settings of now.
        need shown_pct: Percent;
        /// Trials with the settings of now: those that were made as the last one, whenever that was, and
        /// since what is said to have changed beside the settings.
        need now_trials: Count;
        /// Good ones of them.
        need now_good: Count;
        /// Extrusions beside them whose spools were judged without a decision; each may be good or not.
        may open: Count;
        /// What they say, however often one looks.
        need standing: Proof;
        /// Further good trials in a row with these settings after which it is proven; 0 where it is.
        may more_good: Count;
        /// Trials of a new series, its number fixed before it starts and none of them failed, that
        /// would show what is asked in one look (success run).
        may series: Count;
        /// The same with one failed trial allowed.
        may series_one_failed: Count;
        /// The same with as many allowed as have failed with the settings of now.
        may series_as_failed: Count;
    }

    /// How often a fault comes in the trials of a step.
    finding "fault_share" => FaultShare<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// What is tried.
        need does: Does;
        /// Machine.
        may machine: Name<'a>;
        /// Material (ISO 1043-1).
        may material: Name<'a>;
        /// The fault; absent where failed trials name none.
        may fault: Fault;
        /// Failed trials with it.
        need failed: Count;
        /// All trials.
        need trials: Count;
        /// Its share of all trials, in per cent.
        need share_pct: Percent;
        /// Lower end of the 95 % interval of the share (Clopper and Pearson 1934), in per cent.
        need low_pct: Percent;
        /// Upper end of the same, in per cent.
        need high_pct: Percent;
    }

    /// Whether trials with more of a setting came out better or worse than those with less.
    finding "setting_effect" => SettingEffect<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// What is tried.
        need does: Does;
        /// Machine.
        may machine: Name<'a>;
        /// Material (ISO 1043-1).
        may material: Name<'a>;
        /// The setting.
        need setting: Name<'a>;
        /// Most of it in the trials with less.
        need low: Number;
        /// Least of it in the trials with more.
        need high: Number;
        /// Trials with less.
        need low_trials: Count;
        /// Good ones of them.
        need low_good: Count;
        /// Trials with more.
        need high_trials: Count;
        /// Good ones of them.
        need high_good: Count;
        /// Odds of a good trial with more over those with less, half a trial added to each
        /// count (Firth 1993).
        need odds_ratio: Positive;
        /// Probability of so uneven tables were there no effect, each part, lot and difficulty by itself
        /// (exact conditional test, two-sided; of one of them Fisher's exact test).
        need probability: Fraction;
        /// The same with all settings of the step tested at once (Holm 1979).
        need probability_of_all: Fraction;
        /// Settings that changed in the very same trials, and `part`, `lot` or `difficulty` where none of
        /// them had both less and more of it, so that nothing tells which did it.
        need mixed_with: Vec<Text<'a>>;
        /// Odds ratio with the other settings held, over the range from the least to the most of this
        /// one, from the part, lot and difficulty that has had most trials (Firth-penalised logistic
        /// regression). Absent where those are too few for it.
        may joint_odds_ratio: Positive;
        /// Lower end of its 95 % interval (profile of the penalised likelihood).
        may joint_low: Positive;
        /// Upper end of the same.
        may joint_high: Positive;
        /// Probability of so large an effect were there none (penalised likelihood ratio).
        may joint_probability: Fraction;
    }

    /// The single trial that is expected to tell most about which of several settings, changed at once,
    /// made the difference; what else changed with them is told in `chances` and stays as it was.
    finding "next_trial" => NextTrial<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// What is tried.
        need does: Does;
        /// Machine.
        may machine: Name<'a>;
        /// Material (ISO 1043-1).
        may material: Name<'a>;
        /// What is made.
        may part: Name<'a>;
        /// Settings of the trial.
        need settings: Settings;
        /// Settings put back to what they were in the failed trial.
        need put_back: Vec<Text<'a>>;
        /// Probability of each changed setting (and of `lot` or `difficulty`, where they changed, too) having
        /// made a difference, alone or with others, and of `none`; they do not add up to 1.
        need chances: Settings;
        /// Information that the trial is expected to bring, in bits.
        need bits: NonNegative;
        /// Uncertainty about the explanation so far, in bits.
        need open_bits: NonNegative;
        /// The reason, in one plain sentence.
        need why: Text<'a>;
    }

    /// A small design that tells the effects of several settings apart.
    finding "screening_design" => ScreeningDesign<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Name that its runs carry.
        need design: Name<'a>;
        /// Machine.
        may machine: Name<'a>;
        /// Material (ISO 1043-1).
        may material: Name<'a>;
        /// Number of runs.
        need runs: Count;
        /// Each setting with its letter and both levels.
        need factors: Vec<Text<'a>>;
        /// Generators; none of a full factorial and of Plackett and Burman.
        need generators: Vec<Text<'a>>;
        /// Resolution; absent of a full factorial, in which nothing is mixed.
        may resolution: Count;
        /// What it cannot tell apart, by letter, interactions of three and more left out.
        need aliases: Vec<Text<'a>>;
        /// Seed of the order of its runs.
        need seed: Count;
        /// Where it is from.
        need basis: Text<'a>;
    }

    /// One run of a screening design.
    finding "screening_run" => ScreeningRun<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// The design.
        need design: Name<'a>;
        /// Place in the random order in which the runs are made, from 1.
        need order: Count;
        /// Place in the standard order, from 1.
        need standard: Count;
        /// Its settings.
        need settings: Settings;
    }
}
