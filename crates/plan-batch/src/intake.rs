//! From records to what is kept of them.

use crate::book::{
    Balance, Book, Evidence, Held, LotFact, MachineFact, MaterialFact, Piece, StepFact, Stop,
};
use secondmelt_record::facts::{Limit, Role};
use secondmelt_record::findings::{Decision, Verdict};
use secondmelt_record::spools::DIAMETER_CHECK;
use secondmelt_record::units::limit_fault;
use secondmelt_record::{Code, Line, Number, Problem, Record};

/// Checks of other filters that count here.
const BALANCE: &str = "step-balance";
const STOP: &str = "trials-worth-going-on";
/// Largest target of any kind.
const TARGET_MAX: f64 = 1e6;
/// Quantities of limits that are targets of a batch.
pub(crate) const TARGETS: [&str; 3] = ["batch_spools", "spool_g", "spool_m"];

impl Book {
    /// Takes a record; a problem where it contradicts an earlier one of the same name.
    pub(crate) fn take(&mut self, record: &Record<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        match record {
            Record::Lot(lot) => {
                let fact = LotFact {
                    material: lot.material.to_string(),
                    form: lot.form,
                    origin: lot.origin,
                };
                let first = self.lots.entry(lot.lot.to_string()).or_insert_with(|| fact.clone());
                return (*first != fact).then(|| line.contradiction("lot", &lot.lot));
            }
            Record::Machine(m) => {
                let fact = MachineFact {
                    does: m.does,
                    nominal_mm: m.nominal_mm.map(Into::into),
                    throughput_kg_h: m.throughput_kg_h.map(Into::into),
                    throughput_max_kg_h: m.throughput_max_kg_h.map(Into::into),
                    load_kg: m.load_kg.map(Into::into),
                };
                let first = *self.machines.entry(m.machine.to_string()).or_insert(fact);
                return (first != fact).then(|| line.contradiction("machine", &m.machine));
            }
            Record::Material(m) => {
                let fact = MaterialFact {
                    density_g_cm3: m.density_g_cm3.map(Into::into),
                    dry_h: m.dry_h.map(Into::into),
                };
                let first = *self.materials.entry(m.material.to_string()).or_insert(fact);
                return (first != fact).then(|| line.contradiction("material", &m.material));
            }
            Record::Step(step) => {
                let set =
                    |name| step.settings.as_ref().and_then(|s| s.get(name)).filter(|x| *x > 0.0);
                let fact = StepFact {
                    does: step.does,
                    machine: step.machine.as_ref().map(ToString::to_string),
                    at_ms: step.at.as_ref().and_then(|at| Some(at.instant()?.as_millisecond())),
                    line_speed_m_min: set("line_speed_m_min"),
                    throughput_kg_h: set("throughput_kg_h"),
                };
                let first = self.steps.entry(step.step.to_string()).or_insert_with(|| fact.clone());
                return (*first != fact).then(|| line.contradiction("step", &step.step));
            }
            Record::Limit(limit) => return self.limit(limit, line),
            Record::Verdict(verdict) => self.verdict(verdict),
            Record::Weighing(w) => {
                if w.role == Role::In {
                    self.took.entry(w.step.to_string()).or_default().insert(w.lot.to_string());
                }
                self.spools.weighing(w);
            }
            other => self.finding(other),
        }
        None
    }

    fn finding(&mut self, record: &Record<'_>) {
        match record {
            Record::StepBalance(b) => {
                let share = b.yield_pct.map(|pct| pct.get() / 100.0).filter(|share| *share > 0.0);
                let balance = Balance {
                    does: b.does,
                    in_g: b.in_g.get(),
                    out_g: b.out_g.get(),
                    lost_g: b.losses.0.values().map(|g| g.get()).sum(),
                    nil: b.yield_pct.is_some_and(|pct| pct.get() <= 0.0),
                    not_weighed: b.not_weighed.0 > 0,
                    share,
                    u_share: b.u_yield_pct.map_or(0.0, |pct| pct.get() / 100.0),
                };
                self.balances.insert(b.step.to_string(), balance);
            }
            Record::LotBalance(b) => {
                let held = Held {
                    made_g: b.made_g.get(),
                    used_g: b.used_g.get(),
                    stock_g: b.stock_g.map(Into::into),
                    moved: b.moved_by.is_some(),
                    not_weighed: b.not_weighed.0 > 0,
                };
                self.held.insert(b.lot.to_string(), held);
            }
            Record::Suspect(s) => {
                self.suspected.insert(s.step.to_string());
            }
            Record::DiameterSummary(d) if d.area_mm.get() > 0.0 => {
                self.diameters.insert(d.lot.to_string(), d.area_mm.get());
            }
            Record::OutShare(o) => {
                if let Some((kept, length)) =
                    o.kept_m.zip(o.length_m).filter(|(_, m)| m.get() > 0.0)
                {
                    let share = kept.get() / length.get();
                    self.kept.insert((o.lot.to_string(), o.machine.to_string()), share);
                }
            }
            Record::Piece(p) if p.keep && self.keeps_pieces => {
                let piece = Piece {
                    lot: p.lot.to_string(),
                    machine: p.machine.to_string(),
                    from_m: p.from_m.get(),
                    to_m: p.to_m.get(),
                    length_m: p.length_m.get().min((p.to_m.get() - p.from_m.get()).abs()),
                };
                // Each stretch of a lot is there once, and what was told last of it holds.
                self.pieces.retain(|other| !other.overlaps(&piece));
                self.pieces.push(piece);
            }
            Record::MeltFlowRepeatability(r) => {
                let most = self.repeatability.entry(r.material.to_string()).or_insert(0.0);
                *most = most.max(r.sd_pct.get());
            }
            Record::PassesLeft(p) => {
                self.passes_left.insert((p.material.to_string(), p.lot.to_string()), p.left.0);
            }
            Record::TrialEvidence(e) => {
                let evidence = Evidence {
                    does: e.does,
                    machine: e.machine.as_ref().map(ToString::to_string),
                    material: e.material.as_ref().map(ToString::to_string),
                    complexity: e.complexity.map(|level| level.0),
                    asked_pct: e.asked_pct.get(),
                    standing: e.standing,
                    trials: e.trials.0,
                    good: e.good.0,
                    now_trials: e.now_trials.0,
                    now_good: e.now_good.0,
                    shown_pct: e.shown_pct.get(),
                    confidence: e.confidence.get(),
                };
                // What a later run found takes the place of what an earlier one did.
                let by = e.by.as_ref().map(ToString::to_string);
                self.stops.retain(|stop| {
                    stop.by == by
                        || stop.machine != evidence.machine
                        || stop.material != evidence.material
                });
                self.evidence.retain(|other| !other.is_of_same(&evidence));
                self.evidence.push(evidence);
            }
            _ => {}
        }
    }

    fn verdict(&mut self, v: &Verdict<'_>) {
        match (v.check.as_str(), &v.lot, &v.step) {
            (DIAMETER_CHECK, Some(_), _) => self.spools.verdict(v),
            (BALANCE, _, Some(step)) => {
                self.closes.insert(step.to_string(), v.result);
            }
            ("reconciliation", ..) => self.reconciliation_fails = v.result == Decision::Fails,
            (check, Some(lot), _) => {
                let checks = self.checks.entry(lot.to_string()).or_default();
                checks.entry(check.to_owned()).or_default().take(v);
            }
            (STOP, ..) if v.result == Decision::Fails => {
                let stop = Stop {
                    machine: v.machine.as_ref().map(ToString::to_string),
                    material: v.material.as_ref().map(ToString::to_string),
                    by: v.by.as_ref().map(ToString::to_string),
                    why: v.why.to_string(),
                };
                if !self.stops.contains(&stop) {
                    self.stops.push(stop);
                }
            }
            _ => {}
        }
    }

    /// Takes a target of a batch; other limits are no business of this filter.
    fn limit(&mut self, limit: &Limit<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        let what = TARGETS.into_iter().find(|what| *what == limit.what.as_str())?;
        if let Some(problem) = limit_fault(limit, line) {
            return Some(problem);
        }
        let target = limit.target.or(limit.min).map(Number::get);
        let Some(target) = target.filter(|x| *x > 0.0 && *x <= TARGET_MAX) else {
            let found = target.map_or("no `target`".to_owned(), |x| format!("a `target` of {x}"));
            let mut problem =
                line.problem(Code::OutOfRange, found, "a `target` above 0 and at most a million");
            problem.advice = Some("it is not used; correct it".into());
            return Some(problem);
        };
        let about = (what.to_owned(), limit.material.as_ref().map(ToString::to_string));
        let first = *self.targets.entry(about).or_insert(target);
        (first.to_bits() != target.to_bits()).then(|| line.contradiction("limit", what))
    }
}
