//! What makes a spool uneven, named.

use secondmelt_record::facts::Part;
use secondmelt_record::findings::{Cause, CauseFound, Drift, Wave};
use secondmelt_record::{Fraction, Percent, Text};

/// A drift is named where one as steep has a smaller probability without any.
const DRIFT_LEVEL: f64 = 0.01;

/// Smallest share of the variance that is worth naming, in per cent: what explains less is shown by its
/// own finding, and is no cause to look for.
const SHARE_MIN_PCT: f64 = 1.0;

/// Share of a variance, in per cent; none where it is not worth naming.
fn share(variance: f64, sd_mm: f64) -> Option<Percent> {
    let share = (100.0 * variance / (sd_mm * sd_mm)).min(100.0);
    Percent::new(share).filter(|_| share >= SHARE_MIN_PCT)
}

/// A wave of amplitude a has the variance a^2 / 2.
pub fn of_wave<'a>(wave: &Wave<'a>, sd_mm: f64) -> Option<CauseFound<'a>> {
    let amplitude = wave.amplitude_mm.get();
    let seen = format!("A wave of {:.3} m, {amplitude:.4} mm to either side,", wave.period_m.get());
    let why = match (wave.part, &wave.machine, wave.part_period_m) {
        (Some(part), Some(machine), Some(period)) => {
            let turns = match wave.waves_a_turn {
                Some(n) if n.0 > 1 => format!("{} a turn", n.0),
                _ => "one a turn".to_owned(),
            };
            let or = wave.or_else.as_ref().map_or(String::new(), |or| {
                format!(" It fits {or} as well: run the line at another speed to tell them apart.")
            });
            format!(
                "{seen} fits the {part} of {machine}, which makes waves of {:.3} m ({turns}).{or} {}",
                period.get(),
                remedy(part)
            )
        }
        _ => format!(
            "{seen} fits none of the turning parts recorded. Record those that are missing, with the speed of the line, \
             or run the line at another speed and see whether its length follows."
        ),
    };
    Some(CauseFound {
        lot: wave.lot.clone(),
        cause: if wave.part.is_some() { Cause::TurningPart } else { Cause::Wave },
        part: wave.part,
        machine: wave.machine.clone(),
        share_pct: share(amplitude * amplitude / 2.0, sd_mm)?,
        probability: wave.false_alarm,
        why: Text::from(why),
        ..CauseFound::default()
    })
}

/// Where to look (common practice, no source).
fn remedy(part: Part) -> &'static str {
    match part {
        Part::Screw => "See to the feed of the screw, its wear and how even the regrind is.",
        Part::PullerRoller => "See whether the roller runs true, slips or carries plastic.",
        Part::Winder => "See whether the winder pulls on the filament before it is cold.",
        Part::Other => "See whether it runs true.",
    }
}

/// A straight drift over a length has the variance of its total change squared over twelve.
pub fn of_drift<'a>(drift: &Drift<'a>, sd_mm: f64) -> Option<CauseFound<'a>> {
    let change = drift.over_length_mm.get();
    if drift.probability.get() >= DRIFT_LEVEL {
        return None;
    }
    let word = if change > 0.0 { "thicker" } else { "thinner" };
    Some(CauseFound {
        lot: drift.lot.clone(),
        cause: Cause::Drift,
        share_pct: share(change * change / 12.0, sd_mm)?,
        probability: Fraction::new(drift.probability.get())?,
        why: Text::from(format!(
            "It becomes {word} by {:.3} mm from the first reading to the last. See to what changes slowly: the hopper \
             running empty, a temperature that has not settled, a screen that clogs, a roller that warms up.",
            change.abs()
        )),
        ..CauseFound::default()
    })
}
