//! The puller speed that brings the diameter to its target.

mod reasons;
mod records;
mod stand;

use crate::book::{Book, Diameters, MachineFact, StepFact};
use crate::window;
use crate::words::{diameters, list};
use secondmelt_plastics::filament::{puller_speed_m_min, screw_factor};
use secondmelt_quality::mean_interval::{Interval, of_mean};
use secondmelt_record::Number;
use stand::{Stand, Tolerance, nearer_limit, stand};

/// A printer whose nominal diameter is further from a diameter than this share of it is
/// meant for other filament.
const NEAR: f64 = 0.2;

/// One lot and the step that extruded it.
#[derive(Debug)]
pub(crate) struct Puller<'a> {
    book: &'a Book,
    lot: &'a str,
    measured: &'a Diameters,
    /// Steps that extruded it: one, where all is well.
    steps: Vec<&'a str>,
}

/// A change of the puller speed, in m/min.
#[derive(Debug)]
pub(crate) struct Change {
    from: Number,
    to: Number,
    low: Number,
    high: Number,
    because: String,
}

/// What is to be done.
#[derive(Debug)]
pub(crate) enum Outcome {
    /// Change the speed.
    Change(Change),
    /// Leave it.
    Stay {
        /// The end of the tolerance that the diameter is held against, in mm.
        limit_mm: Option<f64>,
        /// The reason.
        why: String,
    },
    /// What is known of the diameter may be on target, and may be beyond its tolerance.
    Wide {
        /// The end of the tolerance that the diameter is held against, in mm.
        limit_mm: Option<f64>,
        /// The reason.
        why: String,
    },
    /// Something is missing without which nothing can be worked out.
    Undecided(String),
    /// The speed that it takes is beyond the machine.
    Beyond {
        /// That speed, in m/min.
        speed: f64,
        /// The limit of the machine, in m/min.
        limit: f64,
        /// The reason.
        why: String,
        /// What must not be done.
        danger: String,
        /// The screw speed that does the same while the puller stays, in turns a minute, where
        /// it is known and within the machine.
        screw: Option<Change>,
    },
}

/// One for each lot that has diameters and that some step put out, by name.
pub(crate) fn pullers(book: &Book) -> Vec<Puller<'_>> {
    book.measured_lots()
        .map(|(lot, measured)| {
            let steps = book.extruded_by(lot).into_iter().collect();
            Puller { book, lot, measured, steps }
        })
        .collect()
}

impl<'a> Puller<'a> {
    pub(crate) fn lot(&self) -> &'a str {
        self.lot
    }

    /// The diameter of the mean area, in mm.
    pub(crate) fn diameter_mm(&self) -> f64 {
        self.measured.area_mm
    }

    /// A setting of the step.
    pub(crate) fn setting(&self, name: &str) -> Option<f64> {
        self.fact()?.settings.get(name).copied()
    }

    pub(crate) fn step(&self) -> Option<&'a str> {
        match self.steps.as_slice() {
            [step] => Some(step),
            _ => None,
        }
    }

    fn fact(&self) -> Option<&'a StepFact> {
        self.book.step_fact(self.step()?)
    }

    /// The machine that extruded it, where it is known.
    pub(crate) fn machine(&self) -> Option<&'a str> {
        self.fact()?.machine.as_deref()
    }

    pub(crate) fn machine_fact(&self) -> Option<&'a MachineFact> {
        self.book.machine_fact(self.machine()?)
    }

    /// What is to be done about the puller speed.
    pub(crate) fn outcome(&self) -> Outcome {
        let proposed = self.speed_m_min().and_then(|speed| {
            let target = self.target_mm()?;
            Ok((speed, target, self.interval()?))
        });
        match proposed {
            Ok((speed, target, interval)) => self.weighed(speed, target, interval),
            Err(why) => Outcome::Undecided(why),
        }
    }

    /// The line speed, in m/min.
    pub(crate) fn speed_m_min(&self) -> Result<f64, String> {
        let Some(step) = self.step() else {
            return Err(if self.steps.is_empty() {
                "no step that extrudes is known to have put it out: add the `step` record, and a \
                 weighing with role `out` that names both"
                    .to_owned()
            } else {
                format!("more than one step extruded it ({})", list(self.steps.iter().copied()))
            });
        };
        let speed = self.fact().and_then(|fact| fact.line_speed_m_min);
        speed.filter(|speed| *speed > 0.0).ok_or_else(|| {
            format!("step {step} does not say how fast the puller ran: add its setting `line_speed_m_min`")
        })
    }

    /// The diameter that is wanted: that of the extruder's machine, else that of the
    /// printers, where only one of theirs is near.
    pub(crate) fn target_mm(&self) -> Result<f64, String> {
        if let Some(nominal) = self.machine_fact().and_then(|machine| machine.nominal_mm) {
            return Ok(nominal);
        }
        let mean = self.measured.mean_mm;
        let mut near = self.book.print_nominals_mm();
        near.retain(|nominal| is_near(mean, *nominal));
        match near.as_slice() {
            [nominal] => Ok(*nominal),
            [] => Err(
                "no machine says which diameter is wanted: give the extruder's `machine` record \
                       `nominal_mm`"
                    .to_owned(),
            ),
            several => Err(format!(
                "printers near it want different diameters ({}): give the extruder's `machine` record \
                 `nominal_mm`",
                diameters(several)
            )),
        }
    }

    /// How far the diameter may be off: by the extruder's machine, else by the tightest
    /// printer near the target.
    fn tolerance(&self, target: f64) -> Option<Tolerance<'a>> {
        let own = || Some((self.machine()?, self.machine_fact()?.tolerance_mm?));
        let printer = || self.book.tightest_printer(|nominal| is_near(target, nominal));
        own().or_else(printer).map(|(machine, mm)| Tolerance { mm, machine })
    }

    /// The 95 % interval of the diameter, in mm.
    pub(crate) fn interval(&self) -> Result<Interval, String> {
        let &Diameters { readings, sd_mm, lag1, .. } = self.measured;
        if readings < 3 {
            let there = if readings == 1 { "is 1 reading" } else { "are 2 readings" };
            return Err(format!("there {there}, and an interval takes at least three"));
        }
        let Some(sd) = sd_mm.filter(|sd| *sd > 0.0) else {
            return Err(
                "its readings do not differ, so nothing is known of their spread: the gauge is too \
                 coarse, or there are too few"
                    .to_owned(),
            );
        };
        #[expect(clippy::cast_precision_loss, reason = "sixteen digits of a count are enough")]
        let n = readings as f64;
        let scatter = of_mean(sd, n, lag1.unwrap_or(0.0)).ok_or_else(|| {
            format!("its {readings} readings follow one another so closely that they count as fewer than three independent ones")
        })?;
        Ok(match self.gauge_u_mm() {
            Some(u_mm) => scatter.with_standard_uncertainty(u_mm),
            None => scatter,
        })
    }

    /// Standard uncertainty of the gauge that read the lot, where it is known.
    fn gauge_u_mm(&self) -> Option<f64> {
        self.book.gauge_u_mm(self.measured.gauge.as_deref()?)
    }

    fn weighed(&self, speed: f64, target: f64, interval: Interval) -> Outcome {
        let diameter = self.measured.area_mm;
        let ends = ((diameter - interval.half).max(0.0), diameter + interval.half);
        let tolerance = self.tolerance(target);
        let limit_mm = tolerance.map(|t| nearer_limit(ends.0, ends.1, target, t.mm));
        let stand = stand(ends.0, ends.1, target, tolerance.map(|t| t.mm));
        let why = || self.standing(stand, ends, target, tolerance) + &self.allowance(interval);
        match stand {
            Stand::Near | Stand::Within => Outcome::Stay { limit_mm, why: why() },
            Stand::Wide => Outcome::Wide { limit_mm, why: why() },
            Stand::Off => self.change(speed, target, ends, interval),
        }
    }

    /// The change that brings the diameter to its target, where the machine can do it.
    fn change(&self, speed: f64, target: f64, ends: (f64, f64), interval: Interval) -> Outcome {
        let at = |d: f64| puller_speed_m_min(speed, d, target);
        let (to, low, high) = (at(self.measured.area_mm), at(ends.0), at(ends.1));
        if let Some((side, limit)) = self.limit_passed(to) {
            return self.beyond(to, side, limit, self.screw(target, ends, interval));
        }
        let change = || {
            let machine = self.machine_fact();
            let ends =
                machine.map_or((None, None), |m| (m.line_speed_min_m_min, m.line_speed_max_m_min));
            let cut = window::cut(low, high, ends);
            Some(Change {
                from: Number::new(speed)?,
                to: Number::new(to)?,
                low: Number::new(cut.0)?,
                high: Number::new(cut.1)?,
                because: self.because(target, interval) + &self.reach(low, high),
            })
        };
        change().map_or_else(
            || Outcome::Undecided("the speed it takes is beyond any machine".to_owned()),
            Outcome::Change,
        )
    }

    /// Which limit of the machine a speed passes, and the limit.
    fn limit_passed(&self, speed: f64) -> Option<(&'static str, f64)> {
        let machine = self.machine_fact()?;
        let above = machine.line_speed_max_m_min.filter(|max| speed > *max);
        let below = machine.line_speed_min_m_min.filter(|min| speed < *min);
        above.map(|max| ("above", max)).or(below.map(|min| ("below", min)))
    }

    /// The screw speed that brings the diameter to its target while the puller stays as it is, where
    /// the step says how fast the screw turned and the machine can do it.
    fn screw(&self, target: f64, ends: (f64, f64), interval: Interval) -> Option<Change> {
        let now = self.fact()?.settings.get("screw_rpm").copied().filter(|rpm| *rpm > 0.0)?;
        let at = |d: f64| now * screw_factor(d, target);
        let to = at(self.measured.area_mm);
        let machine = self.machine_fact();
        let beyond = machine.is_some_and(|m| {
            m.screw_max_rpm.is_some_and(|max| to > max)
                || m.screw_min_rpm.is_some_and(|min| to < min)
        });
        let change = || {
            let limits = machine.map_or((None, None), |m| (m.screw_min_rpm, m.screw_max_rpm));
            // A diameter of zero at the end of its interval has no screw speed.
            let (low, high, _) = window::cut(at(ends.1), at(ends.0), limits);
            Some(Change {
                from: Number::new(now)?,
                to: Number::new(to)?,
                low: Number::new(low)?,
                high: Number::new(high)?,
                because: self.because(target, interval) + "; the puller cannot make up for it",
            })
        };
        if beyond { None } else { change() }
    }

    fn beyond(&self, speed: f64, side: &str, limit: f64, by_screw: Option<Change>) -> Outcome {
        let screw = if side == "above" { "slow the screw" } else { "speed the screw up" };
        let machine = self.machine().unwrap_or_default();
        let beyond = format!("{speed:.3} m/min, {side} the {limit} m/min of machine {machine}");
        Outcome::Beyond {
            speed,
            limit,
            why: format!(
                "the puller would have to run at {beyond}: {screw} a little instead, and measure"
            ),
            danger: format!(
                "lot {} asks for a puller speed of {beyond}: do not run it there",
                self.lot
            ),
            screw: by_screw,
        }
    }
}

fn is_near(diameter_mm: f64, nominal_mm: f64) -> bool {
    (diameter_mm - nominal_mm).abs() <= NEAR * nominal_mm
}
