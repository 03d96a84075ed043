//! Running figures while a spool is being read: records at an interval, and one line on a
//! terminal.

use crate::reading::rounded;
use crate::spool::Spool;
use secondmelt_record::findings::DiameterSoFar;
use secondmelt_record::{Count, Name, NonNegative, Out, Positive};
use std::str::FromStr;
use std::time::{Duration, Instant};

/// How often the line on a terminal changes.
const LINE_EVERY: Duration = Duration::from_millis(200);
/// Most readings between two looks at the clock.
const STRIDE_MAX: u32 = 1024;

/// When running figures are written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Every {
    /// After so much time.
    Time(Duration),
    /// After so much length of a lot, in m.
    Length(f64),
    /// After so many readings of a lot.
    Readings(u64),
}

impl FromStr for Every {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let text = text.trim();
        let end = text.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(text.len());
        let (number, unit) = text.split_at(end);
        let wrong = || {
            "expected a number above zero and a unit: 10s, 2min, 50m or 1000 (readings)".to_owned()
        };
        let number: f64 =
            number.parse().ok().filter(|x| *x > 0.0 && *x <= 1e9).ok_or_else(wrong)?;
        match unit.trim() {
            "s" => Ok(Self::Time(Duration::from_secs_f64(number))),
            "min" => Ok(Self::Time(Duration::from_secs_f64(60.0 * number))),
            "m" => Ok(Self::Length(number)),
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a whole number up to 1e9"
            )]
            "" | "readings" if number.fract() == 0.0 => Ok(Self::Readings(number as u64)),
            _ => Err(wrong()),
        }
    }
}

/// What is to be told while readings come in.
#[derive(Debug)]
pub(crate) struct Live {
    every: Option<Every>,
    line: bool,
    /// Whether there is anything to do at all.
    on: bool,
    clock: Clock,
    line_at: Option<Instant>,
    record_at: Option<Instant>,
}

/// Looks at the time at every reading of a slow stream, and now and then of a fast one.
#[derive(Debug, Default)]
struct Clock {
    wait: u32,
    stride: u32,
    last: Option<Instant>,
}

impl Clock {
    fn now(&mut self) -> Option<Instant> {
        if self.wait > 0 {
            self.wait -= 1;
            return None;
        }
        let now = Instant::now();
        let quick = self.last.is_some_and(|last| now - last < Duration::from_millis(1));
        self.stride = if quick { (2 * self.stride).clamp(1, STRIDE_MAX) } else { 0 };
        self.wait = self.stride;
        self.last = Some(now);
        Some(now)
    }
}

impl Live {
    /// Writes records at an interval, where one is asked for, and a line where a person sees it.
    pub(crate) fn new(every: Option<Every>, line: bool) -> Self {
        let on = every.is_some() || line;
        Self { every, line, on, clock: Clock::default(), line_at: None, record_at: None }
    }

    /// Called after every reading.
    #[inline]
    pub(crate) fn after(&mut self, spool: &mut Spool, out: &mut Out) {
        if self.on {
            self.look(spool, out);
        }
    }

    fn look(&mut self, spool: &mut Spool, out: &mut Out) {
        match self.every {
            Some(Every::Length(_) | Every::Readings(_)) if spool.due(self.every) => {
                out.write(&spool.so_far());
            }
            _ => {}
        }
        if !self.line && !matches!(self.every, Some(Every::Time(_))) {
            return;
        }
        let Some(now) = self.clock.now() else { return };
        if let Some(Every::Time(every)) = self.every
            && now - *self.record_at.get_or_insert(now) >= every
        {
            self.record_at = Some(now);
            out.write(&spool.so_far());
        }
        if self.line && self.line_at.is_none_or(|at| now - at >= LINE_EVERY) {
            self.line_at = Some(now);
            out.show(&line(&spool.so_far()));
        }
    }

    /// Takes the line away.
    pub(crate) fn end(&mut self, out: &mut Out) {
        if self.line_at.take().is_some() {
            out.show("");
        }
    }
}

/// The figures as one line.
fn line(so_far: &DiameterSoFar<'_>) -> String {
    let mut parts = vec![so_far.lot.to_string()];
    match so_far.at_m {
        Some(at) => parts.push(format!("{:.1} m", at.get())),
        None => parts.push(format!("{} readings", so_far.readings.0)),
    }
    let recent = so_far.recent_mm.unwrap_or(so_far.area_mm);
    parts.push(format!("now {:.3} mm", recent.get()));
    parts.push(format!("mean {:.3} mm", so_far.area_mm.get()));
    if let Some(sd) = so_far.sd_mm {
        parts.push(format!("sd {:.4} mm", sd.get()));
    }
    if let (Some(n), Some(machine)) = (so_far.readings_out, &so_far.machine) {
        parts.push(format!("{} of {} outside {machine}", n.0, so_far.readings.0));
    }
    parts.join("  ")
}

/// When a lot was told of last.
#[derive(Debug, Default)]
pub(crate) struct Told {
    way_m: f64,
    readings: u64,
}

impl Told {
    /// Whether a lot is due again.
    pub(crate) fn due(&mut self, every: Option<Every>, readings: u64, length_m: f64) -> bool {
        let due = match every {
            Some(Every::Length(every)) => length_m - self.way_m >= every * (1.0 - 1e-9),
            Some(Every::Readings(every)) => readings - self.readings >= every,
            _ => false,
        };
        if due {
            (self.way_m, self.readings) = (length_m, readings);
        }
        due
    }
}

impl Spool {
    /// The spool in figures so far.
    pub(crate) fn so_far(&self) -> DiameterSoFar<'static> {
        let all = self.readings();
        let size = |x: Option<f64>| x.map(rounded).and_then(Positive::new);
        let worst = self.watches().iter().max_by_key(|watch| watch.readings_out);
        DiameterSoFar {
            lot: Name::from(self.lot().to_owned()),
            readings: Count(self.n()),
            at_m: self.last_m(),
            length_m: self.length_m().map(rounded).and_then(NonNegative::new),
            area_mm: size(all.area_mm()).unwrap_or_default(),
            recent_mm: size(self.recent_mm()),
            sd_mm: all.sd_mm().map(rounded).and_then(NonNegative::new),
            min_mm: size(all.min_mm()).unwrap_or_default(),
            max_mm: size(all.max_mm()).unwrap_or_default(),
            readings_out: worst.map(|watch| Count(watch.readings_out)),
            machine: worst.map(|watch| Name::from(watch.fit.machine.clone())),
            ..DiameterSoFar::default()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_interval_is_a_time_a_length_or_a_number_of_readings() {
        assert_eq!("10s".parse(), Ok(Every::Time(Duration::from_secs(10))));
        assert_eq!("1.5 min".parse(), Ok(Every::Time(Duration::from_secs(90))));
        assert_eq!("50 m".parse(), Ok(Every::Length(50.0)));
        assert_eq!("1000".parse(), Ok(Every::Readings(1000)));
        for wrong in ["", "0s", "-1s", "1.5", "nan", "10h", "1e400s", "s"] {
            assert!(wrong.parse::<Every>().is_err(), "{wrong}");
        }
    }
}
