//! The rules of blending, held against the blends that the lab itself has made and tested.

use crate::book::Book;
use crate::series::{SCATTERS, Series};
use secondmelt_plastics::blending::{POWER, Part, Rule};
use secondmelt_quality::distributions::{Split, student_t};
use secondmelt_quality::mean_interval::CONFIDENCE;
use secondmelt_record::facts::Does;
use secondmelt_record::findings::{Decision, Verdict};
use secondmelt_record::{Name, Number};
use std::collections::BTreeSet;

const CHECK: &str = "blend-rule";
const RULE: &str = "conforms where the flow rate measured on a blend differs from that of the logarithmic rule by no \
                    more than the 95 % interval of the difference (scatter of fillings, else of lots about their \
                    line; Student t), fails where by more; undecided where a part is not weighed or not tested";

/// A blend of which both the flow rate and that of every part were tested.
#[derive(Debug)]
struct Checked {
    /// Logarithm of the rate that was measured, less that of each rule.
    off: f64,
    off_power: f64,
    /// Share of the part that had been melted least often.
    share: f64,
}

/// How far the rules were off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Off {
    pub(crate) blends: usize,
    /// Largest differences of logarithms, either way.
    pub(crate) logarithmic: f64,
    pub(crate) power: f64,
    /// Smallest and largest share of the least melted part.
    pub(crate) shares: (f64, f64),
}

/// The blends of a series: what they say of the rules, and a verdict on each.
pub(crate) fn of<'a>(series: &Series<'a>, book: &'a Book) -> (Option<Off>, Vec<Verdict<'a>>) {
    let mut checked = Vec::new();
    let mut verdicts = Vec::new();
    for (step, taken, put) in book.passages().into_iter().filter(|(_, taken, _)| taken.len() > 1) {
        for lot in put.iter().filter(|lot| series.rates.contains_key(lot.as_str())) {
            let tried = Tried { series, book, step, taken, lot };
            match tried.held() {
                Ok((blend, verdict)) => {
                    checked.push(blend);
                    verdicts.push(verdict);
                }
                // Much is mixed on the way, and only what was meant as a blend is asked about.
                Err(why) if tried.does() == Some(Does::Blend) => {
                    verdicts.push(tried.verdict(Decision::Undecided, why));
                }
                Err(_) => (),
            }
        }
    }
    let widest = |of: fn(&Checked) -> f64| checked.iter().map(|c| of(c).abs()).fold(0.0, f64::max);
    let shares = checked.iter().map(|c| c.share);
    let off = Off {
        blends: checked.len(),
        logarithmic: widest(|c| c.off),
        power: widest(|c| c.off_power),
        shares: (shares.clone().fold(1.0, f64::min), shares.fold(0.0, f64::max)),
    };
    (Some(off).filter(|off| off.blends > 0), verdicts)
}

struct Tried<'a, 'b> {
    series: &'b Series<'a>,
    book: &'a Book,
    step: &'a str,
    taken: &'a BTreeSet<String>,
    lot: &'a str,
}

impl<'a> Tried<'a, '_> {
    fn held(&self) -> Result<(Checked, Verdict<'a>), String> {
        let parts = self.parts()?;
        let measured = self.log(self.lot).ok_or("it has no flow rate")?;
        let mean: f64 = parts.iter().map(|part| part.fraction * part.mfr_g_10min.ln()).sum();
        // What an extruder mixes has been melted once more than its parts.
        let again = self.slope()?;
        let rule = |rule: Rule| rule.mfr_g_10min(&parts).map(|mfr| mfr.ln() + again);
        let power = rule(POWER).ok_or("the rules give no flow rate")?;
        let predicted = rule(Rule::Logarithmic).unwrap_or(mean + again);
        let checked = Checked {
            off: measured - predicted,
            off_power: measured - power,
            share: self.share_of_least_melted(&parts),
        };
        let mut why = format!(
            "the blend was measured at {:.2} g/10 min; the logarithmic rule gives {:.2} ({:+.1} % off) and the \
             power rule {:.2} ({:+.1} % off) at {}",
            measured.exp(),
            predicted.exp(),
            100.0 * (checked.off.exp() - 1.0),
            power.exp(),
            100.0 * (checked.off_power.exp() - 1.0),
            self.series.condition()
        );
        let result = match self.half(&parts, again != 0.0) {
            Some(half) if checked.off.abs() <= half => Decision::Conforms,
            Some(_) => Decision::Fails,
            None => {
                why.push_str(
                    "; how well tests repeat is not known: a second filling of any lot would help most",
                );
                Decision::Undecided
            }
        };
        let verdict = Verdict {
            value: Number::new(measured.exp()),
            limit: Number::new(predicted.exp()),
            unit: Some("g/10 min".into()),
            ..self.verdict(result, why)
        };
        Ok((checked, verdict))
    }

    /// The parts with their shares and flow rates, in order of their lots.
    fn parts(&self) -> Result<Vec<Part>, String> {
        let mut parts = Vec::new();
        for lot in self.taken {
            let log = self.log(lot).ok_or_else(|| {
                format!(
                    "a melt-flow test of its part {lot} at {} would help most",
                    self.series.condition()
                )
            })?;
            let mass = self.book.mass_in_g(self.step, lot).filter(|mass| *mass > 0.0);
            let mass = mass.ok_or_else(|| format!("the mass of its part {lot} would help most"))?;
            parts.push(Part { fraction: mass, mfr_g_10min: log.exp() });
        }
        let whole: f64 = parts.iter().map(|part| part.fraction).sum();
        parts.iter_mut().for_each(|part| part.fraction /= whole);
        Ok(parts)
    }

    fn log(&self, lot: &str) -> Option<f64> {
        let logs = self.series.rates.get(lot)?;
        Some(logs.iter().sum::<f64>() / results(logs))
    }

    /// Change of the logarithm by the step itself.
    fn slope(&self) -> Result<f64, String> {
        if self.does() != Some(Does::Extrude) {
            return Ok(0.0);
        }
        let line = self.series.line.as_ref().filter(|line| line.variance() > SCATTERS);
        line.map(|line| line.slope).ok_or_else(|| {
            format!(
                "step {} melted it once more than its parts, and how a pass changes the flow is not known: a \
                 test of the blend before that step would help most",
                self.step
            )
        })
    }

    fn does(&self) -> Option<Does> {
        self.book.step_fact(self.step).map(|fact| fact.does)
    }

    fn share_of_least_melted(&self, parts: &[Part]) -> f64 {
        let passes =
            |lot: &str| self.series.lots.iter().find(|t| t.lot == lot).map(|tested| tested.passes);
        let least =
            self.taken.iter().zip(parts).min_by_key(|(lot, _)| passes(lot).unwrap_or(u64::MAX));
        least.map_or(0.0, |(_, part)| part.fraction)
    }

    /// Half the 95 % interval of the difference of logarithms; none where nothing shows scatter.
    fn half(&self, parts: &[Part], melted: bool) -> Option<f64> {
        let line = self.series.line.as_ref().filter(|line| line.variance() > SCATTERS);
        let of_line = || line.map(|line| (line.variance(), line.freedom));
        // Another pass scatters as lots do about their line.
        let scatter = if melted { of_line() } else { self.series.within.or_else(of_line) };
        let (variance, freedom) = scatter?;
        let own = self.series.rates.get(self.lot).map(|logs| 1.0 / results(logs))?;
        let of_parts: f64 = self
            .taken
            .iter()
            .zip(parts)
            .filter_map(|(lot, part)| {
                Some(part.fraction.powi(2) / results(self.series.rates.get(lot.as_str())?))
            })
            .sum();
        let of_slope = line.filter(|_| melted).map_or(0.0, |line| line.slope_se().powi(2));
        let t = student_t::quantile(freedom, Split::with_above(0.5 * (1.0 - CONFIDENCE))?)?;
        Some(t * (variance * (own + of_parts) + of_slope).sqrt())
    }

    fn verdict(&self, result: Decision, why: String) -> Verdict<'a> {
        Verdict {
            check: CHECK.into(),
            result,
            lot: Some(Name::from(self.lot)),
            step: Some(Name::from(self.step)),
            rule: RULE.into(),
            why: why.into(),
            ..Verdict::default()
        }
    }
}

#[expect(clippy::cast_precision_loss, reason = "a handful of fillings")]
fn results(logs: &[f64]) -> f64 {
    logs.len() as f64
}
