//! The batch to come: feed, readings, time, stages, prints from kept pieces.

use crate::clock;
use crate::keep::{self, Capped, Ordered};
use secondmelt_record::Record;
use secondmelt_record::findings::{
    BatchStage, Decision, FeedNeed, MachineTime, PiecePlan, PieceUse, ReadingPlan,
};

/// Findings of one sort.
const LIST_MAX: usize = 500;
/// Ways from a feed to filament. A lab has one, and enters it at a few places.
const WAYS_MAX: usize = 20;

/// Feed that is needed, from a form or a lot.
#[derive(Debug)]
pub(crate) struct Need {
    /// Lot, or empty for any of the form.
    pub(crate) lot: String,
    pub(crate) form: &'static str,
    pub(crate) target_g: f64,
    pub(crate) yield_pct: f64,
    pub(crate) feed_g: f64,
    pub(crate) interval_g: Option<(f64, f64)>,
    pub(crate) enough_g: Option<f64>,
    pub(crate) have_g: Option<f64>,
    pub(crate) makes_g: Option<f64>,
}

/// Readings or samples to take.
#[derive(Debug)]
pub(crate) struct ToRead {
    pub(crate) what: String,
    /// Of each spool or batch.
    pub(crate) each: u64,
    pub(crate) in_all: u64,
    pub(crate) mass_g: Option<f64>,
    pub(crate) basis: String,
}

/// Time of a stage.
#[derive(Debug)]
pub(crate) struct Work {
    pub(crate) does: &'static str,
    pub(crate) machine: String,
    pub(crate) mass_g: f64,
    pub(crate) hours: f64,
    pub(crate) interval_h: Option<(f64, f64)>,
    pub(crate) done: String,
    pub(crate) latest: String,
    pub(crate) basis: String,
}

/// One stage of growing.
#[derive(Debug)]
pub(crate) struct Growth {
    pub(crate) stage: u64,
    pub(crate) product_g: f64,
    pub(crate) feed_g: Option<f64>,
    pub(crate) open: Decision,
    pub(crate) why: String,
    pub(crate) gate: String,
}

/// A kept piece and the prints from it.
#[derive(Debug)]
pub(crate) struct Used {
    pub(crate) lot: String,
    pub(crate) machine: String,
    pub(crate) from_m: f64,
    pub(crate) to_m: f64,
    /// Their names, told one after the other.
    pub(crate) prints: String,
    pub(crate) used_m: f64,
    pub(crate) left_m: f64,
}

/// How well prints found pieces, beside the best that could be.
#[derive(Debug)]
pub(crate) struct Placed {
    pub(crate) machine: String,
    pub(crate) prints: u64,
    pub(crate) placed: u64,
    pub(crate) placed_at_most: u64,
    pub(crate) pieces: u64,
    pub(crate) pieces_at_least: u64,
    /// Prints without a piece, told one after the other.
    pub(crate) left_over: String,
    pub(crate) used_pct: Option<f64>,
}

/// All of it.
#[derive(Debug)]
pub(crate) struct Plan {
    pub(crate) feeds: Capped<Need>,
    /// Ways from a feed to filament, each with its stages told one after the other.
    pub(crate) ways: Ordered<String, ()>,
    pub(crate) readings: Capped<ToRead>,
    pub(crate) times: Capped<Work>,
    pub(crate) stages: Capped<Growth>,
    pub(crate) pieces: Capped<Used>,
    pub(crate) placed: Capped<Placed>,
}

impl Default for Plan {
    fn default() -> Self {
        Self {
            feeds: Capped::new(LIST_MAX),
            ways: Ordered::new(WAYS_MAX),
            readings: Capped::new(LIST_MAX),
            times: Capped::new(LIST_MAX),
            stages: Capped::new(LIST_MAX),
            pieces: Capped::new(LIST_MAX),
            placed: Capped::new(LIST_MAX),
        }
    }
}

impl Plan {
    pub(super) fn take(&mut self, record: &Record<'_>) {
        match record {
            Record::FeedNeed(need) => {
                self.feeds.push(|| feed(need));
                let way = keep::list(&need.stages);
                if !way.is_empty() {
                    self.ways.entry(&way);
                }
            }
            Record::ReadingPlan(plan) => self.readings.push(|| to_read(plan)),
            Record::MachineTime(time) => self.times.push(|| work(time)),
            Record::BatchStage(stage) => self.stages.push(|| growth(stage)),
            Record::PieceUse(piece) => self.pieces.push(|| used(piece)),
            Record::PiecePlan(plan) => self.placed.push(|| placed(plan)),
            _ => {}
        }
    }

    pub(crate) fn is_empty(&self) -> bool {
        let totals = [
            self.feeds.total(),
            self.readings.total(),
            self.times.total(),
            self.stages.total(),
            self.pieces.total(),
            self.placed.total(),
        ];
        totals.iter().all(|total| *total == 0)
    }
}

fn name(name: Option<&str>) -> String {
    name.map(keep::name).unwrap_or_default()
}

fn feed(need: &FeedNeed<'_>) -> Need {
    Need {
        lot: name(need.lot.as_deref()),
        form: need.form.as_str(),
        target_g: need.target_g.get(),
        yield_pct: need.yield_pct.get(),
        feed_g: need.feed_g.get(),
        interval_g: need.low_g.zip(need.high_g).map(|(low, high)| (low.get(), high.get())),
        enough_g: need.enough_g.map(|g| g.get()),
        have_g: need.have_g.map(|g| g.get()),
        makes_g: need.makes_g.map(|g| g.get()),
    }
}

fn to_read(plan: &ReadingPlan<'_>) -> ToRead {
    ToRead {
        what: keep::name(&plan.what),
        each: plan.each.0,
        in_all: plan.in_all.0,
        mass_g: plan.mass_g.map(|g| g.get()),
        basis: keep::text(&plan.basis),
    }
}

fn work(time: &MachineTime<'_>) -> Work {
    Work {
        does: time.does.as_str(),
        machine: name(time.machine.as_deref()),
        mass_g: time.mass_g.get(),
        hours: time.hours.get(),
        interval_h: time.low_h.zip(time.high_h).map(|(low, high)| (low.get(), high.get())),
        done: clock::maybe(time.to.as_ref()),
        latest: clock::maybe(time.latest.as_ref()),
        basis: keep::text(&time.basis),
    }
}

fn growth(stage: &BatchStage<'_>) -> Growth {
    Growth {
        stage: stage.stage.0,
        product_g: stage.product_g.get(),
        feed_g: stage.feed_g.map(|g| g.get()),
        open: stage.open,
        why: keep::text(&stage.why),
        gate: keep::text(&stage.gate),
    }
}

fn used(piece: &PieceUse<'_>) -> Used {
    Used {
        lot: keep::name(&piece.lot),
        machine: keep::name(&piece.machine),
        from_m: piece.from_m.get(),
        to_m: piece.to_m.get(),
        prints: keep::list(&piece.prints),
        used_m: piece.used_m.get(),
        left_m: piece.left_m.get(),
    }
}

fn placed(plan: &PiecePlan<'_>) -> Placed {
    Placed {
        machine: keep::name(&plan.machine),
        prints: plan.prints.0,
        placed: plan.placed.0,
        placed_at_most: plan.placed_at_most.0,
        pieces: plan.pieces.0,
        pieces_at_least: plan.pieces_at_least.0,
        left_over: keep::list(&plan.left_over),
        used_pct: plan.used_pct.map(|p| p.get()),
    }
}
