//! Melt flow rates of one material under one test condition, by passes, and their line.

use crate::lab::Lab;
use crate::lineage::Families;
use crate::melt::Melts;
use secondmelt_quality::distributions::{Split, student_t};
use secondmelt_quality::mean_interval::CONFIDENCE;
use secondmelt_quality::regression::common_slope::{
    CommonSlope, LackOfFit, Point, Spread, spread_between,
};
use std::collections::BTreeMap;

/// Smallest variance of logarithms that is scatter: no tester repeats to a millionth, and what
/// is left below that is rounding.
pub(crate) const SCATTERS: f64 = 1e-12;

/// A lot that was tested.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Tested<'a> {
    pub(crate) lot: &'a str,
    pub(crate) passes: u64,
    pub(crate) virgin: bool,
    /// Number of its family in the series.
    pub(crate) family: usize,
    /// Logarithms of the flow rates of its fillings that are kept, in order of size.
    pub(crate) logs: Vec<f64>,
}

impl Tested<'_> {
    /// Logarithm of its flow rate: the mean over its fillings.
    pub(crate) fn log(&self) -> f64 {
        self.logs.iter().sum::<f64>() / self.results()
    }

    #[expect(clippy::cast_precision_loss, reason = "a handful of fillings")]
    pub(crate) fn results(&self) -> f64 {
        self.logs.len() as f64
    }

    fn squares(&self) -> f64 {
        let mean = self.log();
        self.logs.iter().map(|log| (log - mean).powi(2)).sum()
    }
}

/// The tested lots of a material under one condition.
#[derive(Debug)]
pub(crate) struct Series<'a> {
    pub(crate) material: &'a str,
    pub(crate) temp_c: f64,
    pub(crate) load_kg: f64,
    /// By name.
    pub(crate) lots: Vec<Tested<'a>>,
    /// Lots whose number of passes is not known.
    pub(crate) no_passes: Vec<&'a str>,
    /// Logarithms of the flow rates of every lot, by name, whether its passes are known or not.
    pub(crate) rates: BTreeMap<&'a str, Vec<f64>>,
    /// Whether another condition of this material has a line by pass, too.
    pub(crate) has_rival: bool,
    pub(crate) families: usize,
    /// Variance between fillings of a lot, and its degrees of freedom; none without repeats.
    pub(crate) within: Option<(f64, f64)>,
    spread: Option<Spread>,
    pub(crate) line: Option<CommonSlope>,
    pub(crate) lack_of_fit: Option<LackOfFit>,
}

type Key<'a> = (&'a str, u64, u64);

/// The series, by material, temperature and load. Fillings that are to be discarded and lots
/// of unknown material are not in them.
pub(crate) fn series<'a>(
    melts: &'a Melts,
    lab: &'a Lab,
    families: &Families<'a>,
) -> Vec<Series<'a>> {
    let mut lots: BTreeMap<Key<'a>, BTreeMap<&'a str, Vec<f64>>> = BTreeMap::new();
    for filling in melts.fillings().filter(|filling| !filling.is_discarded()) {
        let known = lab.lot_fact(filling.lot()).filter(|_| !lab.is_refused(filling.lot()));
        let Some(fact) = known else { continue };
        let Some(mfr) = filling.mfr_g_10min().filter(|mfr| *mfr > 0.0) else { continue };
        let key = (fact.material.as_str(), filling.temp_c().to_bits(), filling.load_kg().to_bits());
        lots.entry(key).or_default().entry(filling.lot()).or_default().push(mfr.ln());
    }
    let mut all: Vec<_> =
        lots.into_iter().map(|(key, lots)| Series::of(key, lots, lab, families)).collect();
    let lined: Vec<_> = all.iter().filter(|s| s.line.is_some()).map(|s| s.material).collect();
    for series in &mut all {
        series.has_rival = lined.iter().filter(|other| **other == series.material).count() > 1;
    }
    all
}

impl<'a> Series<'a> {
    fn of(
        (material, temp, load): Key<'a>,
        lots: BTreeMap<&'a str, Vec<f64>>,
        lab: &Lab,
        families: &Families<'a>,
    ) -> Self {
        let rates = lots.clone();
        let mut tested = Vec::new();
        let mut no_passes = Vec::new();
        let mut heads: Vec<Option<&str>> = Vec::new();
        for (lot, mut logs) in lots {
            logs.sort_by(f64::total_cmp);
            let Some(passes) = lab.passes(lot) else {
                no_passes.push(lot);
                continue;
            };
            let head = families.head(lot);
            let family = heads.iter().position(|known| *known == head).unwrap_or_else(|| {
                heads.push(head);
                heads.len() - 1
            });
            let virgin = lab.lot_fact(lot).is_some_and(|fact| fact.virgin);
            tested.push(Tested { lot, passes, virgin, family, logs });
        }
        let families = pooled_unless_linked(&mut tested).unwrap_or(heads.len());
        let mut series = Self {
            material,
            temp_c: f64::from_bits(temp),
            load_kg: f64::from_bits(load),
            within: within(&tested),
            lots: tested,
            no_passes,
            rates,
            has_rival: false,
            families,
            spread: None,
            line: None,
            lack_of_fit: None,
        };
        series.fit();
        series
    }

    fn fit(&mut self) {
        let unweighted: Vec<_> =
            self.lots.iter().map(|lot| (point(lot, 1.0), lot.results())).collect();
        self.spread = self.within.and_then(|(within, _)| spread_between(&unweighted, within));
        let points: Vec<_> =
            self.lots.iter().map(|lot| point(lot, self.weight(lot.results()))).collect();
        self.line = CommonSlope::fit(&points);
        self.lack_of_fit = LackOfFit::test(&points);
    }

    /// The weight of the mean of so many fillings; one where nothing tells how they differ.
    pub(crate) fn weight(&self, results: f64) -> f64 {
        self.spread.map_or(1.0, |spread| spread.weight(results))
    }

    /// Fillings of a lot as it is usually tested: the middle one of the numbers.
    pub(crate) fn usual_results(&self) -> f64 {
        let mut counts: Vec<_> = self.lots.iter().map(Tested::results).collect();
        counts.sort_by(f64::total_cmp);
        counts.get(counts.len() / 2).copied().unwrap_or(1.0)
    }

    /// The lots of a family.
    pub(crate) fn family(&self, family: usize) -> impl Iterator<Item = &Tested<'a>> {
        self.lots.iter().filter(move |lot| lot.family == family)
    }

    /// The lot of a family that was tested after the most passes.
    pub(crate) fn latest(&self, family: usize) -> Option<&Tested<'a>> {
        self.family(family).max_by_key(|lot| lot.passes)
    }

    /// Half the 95 % interval of the logarithm of a lot's own flow rate: by the scatter of
    /// fillings where some lot has several, else by that of lots about their line, which is wider.
    pub(crate) fn reach_of(&self, lot: &Tested<'_>, line: &CommonSlope) -> Option<f64> {
        let (variance, freedom) = self.within.unwrap_or((line.variance(), line.freedom));
        let share = Split::with_above(0.5 * (1.0 - CONFIDENCE))?;
        Some(student_t::quantile(freedom, share)? * (variance / lot.results()).sqrt())
    }

    pub(crate) fn condition(&self) -> String {
        format!("{} C and {} kg", self.temp_c, self.load_kg)
    }
}

/// Where no family was tested after two different numbers of passes, the weighings do not link
/// what was tested, and all are taken as one family.
fn pooled_unless_linked(lots: &mut [Tested<'_>]) -> Option<usize> {
    let linked = |a: &Tested<'_>, b: &Tested<'_>| a.family == b.family && a.passes != b.passes;
    if lots.iter().any(|a| lots.iter().any(|b| linked(a, b))) {
        return None;
    }
    lots.iter_mut().for_each(|lot| lot.family = 0);
    Some(usize::from(!lots.is_empty()))
}

#[expect(clippy::cast_precision_loss, reason = "a count of passes")]
fn point(lot: &Tested<'_>, weight: f64) -> Point {
    Point { family: lot.family, x: lot.passes as f64, y: lot.log(), weight }
}

/// Pooled variance between fillings of a lot, and its degrees of freedom.
fn within(lots: &[Tested<'_>]) -> Option<(f64, f64)> {
    let freedom: f64 = lots.iter().map(|lot| lot.results() - 1.0).sum();
    let variance = lots.iter().map(Tested::squares).sum::<f64>() / freedom;
    (freedom > 0.0 && variance > SCATTERS).then_some((variance, freedom))
}
