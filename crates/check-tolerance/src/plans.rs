//! Sampling plans for readings taken by hand, and what they say of a spool.

use crate::machines::Fit;
use crate::reading::rounded;
use crate::spool::Spool;
use crate::watch::Watch;
use secondmelt_quality::distributions::{Split, binomial, normal};
use secondmelt_quality::sampling_plan::{Risks, attributes, variables};
use secondmelt_quality::tolerance_interval::one_sided_factor;
use secondmelt_record::findings::{Decision, PlanOf, SamplingPlan, Verdict};
use secondmelt_record::{Count, Name, Number, Out, Percent, Text};

/// Probability to refuse a good lot, and to accept a bad one.
const PRODUCER: f64 = 0.05;
const CONSUMER: f64 = 0.1;

/// A lot with as large a share outside is no lot that anybody samples, in per cent.
const BAD_MAX_PCT: f64 = 50.0;
/// More readings than this are no sampling plan.
const READINGS_MAX: u64 = 100_000;

const ATTRIBUTES: &str = "single sampling by attributes (binomial, as ISO 2859-1 uses it for isolated lots by limiting \
quality): accepted where so few readings are outside the tolerance that a lot with the larger share outside would show as \
few in at most 10 %; readings taken as independent";
const VARIABLES: &str = "single sampling by variables (noncentral t, as ISO 3951-1 uses it; shares beyond either limit and \
along each axis added up, which errs to the side of refusing): accepted where the mean is so many standard deviations from a limit, or as good, \
that a lot with the larger share outside would be in about 10 %; readings taken as independent and normal";

/// The two plans that were asked for.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Plans {
    good: f64,
    bad: f64,
    attributes: attributes::Plan,
    variables: variables::Design,
}

impl Plans {
    /// Plans for the shares outside of a good lot and a bad one, in per cent.
    pub(crate) fn new(good_pct: f64, bad_pct: f64) -> Result<Self, String> {
        let (good, bad) = (good_pct / 100.0, bad_pct / 100.0);
        let wrong = || {
            format!(
                "--good-pct {good_pct} --bad-pct {bad_pct}: expected shares in per cent above 0, the first smaller than \
                     the second, the second below {BAD_MAX_PCT}"
            )
        };
        if bad_pct.is_nan() || bad_pct >= BAD_MAX_PCT {
            return Err(wrong());
        }
        let risks = Risks::new(good, PRODUCER, bad, CONSUMER).ok_or_else(wrong)?;
        let too_close = || {
            format!("{}; and so far apart that at most {READINGS_MAX} readings tell them", wrong())
        };
        let attributes = attributes::smallest(risks).filter(|plan| plan.n <= READINGS_MAX);
        Ok(Self {
            good,
            bad,
            attributes: attributes.ok_or_else(too_close)?,
            variables: variables::smallest(risks).ok_or_else(too_close)?,
        })
    }

    /// Writes the plans.
    pub(crate) fn write(&self, out: &mut Out) {
        let plan = |judges_by, n, allowed, distance| SamplingPlan {
            judges_by,
            good_pct: Percent::new(rounded(100.0 * self.good)).unwrap_or_default(),
            bad_pct: Percent::new(rounded(100.0 * self.bad)).unwrap_or_default(),
            readings: Count(n),
            allowed,
            distance,
            ..SamplingPlan::default()
        };
        let allowed = Some(Count(self.attributes.accept));
        out.write(&plan(PlanOf::Attributes, self.attributes.n, allowed, None));
        let k = Number::new(rounded(self.variables.k_min));
        out.write(&plan(PlanOf::Variables, self.variables.n, None, k));
    }

    /// Writes what they say of a spool for a machine.
    pub(crate) fn judge(&self, spool: &Spool, watch: &Watch, cut: bool, out: &mut Out) {
        let n = spool.n();
        let independent = spool.evidence().counted();
        for (check, rule, needed, judged) in [
            ("sample-attributes", ATTRIBUTES, self.attributes.n, self.by_attributes(watch, n)),
            ("sample-variables", VARIABLES, self.variables.n, self.by_variables(spool, &watch.fit)),
        ] {
            let Some(judged) = judged else { continue };
            let short = independent < needed;
            // More outside than the plan allows in its whole sample needs no further readings.
            let lost = check == "sample-attributes"
                && watch.readings_out > self.attributes.accept
                && n <= needed;
            let (result, why) = if judged.accepts.is_none() {
                (Decision::Undecided, judged.why)
            } else if lost || !short && !cut {
                let accepts = judged.accepts == Some(true);
                (if accepts { Decision::Conforms } else { Decision::Fails }, judged.why)
            } else if cut {
                (Decision::Undecided, format!("{} But the input was cut short.", judged.why))
            } else {
                (Decision::Undecided, too_few(n, independent, needed))
            };
            out.write(&Verdict {
                check: Name::from(check),
                result,
                lot: Some(Name::from(spool.lot().to_owned())),
                machine: Some(Name::from(watch.fit.machine.clone())),
                value: judged.value,
                limit: judged.limit,
                unit: Some(Text::from("1")),
                rule: Text::from(rule),
                why: Text::from(why),
                ..Verdict::default()
            });
        }
    }

    #[expect(clippy::cast_precision_loss, reason = "counts")]
    fn by_attributes(&self, watch: &Watch, n: u64) -> Option<Judged> {
        let sample = n.max(self.attributes.n);
        let allowed = most_allowed(sample, self.bad)?;
        let bad = watch.readings_out;
        Some(Judged {
            value: Number::new(bad as f64),
            limit: Number::new(allowed as f64),
            accepts: Some(bad <= allowed),
            why: format!(
                "{bad} of {n} readings are outside {}; of {sample}, {allowed} are allowed.",
                watch.fit.tolerance_text()
            ),
        })
    }

    fn by_variables(&self, spool: &Spool, fit: &Fit) -> Option<Judged> {
        let readings = spool.readings();
        let n = readings.n().max(self.variables.n);
        let k = one_sided_factor(n, 1.0 - self.bad, 1.0 - CONSUMER)?;
        let mut still = None;
        // Shares beyond either limit, along each axis, add up to no less than the share that is outside.
        let mut beyond = None;
        for axis in 0..readings.common_axes() {
            let (mean, sd) = (readings.axis_mean_mm(axis)?, readings.axis_sd_mm(axis)?);
            let (above, below) = (fit.high_mm - mean, mean - fit.low_mm);
            if sd > 0.0 {
                let share = normal::below(-above / sd) + normal::below(-below / sd);
                *beyond.get_or_insert(0.0) += share;
            } else if above.min(below) < 0.0 {
                return Some(Judged::still(false, mean, fit));
            } else {
                // An axis whose readings never differ shows no spread, and says nothing by variables.
                still = Some(Judged::still(true, mean, fit));
            }
        }
        // So many standard deviations from one limit alone would leave as much beyond it.
        let distance = beyond.and_then(distance).map(rounded);
        if still.is_some() && distance.is_none_or(|distance| distance >= k) {
            return still;
        }
        let distance = distance?;
        let k = rounded(k);
        Some(Judged {
            value: Number::new(distance),
            limit: Number::new(k),
            accepts: Some(distance >= k),
            why: format!(
                "What lies beyond {} is as if the mean were {distance:.2} standard deviations from one limit; {k:.2} are asked for.",
                fit.tolerance_text()
            ),
        })
    }
}

/// Standard deviations from one limit that leave this share beyond it; a large number where it is next to
/// nothing.
fn distance(share: f64) -> Option<f64> {
    /// Where nothing is left of a normal distribution in doubles.
    const FARTHEST: f64 = 37.0;
    match share {
        share if share <= 0.0 => Some(FARTHEST),
        share if share >= 1.0 => Some(-FARTHEST),
        share => normal::quantile(Split::with_above(share)?),
    }
}

/// What a plan says of a sample.
struct Judged {
    value: Option<Number>,
    limit: Option<Number>,
    /// None where it cannot be told, however many readings there are.
    accepts: Option<bool>,
    why: String,
}

impl Judged {
    /// By variables, an axis whose readings never differ.
    fn still(inside: bool, mean_mm: f64, fit: &Fit) -> Self {
        let (word, end) = if inside {
            ("within", "so they show no spread; a finer gauge would")
        } else {
            ("outside", "and so is the whole sample")
        };
        Self {
            value: None,
            limit: None,
            accepts: (!inside).then_some(false),
            why: format!(
                "Along one axis every reading is {} mm, {word} {}, {end}.",
                rounded(mean_mm),
                fit.tolerance_text()
            ),
        }
    }
}

fn too_few(n: u64, independent: u64, needed: u64) -> String {
    if independent < n {
        format!(
            "Its {n} readings count for {independent} independent ones, and the plan asks for {needed}: read at places further apart."
        )
    } else {
        format!("The plan asks for {needed} readings: {} more.", needed - n)
    }
}

/// Most readings outside of a sample of `n` that a lot with the share `bad` outside shows in at
/// most 10 %.
fn most_allowed(n: u64, bad: f64) -> Option<u64> {
    let accepts =
        |allowed: u64| binomial::tails(n, allowed, bad).map(|split| split.below <= CONSUMER);
    let (mut low, mut high) = (0, n);
    if !accepts(0)? {
        return None;
    }
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        if accepts(middle)? { low = middle } else { high = middle }
    }
    Some(low)
}
