//! `check-tolerance`: the diameter of each spool, held against each machine that
//! might use it.
//!
//! One pass and a fixed amount of memory for each lot. Alarms are written as they begin,
//! excursions as they end; summaries, shares, charts and verdicts at the end of the input.
//! Readings that name a `part` belong to a study of their gauge, and to no spool.
//!
//! # What it costs
//!
//! CPU time for each of a million readings of two axes in five lots, against the plain summary (no
//! waves, charts, alarms or machine), least of seven runs. Resident memory is below 10 MiB for any number of readings in
//! five lots with everything switched on, and each further lot takes up to 0.12 MiB, since lots may come interleaved: 14 MiB
//! for 50 lots of 100,000 readings, 57 MiB for 500 of 10,000.
//!
//! | switched on | times the plain summary |
//! |---|---|
//! | the default, one machine | 1.52 |
//! | the same with `--no-waves` | 1.12 |
//! | the same with `--no-charts` | 1.45 |
//! | the same with `--no-alarms` | 1.53 |
//! | the default and `--every 50m` | 1.58 |
//! | the default and sampling plans | 1.56 |
//! | the default, `--every 10s`, sampling plans and `--baseline` | 1.57 |
//!
//! # What it names
//!
//! `tests/spool_study.rs`: 200 seeded spools a row through the program, 200 m read every 5 cm to a
//! micrometre, noise of 0.01 mm with a lag-1 autocorrelation r, a tolerance of 0.06 mm. Named
//! means the right part of the line, the drift, or an excursion at the place of the lump;
//! others are any other cause or excursion.
//!
//! | hidden in the spool | r | named | others named in |
//! |---|---|---|---|
//! | nothing | 0 | | 0.0 % |
//! | nothing | 0.5 | | 0.0 % |
//! | nothing | 0.8 | | 1.5 % |
//! | nothing | 0.9 | | 0.5 % |
//! | 0.008 mm wave of the screw | 0 | 100.0 % | 0.0 % |
//! | 0.008 mm wave of the screw | 0.5 | 100.0 % | 0.0 % |
//! | 0.008 mm wave of the screw | 0.8 | 100.0 % | 2.5 % |
//! | 0.008 mm wave of the screw | 0.9 | 100.0 % | 0.5 % |
//! | 0.008 mm wave of the puller roller | 0 | 100.0 % | 0.0 % |
//! | 0.008 mm wave of the puller roller | 0.5 | 100.0 % | 0.0 % |
//! | 0.008 mm wave of the puller roller | 0.8 | 100.0 % | 1.0 % |
//! | 0.008 mm wave of the puller roller | 0.9 | 100.0 % | 0.5 % |
//! | 0.09 mm lump of 0.3 m | 0 | 100.0 % | 0.0 % |
//! | 0.09 mm lump of 0.3 m | 0.5 | 100.0 % | 0.0 % |
//! | 0.09 mm lump of 0.3 m | 0.8 | 100.0 % | 1.0 % |
//! | 0.09 mm lump of 0.3 m | 0.9 | 100.0 % | 0.5 % |
//! | drift of 0.03 mm | 0 | 100.0 % | 0.0 % |
//! | drift of 0.03 mm | 0.5 | 100.0 % | 0.0 % |
//! | drift of 0.03 mm | 0.8 | 100.0 % | 0.0 % |
//! | drift of 0.03 mm | 0.9 | 100.0 % | 0.0 % |

mod alarms;
mod capability;
mod causes;
mod charts;
mod cleanliness;
mod early;
mod excursion;
mod few;
mod flow;
mod gauge;
mod lab;
mod line;
mod live;
mod machines;
mod materials;
mod options;
mod path;
mod pieces;
mod plans;
mod reading;
mod spool;
mod studies;
mod verdicts;
mod watch;
mod waves;

use charts::{Fed, Learned, Model};
use cleanliness::Finds;
use lab::Lab;
use live::Live;
use machines::Fit;
use materials::Materials;
pub use options::Options;
use options::{Settings, asked_for};
use plans::Plans;
use secondmelt_record::facts::{self, Diameter, Does, Machine};
use secondmelt_record::findings::ChartLimits;
use secondmelt_record::{
    About, Code, Filter, Gate, Input, Kind, Line, Name, Number, Out, Problem, Record,
};
use spool::Spool;
use std::collections::HashMap;
use std::process::ExitCode;
use studies::{Studies, TakenAs, is_of_study};

/// Lots that are kept apart.
const LOTS_MAX: usize = 10_000;

/// The filter.
pub struct CheckTolerance {
    settings: Settings,
    lab: Lab,
    materials: Materials,
    finds: Finds,
    /// Lots whose charts are to be learned from.
    baseline: Vec<String>,
    live: Live,
    studies: Studies,
    plans: Option<Plans>,
    /// What is known of the uncertainty of each gauge.
    gauges: HashMap<String, gauge::Known>,
    spools: Vec<Spool>,
    by_lot: HashMap<String, usize>,
    /// The spool of the last reading; most readings belong to the same.
    current: usize,
    too_many_told: bool,
}

impl Filter for CheckTolerance {
    type Options = Options;

    const ABOUT: About = About {
        name: "check-tolerance",
        version: env!("CARGO_PKG_VERSION"),
        summary: "Diameter of each spool in figures, and against the tolerance of each printer: where \
it is out, how long, how far, and whether the spool fits. Machine records must come before the readings.",
        example: "cat examples/records/machine.json examples/records/diameter.json | check-tolerance",
    };

    const READS: &'static [Kind] = &[
        Kind::Diameter,
        Kind::Machine,
        Kind::Lot,
        Kind::Material,
        Kind::Gauge,
        Kind::Inclusion,
        Kind::Inspection,
        Kind::Limit,
        Kind::TurningPart,
        Kind::Step,
        Kind::Weighing,
        Kind::ChartLimits,
    ];

    fn new(options: Options) -> Result<Self, String> {
        let settings = Settings::new(&options)?;
        let mut lab = Lab::default();
        if let (Some(nominal), Some(tolerance)) = (options.nominal_mm, options.tolerance_mm) {
            lab.machines.add(asked_for(nominal, tolerance, options.ovality_mm)?);
        }
        Ok(Self {
            settings,
            lab,
            materials: Materials::default(),
            finds: Finds::default(),
            live: Live::new(options.every, watched_by_a_person()),
            baseline: options.baseline,
            studies: Studies::default(),
            plans: options
                .good_pct
                .zip(options.bad_pct)
                .map(|(g, b)| Plans::new(g, b))
                .transpose()?,
            gauges: HashMap::new(),
            spools: Vec::new(),
            by_lot: HashMap::new(),
            current: 0,
            too_many_told: false,
        })
    }

    fn take(&mut self, record: &Record<'_>, line: Line<'_>, out: &mut Out) {
        match record {
            Record::Diameter(reading) => self.reading(reading, line, out),
            Record::Machine(machine) => self.machine(machine, line, out),
            Record::Lot(lot) => {
                if let Some(problem) = self.materials.lot(lot, line) {
                    out.problem(&problem);
                }
            }
            Record::Material(material) => self.materials.material(material),
            Record::Gauge(gauge) => self.gauge(gauge, line, out),
            Record::Inclusion(inclusion) => self.finds.inclusion(inclusion),
            Record::Inspection(inspection) => self.finds.inspection(inspection),
            Record::Limit(limit) => self.finds.limit(limit),
            Record::TurningPart(part) => self.lab.production.part(part),
            Record::Step(step) => self.lab.production.step(step),
            Record::Weighing(weighing) => self.lab.production.weighing(weighing),
            Record::ChartLimits(limits) => self.chart_limits(limits, line, out),
            _ => {}
        }
    }

    fn finish(&mut self, input: &Input, out: &mut Out) -> Result<Gate, String> {
        let cut = input.cut.is_some();
        self.live.end(out);
        self.studies.write(self.lab.machines.all(), &mut self.gauges, out);
        if let Some(plans) = &self.plans {
            plans.write(out);
        }
        for spool in &mut self.spools {
            spool.close(&self.lab.machines, out);
            let density_g_cm3 = self.materials.density_g_cm3(spool.lot());
            spool.weighed(self.lab.production.made_g(spool.lot()), density_g_cm3);
            let whole = spool.whole(density_g_cm3);
            out.write(&spool.summary(&whole));
            if let Some(drift) = spool.drift() {
                out.write(&drift);
                let sd_mm = spool.readings().sd_mm().unwrap_or_default();
                if let Some(cause) = causes::of_drift(&drift, sd_mm) {
                    out.write(&cause);
                }
            }
            spool.write_waves(&self.lab.production, out);
            spool.write_charts(cut, out);
            let u = spool.gauges().u_mm(|gauge| self.gauges.get(gauge)?.u_mm());
            verdicts::write(spool, whole, u, cut, out);
            if let Some(plans) = &self.plans {
                spool.watches().iter().for_each(|watch| plans.judge(spool, watch, cut, out));
            }
        }
        self.finds.write(cut, out);
        self.write_limits(cut, out);
        Ok(Gate::Open)
    }
}

impl CheckTolerance {
    #[inline]
    fn reading(&mut self, reading: &Diameter<'_>, line: Line<'_>, out: &mut Out) {
        if is_of_study(reading) {
            return self.of_study(reading, line, out);
        }
        let known = self.spools.get(self.current).is_some_and(|s| s.lot() == reading.lot.as_str());
        if !known {
            match self.spool_of(&reading.lot) {
                Some(index) => self.current = index,
                None => return self.too_many(line, out),
            }
        }
        if let Some(spool) = self.spools.get_mut(self.current) {
            if spool.push(reading, &self.lab, out) {
                out.problem(&went_back(reading, line));
            }
            self.live.after(spool, out);
        }
    }

    /// A reading of a piece in a study of its gauge.
    #[cold]
    fn of_study(&mut self, reading: &Diameter<'_>, line: Line<'_>, out: &mut Out) {
        match self.studies.push(reading) {
            TakenAs::Repeat => {}
            TakenAs::Twice => {
                let part = reading.part.as_ref().map(Name::to_string).unwrap_or_default();
                let found = format!("a second reading of piece {part} with the same repeat number");
                let expected =
                    "each repeat once; this one is not counted. Look whether a study came twice";
                out.problem(&line.problem(Code::Duplicate, found, expected));
            }
            TakenAs::TooMany => {
                if !std::mem::replace(&mut self.too_many_told, true) {
                    let found = "more than 20000 readings of gauge studies";
                    let expected = "fewer; these are not looked at";
                    out.problem(&line.problem(Code::TooMany, found, expected));
                }
            }
        }
    }

    /// The spool of a lot; none where there are more lots than are kept apart.
    fn spool_of(&mut self, lot: &Name<'_>) -> Option<usize> {
        if let Some(index) = self.by_lot.get(lot.as_str()) {
            return Some(*index);
        }
        if self.spools.len() == LOTS_MAX {
            return None;
        }
        self.spools.push(Spool::new(lot.to_string(), self.settings));
        self.by_lot.insert(lot.to_string(), self.spools.len() - 1);
        Some(self.spools.len() - 1)
    }

    /// Says once that no more lots are looked at.
    fn too_many(&mut self, line: Line<'_>, out: &mut Out) {
        if !std::mem::replace(&mut self.too_many_told, true) {
            let found = format!("readings of more than {LOTS_MAX} lots");
            let mut problem = line.problem(Code::TooMany, found, "fewer lots in one stream");
            problem.advice = Some(
                "look whether the column of the lot is the right one; these and the \
                                   readings of further lots are passed on and not looked at"
                    .into(),
            );
            out.problem(&problem);
        }
    }

    /// Takes limits that were kept, where they make sense.
    fn chart_limits(&mut self, limits: &ChartLimits<'_>, line: Line<'_>, out: &mut Out) {
        let model = Model::of(limits);
        match model.fault() {
            None => {
                self.lab.fed.push(Fed { learned_from: limits.learned_from.to_string(), model });
            }
            Some(found) => {
                let expected = "limits as this program wrote them; these are not used";
                out.problem(&line.problem(Code::Contradiction, found, expected));
            }
        }
    }

    /// Writes the limits learned from baseline lots, or says why there are none.
    fn write_limits(&self, cut: bool, out: &mut Out) {
        if self.baseline.is_empty() {
            return;
        }
        let mut learned = Learned::default();
        let mut from = Vec::new();
        for lot in &self.baseline {
            let spool = self.by_lot.get(lot).and_then(|index| self.spools.get(*index));
            let taught = spool.map_or(Err("has no readings"), |spool| spool.teach(&mut learned));
            match taught {
                Ok(()) => from.push(lot.as_str()),
                Err(why) => {
                    return out.tell(&format!("no limits are learned (--baseline): {lot} {why}"));
                }
            }
        }
        let from = from.join(", ");
        let limits = learned.model().and_then(|model| model.record(from.clone()));
        match limits {
            _ if cut => out.tell("no limits are learned from an input that was cut short"),
            Some(limits) => out.write(&limits),
            None => out.tell(&format!(
                "no limits are learned from {from}: it takes 20 subgroups of equal length that differ"
            )),
        }
    }

    fn gauge(&mut self, gauge: &facts::Gauge<'_>, line: Line<'_>, out: &mut Out) {
        if !self.gauges.entry(gauge.gauge.to_string()).or_default().note(gauge) {
            let found = format!("another description of gauge {}", gauge.gauge);
            let expected = "one; the larger uncertainty is used";
            out.problem(&line.problem(Code::Contradiction, found, expected));
        }
    }

    fn machine(&mut self, machine: &Machine<'_>, line: Line<'_>, out: &mut Out) {
        let Some(fit) = Fit::of(machine) else { return };
        match self.lab.machines.find(&fit.machine) {
            Some(earlier) if *earlier == fit => {}
            Some(earlier) => {
                let found = format!("another description of machine {}", fit.machine);
                let expected = format!("{} as before; that one is used", earlier.tolerance_text());
                out.problem(&line.problem(Code::Contradiction, found, expected));
            }
            None => {
                if !self.spools.is_empty() {
                    let lots = self.spools.len();
                    let word = if lots == 1 { "lot" } else { "lots" };
                    let found =
                        format!("machine {} after the first reading of {lots} {word}", fit.machine);
                    let expected = "machine records before all readings: put them first, or \
                                    in a file of their own before the others; lots begun before get no verdict on it";
                    out.problem(&line.problem(Code::TooLate, found, expected));
                }
                self.lab.machines.add(fit);
            }
        }
    }
}

/// Says that readings of a lot go back, once for each lot.
fn went_back(reading: &Diameter<'_>, line: Line<'_>) -> Problem<'static> {
    let (found, expected) = match (reading.position_m, reading.time_s) {
        (None, Some(at)) => (format!("a step back to {} s", at.get()), "times that go forward"),
        (at, _) => {
            let at = at.map_or(0.0, Number::get);
            (format!("a step back to {at} m"), "positions that go one way along the lot")
        }
    };
    let mut problem = line.problem(Code::OutOfOrder, found, expected);
    problem.lot = Some(reading.lot.clone().into_owned());
    problem.advice = Some(
        "look whether a log came twice or two spools have one name; what was passed before adds neither \
         length nor evidence"
            .into(),
    );
    problem
}

/// Whether a person sees what goes to standard error.
fn watched_by_a_person() -> bool {
    std::io::IsTerminal::is_terminal(&std::io::stderr())
}

/// Whether a machine of this sort takes filament from a spool.
fn uses_filament(does: Does) -> bool {
    does == Does::Print
}

/// The program.
pub fn main() -> ExitCode {
    secondmelt_record::run::<CheckTolerance>()
}
