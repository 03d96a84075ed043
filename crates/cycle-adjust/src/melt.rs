//! Melt flow, from the cut-offs of each filling of the barrel.

use crate::kelvin;
use secondmelt_plastics::melt_flow::{
    SPREAD_MAX_PCT, mean, melt_density_g_cm3, mfr_g_10min, mvr_cm3_10min, spread_pct,
    standard_deviation,
};
use secondmelt_record::facts::MeltFlow;
use secondmelt_record::findings::{Decision, MeltFlowResult, Verdict};
use secondmelt_record::{Celsius, Code, Count, Line, Name, NonNegative, Number, Positive, Problem};
use std::collections::BTreeMap;

const RULE: &str = "largest minus smallest cut-off at most 15 % of their mean, cut rates compared, since \
                    cuts may differ in time (ISO 1133-1)";
/// Fewer cut-offs than this say nothing of their spread (common practice: three or more).
const FEWEST: usize = 3;
/// What rounding in binary may add to a spread, in per cent.
const ROUNDING_PCT: f64 = 1e-9;

/// Plastics are not tested outside these temperatures, in degrees Celsius: ISO 1133 lists 125
/// to 300, and a few polymers are tested to 400 (common practice, no source).
const TEST_C: std::ops::RangeInclusive<f64> = 75.0..=400.0;

fn not_a_test_temperature(temp_c: f64, line: Line<'_>) -> Problem<'static> {
    let found = format!("a melt-flow test at {temp_c} C");
    let mut problem = line.problem(Code::OutOfRange, found, "75 to 400 C");
    problem.field = Some("temp_c".into());
    problem.advice = kelvin::advice(temp_c, *TEST_C.end()).map(Into::into);
    problem
}

/// Lot, run, and the bits of temperature and load.
type Key = (String, Option<String>, u64, u64);

/// Rates of one cut-off, in g/10 min and cm3/10 min.
#[derive(Debug, Clone, Copy)]
struct Rates {
    mass: f64,
    volume: Option<f64>,
}

/// Every cut-off, by filling.
#[derive(Debug, Default)]
pub(crate) struct Melts {
    fillings: BTreeMap<Key, Filling>,
}

/// The cut-offs of one filling.
#[derive(Debug, Clone)]
pub(crate) struct Filling {
    lot: String,
    run: Option<String>,
    temp: Celsius,
    load: Positive,
    cuts: Vec<Rates>,
}

impl Melts {
    /// Takes a cut-off; a problem where its rate is beyond what a record holds.
    pub(crate) fn cut(&mut self, cut: &MeltFlow<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        if !TEST_C.contains(&cut.temp_c.get()) {
            return Some(not_a_test_temperature(cut.temp_c.get(), line));
        }
        let seconds = cut.cut_s.get();
        let volume = cut.stroke_mm.map(|mm| mvr_cm3_10min(mm.get() / 10.0, seconds));
        let rates = Rates { mass: mfr_g_10min(cut.cut_g.get(), seconds), volume };
        let in_range = |rate: f64| NonNegative::new(rate).is_some();
        if !in_range(rates.mass) || !volume.is_none_or(in_range) {
            let found = format!("a rate of {:e} g/10 min", rates.mass);
            return Some(line.problem(Code::OutOfRange, found, "at most 1e9 g or cm3 in 10 min"));
        }
        let run = cut.run.as_ref().map(|run| run.to_string());
        // What a conversion of units leaves in the last digits is no other condition.
        let whole = |x: f64| (x * 1e6).round() / 1e6;
        let temp = Celsius::new(whole(cut.temp_c.get())).unwrap_or(cut.temp_c);
        let load = Positive::new(whole(cut.load_kg.get())).unwrap_or(cut.load_kg);
        let bits = (temp.get().to_bits(), load.get().to_bits());
        let key = (cut.lot.to_string(), run.clone(), bits.0, bits.1);
        let filling = self.fillings.entry(key).or_insert_with(|| Filling {
            lot: cut.lot.to_string(),
            run,
            temp,
            load,
            cuts: Vec::new(),
        });
        filling.cuts.push(rates);
        None
    }

    /// The fillings, by lot and run.
    pub(crate) fn fillings(&self) -> impl Iterator<Item = &Filling> {
        self.fillings.values()
    }
}

impl Filling {
    /// Mass-flow rates, sorted, so that no sum depends on the order of the records.
    fn mass_rates(&self, only_with_volume: bool) -> Vec<f64> {
        let used = self.cuts.iter().filter(|cut| !only_with_volume || cut.volume.is_some());
        sorted(used.map(|cut| cut.mass))
    }

    /// The filling as a record.
    pub(crate) fn result(&self) -> MeltFlowResult<'_> {
        let rates = self.mass_rates(false);
        let (mvr, density) = self.volume().unzip();
        MeltFlowResult {
            lot: Name::from(self.lot.as_str()),
            run: self.run.as_deref().map(Name::from),
            temp_c: self.temp,
            load_kg: self.load,
            cuts: Count::from(rates.len()),
            mfr_g_10min: mean(&rates).and_then(Number::new).unwrap_or_default(),
            sd_g_10min: standard_deviation(&rates).and_then(NonNegative::new),
            spread_pct: self.spread_pct().and_then(NonNegative::new),
            mvr_cm3_10min: mvr.and_then(Number::new),
            melt_density_g_cm3: density.and_then(Number::new),
            ..MeltFlowResult::default()
        }
    }

    pub(crate) fn lot(&self) -> &str {
        &self.lot
    }

    pub(crate) fn run(&self) -> Option<&str> {
        self.run.as_deref()
    }

    pub(crate) fn temp_c(&self) -> f64 {
        self.temp.get()
    }

    pub(crate) fn load_kg(&self) -> f64 {
        self.load.get()
    }

    /// Volume flow, in cm3/10 min, and density of the melt, in g/cm3, where the travel is known.
    pub(crate) fn volume(&self) -> Option<(f64, f64)> {
        let mvr = mean(&sorted(self.cuts.iter().filter_map(|cut| cut.volume)))?;
        let mass = mean(&self.mass_rates(true))?;
        Some((mvr, melt_density_g_cm3(mass, mvr)))
    }

    pub(crate) fn mfr_g_10min(&self) -> Option<f64> {
        mean(&self.mass_rates(false))
    }

    /// Whether its cut-offs are too far apart for it to be kept.
    pub(crate) fn is_discarded(&self) -> bool {
        self.decision().0 == Decision::Fails
    }

    /// None for a single cut-off.
    fn spread_pct(&self) -> Option<f64> {
        spread_pct(&self.mass_rates(false)).filter(|_| self.cuts.len() > 1)
    }

    /// Whether the filling may be kept.
    pub(crate) fn verdict(&self) -> Verdict<'_> {
        let (result, why) = self.decision();
        Verdict {
            check: "cut-off-spread".into(),
            result,
            lot: Some(Name::from(self.lot.as_str())),
            value: self.spread_pct().and_then(Number::new),
            limit: Number::new(SPREAD_MAX_PCT),
            unit: Some("%".into()),
            rule: RULE.into(),
            why: why.into(),
            ..Verdict::default()
        }
    }

    fn decision(&self) -> (Decision, String) {
        let (cuts, filling) = (self.cuts.len(), self.words());
        let spread = self.spread_pct().filter(|_| cuts >= FEWEST);
        let Some(spread) = spread else {
            let s = if cuts == 1 { "" } else { "s" };
            let why = format!("{filling} has {cuts} cut-off{s}; at least {FEWEST} show a spread");
            return (Decision::Undecided, why);
        };
        if spread <= SPREAD_MAX_PCT + ROUNDING_PCT {
            let why =
                format!("the {cuts} cut-offs of {filling} differ by {spread:.1} % of their mean");
            return (Decision::Conforms, why);
        }
        let why = format!(
            "the {cuts} cut-offs of {filling} differ by {spread:.1} % of their mean: discard the filling \
             and test again; bubbles, damp or dirt are usual causes"
        );
        (Decision::Fails, why)
    }

    fn words(&self) -> String {
        let run =
            self.run.as_ref().map_or_else(|| "the filling".to_owned(), |run| format!("run {run}"));
        format!("{run} at {} C and {} kg", self.temp.get(), self.load.get())
    }
}

fn sorted(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut values: Vec<_> = values.collect();
    values.sort_by(f64::total_cmp);
    values
}
