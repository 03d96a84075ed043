//! Where plastic went and what became of it: mass flows, ancestry, melt flow by pass, trials.

use crate::clock;
use crate::keep::{self, Capped};
use secondmelt_record::Record;
use secondmelt_record::facts::{Outcome, Role, Trial};
use secondmelt_record::findings::{MassFlow, MeltFlowDrift, Proof, TrialEvidence};

/// Edges of a diagram; one of more could not be read.
const EDGES_MAX: usize = 3000;
/// Findings of one sort.
const LIST_MAX: usize = 500;
/// Trials.
const TRIALS_MAX: usize = 2000;

/// Which way plastic went.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Way {
    In,
    Out,
    /// Lost, and as what.
    Lost(&'static str),
    /// Laid up.
    Stock,
}

/// An edge of the mass-flow diagram.
#[derive(Debug)]
pub(crate) struct Edge {
    pub(crate) step: String,
    pub(crate) lot: String,
    pub(crate) way: Way,
    pub(crate) mass_g: f64,
}

/// A lot and one that it was made of directly.
#[derive(Debug)]
pub(crate) struct Parent {
    pub(crate) lot: String,
    pub(crate) from: String,
    pub(crate) share_pct: Option<f64>,
}

/// The drift of a family of lots.
#[derive(Debug)]
pub(crate) struct FlowDrift {
    pub(crate) lot: String,
    pub(crate) material: String,
    pub(crate) temp_c: f64,
    pub(crate) load_kg: f64,
    pub(crate) lots: u64,
    pub(crate) from_pass: u64,
    pub(crate) to_pass: u64,
    /// Factor of one pass, lower and upper end of its interval.
    pub(crate) factor: [f64; 3],
    pub(crate) scatter_pct: f64,
    pub(crate) next_pass: u64,
    /// Expected after it, lower and upper end of the prediction interval.
    pub(crate) next: [f64; 3],
    pub(crate) fit_p: Option<f64>,
}

/// Passes that are left.
#[derive(Debug)]
pub(crate) struct Left {
    pub(crate) lot: String,
    pub(crate) limit_g_10min: f64,
    pub(crate) passes: u64,
    pub(crate) left: u64,
    pub(crate) at_pass: Option<f64>,
    pub(crate) interval: Option<(f64, f64)>,
}

/// What a lot is made of.
#[derive(Debug)]
pub(crate) struct MadeOf {
    pub(crate) lot: String,
    pub(crate) mean_passes: f64,
    pub(crate) oldest_passes: u64,
    pub(crate) oldest_pct: f64,
}

/// Recycled content of a lot.
#[derive(Debug)]
pub(crate) struct Recycled {
    pub(crate) lot: String,
    pub(crate) strict_pct: f64,
    pub(crate) u_strict_pct: Option<f64>,
    pub(crate) boundary_pct: Option<f64>,
    pub(crate) unknown_pct: f64,
}

/// A trial.
#[derive(Debug)]
pub(crate) struct TrialFacts {
    pub(crate) lot: String,
    pub(crate) machine: String,
    pub(crate) part: String,
    pub(crate) good: bool,
    pub(crate) fault: &'static str,
    pub(crate) at: String,
    pub(crate) changed: String,
}

/// What the trials of a step say.
#[derive(Debug)]
pub(crate) struct Evidence {
    pub(crate) does: &'static str,
    pub(crate) machine: String,
    pub(crate) material: String,
    pub(crate) complexity: Option<u64>,
    pub(crate) trials: u64,
    pub(crate) good: u64,
    /// Share of good ones, lower and upper end of its interval.
    pub(crate) share_pct: [f64; 3],
    pub(crate) asked_pct: f64,
    pub(crate) now_trials: u64,
    pub(crate) now_good: u64,
    pub(crate) standing: Proof,
    pub(crate) more_good: Option<u64>,
}

/// All of it.
#[derive(Debug)]
pub(crate) struct Cycles {
    pub(crate) edges: Capped<Edge>,
    pub(crate) parents: Capped<Parent>,
    pub(crate) drifts: Capped<FlowDrift>,
    pub(crate) left: Capped<Left>,
    pub(crate) made_of: Capped<MadeOf>,
    pub(crate) recycled: Capped<Recycled>,
    pub(crate) trials: Capped<TrialFacts>,
    pub(crate) evidence: Capped<Evidence>,
    /// What is made where, and the trial that tells most.
    pub(crate) next_trials: Capped<(String, String)>,
}

impl Default for Cycles {
    fn default() -> Self {
        Self {
            edges: Capped::new(EDGES_MAX),
            parents: Capped::new(EDGES_MAX),
            drifts: Capped::new(LIST_MAX),
            left: Capped::new(LIST_MAX),
            made_of: Capped::new(LIST_MAX),
            recycled: Capped::new(LIST_MAX),
            trials: Capped::new(TRIALS_MAX),
            evidence: Capped::new(LIST_MAX),
            next_trials: Capped::new(LIST_MAX),
        }
    }
}

impl Cycles {
    pub(super) fn take(&mut self, record: &Record<'_>) {
        match record {
            Record::MassFlow(flow) => self.edges.push(|| edge(flow)),
            // The longer ways follow from the single steps.
            Record::Descent(d) if d.steps.0 == 1 => self.parents.push(|| Parent {
                lot: keep::name(&d.lot),
                from: keep::name(&d.from),
                share_pct: d.share_pct.map(|p| p.get()),
            }),
            Record::MeltFlowDrift(d) => self.drifts.push(|| drift(d)),
            Record::PassesLeft(p) => self.left.push(|| Left {
                lot: keep::name(&p.lot),
                limit_g_10min: p.limit_g_10min.get(),
                passes: p.passes.0,
                left: p.left.0,
                at_pass: p.at_pass.map(|x| x.get()),
                interval: p.low.zip(p.high).map(|(low, high)| (low.get(), high.get())),
            }),
            Record::Composition(c) => self.made_of.push(|| MadeOf {
                lot: keep::name(&c.lot),
                mean_passes: c.mean_passes.get(),
                oldest_passes: c.oldest_passes.0,
                oldest_pct: c.oldest_pct.get(),
            }),
            Record::RecycledContent(r) => self.recycled.push(|| Recycled {
                lot: keep::name(&r.lot),
                strict_pct: r.strict_pct.get(),
                u_strict_pct: r.u_strict_pct.map(|u| u.get()),
                boundary_pct: r.boundary_pct.map(|p| p.get()),
                unknown_pct: r.unknown_pct.get(),
            }),
            Record::Trial(t) => self.trials.push(|| trial(t)),
            Record::TrialEvidence(e) => self.evidence.push(|| evidence(e)),
            Record::NextTrial(t) => self.next_trials.push(|| {
                let part = t.part.as_deref().unwrap_or(t.does.as_str());
                let on = t.machine.as_deref().map(|m| format!(" on {m}")).unwrap_or_default();
                (keep::name(&format!("{part}{on}")), keep::text(&t.why))
            }),
            _ => {}
        }
    }
}

fn edge(flow: &MassFlow<'_>) -> Edge {
    Edge {
        step: keep::name(&flow.step),
        lot: keep::name(&flow.lot),
        way: match flow.role {
            Role::In => Way::In,
            Role::Out => Way::Out,
            Role::Stock => Way::Stock,
            other => Way::Lost(other.as_str()),
        },
        mass_g: flow.mass_g.get(),
    }
}

fn drift(d: &MeltFlowDrift<'_>) -> FlowDrift {
    FlowDrift {
        lot: keep::name(&d.lot),
        material: keep::name(&d.material),
        temp_c: d.temp_c.get(),
        load_kg: d.load_kg.get(),
        lots: d.lots.0,
        from_pass: d.from_pass.0,
        to_pass: d.to_pass.0,
        factor: [d.factor_per_pass.get(), d.factor_low.get(), d.factor_high.get()],
        scatter_pct: d.scatter_pct.get(),
        next_pass: d.next_pass.0,
        next: [d.next_g_10min.get(), d.next_low_g_10min.get(), d.next_high_g_10min.get()],
        fit_p: d.fit_p.map(|p| p.get()),
    }
}

fn evidence(e: &TrialEvidence<'_>) -> Evidence {
    let name = |name: Option<&str>| name.map(keep::name).unwrap_or_default();
    Evidence {
        does: e.does.as_str(),
        machine: name(e.machine.as_deref()),
        material: name(e.material.as_deref()),
        complexity: e.complexity.map(|level| level.0),
        trials: e.trials.0,
        good: e.good.0,
        share_pct: [e.good_pct.get(), e.low_pct.get(), e.high_pct.get()],
        asked_pct: e.asked_pct.get(),
        now_trials: e.now_trials.0,
        now_good: e.now_good.0,
        standing: e.standing,
        more_good: e.more_good.map(|n| n.0),
    }
}

fn trial(t: &Trial<'_>) -> TrialFacts {
    TrialFacts {
        lot: keep::name(&t.lot),
        machine: keep::name(&t.machine),
        part: keep::name(&t.part),
        good: t.outcome == Outcome::Good,
        fault: t.fault.map_or("", |f| f.as_str()),
        at: clock::maybe(t.at.as_ref()),
        changed: t.changed.as_deref().map(keep::name).unwrap_or_default(),
    }
}
