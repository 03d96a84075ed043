//! What the stream said of steps, machines and diameters.

use crate::kelvin;
use secondmelt_record::facts::{Does, Gauge, Machine, Role, Step, Weighing};
use secondmelt_record::findings::{Decision, DiameterSummary, Verdict};
use secondmelt_record::spools::DIAMETER_CHECK;
use secondmelt_record::{Code, Line, Problem};
use std::collections::{BTreeMap, BTreeSet};

/// What is kept of a step.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct StepFact {
    pub(crate) does: Does,
    pub(crate) machine: Option<String>,
    pub(crate) line_speed_m_min: Option<f64>,
    pub(crate) melt_c: Option<f64>,
    /// All its settings, by name.
    pub(crate) settings: BTreeMap<String, f64>,
}

/// What is kept of a machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct MachineFact {
    pub(crate) does: Does,
    pub(crate) nominal_mm: Option<f64>,
    pub(crate) tolerance_mm: Option<f64>,
    pub(crate) line_speed_min_m_min: Option<f64>,
    pub(crate) line_speed_max_m_min: Option<f64>,
    pub(crate) melt_min_c: Option<f64>,
    pub(crate) melt_max_c: Option<f64>,
    pub(crate) screw_min_rpm: Option<f64>,
    pub(crate) screw_max_rpm: Option<f64>,
    pub(crate) throughput_max_kg_h: Option<f64>,
}

/// What is kept of a lot's diameter.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Diameters {
    pub(crate) readings: u64,
    pub(crate) mean_mm: f64,
    pub(crate) area_mm: f64,
    pub(crate) sd_mm: Option<f64>,
    pub(crate) lag1: Option<f64>,
    pub(crate) gauge: Option<String>,
}

/// What the stream said.
#[derive(Debug, Default)]
pub(crate) struct Book {
    steps: BTreeMap<String, StepFact>,
    machines: BTreeMap<String, MachineFact>,
    /// Standard uncertainty of each gauge, in mm.
    gauges: BTreeMap<String, Option<f64>>,
    /// Steps that put out each lot.
    put_out: BTreeMap<String, BTreeSet<String>>,
    /// Lots that each step put out.
    gave: BTreeMap<String, BTreeSet<String>>,
    /// Lots that went into each step.
    taken_in: BTreeMap<String, BTreeSet<String>>,
    /// Mass of each lot that went into a step, in g, by step and lot; none where one flowed
    /// unweighed.
    mass_in: BTreeMap<(String, String), Option<f64>>,
    diameters: BTreeMap<String, Diameters>,
    /// Whether any printer can use a lot, of those lots that were judged.
    usable: BTreeMap<String, bool>,
}

impl Book {
    /// Takes a step; a problem where it contradicts an earlier one of the same name, or where one
    /// of its temperatures is none: that setting is left out.
    pub(crate) fn step(&mut self, step: &Step<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        let mut settings = BTreeMap::new();
        let mut refused = None;
        for (name, x) in step.settings.iter().flat_map(|settings| &settings.0) {
            match kelvin::in_setting(name, x.get(), line) {
                Some(problem) => refused = refused.or(Some(problem)),
                None => _ = settings.insert(name.clone(), x.get()),
            }
        }
        let fact = StepFact {
            does: step.does,
            machine: step.machine.as_ref().map(|machine| machine.to_string()),
            line_speed_m_min: settings.get("line_speed_m_min").copied(),
            melt_c: settings.get("melt_c").copied(),
            settings,
        };
        let first = self.steps.entry(step.step.to_string()).or_insert_with(|| fact.clone());
        refused.or_else(|| (*first != fact).then(|| line.contradiction("step", &step.step)))
    }

    /// Takes a machine; a problem where it contradicts an earlier one of the same name.
    pub(crate) fn machine(&mut self, m: &Machine<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        if let Some(problem) = kelvin::in_machine(m, line) {
            return Some(problem);
        }
        let fact = MachineFact {
            does: m.does,
            nominal_mm: m.nominal_mm.map(Into::into),
            tolerance_mm: m.tolerance_mm.map(Into::into),
            line_speed_min_m_min: m.line_speed_min_m_min.map(Into::into),
            line_speed_max_m_min: m.line_speed_max_m_min.map(Into::into),
            melt_min_c: m.melt_min_c.map(Into::into),
            melt_max_c: m.melt_max_c.map(Into::into),
            screw_min_rpm: m.screw_min_rpm.map(Into::into),
            screw_max_rpm: m.screw_max_rpm.map(Into::into),
            throughput_max_kg_h: m.throughput_max_kg_h.map(Into::into),
        };
        let first = *self.machines.entry(m.machine.to_string()).or_insert(fact);
        (first != fact).then(|| line.contradiction("machine", &m.machine))
    }

    /// Takes a gauge; a problem where it contradicts an earlier one of the same name.
    pub(crate) fn gauge(&mut self, g: &Gauge<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        let u_mm = g.u_mm.map(Into::into);
        let first = *self.gauges.entry(g.gauge.to_string()).or_insert(u_mm);
        (first != u_mm).then(|| line.contradiction("gauge", &g.gauge))
    }

    /// Standard uncertainty of a gauge, in mm, where it is known.
    pub(crate) fn gauge_u_mm(&self, gauge: &str) -> Option<f64> {
        self.gauges.get(gauge).copied().flatten()
    }

    /// Takes what a weighing says of lots and steps.
    pub(crate) fn weighing(&mut self, weighing: &Weighing<'_>) {
        let (links, from, to) = match weighing.role {
            Role::Out => {
                let given = self.gave.entry(weighing.step.to_string()).or_default();
                given.insert(weighing.lot.to_string());
                (&mut self.put_out, &weighing.lot, &weighing.step)
            }
            Role::In => {
                let key = (weighing.step.to_string(), weighing.lot.to_string());
                let mass_g = weighing.mass_g.map(f64::from);
                let known = self.mass_in.entry(key).or_insert(Some(0.0));
                *known = known.zip(mass_g).map(|(sum, more)| sum + more);
                (&mut self.taken_in, &weighing.step, &weighing.lot)
            }
            _ => return,
        };
        links.entry(from.to_string()).or_default().insert(to.to_string());
    }

    /// Takes the diameter of a lot, a later one in place of an earlier one; a problem
    /// where it is none.
    pub(crate) fn summary(
        &mut self,
        summary: &DiameterSummary<'_>,
        line: Line<'_>,
    ) -> Option<Problem<'static>> {
        let (mean_mm, area_mm) = (summary.mean_mm.get(), summary.area_mm.get());
        let smaller = mean_mm.min(area_mm);
        if smaller <= 0.0 {
            let found = format!("a mean diameter of {smaller} mm");
            return Some(line.problem(Code::OutOfRange, found, "a diameter above zero"));
        }
        let diameters = Diameters {
            readings: summary.readings.0,
            mean_mm,
            area_mm,
            sd_mm: summary.sd_mm.map(Into::into),
            lag1: summary.lag1.map(Into::into),
            gauge: summary.gauge.as_ref().map(|gauge| gauge.to_string()),
        };
        self.diameters.insert(summary.lot.to_string(), diameters);
        None
    }

    /// Takes what was decided on a lot's diameter.
    pub(crate) fn verdict(&mut self, verdict: &Verdict<'_>) {
        if verdict.check.as_str() == DIAMETER_CHECK
            && let Some(lot) = &verdict.lot
            && verdict.result != Decision::Undecided
        {
            let usable = self.usable.entry(lot.to_string()).or_default();
            *usable |= verdict.result == Decision::Conforms;
        }
    }

    /// Whether any printer can use a lot; none where nothing was decided.
    pub(crate) fn is_usable(&self, lot: &str) -> Option<bool> {
        self.usable.get(lot).copied()
    }

    /// Every machine that does a thing, by name.
    pub(crate) fn machines(&self, does: Does) -> impl Iterator<Item = (&str, &MachineFact)> {
        let all = self.machines.iter().map(|(name, machine)| (name.as_str(), machine));
        all.filter(move |(_, machine)| machine.does == does)
    }

    /// Each step with the lots that went in and those that came out, by name. A step that
    /// nothing is known to have gone into or come out of has empty sets.
    pub(crate) fn passages(&self) -> Vec<(&str, &BTreeSet<String>, &BTreeSet<String>)> {
        static NONE: BTreeSet<String> = BTreeSet::new();
        let names: BTreeSet<_> = self.taken_in.keys().chain(self.gave.keys()).collect();
        names
            .into_iter()
            .map(|step| {
                let taken = self.taken_in.get(step).unwrap_or(&NONE);
                (step.as_str(), taken, self.gave.get(step).unwrap_or(&NONE))
            })
            .collect()
    }

    /// Mass of a lot that went into a step, in g, where all of it was weighed.
    pub(crate) fn mass_in_g(&self, step: &str, lot: &str) -> Option<f64> {
        self.mass_in.get(&(step.to_owned(), lot.to_owned())).copied().flatten()
    }

    /// Each step that dries, with the lots that went in and those that came out, by name.
    pub(crate) fn dryings(
        &self,
    ) -> impl Iterator<Item = (&str, &StepFact, &BTreeSet<String>, &BTreeSet<String>)> {
        self.passages().into_iter().filter_map(|(step, taken, put)| {
            let fact = self.step_fact(step).filter(|fact| fact.does == Does::Dry)?;
            Some((step, fact, taken, put))
        })
    }

    /// The diameters of every lot that some step put out, by name of lot.
    pub(crate) fn measured_lots(&self) -> impl Iterator<Item = (&str, &Diameters)> {
        let made = |(lot, _): &(&String, &Diameters)| self.put_out.contains_key(*lot);
        self.diameters.iter().filter(made).map(|(lot, diameters)| (lot.as_str(), diameters))
    }

    /// The steps that extruded a lot: those that put it out, else those that put out what
    /// was wound into it.
    pub(crate) fn extruded_by(&self, lot: &str) -> BTreeSet<&str> {
        let direct = self.makers(lot, Does::Extrude);
        if !direct.is_empty() {
            return direct;
        }
        let wound = self.makers(lot, Does::Wind).into_iter();
        let inputs = wound.filter_map(|step| self.taken_in.get(step)).flatten();
        inputs.flat_map(|input| self.makers(input, Does::Extrude)).collect()
    }

    fn makers(&self, lot: &str, does: Does) -> BTreeSet<&str> {
        let steps = self.put_out.get(lot).into_iter().flatten().map(String::as_str);
        steps.filter(|step| self.step_fact(step).is_some_and(|fact| fact.does == does)).collect()
    }

    /// What is known of a step.
    pub(crate) fn step_fact(&self, step: &str) -> Option<&StepFact> {
        self.steps.get(step)
    }

    /// What is known of a machine.
    pub(crate) fn machine_fact(&self, machine: &str) -> Option<&MachineFact> {
        self.machines.get(machine)
    }

    /// The nominal diameters of all printers, in mm, each once, in order.
    pub(crate) fn print_nominals_mm(&self) -> Vec<f64> {
        let mut nominals: Vec<_> = self.printers().filter_map(|(_, m)| m.nominal_mm).collect();
        nominals.sort_by(f64::total_cmp);
        nominals.dedup();
        nominals
    }

    /// The smallest tolerance of a printer, in mm, among those whose nominal diameter is
    /// accepted, and the printer.
    pub(crate) fn tightest_printer(&self, accepted: impl Fn(f64) -> bool) -> Option<(&str, f64)> {
        let fitting = self.printers().filter(|(_, m)| m.nominal_mm.is_some_and(&accepted));
        let tolerances = fitting.filter_map(|(name, m)| Some((name, m.tolerance_mm?)));
        tolerances.min_by(|(_, a), (_, b)| a.total_cmp(b))
    }

    fn printers(&self) -> impl Iterator<Item = (&str, &MachineFact)> {
        self.machines(Does::Print)
    }
}
