//! What the filters worked out.

use super::NAMES_MAX;
use super::figures::*;
use super::own::*;
use crate::keep::{self, Capped, Ordered, Worst};
use secondmelt_record::Record;
use secondmelt_record::findings::{Caution, Decision, Excursion, Piece, Verdict};

/// A list of this length fills many pages; the tables have the rest.
const LIST_MAX: usize = 1000;
/// Cautions of different words.
const CAUTIONS_MAX: usize = 100;
/// Rules of decision that are told apart.
const RULES_MAX: usize = 100;
/// Stretches of one cut list.
const CUTS_MAX: usize = 20;
/// Lots whose control charts are drawn, and points of each.
const CHARTS_MAX: usize = 100;
const CHART_POINTS_MAX: usize = 1100;
/// Findings of one sort about one lot.
const PER_LOT_MAX: usize = 100;

/// All findings that the report shows.
#[derive(Debug)]
pub(crate) struct Findings {
    pub(crate) decided: Decided,
    pub(crate) fails: Capped<Ruling>,
    pub(crate) undecided: Capped<Ruling>,
    pub(crate) conforms: Capped<Ruling>,
    /// Rules of decision, each with the verdicts that rest on it.
    pub(crate) rules: Ordered<String, u64>,
    pub(crate) by_check: Ordered<String, Decided>,
    pub(crate) by_lot: Ordered<String, Decided>,
    pub(crate) by_step: Ordered<String, Decided>,
    /// Lot and machine.
    pub(crate) by_pair: Ordered<(String, String), Decided>,
    pub(crate) adjustments: Capped<Proposal>,
    pub(crate) cautions: Vec<Danger>,
    pub(crate) more_cautions: u64,
    pub(crate) diameters: Ordered<String, Vec<DiameterFigures>>,
    pub(crate) shares: Ordered<String, Vec<Share>>,
    pub(crate) flows: Ordered<String, Vec<FlowFigures>>,
    pub(crate) capabilities: Ordered<String, Vec<CapabilityFigures>>,
    pub(crate) waves: Ordered<String, Vec<WaveFigures>>,
    pub(crate) drifts: Ordered<String, Vec<DriftFigures>>,
    pub(crate) clean: Ordered<String, Vec<CleanFigures>>,
    pub(crate) charts: Ordered<String, ChartFigures>,
    pub(crate) cut_lists: Ordered<(String, String), CutList>,
    /// Lot and machine.
    pub(crate) excursions: Ordered<(String, String), Worst<ExcursionFigures>>,
    pub(crate) lot_balances: Ordered<String, Vec<LotFigures>>,
    pub(crate) melt_flows: Ordered<String, Vec<MeltFlowFigures>>,
    pub(crate) step_balances: Capped<StepFigures>,
    /// Weighings most likely wrong: lot and step, and why.
    pub(crate) suspects: Capped<(Subject, String)>,
    /// What makes lots uneven, likewise.
    pub(crate) causes: Capped<(Subject, String)>,
}

impl Default for Findings {
    fn default() -> Self {
        Self {
            decided: Decided::default(),
            fails: Capped::new(LIST_MAX),
            undecided: Capped::new(LIST_MAX),
            conforms: Capped::new(NAMES_MAX),
            rules: Ordered::new(RULES_MAX),
            by_check: Ordered::new(RULES_MAX),
            by_lot: Ordered::new(NAMES_MAX),
            by_step: Ordered::new(NAMES_MAX),
            by_pair: Ordered::new(NAMES_MAX),
            adjustments: Capped::new(LIST_MAX),
            cautions: Vec::new(),
            more_cautions: 0,
            diameters: Ordered::new(NAMES_MAX),
            shares: Ordered::new(NAMES_MAX),
            flows: Ordered::new(NAMES_MAX),
            capabilities: Ordered::new(NAMES_MAX),
            drifts: Ordered::new(NAMES_MAX),
            waves: Ordered::new(NAMES_MAX),
            clean: Ordered::new(NAMES_MAX),
            charts: Ordered::new(CHARTS_MAX),
            cut_lists: Ordered::new(NAMES_MAX),
            excursions: Ordered::new(NAMES_MAX),
            lot_balances: Ordered::new(NAMES_MAX),
            melt_flows: Ordered::new(NAMES_MAX),
            step_balances: Capped::new(NAMES_MAX),
            suspects: Capped::new(LIST_MAX),
            causes: Capped::new(LIST_MAX),
        }
    }
}

impl Findings {
    pub(super) fn take(&mut self, record: &Record<'_>) {
        match record {
            Record::Verdict(verdict) => self.verdict(verdict),
            Record::Adjustment(a) => self.adjustments.push(|| proposal(a)),
            Record::Caution(caution) => self.caution(caution),
            Record::DiameterSummary(d) => put(&mut self.diameters, &d.lot, || diameters(d)),
            Record::OutShare(o) => put(&mut self.shares, &o.lot, || share(o)),
            Record::FlowFit(f) => put(&mut self.flows, &f.lot, || flow(f)),
            Record::Capability(k) => put(&mut self.capabilities, &k.lot, || capability(k)),
            Record::Wave(w) => put(&mut self.waves, &w.lot, || wave(w)),
            Record::Drift(d) => put(&mut self.drifts, &d.lot, || drift(d)),
            Record::Cleanliness(k) => put(&mut self.clean, &k.lot, || cleanliness(k)),
            Record::Chart(c) => {
                if let Some(chart) = self.charts.entry(&keep::name(&c.lot)) {
                    let (low, high) = (c.mean_low_mm.get(), c.mean_high_mm.get());
                    chart.lines_mm = Some((c.mean_mm.get(), low, high));
                    chart.limits_of = c.limits_of.as_deref().map(keep::name).unwrap_or_default();
                }
            }
            Record::ChartPoint(p) => {
                if let Some(chart) = self.charts.entry(&keep::name(&p.lot))
                    && chart.points.len() < CHART_POINTS_MAX
                {
                    #[expect(clippy::cast_precision_loss, reason = "a count")]
                    let number = p.last_reading.0 as f64;
                    chart.by_position = p.at_m.is_some();
                    let signals = p.signals.as_deref().map(keep::name).unwrap_or_default();
                    chart.points.push((p.at_m.map_or(number, f64::from), p.mean_mm.get(), signals));
                }
            }
            Record::Piece(p) => self.piece(p),
            Record::Excursion(e) => self.excursion(e),
            Record::LotBalance(b) => put(&mut self.lot_balances, &b.lot, || lot_balance(b)),
            Record::MeltFlowResult(m) => put(&mut self.melt_flows, &m.lot, || melt_flow(m)),
            Record::Suspect(s) => {
                let about = || subject(Some(&s.lot), Some(&s.step), None);
                self.suspects.push(|| (about(), keep::text(&s.why)));
            }
            Record::CauseFound(c) => {
                self.causes.push(|| (subject(Some(&c.lot), None, None), keep::text(&c.why)));
            }
            Record::StepBalance(b) => self.step_balances.push(|| step_balance(b)),
            _ => {}
        }
    }

    fn verdict(&mut self, v: &Verdict<'_>) {
        self.decided.add(v.result);
        add(&mut self.by_check, &keep::name(&v.check), v.result);
        let about = subject(v.lot.as_deref(), v.step.as_deref(), v.machine.as_deref());
        if v.lot.is_some() {
            add(&mut self.by_lot, &about.lot, v.result);
        }
        if v.step.is_some() {
            add(&mut self.by_step, &about.step, v.result);
        }
        if v.lot.is_some() && v.machine.is_some() {
            let pair = (about.lot.clone(), about.machine.clone());
            if let Some(decided) = self.by_pair.entry(&pair) {
                decided.add(v.result);
            }
        }
        let rule = keep::text(&v.rule);
        if let Some(verdicts) = self.rules.entry(&rule) {
            *verdicts += 1;
        }
        let rule = self.rules.number(&rule);
        let list = match v.result {
            Decision::Fails => &mut self.fails,
            Decision::Undecided => &mut self.undecided,
            Decision::Conforms => &mut self.conforms,
        };
        list.push(|| ruling(v, about, rule));
    }

    fn excursion(&mut self, e: &Excursion<'_>) {
        let pair = (keep::name(&e.lot), keep::name(&e.machine));
        if let Some(worst) = self.excursions.entry(&pair) {
            worst.add(e.beyond_mm.get(), excursion(e));
        }
    }

    fn piece(&mut self, p: &Piece<'_>) {
        let pair = (keep::name(&p.lot), keep::name(&p.machine));
        let Some(list) = self.cut_lists.entry(&pair) else { return };
        list.total += 1;
        list.cuts += u64::from(!p.keep);
        if list.first.len() < CUTS_MAX {
            list.first.push(piece(p));
        }
    }

    /// Cautions of the same words are one, with all that it concerns.
    fn caution(&mut self, c: &Caution<'_>) {
        let (danger, defer_to) = (keep::text(&c.danger), keep::text(&c.defer_to));
        let about = subject(c.lot.as_deref(), c.step.as_deref(), c.machine.as_deref());
        let full = self.cautions.len() >= CAUTIONS_MAX;
        let same = |d: &&mut Danger| d.danger == danger && d.defer_to == defer_to;
        match self.cautions.iter_mut().find(same) {
            Some(known) if known.about.len() >= LIST_MAX || known.about.contains(&about) => {}
            Some(known) => known.about.push(about),
            None if full => self.more_cautions += 1,
            None => self.cautions.push(Danger { danger, defer_to, about: vec![about] }),
        }
    }
}

fn add(map: &mut Ordered<String, Decided>, name: &String, result: Decision) {
    if let Some(decided) = map.entry(name) {
        decided.add(result);
    }
}

/// Keeps a finding with its lot, a few of one sort for each.
fn put<T>(map: &mut Ordered<String, Vec<T>>, lot: &str, make: impl FnOnce() -> T) {
    if let Some(list) = map.entry(&keep::name(lot))
        && list.len() < PER_LOT_MAX
    {
        list.push(make());
    }
}
