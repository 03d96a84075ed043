//! Designs of trials and their runs.

use crate::keep::{self, Ordered};
use secondmelt_record::Record;
use secondmelt_record::findings::{ScreeningDesign, ScreeningRun};

/// Designs that are told apart.
const DESIGNS_MAX: usize = 50;
/// Runs of one design; the largest that the family writes has 32.
const RUNS_MAX: usize = 100;
/// Settings of one design; the largest has 19.
const SETTINGS_MAX: usize = 30;
/// Texts of one list of a design.
const TEXTS_MAX: usize = 40;

/// What a design is.
#[derive(Debug, Default)]
pub(crate) struct About {
    pub(crate) runs: u64,
    /// "A = bed_c: 65 to 80".
    pub(crate) factors: Vec<String>,
    pub(crate) generators: Vec<String>,
    pub(crate) resolution: Option<u64>,
    pub(crate) aliases: Vec<String>,
    pub(crate) more_aliases: usize,
    pub(crate) seed: u64,
    pub(crate) basis: String,
}

/// A run of a design.
#[derive(Debug)]
pub(crate) struct DesignRun {
    pub(crate) order: u64,
    pub(crate) standard: u64,
    /// By the settings of the design.
    pub(crate) levels: Vec<Option<f64>>,
}

/// A design with its runs; either may come alone.
#[derive(Debug, Default)]
pub(crate) struct Planned {
    pub(crate) about: Option<About>,
    pub(crate) settings: Vec<String>,
    pub(crate) runs: Vec<DesignRun>,
    pub(crate) runs_total: u64,
}

/// All of them by name.
#[derive(Debug)]
pub(crate) struct Designs(pub(crate) Ordered<String, Planned>);

impl Default for Designs {
    fn default() -> Self {
        Self(Ordered::new(DESIGNS_MAX))
    }
}

impl Designs {
    pub(super) fn take(&mut self, record: &Record<'_>) {
        match record {
            Record::ScreeningDesign(d) => {
                if let Some(planned) = self.0.entry(&keep::name(&d.design)) {
                    planned.about.get_or_insert_with(|| about(d));
                }
            }
            Record::ScreeningRun(run) => {
                if let Some(planned) = self.0.entry(&keep::name(&run.design)) {
                    planned.run(run);
                }
            }
            _ => {}
        }
    }
}

impl Planned {
    fn run(&mut self, run: &ScreeningRun<'_>) {
        self.runs_total += 1;
        if self.runs.len() >= RUNS_MAX {
            return;
        }
        let mut levels = vec![None; self.settings.len()];
        for (name, level) in &run.settings.0 {
            let name = keep::name(name);
            let known = self.settings.iter().position(|s| *s == name);
            let at = known.unwrap_or(self.settings.len());
            if at >= SETTINGS_MAX {
                continue;
            }
            if known.is_none() {
                self.settings.push(name);
                levels.push(None);
            }
            if let Some(place) = levels.get_mut(at) {
                *place = Some(level.get());
            }
        }
        self.runs.push(DesignRun { order: run.order.0, standard: run.standard.0, levels });
    }
}

fn about(d: &ScreeningDesign<'_>) -> About {
    let texts = |list: &[secondmelt_record::Text<'_>]| {
        list.iter().take(TEXTS_MAX).map(|text| keep::name(text)).collect::<Vec<_>>()
    };
    About {
        runs: d.runs.0,
        factors: texts(&d.factors),
        generators: texts(&d.generators),
        resolution: d.resolution.map(|r| r.0),
        aliases: texts(&d.aliases),
        more_aliases: d.aliases.len().saturating_sub(TEXTS_MAX),
        seed: d.seed.0,
        basis: keep::text(&d.basis),
    }
}
