//! What the stream said of trials and steps.

use crate::words::unit;
use secondmelt_record::facts::{Does, Fault, Outcome, Role, Settings, Step, Trial, Weighing};
use secondmelt_record::findings::{Decision, Verdict};
use secondmelt_record::spools::Spools;
use secondmelt_record::units::{least_of_setting, of_setting};
use secondmelt_record::{Code, Line, Out, Problem};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// One trial as it was written down.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Told {
    pub(crate) lot: String,
    /// What it was made from: the lot of a print, what went into an extrusion. Empty where that is not known.
    pub(crate) from: BTreeSet<String>,
    pub(crate) machine: Option<String>,
    pub(crate) part: Option<String>,
    pub(crate) complexity: Option<u64>,
    pub(crate) good: bool,
    pub(crate) fault: Option<Fault>,
    pub(crate) settings: Known,
    /// What was changed, in words.
    pub(crate) changed: Option<String>,
    /// How often something was said to have changed that no setting tells, up to this trial.
    pub(crate) era: u32,
    /// Milliseconds since 1970.
    pub(crate) at_ms: Option<i64>,
}

/// The settings of a trial.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Known {
    /// Those whose names say their unit.
    pub(crate) values: BTreeMap<String, f64>,
    /// Those that say none, or a value that cannot be: they tell trials apart, and nothing more.
    pub(crate) bare: BTreeMap<String, f64>,
}

impl Known {
    pub(crate) fn is_empty(&self) -> bool {
        self.values.is_empty() && self.bare.is_empty()
    }

    /// All settings with their values.
    pub(crate) fn all(&self) -> impl Iterator<Item = (&String, f64)> {
        self.values.iter().chain(&self.bare).map(|(name, value)| (name, *value))
    }

    /// The value of a setting that says its unit.
    pub(crate) fn get(&self, name: &str) -> Option<f64> {
        self.values.get(name).copied()
    }
}

/// What tells one trial from another.
type Key =
    (String, Option<String>, Option<String>, Option<i64>, Option<(String, Option<String>, u64)>);

/// A trial, and whether records contradict one another about its outcome.
#[derive(Debug)]
struct Entry {
    told: Told,
    void: bool,
}

/// An extrusion.
#[derive(Debug, Clone, PartialEq)]
struct StepFact {
    does: Does,
    machine: Option<String>,
    settings: Known,
    at_ms: Option<i64>,
}

/// What the stream said.
#[derive(Debug, Default)]
pub(crate) struct Book {
    entries: Vec<Entry>,
    known: HashMap<Key, usize>,
    steps: BTreeMap<String, StepFact>,
    /// Their names in the order in which they came.
    step_order: Vec<String>,
    /// Lots that each step put out, and whether printers can use them.
    spools: Spools,
    /// Lots that went into each step.
    took: BTreeMap<String, BTreeSet<String>>,
    /// A lot that each step put out as scrap.
    scrapped: BTreeMap<String, String>,
    /// Names of settings that say no unit and have been answered.
    answered: BTreeSet<String>,
}

impl Book {
    /// Takes a trial; a problem where it contradicts another or itself.
    pub(crate) fn trial(
        &mut self,
        trial: &Trial<'_>,
        line: Line<'_>,
        out: &mut Out,
    ) -> Option<Problem<'static>> {
        let good = trial.outcome == Outcome::Good;
        if let Some(fault) = trial.fault.filter(|_| good) {
            let found = format!("outcome `good` with the fault `{fault}`");
            let mut problem =
                line.problem(Code::Contradiction, found, "a fault with failed trials only");
            problem.advice =
                Some("it does not count; correct its outcome or take the fault out".into());
            return Some(problem);
        }
        let settings = self.settings(trial.settings.as_ref(), line, out);
        let text = |text: &str| Some(text.trim().to_owned()).filter(|text| !text.is_empty());
        let told = Told {
            lot: trial.lot.to_string(),
            from: BTreeSet::from([trial.lot.to_string()]),
            machine: Some(trial.machine.to_string()),
            part: Some(trial.part.to_string()),
            complexity: trial.complexity.map(|level| level.0),
            good,
            fault: trial.fault,
            settings,
            changed: trial.changed.as_deref().and_then(text).filter(|words| !is_nothing(words)),
            era: 0,
            at_ms: trial.at.as_ref().and_then(|at| Some(at.instant()?.as_millisecond())),
        };
        let spot = trial.src.as_ref().and_then(|src| {
            Some((src.file.to_string(), src.sheet.as_ref().map(ToString::to_string), src.line?.0))
        });
        // Without a time, trials alike are trials repeated, unless they are one line of one file.
        let spot = if told.at_ms.is_some() { None } else { spot };
        if told.at_ms.is_none() && spot.is_none() {
            self.entries.push(Entry { told, void: false });
            return None;
        }
        let key = (told.lot.clone(), told.machine.clone(), told.part.clone(), told.at_ms, spot);
        let Some(at) = self.known.get(&key).copied() else {
            self.known.insert(key, self.entries.len());
            self.entries.push(Entry { told, void: false });
            return None;
        };
        let first = &mut self.entries[at];
        if first.told == told {
            let found = "a trial that has come before";
            let mut problem = line.problem(Code::Duplicate, found, "each trial once");
            problem.advice = Some(
                "it is counted once; give trials of their own their own times; parts of one plate come out alike, so that \
                 a plate is one trial"
                    .into(),
            );
            return Some(problem);
        }
        if first.told.good == told.good {
            let what = format!("of `{}` on `{}`", trial.part, trial.machine);
            return Some(line.contradiction("trial", &what));
        }
        first.void = true;
        let found = format!(
            "another outcome of the trial of `{}` from `{}` on `{}` at that time",
            trial.part, trial.lot, trial.machine
        );
        let mut problem = line.problem(Code::Contradiction, found, "one outcome a trial");
        problem.advice =
            Some("neither counts; remove the wrong one, or give each trial its own time; a plate of parts is one trial, failed where one of them is".into());
        Some(problem)
    }

    /// Takes a step; a problem where it contradicts an earlier one of the same name.
    pub(crate) fn step(
        &mut self,
        step: &Step<'_>,
        line: Line<'_>,
        out: &mut Out,
    ) -> Option<Problem<'static>> {
        if step.does != Does::Extrude {
            return None;
        }
        let fact = StepFact {
            does: step.does,
            machine: step.machine.as_ref().map(ToString::to_string),
            settings: self.settings(step.settings.as_ref(), line, out),
            at_ms: step.at.as_ref().and_then(|at| Some(at.instant()?.as_millisecond())),
        };
        let name = step.step.to_string();
        if !self.steps.contains_key(&name) {
            self.step_order.push(name.clone());
        }
        let first = self.steps.entry(name).or_insert_with(|| fact.clone());
        (*first != fact).then(|| line.contradiction("step", &step.step))
    }

    /// Takes which lots went into a step and came out of it.
    pub(crate) fn weighing(&mut self, weighing: &Weighing<'_>) {
        self.spools.weighing(weighing);
        let (step, lot) = (weighing.step.to_string(), weighing.lot.to_string());
        match weighing.role {
            Role::In => {
                self.took.entry(step).or_default().insert(lot);
            }
            Role::Scrap | Role::OffTolerance => {
                self.scrapped.entry(step).or_insert(lot);
            }
            _ => {}
        }
    }

    /// Takes whether a printer can use a lot.
    pub(crate) fn verdict(&mut self, verdict: &Verdict<'_>) {
        self.spools.verdict(verdict);
    }

    /// The settings of a record; a problem of each name without a unit, once, and of each value that
    /// cannot be.
    fn settings(&mut self, settings: Option<&Settings>, line: Line<'_>, out: &mut Out) -> Known {
        let mut known = Known::default();
        for (name, value) in settings.iter().flat_map(|settings| &settings.0) {
            let value = value.get();
            let problem = if of_setting(name).is_none() {
                self.answered.insert(name.clone()).then(|| {
                    let mut problem = line.problem(
                        Code::UnknownUnit,
                        format!("the setting `{name}` without a unit"),
                        "a name that ends with its unit, such as bed_c, print_speed_mm_s or fan_pct",
                    );
                    problem.advice = Some(
                        "the trial counts, this setting only tells it from trials with another value; name it anew".into(),
                    );
                    problem
                })
            } else if let Some(least) = least_of_setting(name).filter(|least| value < *least) {
                let mut problem = line.problem(
                    Code::OutOfRange,
                    format!("the setting `{name}` at {value}"),
                    format!("{least} {} or more", unit(name)),
                );
                problem.advice = Some(
                    "the trial counts, this setting only tells it from trials with another value; correct it".into(),
                );
                Some(problem)
            } else {
                known.values.insert(name.clone(), value);
                continue;
            };
            known.bare.insert(name.clone(), value);
            if let Some(mut problem) = problem {
                problem.field = Some(format!("settings.{name}").into());
                out.problem(&problem);
            }
        }
        known
    }

    /// All trials that count, and extrusions whose spools were judged without a decision. Trials by the
    /// order of their times, those without a time after them as they came.
    pub(crate) fn trials(&self) -> (Vec<Told>, Vec<Told>) {
        let written =
            self.entries.iter().filter(|entry| !entry.void).map(|entry| entry.told.clone());
        let mut trials: Vec<Told> = written.collect();
        let mut open = Vec::new();
        let written: BTreeSet<(Option<&str>, &str)> = self
            .entries
            .iter()
            .map(|entry| (entry.told.machine.as_deref(), entry.told.lot.as_str()))
            .collect();
        for name in &self.step_order {
            let Some((told, decided)) = self.extrusion(name, &written) else { continue };
            if decided { trials.push(told) } else { open.push(told) }
        }
        trials.sort_by_key(|trial| trial.at_ms.unwrap_or(i64::MAX));
        (trials, open)
    }

    /// An extrusion as a trial, and whether it is decided: good where each spool of it that was judged is
    /// taken by some printer, failed where one is refused or where scrap alone came of it. None where
    /// nothing of it was judged, and where a trial of its own tells of it.
    fn extrusion(
        &self,
        name: &str,
        written: &BTreeSet<(Option<&str>, &str)>,
    ) -> Option<(Told, bool)> {
        let step = self.steps.get(name)?;
        let gave = self.spools.gave(name);
        let decision = match gave {
            Some(_) => self.spools.step(name, None)?,
            None => Decision::Fails,
        };
        let lot = gave.and_then(BTreeSet::first).or_else(|| self.scrapped.get(name))?;
        let machine = step.machine.as_deref();
        let told_itself =
            gave.into_iter().flatten().any(|lot| written.contains(&(machine, lot.as_str())));
        let told = Told {
            lot: lot.clone(),
            from: self.took.get(name).cloned().unwrap_or_default(),
            machine: step.machine.clone(),
            part: None,
            complexity: None,
            good: decision == Decision::Conforms,
            fault: None,
            settings: step.settings.clone(),
            changed: None,
            era: 0,
            at_ms: step.at_ms,
        };
        (!told_itself).then_some((told, decision != Decision::Undecided))
    }
}

/// Whether words say that nothing was changed.
fn is_nothing(words: &str) -> bool {
    let words = words.trim_matches(|c: char| !c.is_alphanumeric()).to_lowercase();
    ["", "no", "none", "nothing", "no change", "same", "n/a"].contains(&words.as_str())
}
