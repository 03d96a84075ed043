//! The share of a younger lot in the next feed that keeps the melt flow rate where it is wanted.

use crate::drift::Drift;
use crate::series::{Series, Tested};
use secondmelt_plastics::blending::{POWER, Part, Rule};
use secondmelt_quality::mean_interval::CONFIDENCE;
use secondmelt_quality::regression::common_slope::CommonSlope;
use secondmelt_record::findings::{Adjustment, BlendShare, Decision, Verdict};
use secondmelt_record::{Celsius, Name, Number, Percent, Positive};

const CHECK: &str = "blend-share";
const RULE: &str = "a share where the next pass is not shown to keep its limit or a target is set, a younger \
                    lot of the same material was tested at the same condition, and the rate wanted lies \
                    between the two; else undecided";
const BASIS: &str = "ln of the flow rates adds by mass (same polymer, parts that mix); beside it viscosity to the \
                     power 1/3.4 adds by mass; the interval spans both rules over the 95 % intervals of \
                     both rates, and the drift of one more pass is taken off the limit";

/// What is to be done about the blend.
#[derive(Debug)]
pub(crate) enum Advice<'a> {
    Blend(BlendShare<'a>, Adjustment<'a>),
    Said(Verdict<'a>),
}

/// What the drift of a family asks of the next feed. Nothing where the next pass keeps its
/// limit without it, or nothing is wanted.
pub(crate) fn advice<'a>(drift: &Drift<'a>) -> Option<Advice<'a>> {
    let (target, wanted) = target(drift)?;
    let series = drift.series;
    let verdict = |why: String| Verdict {
        check: CHECK.into(),
        result: Decision::Undecided,
        lot: Some(Name::from(drift.latest.lot)),
        rule: RULE.into(),
        why: why.into(),
        ..Verdict::default()
    };
    let Some(added) = younger(drift) else {
        return Some(Advice::Said(verdict(format!(
            "{wanted}, and no lot melted less often was tested at {}; what would help most is a melt-flow \
             test of virgin or younger {} at that condition",
            series.condition(),
            series.material
        ))));
    };
    let Some(shares) = Shares::of(series, drift.line, drift.latest, added, target) else {
        return Some(Advice::Said(verdict(format!(
            "{wanted}, and no blend of it with lot {} ({:.2} g/10 min) is shown to have the {target:.2} \
             g/10 min it takes; another lot to blend with, or more fillings of both, would help most",
            added.lot,
            added.log().exp()
        ))));
    };
    shares.records(drift, added, target, &wanted)
}

/// The flow rate wanted of the feed, in g/10 min, and why.
fn target(drift: &Drift<'_>) -> Option<(f64, String)> {
    let lot = drift.latest.lot;
    if let Some(target) = drift.limit.target {
        return Some((
            target,
            format!("lot {lot} is to be brought to the {target} g/10 min aimed at"),
        ));
    }
    let max = drift.limit.max.filter(|max| !drift.keeps_max(*max))?;
    let feed = (max.ln() - drift.slope.0 - drift.next_half()).exp();
    Some((feed, format!("the next pass of lot {lot} is not shown to stay below {max} g/10 min")))
}

/// The lot to blend with: virgin before others, then the one melted least often, then the one
/// that flows least.
fn younger<'a>(drift: &Drift<'a>) -> Option<&'a Tested<'a>> {
    let others = drift.series.lots.iter().filter(|lot| lot.passes < drift.latest.passes);
    others.min_by(|a, b| {
        let by = |lot: &Tested<'_>| (!lot.virgin, lot.passes);
        by(a).cmp(&by(b)).then(a.log().total_cmp(&b.log()))
    })
}

/// Shares of the added lot, as parts of one.
struct Shares {
    logarithmic: f64,
    power: f64,
    low: f64,
    high: f64,
}

impl Shares {
    /// None where the rate wanted is not between the two, or they do not differ for sure.
    fn of(
        series: &Series<'_>,
        line: &CommonSlope,
        lot: &Tested<'_>,
        added: &Tested<'_>,
        target: f64,
    ) -> Option<Self> {
        let reach = |tested: &Tested<'_>| series.reach_of(tested, line);
        let (base, more) = (lot.log(), added.log());
        let halves = (reach(lot)?, reach(added)?);
        if (base - more).abs() <= halves.0.hypot(halves.1) {
            return None;
        }
        let share = |rule: Rule, base: f64, more: f64| {
            rule.share_for(base.exp(), more.exp(), target).filter(|share| share.is_finite())
        };
        let logarithmic =
            share(Rule::Logarithmic, base, more).filter(|s| (0.0..=1.0).contains(s))?;
        let mut shares = vec![logarithmic];
        for rule in [Rule::Logarithmic, POWER] {
            shares.push(share(rule, base - halves.0, more)?);
            shares.push(share(rule, base + halves.0, more)?);
            shares.push(share(rule, base, more - halves.1)?);
            shares.push(share(rule, base, more + halves.1)?);
        }
        let power = share(POWER, base, more)?.clamp(0.0, 1.0);
        let low = shares.iter().copied().reduce(f64::min)?.clamp(0.0, 1.0);
        let high = shares.into_iter().reduce(f64::max)?.clamp(0.0, 1.0);
        Some(Self { logarithmic, power, low, high })
    }

    fn records<'a>(
        &self,
        drift: &Drift<'a>,
        added: &'a Tested<'a>,
        target: f64,
        wanted: &str,
    ) -> Option<Advice<'a>> {
        let (series, lot) = (drift.series, drift.latest);
        let pct = |share: f64| Percent::new(100.0 * share);
        let parts = [(1.0 - self.logarithmic, lot), (self.logarithmic, added)]
            .map(|(fraction, lot)| Part { fraction, mfr_g_10min: lot.log().exp() });
        let by_power = POWER.mfr_g_10min(&parts)?;
        let blend = BlendShare {
            lot: Name::from(lot.lot),
            added: Name::from(added.lot),
            material: Name::from(series.material),
            temp_c: Celsius::new(series.temp_c)?,
            load_kg: Positive::new(series.load_kg)?,
            lot_g_10min: Positive::new(lot.log().exp())?,
            added_g_10min: Positive::new(added.log().exp())?,
            target_g_10min: Positive::new(target)?,
            share_pct: pct(self.logarithmic)?,
            share_power_pct: pct(self.power)?,
            power_g_10min: Positive::new(by_power)?,
            low_pct: pct(self.low)?,
            high_pct: pct(self.high)?,
            ..BlendShare::default()
        };
        let because = format!(
            "{wanted}: with so much of lot {} the feed has {target:.2} g/10 min by the logarithmic rule \
             and {by_power:.2} by the power rule, which asks for {:.1} %; test the blend before the run",
            added.lot,
            100.0 * self.power
        );
        let number = |share: f64| Number::new(100.0 * share);
        let change = Adjustment {
            what: "younger_share_pct".into(),
            lot: Some(Name::from(lot.lot)),
            from: Number::new(0.0),
            to: number(self.logarithmic),
            low: number(self.low),
            high: number(self.high),
            unit: "%".into(),
            because: because.into(),
            basis: BASIS.into(),
            confidence: secondmelt_record::Fraction::new(CONFIDENCE),
            ..Adjustment::default()
        };
        Some(Advice::Blend(blend, change))
    }
}
