//! A drift as records.

use super::{Bound, Drift, FARTHEST};
use crate::limits::MFR;
use crate::series::{SCATTERS, Series};
use secondmelt_plastics::melt_flow_conditions::conditions;
use secondmelt_plastics::reprocessing::published;
use secondmelt_quality::mean_interval::CONFIDENCE;
use secondmelt_quality::regression::common_slope::Shown;
use secondmelt_record::findings::{Decision, FitBy, MeltFlowDrift, PassesLeft, Verdict};
use secondmelt_record::{Celsius, Count, Fraction, Name, NonNegative, Number, Positive};

const NEXT: &str = "by the 95 % prediction interval for one lot at the next pass: conforms where all of it \
                    keeps the limit, fails where none of it does, else undecided; weighted straight line \
                    through the logarithms, one slope for all families of lots, residuals taken as normal";
const ENOUGH: &str = "a line by pass takes lots tested after at least two different numbers of passes, and at \
                      least one lot more than it has starts and slopes";
const STRAIGHT: &str =
    "F test of the lack of fit of a straight line through the logarithms, at 5 %";

impl Drift<'_> {
    /// The drift as a record; none where a figure is beyond what a record holds.
    pub(crate) fn finding(&self) -> Option<MeltFlowDrift<'_>> {
        let series = self.series;
        let rate = |log: f64| Positive::new(log.exp());
        let lots = series.family(self.latest.family);
        let from_pass = lots.map(|lot| lot.passes).min()?;
        let scatter = (self.line.variance() / series.weight(series.usual_results())).sqrt();
        Some(MeltFlowDrift {
            lot: Name::from(self.latest.lot),
            material: Name::from(series.material),
            temp_c: Celsius::new(series.temp_c)?,
            load_kg: Positive::new(series.load_kg)?,
            lots: Count::from(series.family(self.latest.family).count()),
            families: Count::from(series.families),
            freedom: Count::from(series.lots.len() - series.families - 1),
            from_pass: Count(from_pass),
            to_pass: Count(self.latest.passes),
            factor_per_pass: rate(self.slope.0)?,
            factor_low: rate(self.slope.1)?,
            factor_high: rate(self.slope.2)?,
            scatter_pct: NonNegative::new(100.0 * scatter)?,
            next_pass: Count(self.latest.passes + 1),
            next_g_10min: rate(self.next.0)?,
            next_low_g_10min: rate(self.next.1)?,
            next_high_g_10min: rate(self.next.2)?,
            fit_p: series.lack_of_fit.and_then(|fit| Fraction::new(fit.p)),
            fit_by: series.lack_of_fit.map(|fit| match fit.shown {
                Shown::Replicates => FitBy::Replicates,
                Shown::Curvature => FitBy::Bend,
            }),
            published: published(series.material)
                .next()
                .map(|study| format!("{} ({})", study.seen, study.source).into()),
            ..MeltFlowDrift::default()
        })
    }

    fn verdict(
        &self,
        check: &'static str,
        result: Decision,
        rule: &'static str,
        why: String,
    ) -> Verdict<'_> {
        Verdict {
            check: check.into(),
            result,
            lot: Some(Name::from(self.latest.lot)),
            rule: rule.into(),
            why: why.into(),
            ..Verdict::default()
        }
    }

    /// That the line is shown to be none, where it is.
    pub(crate) fn bend(&self) -> Option<Verdict<'_>> {
        let fit = self.series.lack_of_fit.filter(|_| self.bends())?;
        let by = match fit.shown {
            Shown::Replicates => {
                "lots of the same number of passes differ less than the line is off"
            }
            Shown::Curvature => "the rates follow a bend along the passes",
        };
        let why = format!(
            "the melt flow of {} at {} does not drift evenly ({by}, p = {:.3}): stabiliser may be used \
             up, so what is said of further passes is too sure; test a lot after the next pass before \
             relying on it",
            self.series.material,
            self.series.condition(),
            fit.p
        );
        Some(self.verdict("melt-flow-straight", Decision::Undecided, STRAIGHT, why))
    }

    /// Whether the next pass keeps each limit.
    pub(crate) fn next_pass(&self) -> Vec<Verdict<'_>> {
        self.bounds().map(|(bound, limit)| self.held_against(bound, limit)).collect()
    }

    fn held_against(&self, bound: Bound, limit: f64) -> Verdict<'_> {
        let (at, low, high) = self.next;
        let (all, none) = match bound {
            Bound::Max => (high <= limit.ln(), low > limit.ln()),
            Bound::Min => (low >= limit.ln(), high < limit.ln()),
        };
        let result = match (all, none) {
            (true, _) if self.bends() => Decision::Undecided,
            (true, _) => Decision::Conforms,
            (_, true) => Decision::Fails,
            _ => Decision::Undecided,
        };
        let side = if bound == Bound::Max { "at most" } else { "at least" };
        let mut why = format!(
            "after pass {} a lot is expected at {:.2} g/10 min, between {:.2} and {:.2}, where {side} \
             {limit} g/10 min is wanted",
            self.latest.passes + 1,
            at.exp(),
            low.exp(),
            high.exp()
        );
        if result == Decision::Undecided {
            why.push_str("; one more tested lot after the latest pass would help most");
        }
        Verdict {
            value: Number::new(at.exp()),
            limit: Number::new(limit),
            unit: Some("g/10 min".into()),
            probability: self.keeps(bound, limit).and_then(Fraction::new),
            ..self.verdict("melt-flow-next-pass", result, NEXT, why)
        }
    }

    /// Passes left before each limit.
    pub(crate) fn left(&self) -> Vec<PassesLeft<'_>> {
        self.bounds().filter_map(|(bound, limit)| self.left_before(bound, limit)).collect()
    }

    fn left_before(&self, bound: Bound, limit: f64) -> Option<PassesLeft<'_>> {
        let crossing = self.line.crossing(self.latest.family, limit.ln(), CONFIDENCE);
        let towards = (bound == Bound::Max) == (self.slope.0 > 0.0);
        let at =
            self.line.at(self.latest.family, 0.0).map(|start| (limit.ln() - start) / self.slope.0);
        let crossing = crossing.filter(|_| towards);
        #[expect(clippy::cast_precision_loss, reason = "a small count")]
        let far = 10.0 * FARTHEST as f64;
        let number = |x: f64| (x.abs() < far).then(|| Number::new(x)).flatten();
        Some(PassesLeft {
            lot: Name::from(self.latest.lot),
            material: Name::from(self.series.material),
            limit_g_10min: Positive::new(limit)?,
            passes: Count(self.latest.passes),
            left: Count(self.passes_left(bound, limit)),
            at_pass: at.filter(|_| towards).and_then(number),
            low: crossing.and_then(|x| number(x.low)),
            high: crossing.and_then(|x| number(x.high)),
            ..PassesLeft::default()
        })
    }
}

/// That a series has no line, and which test would help most; nothing where one has or where
/// nothing was tested after a pass.
pub(crate) fn too_few<'a>(series: &'a Series<'a>) -> Option<Verdict<'a>> {
    let scatters = series.line.as_ref().is_some_and(|line| line.variance() > SCATTERS);
    if scatters || series.lots.iter().all(|lot| lot.passes == 0) && series.no_passes.is_empty() {
        return None;
    }
    let why = format!(
        "the drift of {} at {} from pass to pass is not known: {}",
        series.material,
        series.condition(),
        help(series)
    );
    Some(Verdict {
        check: "melt-flow-drift".into(),
        result: Decision::Undecided,
        lot: series.lots.iter().max_by_key(|lot| lot.passes).map(|lot| Name::from(lot.lot)),
        rule: ENOUGH.into(),
        why: why.into(),
        ..Verdict::default()
    })
}

fn help(series: &Series<'_>) -> String {
    if !series.no_passes.is_empty() {
        let lots = crate::words::list(series.no_passes.iter().copied());
        return format!("what would help most is the number of `passes` in the records of {lots}");
    }
    let mut passes: Vec<_> = series.lots.iter().map(|lot| lot.passes).collect();
    passes.sort_unstable();
    passes.dedup();
    let usual = conditions(series.material).first().map_or_else(String::new, |usual| {
        format!("; the usual condition is {} C and {} kg", usual.temp_c, usual.load_kg)
    });
    if let [only] = passes.as_slice() {
        return format!(
            "all lots tested had been melted {only} times; what would help most is to test a lot \
             before or after another pass, at the same temperature and load{usual}"
        );
    }
    format!(
        "{} lots of {} families are too few, or do not differ, for a line with its scatter; what would \
         help most is one more lot tested at the same temperature and load{usual}",
        series.lots.len(),
        series.families
    )
}

/// That a drift is shown and nothing says where it may go.
pub(crate) fn no_limit<'a>(drift: &'a Drift<'a>) -> Option<Verdict<'a>> {
    let limit = drift.limit;
    let set = limit.max.or(limit.min).or(limit.target).is_some();
    if drift.limit_is_ambiguous {
        let why = format!(
            "the `limit` of `{MFR}` that holds for lot {} names no test condition, and {} was tested from pass \
             to pass under more than one: give it `temp_c` and `load_kg`, so that it judges none but its own",
            drift.latest.lot, drift.series.material
        );
        return Some(drift.verdict("melt-flow-next-pass", Decision::Undecided, NEXT, why));
    }
    if set || !drift.is_shown() {
        return None;
    }
    let why = format!(
        "the melt flow of {} changes by a factor of {:.3} with every pass, and no `limit` of `{MFR}` at {} says \
         how far it may go",
        drift.series.material,
        drift.slope.0.exp(),
        drift.series.condition()
    );
    Some(drift.verdict("melt-flow-next-pass", Decision::Undecided, NEXT, why))
}
