//! Options of the program.

use crate::words::{name_and_unit, unit};
use secondmelt_quality::designs::SETTINGS_MAX;
use secondmelt_record::units::least_of_setting;

/// Options of its own.
#[derive(Debug, Clone, clap::Args)]
pub struct Options {
    /// Share of good trials that is asked for, in per cent, where no `limit` of `good_pct` says
    /// otherwise
    #[arg(long, value_name = "PCT", default_value_t = 80.0)]
    asked_pct: f64,
    /// Confidence of verdicts and of demonstrated shares, in per cent
    #[arg(long, value_name = "PCT", default_value_t = 95.0)]
    confidence_pct: f64,
    /// Setting of a screening design with its two levels, such as bed_c=65:80 (repeatable): the
    /// design is written with its runs in random order
    #[arg(long = "factor", value_name = "NAME=LOW:HIGH")]
    factors: Vec<String>,
    /// Machine that the screening design is for: its limits hold
    #[arg(long, value_name = "MACHINE", requires = "factors")]
    machine: Option<String>,
    /// Material that it is for: the limits of its card hold
    #[arg(long, value_name = "MATERIAL", requires = "factors")]
    material: Option<String>,
    /// Runs of the screening design: 4, 8, 12, 16, 20 or 32; the fewest that serve unless said
    #[arg(long, value_name = "N", requires = "factors")]
    runs: Option<usize>,
    /// Seed of the order of runs
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
}

/// A setting of a design and its levels.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Factor {
    pub(crate) name: String,
    pub(crate) low: f64,
    pub(crate) high: f64,
}

/// A design that was asked for.
#[derive(Debug, Clone)]
pub(crate) struct Screen {
    pub(crate) factors: Vec<Factor>,
    pub(crate) machine: Option<String>,
    pub(crate) material: Option<String>,
    pub(crate) runs: Option<usize>,
}

/// Options that have been checked; shares from 0 to 1.
#[derive(Debug, Clone)]
pub(crate) struct Settled {
    pub(crate) asked: f64,
    pub(crate) confidence: f64,
    pub(crate) screen: Option<Screen>,
    pub(crate) seed: u64,
}

impl Options {
    pub(crate) fn settled(self) -> Result<Settled, String> {
        let share = |name: &str, pct: f64| {
            let inside = pct > 0.0 && pct < 100.0;
            inside
                .then_some(pct / 100.0)
                .ok_or(format!("--{name} {pct}: expected above 0 and below 100"))
        };
        let factors: Vec<Factor> =
            self.factors.iter().map(|text| factor(text)).collect::<Result<_, _>>()?;
        for (i, one) in factors.iter().enumerate() {
            if factors[..i].iter().any(|other| other.name == one.name) {
                return Err(format!("--factor {}: it stands twice", one.name));
            }
        }
        if factors.len() == 1 || factors.len() > SETTINGS_MAX {
            return Err(format!("--factor: expected 2 to {SETTINGS_MAX} settings"));
        }
        let screen = (!factors.is_empty()).then_some(Screen {
            factors,
            machine: self.machine,
            material: self.material,
            runs: self.runs,
        });
        if let Some(screen) = &screen {
            crate::screen::size(screen.factors.len(), screen.runs)?;
        }
        let confidence = share("confidence-pct", self.confidence_pct)?;
        if confidence < 0.5 {
            return Err(format!(
                "--confidence-pct {}: expected 50 or more, and below 100",
                self.confidence_pct
            ));
        }
        Ok(Settled {
            asked: share("asked-pct", self.asked_pct)?,
            confidence,
            screen,
            seed: self.seed,
        })
    }
}

fn factor(text: &str) -> Result<Factor, String> {
    let wrong = || format!("--factor {text}: expected NAME=LOW:HIGH such as bed_c=65:80");
    let (name, levels) = text.split_once('=').ok_or_else(wrong)?;
    let (low, high) = levels.split_once(':').ok_or_else(wrong)?;
    let number = |text: &str| text.trim().parse::<f64>().ok().filter(|x| x.abs() <= 1e9);
    let (low, high) = number(low).zip(number(high)).ok_or_else(wrong)?;
    if low >= high {
        return Err(format!(
            "--factor {text}: expected the lower level first, and two that differ"
        ));
    }
    name_and_unit(name).ok_or_else(|| {
        format!(
            "--factor {text}: the name does not say its unit; expected one such as bed_c or fan_pct"
        )
    })?;
    if let Some(least) = least_of_setting(name).filter(|least| low < *least) {
        return Err(format!("--factor {text}: expected {least} {} or more", unit(name)));
    }
    Ok(Factor { name: name.to_owned(), low, high })
}
