//! What to change in the next cycle: the puller speed that brings the diameter to its
//! target, and those of puller and screw for a throughput; settings that the passes before ask
//! for, and those to start from; how long a lot is still to be dried; melt flow worked out from
//! its cut-offs, how it drifts from pass to pass, and the share of a younger lot and the melt
//! temperature that make up for it.
//!
//! Records may come in any order; what is worked out is written at the end of the input.

mod activation;
mod blend;
mod book;
mod drift;
mod drying;
mod heat;
mod kelvin;
mod lab;
mod limits;
mod lineage;
mod melt;
mod next_pass;
mod own_blends;
mod puller;
mod series;
mod start;
mod temperature;
mod throughput;
mod viscosity;
mod window;
mod words;

use activation::Activation;
use book::Book;
use drift::Drift;
use drying::Wet;
use lab::Lab;
use lineage::Families;
use melt::Melts;
use own_blends::Off;
use puller::{Outcome, Puller};
use secondmelt_plastics::marks::never_melted;
use secondmelt_record::{About, Filter, Gate, Input, Kind, Line, Out, Record, run};
use series::Series;
use std::collections::BTreeSet;

/// The program.
pub fn main() -> std::process::ExitCode {
    run::<CycleAdjust>()
}

/// Options of this program: none of its own yet.
#[derive(Debug, Clone, Copy, clap::Args)]
pub struct Options {}

/// The filter.
#[derive(Debug, Default)]
pub struct CycleAdjust {
    book: Book,
    lab: Lab,
    melts: Melts,
    wet: Wet,
}

impl Filter for CycleAdjust {
    type Options = Options;
    const ABOUT: About = About {
        name: "cycle-adjust",
        version: env!("CARGO_PKG_VERSION"),
        summary: "Proposes what to change in the next cycle: the puller and screw speed, the melt \
                  temperature, the drying time and the share of a younger lot; works out melt flow, \
                  viscosity, and how melt flow drifts from pass to pass. A puller speed needs the `diameter_summary` of a lot, so \
                  check-tolerance comes before in the chain; a weighing with role `out` that links \
                  the lot to its `extrude` step; and the setting `line_speed_m_min` of that step. A \
                  drift needs lots with `passes` and melt-flow tests of three or more. Targets and limits \
                  are `limit` records: `mfr_g_10min` (with `temp_c` and `load_kg` where tests are made \
                  under more than one condition), `throughput_kg_h` and `moisture_pct`",
        example: "printf '{\"kind\":\"melt_flow\",\"lot\":\"caps\",\"temp_c\":230,\"load_kg\":2.16,\"cut_g\":%s,\"cut_s\":30}\\n' \\\n      \
                  0.2471 0.2503 0.2489 | cycle-adjust",
    };
    const READS: &'static [Kind] = &[
        Kind::Lot,
        Kind::Material,
        Kind::Limit,
        Kind::Step,
        Kind::Weighing,
        Kind::Machine,
        Kind::Gauge,
        Kind::DiameterSummary,
        Kind::MeltFlow,
        Kind::Moisture,
        Kind::Verdict,
        Kind::Adjustment,
    ];

    fn new(_: Options) -> Result<Self, String> {
        Ok(Self::default())
    }

    fn take(&mut self, record: &Record<'_>, line: Line<'_>, out: &mut Out) {
        let trouble = match record {
            Record::Lot(lot) => self.lab.lot(lot, line),
            Record::Material(material) => self.lab.material(material, line),
            Record::Limit(limit) => self.lab.limit(limit, line),
            Record::Step(step) => self.book.step(step, line),
            Record::Machine(machine) => self.book.machine(machine, line),
            Record::Gauge(gauge) => self.book.gauge(gauge, line),
            Record::DiameterSummary(summary) => self.book.summary(summary, line),
            Record::MeltFlow(cut) => self.melts.cut(cut, line),
            Record::Weighing(weighing) => {
                self.book.weighing(weighing);
                None
            }
            Record::Verdict(verdict) => {
                self.book.verdict(verdict);
                self.lab.verdict(verdict);
                self.wet.verdict(verdict);
                None
            }
            Record::Moisture(moisture) => self.wet.reading(moisture, line),
            Record::Adjustment(adjustment) => {
                self.wet.adjustment(adjustment);
                None
            }
            _ => None,
        };
        if let Some(problem) = trouble {
            out.problem(&problem);
        }
    }

    fn finish(&mut self, _: &Input, out: &mut Out) -> Result<Gate, String> {
        for filling in self.melts.fillings() {
            out.write(&filling.result());
            viscosity::of(filling).iter().for_each(|found| out.write(found));
            out.write(&filling.verdict());
        }
        let families = Families::of(&self.book, &self.lab);
        let activations = activation::activations(&self.melts, &self.lab);
        activations.iter().filter_map(Activation::finding).for_each(|found| out.write(&found));
        for (verdict, caution) in self.lab.materials().filter_map(heat::refusal) {
            out.write(&verdict);
            out.write(&caution);
        }
        for series in &series::series(&self.melts, &self.lab, &families) {
            let (off, checked) = own_blends::of(series, &self.book);
            viscosity::repeatability(series).iter().for_each(|found| out.write(found));
            write_drift(series, &self.lab, out);
            checked.iter().for_each(|verdict| out.write(verdict));
            if never_melted(series.material).is_some() {
                continue;
            }
            for drift in &drift::drifts(series, &self.lab) {
                self.write_proposals(drift, off, &activations, out);
            }
        }
        let mut warned = BTreeSet::new();
        for puller in puller::pullers(&self.book) {
            if !write_throughput(&puller, &self.lab, out) {
                write_puller(&puller, &mut warned, out);
            }
        }
        self.wet.write(&self.book, &self.lab, out);
        next_pass::write(&self.book, &self.lab, out);
        start::write(&self.book, &self.lab, &self.wet, out);
        Ok(Gate::Open)
    }
}

impl CycleAdjust {
    /// What a drift asks of the next feed and its temperature.
    fn write_proposals(
        &self,
        drift: &Drift<'_>,
        off: Option<Off>,
        measured: &[Activation<'_>],
        out: &mut Out,
    ) {
        match blend::advice(drift, off) {
            Some(blend::Advice::Blend(advice)) => {
                let (share, change, caution) = *advice;
                out.write(&share);
                out.write(&change);
                out.write(&caution);
            }
            Some(blend::Advice::Said(verdict)) => out.write(&*verdict),
            None => (),
        }
        match temperature::advice(drift, &self.book, &self.lab, measured) {
            Some(temperature::Advice::Change(change, caution)) => {
                out.write(&change);
                out.write(&caution);
            }
            Some(temperature::Advice::Beyond(verdict, caution)) => {
                out.write(&verdict);
                out.write(&caution);
            }
            Some(temperature::Advice::Said(verdict)) => out.write(&verdict),
            None => (),
        }
    }
}

/// How a series drifts, or why that is not known.
fn write_drift(series: &Series<'_>, lab: &Lab, out: &mut Out) {
    drift::too_few(series).iter().for_each(|verdict| out.write(verdict));
    for drift in &drift::drifts(series, lab) {
        drift.finding().iter().for_each(|finding| out.write(finding));
        drift.left().iter().for_each(|left| out.write(left));
        let verdicts = drift.next_pass().into_iter().chain(drift.bend());
        verdicts.chain(drift::no_limit(drift)).for_each(|verdict| out.write(&verdict));
    }
}

/// What a throughput that is wanted asks; whether it moves the puller, so that a change for the
/// diameter alone would contradict it.
fn write_throughput<'a>(puller: &Puller<'a>, lab: &Lab, out: &mut Out) -> bool {
    match throughput::advice(puller, lab) {
        Some(throughput::Advice::Change(changes, caution)) => {
            changes.iter().for_each(|change| out.write(change));
            out.write(&caution);
            return true;
        }
        Some(throughput::Advice::Beyond(verdict, caution)) => {
            out.write(&verdict);
            out.write(&caution);
        }
        Some(throughput::Advice::Said(verdict)) => out.write(&verdict),
        None => (),
    }
    false
}

/// One proposal or verdict, each machine with its caution once.
fn write_puller<'a>(puller: &Puller<'a>, warned: &mut BTreeSet<Option<&'a str>>, out: &mut Out) {
    match puller.outcome() {
        Outcome::Change(change) => {
            out.write(&puller.adjustment(&change));
            if warned.insert(puller.machine()) {
                out.write(&puller.nip_points());
            }
        }
        Outcome::Beyond { speed, limit, why, danger, screw } => {
            out.write(&puller.beyond_machine(speed, limit, &why));
            screw.iter().for_each(|screw| out.write(&puller.screw_adjustment(screw)));
            out.write(&puller.beyond_limit(&danger));
        }
        Outcome::Stay { limit_mm, why } => out.write(&puller.conforms(limit_mm, &why)),
        Outcome::Wide { limit_mm, why } => out.write(&puller.wide(limit_mm, &why)),
        Outcome::Undecided(why) => out.write(&puller.undecided(&why)),
    }
}
