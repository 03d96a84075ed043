//! What the trials of a step say of its share of good ones.

use crate::book::Told;
use crate::group::{Group, as_now, good, last_is_known, same, series};
use crate::lab::Lab;
use crate::options::Settled;
use crate::words::{fraction, percent, plural, rounded};
use secondmelt_quality::proportion::{clopper_pearson, lower, trials_needed};
use secondmelt_quality::sequential::{Standing, more_good, standing};
use secondmelt_record::findings::{Decision, Proof, TrialEvidence, Verdict};
use secondmelt_record::{Count, Name, Number, Text};

/// Confidence of the two-sided interval of the share.
const INTERVAL: f64 = 0.95;
/// The check of the trials with the settings of now.
pub(crate) const CHECK: &str = "trials-proven";
const STOP: &str = "trials-worth-going-on";
const RULE: &str = "running likelihood ratio for a share of good trials above what is asked, and for one below it, mixed by a \
                    beta density (Ville 1939, Robbins 1970): proven or refuted where it reaches one over the error, which bounds the \
                    probability of ever being wrong however often one looks; all trials with the settings of now, taken as \
                    independent and alike. Each further series of settings has half the error of the one before, so that all of them \
                    together are wrong with less than twice the error asked for";
const STOP_RULE: &str = "the same running likelihood ratio over all trials, whatever their settings: fails where it shows a \
                         share of good ones below what is asked";

/// The trials of one difficulty.
#[derive(Debug)]
pub(crate) struct Cell<'g> {
    group: &'g Group,
    pub(crate) complexity: Option<u64>,
    trials: u64,
    good: u64,
    pub(crate) now_trials: u64,
    pub(crate) now_good: u64,
    /// The last trial, whose settings are those of now.
    pub(crate) last: &'g Told,
    /// Whether it is known to be the last.
    last_is_known: bool,
    /// Whether a later extrusion with other settings is undecided.
    undecided_last: bool,
    /// Extrusions that are undecided, with the settings of now and in all.
    open: (u64, u64),
    /// Number of the trial by which the settings of now had been proven before they no longer were.
    was_proven: Option<u64>,
    /// Trials without a time.
    undated: u64,
    asked: f64,
    confidence: f64,
    pub(crate) standing: Standing,
    pub(crate) more_good: Option<u64>,
    all: Standing,
    /// Number of the series of settings among those tried.
    series: u32,
}

/// Every difficulty of a group.
pub(crate) fn judged<'g>(group: &'g Group, settled: &Settled, lab: &Lab) -> Vec<Cell<'g>> {
    let asked =
        lab.asked(group.machine.as_deref(), group.material.as_deref()).unwrap_or(settled.asked);
    let cells = group.cells();
    cells
        .into_iter()
        .filter_map(|(level, trials)| cell(group, level, &trials, asked, settled))
        .collect()
}

fn cell<'g>(
    group: &'g Group,
    complexity: Option<u64>,
    trials: &[&'g Told],
    asked: f64,
    settled: &Settled,
) -> Option<Cell<'g>> {
    let whole = 1.0 - settled.confidence;
    // Who changes settings until one looks proven, looks often: each series has half the error of the one before, so
    // that all together err in less than twice the error of the first.
    let number = series(trials);
    let error = whole * 0.5_f64.powi(i32::try_from(number.min(64)).unwrap_or(64) - 1);
    let now = &as_now(trials)[..];
    let (n, now_n) = (trials.len() as u64, now.len() as u64);
    let (hits, now_hits) = (good(trials), good(now));
    let last = trials.last().copied()?;
    // An extrusion has no difficulty.
    let open: &[Told] = if complexity.is_none() { &group.open } else { &[] };
    let undecided_last = open.iter().any(|told| told.at_ms > last.at_ms && !same(told, last));
    let last_is_known = last_is_known(trials) && !undecided_last;
    // An extrusion that is undecided may be good or not: what is shown holds either way.
    let open_now = open.iter().filter(|told| same(told, last)).count() as u64;
    let open = open.len() as u64;
    let now_bad = now_n - now_hits;
    let shown = |open_good: u64, open_bad: u64| {
        standing(now_hits + open_good, now_bad + open_bad, asked, error)
    };
    let standing_now = match (shown(0, open_now)?, shown(open_now, 0)?) {
        _ if !last_is_known => Standing::NotYet,
        (Standing::Proven, _) => Standing::Proven,
        (_, Standing::Refuted) => Standing::Refuted,
        _ => Standing::NotYet,
    };
    Some(Cell {
        group,
        complexity,
        trials: n,
        good: hits,
        now_trials: now_n,
        now_good: now_hits,
        last,
        last_is_known,
        undecided_last,
        open: (open_now, open),
        was_proven: if standing_now == Standing::Proven {
            None
        } else {
            was_proven(now, asked, error)
        },
        undated: trials.iter().filter(|trial| trial.at_ms.is_none()).count() as u64,
        asked,
        confidence: settled.confidence,
        standing: standing_now,
        more_good: more_good(now_hits, now_bad + open_now, asked, error).filter(|_| last_is_known),
        all: standing(hits + open, n - hits, asked, whole)?,
        series: number,
    })
}

/// By which of some trials a share above what is asked had first been proven.
fn was_proven(now: &[&Told], asked: f64, error: f64) -> Option<u64> {
    let (mut good, mut bad) = (0, 0);
    now.iter()
        .position(|trial| {
            if trial.good {
                good += 1
            } else {
                bad += 1
            }
            trial.good && standing(good, bad, asked, error) == Some(Standing::Proven)
        })
        .map(|at| at as u64 + 1)
}

impl Cell<'_> {
    pub(crate) fn finding(&self) -> TrialEvidence<'_> {
        let share = clopper_pearson(self.good, self.trials, INTERVAL);
        let series = |failed| trials_needed(self.asked, self.confidence, failed).map(Count);
        TrialEvidence {
            does: self.group.does,
            machine: self.group.machine_name(),
            material: self.group.material_name(),
            complexity: self.complexity.map(Count),
            trials: Count(self.trials),
            good: Count(self.good),
            good_pct: percent(ratio(self.good, self.trials)),
            low_pct: percent(share.map_or(0.0, |share| share.low)),
            high_pct: percent(share.map_or(1.0, |share| share.high)),
            asked_pct: percent(self.asked),
            confidence: fraction(rounded(self.confidence)),
            shown_pct: percent(lower(self.good, self.trials, self.confidence).unwrap_or(0.0)),
            now_trials: Count(self.now_trials),
            now_good: Count(self.now_good),
            open: (self.open.1 > 0).then_some(Count(self.open.1)),
            standing: match self.standing {
                Standing::Proven => Proof::Proven,
                Standing::NotYet => Proof::NotYet,
                Standing::Refuted => Proof::Refuted,
            },
            more_good: self.more_good.map(Count),
            series: series(0),
            series_one_failed: series(1),
            series_as_failed: series(self.now_trials - self.now_good),
            ..TrialEvidence::default()
        }
    }

    /// Whether all trials say that it is not worth going on.
    pub(crate) fn is_stopped(&self) -> bool {
        // Where the settings of now come out better, the cause was found.
        let better = self.now_trials > 0 && ratio(self.now_good, self.now_trials) >= self.asked;
        self.all == Standing::Refuted && self.standing != Standing::Proven && !better
    }

    /// The verdict on the settings of now, and that it is not worth going on where all trials
    /// say so.
    pub(crate) fn verdicts(&self) -> Vec<Verdict<'_>> {
        let (n, hits) = (self.now_trials, self.now_good);
        let asked = rounded(100.0 * self.asked);
        let mut counted =
            format!("{hits} of {} with the settings of now came out well", plural(n, "trial"));
        if self.series > 1 {
            counted +=
                &format!(" (series {} of settings, of which each is asked for more)", self.series);
        }
        if self.open.0 > 0 {
            counted += &format!(
                ", and {} undecided, which may be either (check-tolerance)",
                if self.open.0 == 1 {
                    "1 more is".to_owned()
                } else {
                    format!("{} more are", self.open.0)
                }
            );
        }
        let (result, said) = match self.standing {
            Standing::Proven => (Decision::Conforms, format!("proven: {counted}")),
            Standing::Refuted => (
                Decision::Fails,
                format!(
                    "refuted: {counted}, too few for {asked} %; change something before the next trial"
                ),
            ),
            Standing::NotYet if self.undecided_last => (
                Decision::Undecided,
                "not yet: a later extrusion with other settings, which are those of now, is undecided (check-tolerance)"
                    .to_owned(),
            ),
            Standing::NotYet if !self.last_is_known => (
                Decision::Undecided,
                "not yet: which trial was the last, and so which settings are those of now, is not known: say when each was \
                 (`at`)"
                    .to_owned(),
            ),
            Standing::NotYet => {
                let before = self.was_proven.map_or_else(String::new, |trial| {
                    format!("; it had been proven by trial {trial}, and is no longer by the {} since", n - trial)
                });
                (Decision::Undecided, format!("not yet: {counted}; {}{before}", self.way(n, hits)))
            }
        };
        let undated = match self.undated {
            0 => String::new(),
            n => format!(
                "; {} no time, so that a record told twice counts twice",
                if n == 1 { "1 trial has".to_owned() } else { format!("{n} trials have") }
            ),
        };
        let said = format!("{said}{undated}");
        let mut verdicts = vec![self.verdict(CHECK, RULE, result, (hits, n), said)];
        if self.is_stopped() {
            let said = format!(
                "{} of {} came out well, whatever the settings, too few for {asked} %: do not go on like this; \
                 look for another cause (the plastic, its moisture, the machine) before the next trial",
                self.good,
                plural(self.trials, "trial")
            );
            let of_all = (self.good, self.trials);
            verdicts.push(self.verdict(STOP, STOP_RULE, Decision::Fails, of_all, said));
        }
        verdicts
    }

    /// How far it is.
    fn way(&self, n: u64, hits: u64) -> String {
        let asked = rounded(100.0 * self.asked);
        let more = self.more_good.map_or("no number of".to_owned(), |more| more.to_string());
        let way = format!("{more} more good in a row would prove {asked} %");
        if n == hits { way } else { format!("{way}, more if one fails") }
    }

    fn verdict(
        &self,
        check: &'static str,
        rule: &'static str,
        result: Decision,
        (hits, n): (u64, u64),
        said: String,
    ) -> Verdict<'_> {
        let level =
            self.complexity.map(|level| format!(" at difficulty {level}")).unwrap_or_default();
        Verdict {
            check: Name::from(check),
            result,
            machine: self.group.machine_name(),
            material: self.group.material_name(),
            value: Number::new(rounded(100.0 * ratio(hits, n))),
            limit: Number::new(rounded(100.0 * self.asked)),
            unit: Some(Text::from("%")),
            rule: Text::from(rule),
            why: Text::from(format!("{}{level}: {said}", self.group.named())),
            ..Verdict::default()
        }
    }
}

#[expect(clippy::cast_precision_loss, reason = "numbers of trials")]
fn ratio(part: u64, whole: u64) -> f64 {
    if whole == 0 { 0.0 } else { part as f64 / whole as f64 }
}
