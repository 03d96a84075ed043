//! The share of a younger lot in the next feed that keeps the melt flow rate where it is wanted.

use crate::drift::{Bound, Drift};
use crate::own_blends::Off;
use crate::series::{Series, Tested};
use secondmelt_plastics::blending::{POWER, Part, Rule};
use secondmelt_plastics::reprocessing::Loop;
use secondmelt_quality::mean_interval::CONFIDENCE;
use secondmelt_quality::regression::common_slope::CommonSlope;
use secondmelt_record::findings::{Adjustment, BlendShare, Caution, Decision, Verdict};
use secondmelt_record::{Celsius, Count, Fraction, Name, NonNegative, Number, Percent, Positive};

const CHECK: &str = "blend-share";
const RULE: &str = "a share where the next pass is not shown to keep its limit or a target is set, a younger \
                    lot of the same material was tested at the same condition, and the rate wanted lies \
                    between the two; else undecided";
const BASIS: &str = "ln of the flow rates adds by mass (same polymer, parts that mix); beside it viscosity to the \
                     power 1/3.4 adds by mass; the interval spans both rules over the 95 % intervals of \
                     both rates and what the rules were off by in the lab's own blends, and the drift of one \
                     more pass is taken off the limit";
const DANGER: &str = "a blend with recycled plastic scatters in strength and loses toughness first: no part whose \
                      failure can hurt someone is made from it. Mixing and feeding regrind raises dust and \
                      charges it: take it up by extraction, earth the metal, and keep hands, sleeves and hair \
                      away from anything that turns";
const DEFER: &str = "product-safety law and a certified engineer for parts that bear load, heat, mains or people; \
                     dust and machinery-safety rules";

/// What is to be done about the blend.
#[derive(Debug)]
pub(crate) enum Advice<'a> {
    Blend(Box<(BlendShare<'a>, Adjustment<'a>, Caution<'a>)>),
    Said(Box<Verdict<'a>>),
}

/// A flow rate that is wanted of the feed.
struct Wanted {
    /// In g/10 min.
    target: f64,
    /// Why, in words.
    why: String,
    /// Whether the feed flows too much without the younger lot.
    too_fast: bool,
}

/// What the drift of a family asks of the next feed. Nothing where the next pass keeps its
/// limits without it, or nothing is wanted.
pub(crate) fn advice<'a>(drift: &Drift<'a>, off: Option<Off>) -> Option<Advice<'a>> {
    let wanted = wanted(drift)?;
    let series = drift.series;
    let undecided = |why: String| {
        Some(Advice::Said(Box::new(Verdict {
            check: CHECK.into(),
            result: Decision::Undecided,
            lot: Some(Name::from(drift.latest.lot)),
            rule: RULE.into(),
            why: why.into(),
            ..Verdict::default()
        })))
    };
    let why = &wanted.why;
    let Some(added) = younger(drift, wanted.too_fast) else {
        return undecided(format!(
            "{why}, and no lot melted less often was tested at {}; what would help most is a melt-flow \
             test of virgin or younger {} at that condition",
            series.condition(),
            series.material
        ));
    };
    let Some(shares) = Shares::of(series, drift.line, drift.latest, added, wanted.target, off)
    else {
        return undecided(format!(
            "{why}, and no blend of it with lot {} ({:.2} g/10 min) is shown to have the {:.2} \
             g/10 min it takes; another lot to blend with, or more fillings of both, would help most",
            added.lot,
            added.log().exp(),
            wanted.target
        ));
    };
    shares.records(drift, added, &wanted, off)
}

/// The flow rate wanted of the feed: a target, else the one from which the next pass is shown
/// to keep the limit that it is not shown to keep now.
fn wanted(drift: &Drift<'_>) -> Option<Wanted> {
    let lot = drift.latest.lot;
    if let Some(target) = drift.limit.target {
        let why = format!("lot {lot} is to be brought to the {target} g/10 min aimed at");
        return Some(Wanted { target, why, too_fast: drift.latest.log() > target.ln() });
    }
    let (bound, limit) = drift.bounds().find(|(bound, limit)| !drift.holds(*bound, *limit))?;
    let (too_fast, side) =
        (bound == Bound::Max, if bound == Bound::Max { "below" } else { "above" });
    let half = if too_fast { drift.next_half() } else { -drift.next_half() };
    Some(Wanted {
        target: (limit.ln() - drift.slope.0 - half).exp(),
        why: format!("the next pass of lot {lot} is not shown to stay {side} {limit} g/10 min"),
        too_fast,
    })
}

/// The lot to blend with: virgin before others, then the one melted least often, then the one
/// whose flow is furthest on the side that is wanted.
fn younger<'a>(drift: &Drift<'a>, too_fast: bool) -> Option<&'a Tested<'a>> {
    let others = drift.series.lots.iter().filter(|lot| lot.passes < drift.latest.passes);
    others.min_by(|a, b| {
        let by = |lot: &Tested<'_>| (!lot.virgin, lot.passes);
        let slower = a.log().total_cmp(&b.log());
        by(a).cmp(&by(b)).then(if too_fast { slower } else { slower.reverse() })
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
        off: Option<Off>,
    ) -> Option<Self> {
        let reach = |tested: &Tested<'_>| series.reach_of(tested, line);
        let (base, more) = (lot.log(), added.log());
        let halves = (reach(lot)?, reach(added)?);
        if (base - more).abs() <= halves.0.hypot(halves.1) {
            return None;
        }
        let share = |rule: Rule, base: f64, more: f64, target: f64| {
            rule.share_for(base.exp(), more.exp(), target).filter(|share| share.is_finite())
        };
        let logarithmic =
            share(Rule::Logarithmic, base, more, target).filter(|s| (0.0..=1.0).contains(s))?;
        let mut shares = vec![logarithmic];
        for (rule, off) in [
            (Rule::Logarithmic, off.map_or(0.0, |off| off.logarithmic)),
            (POWER, off.map_or(0.0, |off| off.power)),
        ] {
            shares.push(share(rule, base - halves.0, more, target)?);
            shares.push(share(rule, base + halves.0, more, target)?);
            shares.push(share(rule, base, more - halves.1, target)?);
            shares.push(share(rule, base, more + halves.1, target)?);
            // A blend may come out as far off as the lab's own did, either way.
            shares.push(share(rule, base, more, target * off.exp())?);
            shares.push(share(rule, base, more, target * (-off).exp())?);
        }
        let power = share(POWER, base, more, target)?.clamp(0.0, 1.0);
        let low = shares.iter().copied().reduce(f64::min)?.clamp(0.0, 1.0);
        let high = shares.into_iter().reduce(f64::max)?.clamp(0.0, 1.0);
        Some(Self { logarithmic, power, low, high })
    }

    fn records<'a>(
        &self,
        drift: &Drift<'a>,
        added: &'a Tested<'a>,
        wanted: &Wanted,
        off: Option<Off>,
    ) -> Option<Advice<'a>> {
        let (series, lot) = (drift.series, drift.latest);
        let pct = |share: f64| Percent::new(100.0 * share);
        let parts = [(1.0 - self.logarithmic, lot), (self.logarithmic, added)]
            .map(|(fraction, lot)| Part { fraction, mfr_g_10min: lot.log().exp() });
        let by_power = POWER.mfr_g_10min(&parts)?;
        let closed = closed_loop(drift, added, wanted.target);
        let off_pct = |log: f64| NonNegative::new(100.0 * (log.exp() - 1.0));
        let blend = BlendShare {
            lot: Name::from(lot.lot),
            added: Name::from(added.lot),
            material: Name::from(series.material),
            temp_c: Celsius::new(series.temp_c)?,
            load_kg: Positive::new(series.load_kg)?,
            lot_g_10min: Positive::new(lot.log().exp())?,
            added_g_10min: Positive::new(added.log().exp())?,
            target_g_10min: Positive::new(wanted.target)?,
            share_pct: pct(self.logarithmic)?,
            share_power_pct: pct(self.power)?,
            power_g_10min: Positive::new(by_power)?,
            low_pct: pct(self.low)?,
            high_pct: pct(self.high)?,
            loop_pct: closed.and_then(|shares| pct(shares.0)),
            loop_low_pct: closed.and_then(|shares| pct(shares.1)),
            loop_high_pct: closed.and_then(|shares| pct(shares.2)),
            blends: off.map(|off| Count::from(off.blends)),
            checked_from_pct: off.and_then(|off| pct(off.shares.0)),
            checked_to_pct: off.and_then(|off| pct(off.shares.1)),
            off_pct: off.and_then(|off| off_pct(off.logarithmic)),
            off_power_pct: off.and_then(|off| off_pct(off.power)),
            ..BlendShare::default()
        };
        let because = format!(
            "{}: with so much of lot {} the feed has {:.2} g/10 min by the logarithmic rule \
             and {by_power:.2} by the power rule, which asks for {:.1} %{}; {}",
            wanted.why,
            added.lot,
            wanted.target,
            100.0 * self.power,
            closed.map_or_else(String::new, |(share, ..)| format!(
                ", and a loop that gets {:.1} % of it with every batch settles there",
                100.0 * share
            )),
            self.checked(off)
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
            confidence: Fraction::new(CONFIDENCE),
            ..Adjustment::default()
        };
        let caution = Caution {
            lot: Some(Name::from(lot.lot)),
            danger: DANGER.into(),
            defer_to: DEFER.into(),
            ..Caution::default()
        };
        Some(Advice::Blend(Box::new((blend, change, caution))))
    }

    /// In words how far the rules were checked.
    fn checked(&self, off: Option<Off>) -> String {
        let Some(Off { blends, logarithmic, power, shares: (from, to) }) = off else {
            return "no blend of the lab's own was tested, so neither rule is checked for this material: \
                    test the blend before the run"
                .to_owned();
        };
        let outside = if (from..=to).contains(&self.logarithmic) {
            ""
        } else {
            ", and this share lies outside that range"
        };
        format!(
            "in {blends} blend{s} of the lab's own with {:.0} to {:.0} % of the least melted part the \
             logarithmic rule was off by up to {:.1} % and the power rule by {:.1} %{outside}: test the blend \
             before the run",
            100.0 * from,
            100.0 * to,
            100.0 * (logarithmic.exp() - 1.0),
            100.0 * (power.exp() - 1.0),
            s = if blends == 1 { "" } else { "s" }
        )
    }
}

/// The share of new material in every batch with which a closed loop settles with its feed at a
/// flow rate, and its ends over the interval of the factor a pass; as parts of one.
fn closed_loop(drift: &Drift<'_>, added: &Tested<'_>, target: f64) -> Option<(f64, f64, f64)> {
    let new = |slope: f64| {
        let regrind = Loop::at_limit(slope.exp(), added.log().exp(), target)?;
        Some(1.0 - regrind.share())
    };
    let (at, low, high) = drift.slope;
    let ends = [new(at)?, new(low)?, new(high)?];
    let least = ends.into_iter().reduce(f64::min)?;
    let most = ends.into_iter().reduce(f64::max)?;
    added.virgin.then_some((ends[0], least, most))
}
