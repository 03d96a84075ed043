//! What a person at the line should see as it begins, and the puller speed that helps.

use crate::charts::{Filled, Signal};
use crate::line::Line;
use crate::machines::Fit;
use crate::reading::{Place, Reading, rounded};
use secondmelt_quality::distributions::{Split, student_t};
use secondmelt_record::findings::{Adjustment, Alarm, Alarming, Side};
use secondmelt_record::{Count, Fraction, Name, Number, Out, Positive, Text};

/// Level of the interval of a correction.
const CONFIDENCE: f64 = 0.95;

const BASIS: &str = "mass continuity: at the same feed, the area of the filament times the speed of the puller stays \
the same; interval by Student's t from the steps between subgroup means, with the degrees of freedom of their mean square (Hald 1952)";

/// Where a spool is when something happens to it.
#[derive(Debug, Clone, Copy)]
pub struct At<'a> {
    /// Lot.
    pub lot: &'a str,
    /// Number of the reading.
    pub reading: u64,
    /// Its position.
    pub at_m: Option<Number>,
    /// Its time.
    pub at_s: Option<Number>,
    /// Mean diameter over the last subgroup and what came since, in mm.
    pub recent_mm: Option<f64>,
}

impl<'a> At<'a> {
    /// At a reading.
    pub fn of(reading: &Reading<'a>, recent_mm: Option<f64>) -> Self {
        let Place { at_m, at_s } = reading.place;
        Self { lot: reading.lot, reading: reading.number, at_m, at_s, recent_mm }
    }

    fn alarm(&self, what: Alarming, value_mm: f64, why: String) -> Alarm<'a> {
        Alarm {
            lot: Name::from(self.lot),
            what,
            reading: Count(self.reading),
            at_m: self.at_m,
            at_s: self.at_s,
            value_mm: Positive::new(rounded(value_mm)).unwrap_or_default(),
            recent_mm: self.recent_mm.map(rounded).and_then(Positive::new),
            why: Text::from(why),
            ..Alarm::default()
        }
    }

    /// The same for a machine, with the factor on the puller speed.
    fn on(
        &self,
        fit: &Fit,
        what: Alarming,
        value_mm: f64,
        limit_mm: f64,
        why: String,
    ) -> Alarm<'a> {
        let factor = |recent: f64| (recent / fit.nominal_mm.get()).powi(2);
        Alarm {
            machine: Some(Name::from(fit.machine.clone())),
            limit_mm: Positive::new(rounded(limit_mm)),
            speed_factor: self.recent_mm.map(factor).and_then(Positive::new),
            ..self.alarm(what, value_mm, why)
        }
    }

    /// A reading outside the tolerance of a machine, the first in a while.
    pub fn outside(&self, fit: &Fit, side: Side, worst_mm: f64, out: &mut Out) {
        let over = side == Side::Above || side == Side::Both && worst_mm > fit.nominal_mm.get();
        let (what, limit_mm, word) = if over {
            (Alarming::Above, fit.high_mm, "above")
        } else {
            (Alarming::Below, fit.low_mm, "below")
        };
        let why = format!(
            "A reading of {worst_mm} mm is {word} the limit of {limit_mm} mm of {}.",
            fit.machine
        );
        out.write(&self.on(fit, what, worst_mm, limit_mm, why));
    }

    /// Signals of charts that begin at a subgroup.
    pub fn signals(&self, filled: &Filled, out: &mut Out) {
        let words: Vec<_> = filled.begun.each().map(Signal::words).collect();
        if !words.is_empty() {
            let why = format!("By the limits of its baseline, {}.", words.join("; "));
            out.write(&self.alarm(Alarming::Chart, filled.point.mean_mm, why));
        }
    }

    /// Two subgroup means in a row more than half the tolerance from nominal, on one side, and the
    /// puller speed that brings the mean back.
    pub fn mean_off(&self, fit: &Fit, above: bool, filled: &Filled, line: &Line, out: &mut Out) {
        let (nominal, half) = (fit.nominal_mm.get(), fit.tolerance_mm.get() / 2.0);
        let (limit_mm, word) =
            if above { (nominal + half, "above") } else { (nominal - half, "below") };
        let mean = rounded(filled.point.mean_mm);
        let why = format!(
            "Two means in a row are {word} {} mm, half the way from nominal to the limit of {}; the last is {mean:.3} mm.",
            rounded(limit_mm),
            fit.machine
        );
        out.write(&self.on(fit, Alarming::MeanOff, mean, limit_mm, why));
        if let Some(adjustment) = self.correction(fit, filled, line) {
            out.write(&adjustment);
        }
    }

    /// The puller speed, or where that is not known the factor on it.
    fn correction(&self, fit: &Fit, filled: &Filled, line: &Line) -> Option<Adjustment<'a>> {
        let recent = self.recent_mm?;
        let nominal = fit.nominal_mm.get();
        let speed = line.speed_m_min(self.lot);
        let (what, unit, from) = match speed {
            Some((_, speed)) => ("line_speed_m_min", "m/min", speed),
            None => ("line_speed_factor", "1", 1.0),
        };
        let to = |mean: f64| Number::new(rounded(from * (mean / nominal).powi(2)));
        let reach = filled.sd_of_mean.and_then(|(sd, freedom)| {
            let split = Split::with_below((1.0 + CONFIDENCE) / 2.0)?;
            Some(student_t::quantile(freedom, split)? * sd)
        });
        Some(Adjustment {
            what: Name::from(what),
            lot: Some(Name::from(self.lot)),
            step: speed.map(|(step, _)| Name::from(step.to_owned())),
            from: Number::new(from),
            to: to(recent),
            low: reach.and_then(|reach| to((recent - reach).max(0.0))),
            high: reach.and_then(|reach| to(recent + reach)),
            unit: Text::from(unit),
            because: Text::from(format!(
                "While it is extruded: at reading {} its recent mean is {recent:.3} mm, and {nominal} mm is wanted for {}.",
                self.reading, fit.machine
            )),
            basis: Text::from(BASIS),
            confidence: reach.and_then(|_| Fraction::new(CONFIDENCE)),
            ..Adjustment::default()
        })
    }
}
