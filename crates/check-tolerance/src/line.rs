//! The extrusion line, as far as it tells which part left a wave in a spool.

use secondmelt_quality::period_match::{
    LineSettings, PartMatch, SeenWave, TurningPart, matching_parts,
};
use secondmelt_record::facts::{self, Does, Part, Role};
use std::collections::HashMap;

/// Share by which a speed or diameter that is recorded may be off.
const SETTINGS_OFF: f64 = 0.02;

/// What the stream says of the line.
#[derive(Debug, Default)]
pub struct Line {
    parts: Vec<Recorded>,
    steps: HashMap<String, Extrusion>,
    /// Step that put a lot out.
    made_by: HashMap<String, String>,
    /// Mass of a lot as it was put out, in g.
    made_g: HashMap<String, f64>,
}

/// A turning part as it was recorded.
#[derive(Debug, Clone)]
pub struct Recorded {
    /// Machine it belongs to.
    pub machine: String,
    /// Which part.
    pub part: Part,
    diameter_mm: Option<f64>,
    rpm: Option<f64>,
    gear: Option<f64>,
}

/// How a step ran.
#[derive(Debug, Clone, Copy, Default)]
struct Extrusion {
    line_speed_m_min: Option<f64>,
    screw_rpm: Option<f64>,
}

impl Line {
    /// Takes a turning part.
    pub fn part(&mut self, part: &facts::TurningPart<'_>) {
        self.parts.push(Recorded {
            machine: part.machine.to_string(),
            part: part.part,
            diameter_mm: part.diameter_mm.map(Into::into),
            rpm: part.rpm.map(Into::into),
            gear: part.gear.map(Into::into),
        });
    }

    /// Takes a step, where it makes or winds filament.
    pub fn step(&mut self, step: &facts::Step<'_>) {
        if !matches!(step.does, Does::Extrude | Does::Wind) {
            return;
        }
        let setting = |name: &str| step.settings.as_ref().and_then(|s| s.get(name));
        let extrusion = Extrusion {
            line_speed_m_min: setting("line_speed_m_min"),
            screw_rpm: setting("screw_rpm"),
        };
        self.steps.insert(step.step.to_string(), extrusion);
    }

    /// Takes what a weighing says of which step put a lot out.
    pub fn weighing(&mut self, weighing: &facts::Weighing<'_>) {
        if weighing.role == Role::Out {
            if let Some(mass_g) = weighing.mass_g {
                *self.made_g.entry(weighing.lot.to_string()).or_default() += mass_g.get();
            }
            self.made_by.insert(weighing.lot.to_string(), weighing.step.to_string());
        }
    }

    /// Mass of a lot as it was put out, in g, where that was weighed.
    pub fn made_g(&self, lot: &str) -> Option<f64> {
        self.made_g.get(lot).copied()
    }

    /// The step that put a lot out and its line speed, where both are known.
    pub fn speed_m_min(&self, lot: &str) -> Option<(&str, f64)> {
        let step = self.made_by.get(lot)?;
        Some((step, self.steps.get(step)?.line_speed_m_min?))
    }

    /// The parts that fit a wave in a lot, best first.
    pub fn fits(&self, lot: &str, wave: &SeenWave) -> Vec<(&Recorded, PartMatch)> {
        let step = self.made_by.get(lot).and_then(|step| self.steps.get(step));
        let ran = step.copied().unwrap_or_default();
        let (recorded, parts): (Vec<_>, Vec<_>) = self
            .parts
            .iter()
            .filter_map(|recorded| Some((recorded, recorded.turning(ran)?)))
            .unzip();
        let settings =
            LineSettings { line_speed_m_min: ran.line_speed_m_min, settings_off: SETTINGS_OFF };
        let fits = matching_parts(wave, &parts, &settings).into_iter();
        fits.filter_map(|fit| Some((*recorded.get(fit.part)?, fit))).collect()
    }
}

impl Recorded {
    /// What makes it turn: the screw as the step ran it, a gear on the screw, a diameter that
    /// the filament runs over, or a speed of its own.
    fn turning(&self, ran: Extrusion) -> Option<TurningPart> {
        let rpm = self.rpm.filter(|rpm| *rpm > 0.0);
        match (self.part, ran.screw_rpm, self.gear) {
            (Part::Screw, Some(rpm), _) => Some(TurningPart::Turns { rpm }),
            (_, Some(screw_rpm), Some(turns_a_screw_turn)) => {
                Some(TurningPart::Geared { screw_rpm, turns_a_screw_turn })
            }
            (Part::PullerRoller | Part::Winder | Part::Other, ..) if self.diameter_mm.is_some() => {
                self.diameter_mm.map(|diameter_mm| TurningPart::Roller { diameter_mm })
            }
            _ => rpm.map(|rpm| TurningPart::Turns { rpm }),
        }
    }

    /// The part in words.
    pub fn words(&self) -> String {
        format!("{} of {}", self.part, self.machine)
    }
}
