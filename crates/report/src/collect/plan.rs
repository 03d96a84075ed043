//! The batch to come: feed, time, stages.

use crate::clock;
use crate::keep::{self, Capped};
use secondmelt_record::Record;
use secondmelt_record::findings::{BatchStage, Decision, FeedNeed, MachineTime};

/// Findings of one sort.
const LIST_MAX: usize = 500;

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
    pub(crate) have_g: Option<f64>,
    pub(crate) makes_g: Option<f64>,
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

/// All of it.
#[derive(Debug)]
pub(crate) struct Plan {
    pub(crate) feeds: Capped<Need>,
    pub(crate) times: Capped<Work>,
    pub(crate) stages: Capped<Growth>,
}

impl Default for Plan {
    fn default() -> Self {
        Self {
            feeds: Capped::new(LIST_MAX),
            times: Capped::new(LIST_MAX),
            stages: Capped::new(LIST_MAX),
        }
    }
}

impl Plan {
    pub(super) fn take(&mut self, record: &Record<'_>) {
        match record {
            Record::FeedNeed(need) => self.feeds.push(|| feed(need)),
            Record::MachineTime(time) => self.times.push(|| work(time)),
            Record::BatchStage(stage) => self.stages.push(|| growth(stage)),
            _ => {}
        }
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.feeds.total() + self.times.total() + self.stages.total() == 0
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
        have_g: need.have_g.map(|g| g.get()),
        makes_g: need.makes_g.map(|g| g.get()),
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
