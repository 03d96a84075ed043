//! Masses that close every balance, and the weighings that are most likely wrong.

use crate::graph::{Graph, Node};
use crate::slip;
use crate::words::grams;
use secondmelt_quality::network::{
    Class, Flow, Measured, OUTSIDE, Reconciled, chi_square_critical, reconcile, sidak_critical,
};
use secondmelt_record::findings::{Decision, ReconciledStream, StreamClass, Suspect, Verdict};
use secondmelt_record::{NonNegative, Number};

/// Risk of a false alarm, over all weighings together.
const ALPHA: f64 = 0.05;
/// Rounds of holding at nothing what would be negative.
const ROUNDS: usize = 30;
/// Weighings that are left out one after the other, at most.
const LEFT_OUT: usize = 20;
/// Explanations whose likelihood ratio is within this of the best cannot be told from it
/// (95 % of a chi-square with one degree of freedom).
const AS_GOOD: f64 = 3.841_458_820_694_124;
/// Test values that differ by less than this share are equal but for rounding.
const TIED: f64 = 1e-6;
/// Other explanations that a finding names.
const NAMED: usize = 4;

const RULE: &str = "global test: weighted sum of squared adjustments against chi-square, 5 % risk of \
                    a false alarm; masses are not negative; what is left of a lot without a stock \
                    weighing is free";

/// The network after reconciliation.
pub(crate) struct Balanced<'a> {
    graph: &'a Graph<'a>,
    /// With every weighing.
    found: Reconciled,
    wrong: Vec<Wrong>,
    /// Without those that are most likely wrong.
    cleaned: Reconciled,
}

/// A weighing that was left out, and what was found before and after.
struct Wrong {
    stream: usize,
    critical: f64,
    before: Reconciled,
    value: Option<f64>,
    sd: Option<f64>,
}

impl<'a> Balanced<'a> {
    pub(crate) fn new(graph: &'a Graph<'a>) -> Option<Self> {
        let nodes = graph.nodes().len();
        let found = not_negative(nodes, &mut graph.flows(), true)?;
        let (wrong, mut clean) = wrong(graph)?;
        let cleaned = not_negative(nodes, &mut clean, true)?;
        Some(Self { graph, found, wrong, cleaned })
    }

    /// Mass of a stream, without what is most likely wrong: reconciled where it can be told,
    /// else as weighed.
    pub(crate) fn mass_g(&self, stream: usize) -> Option<f64> {
        let weighed = self.graph.streams[stream].weighing.mass_g;
        self.cleaned.flows[stream].value.or(weighed).map(|mass| mass.max(0.0))
    }

    /// Standard uncertainty of that mass, in g.
    pub(crate) fn u_g(&self, stream: usize) -> Option<f64> {
        self.cleaned.flows[stream].sd
    }

    /// One record a stream, with every weighing.
    pub(crate) fn findings(&self) -> impl Iterator<Item = ReconciledStream<'_>> {
        let book = self.graph.book;
        self.graph.streams.iter().zip(&self.found.flows).map(move |(stream, estimate)| {
            let weighing = stream.weighing;
            ReconciledStream {
                step: book.named(weighing.step),
                lot: book.named(weighing.lot),
                role: weighing.role,
                class: match estimate.class {
                    Class::Redundant => StreamClass::Redundant,
                    Class::JustMeasured => StreamClass::JustMeasured,
                    Class::Observable => StreamClass::Observable,
                    Class::NotObservable => StreamClass::NotObservable,
                },
                measured_g: weighing.mass_g.and_then(NonNegative::new),
                mass_g: estimate.value.and_then(Number::new),
                u_g: estimate.sd.and_then(NonNegative::new),
                z: estimate.z.and_then(Number::new),
                src: book.source(weighing),
                ..ReconciledStream::default()
            }
        })
    }

    /// Whether the balances agree within what the scales explain. None where nothing is
    /// checked by anything else.
    pub(crate) fn verdict(&self) -> Option<Verdict<'static>> {
        let (objective, freedom) = (self.found.objective, self.found.freedom);
        let limit = chi_square_critical(freedom, ALPHA)?;
        let (result, holds) = if objective > limit {
            (Decision::Fails, "do not agree within what the scales explain")
        } else {
            (Decision::Conforms, "agree within what the scales explain")
        };
        let balances = if freedom == 1 { "balance" } else { "balances" };
        Some(Verdict {
            check: "reconciliation".into(),
            result,
            value: Number::new(objective),
            limit: Number::new(limit),
            rule: RULE.into(),
            why: format!("{freedom} independent {balances}: all weighings together {holds}").into(),
            ..Verdict::default()
        })
    }

    /// The weighings most likely wrong, the worst first.
    pub(crate) fn suspects(&self) -> impl Iterator<Item = Suspect<'_>> {
        self.wrong.iter().filter_map(|wrong| self.suspect(wrong))
    }

    fn suspect(&self, wrong: &Wrong) -> Option<Suspect<'_>> {
        let Wrong { stream: worst, critical, before, value, sd } = wrong;
        let (worst, value, sd, critical) = (*worst, *value, *sd, *critical);
        let z = before.flows[worst].z?;
        let book = self.graph.book;
        let weighing = self.graph.streams[worst].weighing;
        let (measured, value) = (weighing.mass_g?, value?);
        let within = 2.0 * sd.unwrap_or(0.0).hypot(book.u_g(weighing).unwrap_or(0.0));
        let (slip, meant) = slip::explain(measured, value, within, &book.tares_g);
        let or_else = self.or_else(worst, before, z);
        let mut why = format!("mis-keyed? {measured} g, the balances suggest {}", grams(value));
        if let Some(meant) = meant {
            why = format!("{why}; {meant} g would be that ({slip})");
        }
        if !or_else.is_empty() {
            why = format!("{why}; or, as likely by the balances alone: {}", or_else.join(", "));
            if self.is_tied(worst, before, z) {
                why = format!("{why}; the balances cannot tell these apart at all");
            }
        }
        Some(Suspect {
            step: book.named(weighing.step),
            lot: book.named(weighing.lot),
            role: weighing.role,
            measured_g: NonNegative::new(measured)?,
            suggested_g: Number::new(value)?,
            u_suggested_g: sd.and_then(NonNegative::new),
            off_g: Number::new(measured - value)?,
            z: Number::new(z)?,
            critical_z: NonNegative::new(critical)?,
            slip,
            meant_g: meant.and_then(NonNegative::new),
            or_else: or_else.into_iter().map(Into::into).collect(),
            why: why.into(),
            src: book.source(weighing),
            ..Suspect::default()
        })
    }

    /// Whether another weighing explains the imbalance exactly as well.
    fn is_tied(&self, worst: usize, before: &Reconciled, z: f64) -> bool {
        let others = before.flows.iter().take(self.graph.streams.len()).enumerate();
        let same = |other: f64| (other.abs() - z.abs()).abs() <= TIED * z.abs();
        others
            .filter(|(n, _)| *n != worst && before.groups[*n] == before.groups[worst])
            .any(|(_, flow)| flow.z.is_some_and(same))
    }

    /// Other weighings, and losses that nobody weighed, which explain as much.
    fn or_else(&self, worst: usize, before: &Reconciled, z: f64) -> Vec<String> {
        let book = self.graph.book;
        let good = |other: f64| other * other >= z * z - AS_GOOD;
        let group = before.groups[worst];
        let mut found: Vec<(f64, String)> = Vec::new();
        for (n, stream) in self.graph.streams.iter().enumerate() {
            let Some(other) = before.flows[n].z.filter(|z| good(*z)) else { continue };
            if n != worst && before.groups[n] == group {
                let w = stream.weighing;
                let name =
                    format!("{} of lot {} in step {}", w.role, book.name(w.lot), book.name(w.step));
                found.push((other.abs(), name));
            }
        }
        for (node, leak) in before.leaks.iter().enumerate().filter(|(node, _)| *node != OUTSIDE) {
            let Some(leak) = leak.filter(|leak| good(leak.z)) else { continue };
            let size = grams(leak.size.abs());
            let which = if leak.size > 0.0 { "lost" } else { "added" };
            if let Node::Step(step) = self.graph.nodes()[node] {
                let place = book.name(step);
                found.push((
                    leak.z.abs(),
                    format!("{size} {which} in step {place} and not weighed"),
                ));
            }
        }
        found.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
        found.truncate(NAMED);
        found.into_iter().map(|(_, text)| text).collect()
    }
}

/// The one with the largest test value is left out and the rest reconciled again, until
/// chance explains what remains.
fn wrong(graph: &Graph<'_>) -> Option<(Vec<Wrong>, Vec<Flow>)> {
    let nodes = graph.nodes().len();
    let mut kept = graph.flows();
    let mut before = not_negative(nodes, &mut kept.clone(), false)?;
    let mut wrong = Vec::new();
    while wrong.len() < LEFT_OUT {
        let redundant = before.flows.iter().filter(|f| f.class == Class::Redundant).count();
        let Some(critical) = sidak_critical(redundant, ALPHA) else { break };
        let size = |n: &usize| before.flows[*n].z.map_or(0.0, f64::abs);
        let worst = (0..graph.streams.len()).max_by(|a, b| size(a).total_cmp(&size(b)));
        let Some(stream) = worst.filter(|worst| size(worst) > critical) else { break };
        kept[stream].measured = None;
        let after = not_negative(nodes, &mut kept.clone(), false)?;
        let (value, sd) = (after.flows[stream].value, after.flows[stream].sd);
        wrong.push(Wrong { stream, critical, before, value, sd });
        before = after;
    }
    Some((wrong, kept))
}

/// Reconciles with every mass at least nothing: what would be negative is held at nothing.
/// Of weighed masses only where `weighed` says so: a weighing that is wrong can drive others
/// below nothing, and they are not to be blamed for it.
fn not_negative(nodes: usize, flows: &mut [Flow], weighed: bool) -> Option<Reconciled> {
    let mut found = reconcile(nodes, flows)?;
    for _ in 0..ROUNDS {
        let mut held = false;
        let scale = flows.iter().filter_map(|f| f.measured).fold(0.0_f64, |s, m| s.max(m.value));
        for (flow, estimate) in flows.iter_mut().zip(&found.flows) {
            let hold = weighed || flow.measured.is_none();
            if hold && estimate.value.is_some_and(|value| value < -1e-12 * scale) {
                flow.measured = Some(Measured { value: 0.0, sigma: 0.0 });
                held = true;
            }
        }
        if !held {
            break;
        }
        found = reconcile(nodes, flows)?;
    }
    Some(found)
}
