//! What of a stream is compared with another day's: verdicts, and figures whose uncertainty is
//! known.

use super::own::subject;
use super::{NAMES_MAX, Subject};
use crate::keep::{self, Ordered};
use secondmelt_record::findings::{Decision, Verdict};
use secondmelt_record::{NonNegative, Number, Record};

/// Which way a figure should go.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) enum Aim {
    #[default]
    Neither,
    More,
    /// The nearer to zero, the better.
    Zero,
}

/// A figure and its standard uncertainty.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Known {
    pub(crate) value: f64,
    pub(crate) u: f64,
    pub(crate) unit: &'static str,
    pub(crate) aim: Aim,
}

/// The worst of the verdicts of one check about one thing.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Judged {
    pub(crate) result: Option<Decision>,
    pub(crate) why: String,
}

/// What is compared.
#[derive(Debug)]
pub(crate) struct Standing {
    /// By check and what it is about.
    pub(crate) verdicts: Ordered<(String, Subject), Judged>,
    /// By what it is and what it is of.
    pub(crate) figures: Ordered<(&'static str, String), Known>,
}

impl Default for Standing {
    fn default() -> Self {
        Self { verdicts: Ordered::new(4 * NAMES_MAX), figures: Ordered::new(4 * NAMES_MAX) }
    }
}

/// Half of a 95 % interval is this many standard uncertainties, were it normal.
const HALF_95: f64 = 1.96;

impl Standing {
    pub(crate) fn take(&mut self, record: &Record<'_>) {
        match record {
            Record::Verdict(v) => self.verdict(v),
            Record::DiameterSummary(d) => {
                let u = half(d.mean_low_mm, d.mean_high_mm);
                self.note("mean diameter of lot", &d.lot, d.mean_mm.get(), u, "mm", Aim::Neither);
            }
            Record::StepBalance(b) => {
                let (rest, u_rest) = (number(b.unexplained_g), amount(b.u_unexplained_g));
                self.maybe("unexplained mass of step", &b.step, rest, u_rest, "g", Aim::Zero);
                let (part, u_part) = (amount(b.yield_pct), amount(b.u_yield_pct));
                self.maybe("yield of step", &b.step, part, u_part, "%", Aim::More);
            }
            Record::LotBalance(b) => {
                let (rest, u_rest) = (number(b.unexplained_g), amount(b.u_unexplained_g));
                self.maybe("unexplained mass of lot", &b.lot, rest, u_rest, "g", Aim::Zero);
            }
            Record::MeltFlowResult(m) => {
                let u = amount(m.sd_g_10min).map(|sd| sd / (m.cuts.0.max(1) as f64).sqrt());
                let name = format!("{} {}", m.lot.as_str(), m.run.as_deref().unwrap_or_default());
                let value = Some(m.mfr_g_10min.get());
                self.maybe(
                    "melt flow rate of lot",
                    name.trim(),
                    value,
                    u,
                    "g/10 min",
                    Aim::Neither,
                );
            }
            Record::MeltFlowDrift(d) => {
                let u = half(Number::new(d.factor_low.get()), Number::new(d.factor_high.get()));
                let factor = d.factor_per_pass.get();
                self.note(
                    "melt flow factor of a pass, material",
                    &d.material,
                    factor,
                    u,
                    "",
                    Aim::Neither,
                );
            }
            Record::RecycledContent(r) => {
                let (value, u) = (Some(r.strict_pct.get()), amount(r.u_strict_pct));
                self.maybe("recycled content of lot", &r.lot, value, u, "%", Aim::More);
            }
            _ => {}
        }
    }

    fn verdict(&mut self, v: &Verdict<'_>) {
        let about = subject(v.lot.as_deref(), v.step.as_deref(), v.machine.as_deref());
        let Some(judged) = self.verdicts.entry(&(keep::name(&v.check), about)) else { return };
        if judged.result.is_none_or(|known| urgency(v.result) > urgency(known)) {
            *judged = Judged { result: Some(v.result), why: keep::text(&v.why) };
        }
    }

    fn maybe(
        &mut self,
        what: &'static str,
        of: &str,
        value: Option<f64>,
        u: Option<f64>,
        unit: &'static str,
        aim: Aim,
    ) {
        if let Some(value) = value {
            self.note(what, of, value, u, unit, aim);
        }
    }

    /// Notes a figure; one without an uncertainty is not compared.
    fn note(
        &mut self,
        what: &'static str,
        of: &str,
        value: f64,
        u: Option<f64>,
        unit: &'static str,
        aim: Aim,
    ) {
        let Some(u) = u.filter(|u| *u > 0.0) else { return };
        if let Some(known) = self.figures.entry(&(what, keep::name(of))) {
            *known = Known { value, u, unit, aim };
        }
    }
}

/// How much a result needs a person.
pub(crate) fn urgency(result: Decision) -> u8 {
    match result {
        Decision::Conforms => 0,
        Decision::Undecided => 1,
        Decision::Fails => 2,
    }
}

fn number(x: Option<Number>) -> Option<f64> {
    x.map(Number::get)
}

fn amount(x: Option<NonNegative>) -> Option<f64> {
    x.map(NonNegative::get)
}

/// The standard uncertainty behind a 95 % interval.
fn half(low: Option<Number>, high: Option<Number>) -> Option<f64> {
    Some((high?.get() - low?.get()) / (2.0 * HALF_95))
}
