//! The speeds of puller and screw for a throughput that is wanted.

use crate::lab::Lab;
use crate::limits::{Of, THROUGHPUT};
use crate::puller::Puller;
use crate::window;
use secondmelt_plastics::filament::{output_kg_h, speed_of_output_m_min};
use secondmelt_quality::mean_interval::CONFIDENCE;
use secondmelt_record::findings::{Adjustment, Caution, Decision, Verdict};
use secondmelt_record::{Fraction, Name, Number};

const CHECK: &str = "throughput";
const RULE: &str = "a change of puller and screw together where a target of throughput_kg_h is set and the range of the \
                    present throughput does not hold it, both speeds stay within the machine and the change is \
                    by less than a factor of two; conforms where the range holds it; else undecided";
const BASIS: &str = "mass continuity: throughput = density of the solid x pi/4 d^2 x line speed; the puller speed is that \
                     of the target diameter, the screw speed goes with the throughput, which holds over a small \
                     range only; interval over the range of the density and the 95 % interval of the diameter";
const DANGER: &str = "a faster screw heats the melt by shear and raises the pressure at the die, a faster puller draws \
                      in harder at its nip points: go up in small steps, stand to the side of the die, keep hands \
                      clear and a stop within reach, and keep within the rated limits";
const DEFER: &str = "the machine's manual and its rated limits; pressure-relief and guarding rules; standards for \
                     emergency stops (ISO 13850); local machinery-safety law";
/// Output goes with screw speed over a small range only; beyond this factor it is not reckoned
/// (common practice, no source).
const FARTHEST: f64 = 2.0;

/// A value and the ends of its range.
#[derive(Debug, Clone, Copy)]
struct Range {
    at: f64,
    low: f64,
    high: f64,
}

impl Range {
    fn of(at: f64, ends: &[f64]) -> Self {
        let all = ends.iter().copied().chain([at]);
        Self { at, low: all.clone().fold(at, f64::min), high: all.fold(at, f64::max) }
    }
}

/// What is to be done about the throughput.
#[derive(Debug)]
pub(crate) enum Advice<'a> {
    /// Puller and screw, always together.
    Change(Box<[Adjustment<'a>; 2]>, Caution<'a>),
    Beyond(Verdict<'a>, Caution<'a>),
    Said(Verdict<'a>),
}

/// What a throughput that is wanted asks of the step that extruded a lot. Nothing where none is
/// wanted.
pub(crate) fn advice<'a>(puller: &Puller<'a>, lab: &Lab) -> Option<Advice<'a>> {
    let material = lab.lot_fact(puller.lot()).map(|lot| lot.material.as_str());
    let of = Of { lot: Some(puller.lot()), material, machine: puller.machine(), ..Of::default() };
    let wanted = lab.limits.of(THROUGHPUT, of)?.target?;
    let site = Site { puller, wanted };
    Some(
        site.advice(material, lab)
            .unwrap_or_else(|why| Advice::Said(site.verdict(Decision::Undecided, None, why))),
    )
}

struct Site<'a, 'b> {
    puller: &'b Puller<'a>,
    wanted: f64,
}

impl<'a> Site<'a, '_> {
    fn advice(&self, material: Option<&str>, lab: &Lab) -> Result<Advice<'a>, String> {
        let (speed, target) = (self.puller.speed_m_min()?, self.puller.target_mm()?);
        let (diameter, half) = (self.puller.diameter_mm(), self.puller.interval()?.half);
        let density = material
            .and_then(|material| lab.material_fact(material)?.density_g_cm3)
            .ok_or("the density of its material is not known: a `material` record with `density_g_cm3` would help most")?;
        let (light, middle, dense) = density;
        let ends = [(light, (diameter - half).max(0.0)), (dense, diameter + half)];
        let now = Range::of(
            output_kg_h(middle, diameter, speed),
            &ends.map(|(density, d)| output_kg_h(density, d, speed)),
        );
        let now = self.told(now)?;
        if let Some(why) = self.above_rating() {
            return Ok(self.beyond(THROUGHPUT, self.wanted, self.machine_max(), "kg/h", why));
        }
        if (now.low..=now.high).contains(&self.wanted) {
            let why = format!(
                "the line gives {:.3} kg/h, between {:.3} and {:.3}, which holds the {} kg/h that is wanted",
                now.at, now.low, now.high, self.wanted
            );
            return Ok(Advice::Said(self.verdict(Decision::Conforms, Some(now.at), why)));
        }
        let factor = self.wanted / now.at;
        if !(1.0 / FARTHEST..=FARTHEST).contains(&factor) {
            return Err(format!(
                "{} kg/h is {factor:.2} times the {:.3} kg/h of now, too far for a screw whose output is taken as \
                 proportional to its speed: go half of the way, and measure",
                self.wanted, now.at
            ));
        }
        let puller = Range::of(
            speed_of_output_m_min(middle, target, self.wanted),
            &[light, dense].map(|d| speed_of_output_m_min(d, target, self.wanted)),
        );
        let rpm = self.puller.setting("screw_rpm").filter(|rpm| *rpm > 0.0).ok_or_else(|| {
            "the step does not say how fast the screw turned: its setting `screw_rpm` would help most".to_owned()
        })?;
        let screw =
            Range::of(rpm * factor, &[rpm * self.wanted / now.low, rpm * self.wanted / now.high]);
        self.change(now, (speed, puller), (rpm, screw), lab)
    }

    /// The throughput that the step itself states, where what diameter and speed show holds it.
    fn told(&self, shown: Range) -> Result<Range, String> {
        let Some(told) = self.puller.setting(THROUGHPUT) else { return Ok(shown) };
        if (shown.low..=shown.high).contains(&told) {
            return Ok(Range { at: told, ..shown });
        }
        Err(format!(
            "the step states {told} kg/h, and diameter, line speed and density show {:.3} to {:.3} kg/h: the mass of \
             what comes out in a minute would help most",
            shown.low, shown.high
        ))
    }

    fn machine_max(&self) -> Option<f64> {
        self.puller.machine_fact()?.throughput_max_kg_h
    }

    fn above_rating(&self) -> Option<String> {
        let max = self.machine_max().filter(|max| self.wanted > *max)?;
        Some(format!(
            "{} kg/h is wanted, above the {max} kg/h of machine {}",
            self.wanted,
            self.puller.machine().unwrap_or_default()
        ))
    }

    fn change(
        &self,
        now: Range,
        (speed, puller): (f64, Range),
        (rpm, screw): (f64, Range),
        lab: &Lab,
    ) -> Result<Advice<'a>, String> {
        let mut changes = Vec::new();
        for (what, from, to) in [("line_speed_m_min", speed, puller), ("screw_rpm", rpm, screw)] {
            let (min, max) = window::of_setting(what, self.puller.machine_fact(), None, lab);
            let passed = max.filter(|max| to.at > *max).or(min.filter(|min| to.at < *min));
            if let Some(limit) = passed {
                let side = if to.at > limit { "above" } else { "below" };
                let reached = self.wanted * limit / to.at;
                let why = format!(
                    "{} kg/h would take {what} {:.3}, {side} the {limit} of machine {}: within it about {reached:.3} \
                     kg/h can be had",
                    self.wanted,
                    to.at,
                    self.puller.machine().unwrap_or_default()
                );
                return Ok(self.beyond(what, to.at, Some(limit), window::unit(what), why));
            }
            let (low, high, cut) = window::cut(to.low, to.high, (min, max));
            changes.push(self.adjustment(now, what, from, (to.at, low, high), cut));
        }
        let pair = <[Adjustment<'a>; 2]>::try_from(changes).map_err(|_| String::new())?;
        Ok(Advice::Change(Box::new(pair), self.caution(DANGER.to_owned())))
    }

    fn adjustment(
        &self,
        now: Range,
        what: &'static str,
        from: f64,
        (to, low, high): (f64, f64, f64),
        cut: bool,
    ) -> Adjustment<'a> {
        let cut = if cut { "; the interval is cut at the limits of the machine" } else { "" };
        Adjustment {
            what: what.into(),
            lot: Some(Name::from(self.puller.lot())),
            step: self.puller.step().map(Name::from),
            machine: self.puller.machine().map(Name::from),
            from: Number::new(from),
            to: Number::new(to),
            low: Number::new(low),
            high: Number::new(high),
            unit: window::unit(what).into(),
            because: format!(
                "the line gives {:.3} kg/h, between {:.3} and {:.3}, where {} kg/h is wanted; change puller and screw \
                 together and measure the diameter again{cut}",
                now.at, now.low, now.high, self.wanted
            )
            .into(),
            basis: BASIS.into(),
            confidence: Fraction::new(CONFIDENCE),
            ..Adjustment::default()
        }
    }

    fn beyond(
        &self,
        what: &str,
        value: f64,
        limit: Option<f64>,
        unit: &'static str,
        why: String,
    ) -> Advice<'a> {
        let danger = format!("{why}: do not run {what} there");
        let verdict = Verdict {
            value: Number::new(value),
            limit: limit.and_then(Number::new),
            unit: Some(unit.into()),
            ..self.verdict(Decision::Undecided, None, why)
        };
        Advice::Beyond(verdict, self.caution(danger))
    }

    fn verdict(&self, result: Decision, now: Option<f64>, why: String) -> Verdict<'a> {
        Verdict {
            check: CHECK.into(),
            result,
            lot: Some(Name::from(self.puller.lot())),
            step: self.puller.step().map(Name::from),
            machine: self.puller.machine().map(Name::from),
            value: now.and_then(Number::new),
            limit: now.and_then(|_| Number::new(self.wanted)),
            unit: now.map(|_| "kg/h".into()),
            rule: RULE.into(),
            why: why.into(),
            ..Verdict::default()
        }
    }

    fn caution(&self, danger: String) -> Caution<'a> {
        Caution {
            lot: Some(Name::from(self.puller.lot())),
            machine: self.puller.machine().map(Name::from),
            danger: danger.into(),
            defer_to: DEFER.into(),
            ..Caution::default()
        }
    }
}
