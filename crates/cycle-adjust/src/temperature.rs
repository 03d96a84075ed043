//! The melt temperature at which the next pass flows as the last one did, or as is wanted.

use crate::activation::Activation;
use crate::book::{Book, StepFact};
use crate::drift::Drift;
use crate::heat;
use crate::kelvin;
use crate::lab::Lab;
use crate::series::Series;
use crate::window;
use secondmelt_plastics::temperature_shift::temperature_of_factor_c;
use secondmelt_quality::mean_interval::CONFIDENCE;
use secondmelt_record::findings::{Adjustment, Caution, Decision, Verdict};
use secondmelt_record::{Fraction, Name, Number};

const CHECK: &str = "melt-temperature";
const RULE: &str = "a change where the 95 % interval of the drift does not hold a factor of one, a step says \
                    its `melt_c`, an activation energy is known, and the temperature it takes is within the \
                    window of material and machine; else undecided";
const BASIS: &str = "Arrhenius at constant stress: ln of the ratio of flow rates = E/R (1/T1 - 1/T2) with \
                     temperatures in K";
/// What is to be done about the melt temperature.
#[derive(Debug)]
pub(crate) enum Advice<'a> {
    Change(Adjustment<'a>, Caution<'a>),
    Said(Verdict<'a>),
    Beyond(Verdict<'a>, Caution<'a>),
}

/// A temperature and the range it lies in, in degrees Celsius.
struct Shift {
    from: f64,
    to: f64,
    low: f64,
    high: f64,
}

/// What the drift of a family asks of the melt temperature. Nothing where no step that
/// extruded its lots is known.
pub(crate) fn advice<'a>(
    drift: &Drift<'a>,
    book: &'a Book,
    lab: &Lab,
    measured: &[Activation<'_>],
) -> Option<Advice<'a>> {
    let lot = drift.latest.lot;
    let step = last_step(drift, book)?;
    let fact = book.step_fact(step)?;
    let at = Site { lot, step, machine: fact.machine.as_deref(), material: drift.series.material };
    if !drift.is_shown() && drift.limit.target.is_none() {
        let why = "no drift of the melt flow is shown, so no change of the melt temperature is shown to be needed";
        return Some(Advice::Said(at.verdict(Decision::Conforms, why.to_owned())));
    }
    let known = energy(drift.series, lab, measured);
    let undecided = |why: String| Some(Advice::Said(at.verdict(Decision::Undecided, why)));
    let Some(from) = fact.melt_c else {
        return undecided(format!(
            "step {step} does not say how hot the melt was: its setting `melt_c` would help most"
        ));
    };
    let Some((energy, own)) = known else {
        return undecided(format!(
            "no activation energy of {} is known; what would help most is to test one lot twice at \
             each of two temperatures, under the same load",
            drift.series.material
        ));
    };
    let Some(shift) = shift(drift, from, energy) else {
        return undecided("no melt temperature makes up for the drift".to_owned());
    };
    Some(within_window(&at, &shift, drift, window(drift, fact, book, lab), own))
}

/// The step that extruded the latest lot of the family that a step is known of.
fn last_step<'a>(drift: &Drift<'a>, book: &'a Book) -> Option<&'a str> {
    let mut lots: Vec<_> = drift.series.family(drift.latest.family).collect();
    lots.sort_by_key(|lot| std::cmp::Reverse(lot.passes));
    lots.iter().find_map(|lot| book.extruded_by(lot.lot).into_iter().next_back())
}

/// Middle and ends of the activation energy, in kJ/mol, and whether the lab measured it. Its
/// own wins over the range of a card.
fn energy(
    series: &Series<'_>,
    lab: &Lab,
    measured: &[Activation<'_>],
) -> Option<((f64, f64, f64), bool)> {
    let material = series.material;
    let own = measured.iter().filter(|a| a.material == material && a.is_usable());
    // At the load of the drift, where it was measured there.
    let own =
        own.min_by(|a, b| a.load_apart(series.load_kg).total_cmp(&b.load_apart(series.load_kg)));
    let card = || {
        let (low, high) = lab.material_fact(material)?.activation_kj_mol()?;
        Some(((f64::midpoint(low, high), low, high), false))
    };
    own.map(|a| (a.kj_mol, true)).or_else(card)
}

/// Where the temperature goes, over the ends of energy and drift.
fn shift(drift: &Drift<'_>, from: f64, energy: (f64, f64, f64)) -> Option<Shift> {
    // The feed of the next pass has been melted once more than that of the last one.
    let to_target = |slope: f64| match drift.limit.target {
        Some(target) => target.ln() - drift.latest.log(),
        None => -slope,
    };
    let at =
        |energy: f64, slope: f64| temperature_of_factor_c(energy, from, to_target(slope).exp());
    let (slope, slope_low, slope_high) = drift.slope;
    let mut ends = Vec::new();
    for energy in [energy.1, energy.2] {
        for slope in [slope_low, slope_high] {
            ends.push(at(energy, slope)?);
        }
    }
    let (low, high) = (ends.iter().copied().reduce(f64::min)?, ends.into_iter().reduce(f64::max)?);
    Some(Shift { from, to: at(energy.0, slope)?, low, high })
}

/// The window of material and machine, in degrees Celsius.
fn window(
    drift: &Drift<'_>,
    fact: &StepFact,
    book: &Book,
    lab: &Lab,
) -> (Option<f64>, Option<f64>) {
    let machine = window::machine(book, fact.machine.as_deref());
    window::of_setting("melt_c", machine, Some(drift.series.material), lab)
}

fn within_window<'a>(
    at: &Site<'a>,
    shift: &Shift,
    drift: &Drift<'a>,
    (min, max): (Option<f64>, Option<f64>),
    own: bool,
) -> Advice<'a> {
    let (Some(min), Some(max)) = (min, max) else {
        let why = format!(
            "no window of melt temperatures is known for {}: give its `material` record `melt_min_c` and \
             `melt_max_c`",
            drift.series.material
        );
        return Advice::Said(at.verdict(Decision::Undecided, why));
    };
    if !(min..=max).contains(&shift.to) {
        let why = format!(
            "holding the flow would take a melt at {:.1} C, outside the {min} to {max} C of material and \
             machine{}: blend with a younger lot instead",
            shift.to,
            kelvin_perhaps(shift.from, (min, max))
        );
        let verdict = Verdict {
            value: Number::new(shift.to),
            limit: Number::new(if shift.to > max { max } else { min }),
            unit: Some("C".into()),
            ..at.verdict(Decision::Undecided, why)
        };
        return Advice::Beyond(verdict, at.caution());
    }
    Advice::Change(at.adjustment(shift, drift, (min, max), own), at.caution())
}

/// That the melt temperature of the step may be in kelvin, where it is outside the window and
/// would be inside it then.
fn kelvin_perhaps(from: f64, (min, max): (f64, f64)) -> String {
    let told = kelvin::advice(from, max).filter(|_| from > max && from - 273.15 >= min - 30.0);
    told.map_or_else(String::new, |told| format!(" (its step has melt_c {from}: {told})"))
}

/// What the advice is about.
struct Site<'a> {
    material: &'a str,
    lot: &'a str,
    step: &'a str,
    machine: Option<&'a str>,
}

impl<'a> Site<'a> {
    fn verdict(&self, result: Decision, why: String) -> Verdict<'a> {
        Verdict {
            check: CHECK.into(),
            result,
            lot: Some(Name::from(self.lot)),
            step: Some(Name::from(self.step)),
            machine: self.machine.map(Name::from),
            rule: RULE.into(),
            why: why.into(),
            ..Verdict::default()
        }
    }

    fn caution(&self) -> Caution<'a> {
        Caution { lot: Some(Name::from(self.lot)), ..heat::caution(self.material, self.machine) }
    }

    fn adjustment(
        &self,
        shift: &Shift,
        drift: &Drift<'_>,
        window: (f64, f64),
        own: bool,
    ) -> Adjustment<'a> {
        let goal = match drift.limit.target {
            Some(target) => format!("the {target} g/10 min aimed at"),
            None => {
                format!("the flow of the last pass, a factor of {:.3} ago", drift.slope.0.exp())
            }
        };
        let (low, high) = (shift.low.max(window.0), shift.high.min(window.1));
        let cut = if (low, high) == (shift.low, shift.high) {
            String::new()
        } else {
            format!(
                "; the interval is cut at the {} to {} C of material and machine",
                window.0, window.1
            )
        };
        let energy = if own {
            "measured by the lab"
        } else {
            "over the range of the material's card, which claims no confidence"
        };
        Adjustment {
            what: "melt_c".into(),
            lot: Some(Name::from(self.lot)),
            step: Some(Name::from(self.step)),
            machine: self.machine.map(Name::from),
            from: Number::new(shift.from),
            to: Number::new(shift.to),
            low: Number::new(low),
            high: Number::new(high),
            unit: "C".into(),
            because: format!(
                "lot {} flows at {:.2} g/10 min and the next pass is to have {goal}{cut}",
                self.lot,
                drift.latest.log().exp()
            )
            .into(),
            basis: format!("{BASIS}; activation energy {energy}").into(),
            // The range of a card is no interval of any confidence.
            confidence: Fraction::new(if own { CONFIDENCE } else { 0.0 }),
            ..Adjustment::default()
        }
    }
}
