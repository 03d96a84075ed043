//! How each setting of the extruder has gone from pass to pass where it worked, and what that asks
//! of the next pass.

use crate::book::Book;
use crate::heat;
use crate::lab::Lab;
use crate::window;
use secondmelt_plastics::marks::never_melted;
use secondmelt_quality::mean_interval::CONFIDENCE;
use secondmelt_quality::regression::{Line, LineSums};
use secondmelt_record::facts::Does;
use secondmelt_record::findings::{Adjustment, Caution, Decision, Verdict};
use secondmelt_record::{Fraction, Name, Number, Out, Text};
use std::collections::{BTreeMap, BTreeSet};

/// Probability of so steep a line without any trend, below which a trend is shown.
const LEVEL: f64 = 0.05;
/// Fewest passes that show a trend.
const PASSES_MIN: usize = 3;

const CHECK: &str = "next-pass-settings";
const RULE: &str = "a change where three passes or more worked and the straight line of the setting over the pass \
                    is steeper than chance explains (t test, 5 %), within the window of material and machine; else \
                    undecided. A pass worked where no printer refuses all of its filament";
const BASIS: &str = "straight line of the setting over the pass through the lab's own passes that worked, each step one \
                     point; 95 % prediction interval for one further step (Student t); settings are taken as rounded to their last \
                     digit, so that no scatter is smaller than that rounding";

/// One material on one machine.
type Site<'a> = (&'a str, Option<&'a str>);

/// Settings by name: pass and value of each step that worked.
type Tracks<'a> = BTreeMap<&'a str, Vec<(u64, f64)>>;

/// Writes what the passes before ask of the next one.
pub(crate) fn write(book: &Book, lab: &Lab, out: &mut Out) {
    for ((material, machine), tracks) in &sites(book, lab) {
        let passes: BTreeSet<u64> = tracks.values().flatten().map(|(pass, _)| *pass).collect();
        if never_melted(material).is_some() {
            continue;
        }
        let Some(next) = passes.last().map(|last| last + 1) else { continue };
        if passes.len() < 2 {
            continue;
        }
        let at = At { material, machine: *machine, next };
        if passes.len() < PASSES_MIN {
            out.write(&at.verdict(Decision::Undecided, format!(
                "{material} has been extruded at {} passes that worked; a trend of its settings takes {PASSES_MIN}",
                passes.len()
            )));
            continue;
        }
        let mut shown = false;
        for (name, points) in tracks {
            shown |= at.setting(name, points, book, lab, out);
        }
        if !shown {
            out.write(&at.verdict(Decision::Conforms, format!(
                "no setting of {material} has gone with the pass more than chance explains: the next one can start from the last"
            )));
        }
    }
}

/// The settings of every material on every machine.
fn sites<'a>(book: &'a Book, lab: &'a Lab) -> BTreeMap<Site<'a>, Tracks<'a>> {
    let mut sites: BTreeMap<Site<'a>, Tracks<'a>> = BTreeMap::new();
    for (step, _, put) in book.passages() {
        let Some(fact) = book.step_fact(step).filter(|fact| fact.does == Does::Extrude) else {
            continue;
        };
        let mut worked =
            put.iter().filter(|lot| !lab.is_refused(lot) && book.is_usable(lot).unwrap_or(true));
        let Some(lot) = worked.find_map(|lot| lab.lot_fact(lot)) else { continue };
        let Some(pass) = lot.passes else { continue };
        let tracks = sites.entry((lot.material.as_str(), fact.machine.as_deref())).or_default();
        for (name, value) in &fact.settings {
            tracks.entry(name.as_str()).or_default().push((pass, *value));
        }
    }
    sites
}

/// Where a proposal belongs.
struct At<'a> {
    material: &'a str,
    machine: Option<&'a str>,
    next: u64,
}

impl At<'_> {
    /// What the track of a setting asks of the next pass; whether it asks anything.
    fn setting(
        &self,
        name: &str,
        points: &[(u64, f64)],
        book: &Book,
        lab: &Lab,
        out: &mut Out,
    ) -> bool {
        let passes: BTreeSet<u64> = points.iter().map(|(pass, _)| *pass).collect();
        if passes.len() < PASSES_MIN {
            return false;
        }
        let mut sums = LineSums::with_intercept();
        points.iter().for_each(|(pass, value)| sums.push(as_number(*pass), *value));
        let Some(line) = sums.line().map(|line| rounded_line(line, points)) else { return false };
        let trend = line.slope != 0.0 && line.slope_p().is_some_and(|p| p < LEVEL);
        if !trend {
            return false;
        }
        let next = as_number(self.next);
        let to = rounded(line.at(next));
        let Some((low, high)) = line.prediction_interval(next, 1.0, CONFIDENCE) else {
            return false;
        };
        let (min, max) =
            window::of_setting(name, window::machine(book, self.machine), Some(self.material), lab);
        if name == "melt_c" && (min.is_none() || max.is_none()) {
            out.write(&self.verdict(Decision::Undecided, format!(
                "the passes before ask for {name} {to:.1}, and no window of melt temperatures is known for {}: give its \
                 `material` record `melt_min_c` and `melt_max_c`",
                self.material
            )));
            return true;
        }
        // What was never zero or less is no setting there, whatever the line has it.
        let min = min.or(points.iter().all(|point| point.1 > 0.0).then_some(0.0));
        if min.is_some_and(|min| to < min) || max.is_some_and(|max| to > max) {
            let limit = if max.is_some_and(|max| to > max) { max } else { min };
            let ends = limit.map_or(String::new(), |limit| format!(" of {limit}"));
            out.write(&Verdict {
                value: Number::new(to),
                limit: limit.and_then(Number::new),
                unit: Some(Text::from(window::unit(name))),
                ..self.verdict(Decision::Undecided, format!(
                    "the passes before ask for {name} {to:.4} at pass {}, beyond the limit{ends} of material or machine: \
                     blend with a younger lot instead of going there", self.next
                ))
            });
            out.write(&self.caution());
            return true;
        }
        let last = points.iter().max_by_key(|(pass, _)| *pass).map(|(_, value)| *value);
        let within = |x: f64| {
            let x = max.map_or(rounded(x), |max| rounded(x).min(max));
            Number::new(min.map_or(x, |min| x.max(min)))
        };
        out.write(&Adjustment {
            what: Name::from(name),
            machine: self.machine.map(Name::from),
            from: last.and_then(Number::new),
            to: Number::new(to),
            low: within(low),
            high: within(high),
            unit: Text::from(window::unit(name)),
            because: Text::from(format!(
                "{material} worked with {track}; a line through them gives this for pass {next}",
                material = self.material,
                track = track(points),
                next = self.next
            )),
            basis: Text::from(BASIS),
            confidence: Fraction::new(CONFIDENCE),
            ..Adjustment::default()
        });
        if name == "melt_c" {
            out.write(&self.caution());
        }
        true
    }

    fn verdict(&self, result: Decision, why: String) -> Verdict<'_> {
        Verdict {
            check: Name::from(CHECK),
            result,
            machine: self.machine.map(Name::from),
            rule: Text::from(RULE),
            why: Text::from(why),
            ..Verdict::default()
        }
    }

    fn caution(&self) -> Caution<'_> {
        heat::caution(self.material, self.machine)
    }
}

/// A line whose scatter is at least that of settings rounded to the last digit that is written:
/// a rectangular distribution of that width (JCGM 100:2008, 4.3.7).
fn rounded_line(line: Line, points: &[(u64, f64)]) -> Line {
    let step = resolution(points);
    Line { residual_squares: line.residual_squares.max(line.freedom * step * step / 12.0), ..line }
}

/// The largest of 1, 0.1, ... 0.000001 that every setting is a multiple of, as far as six digits show.
fn resolution(points: &[(u64, f64)]) -> f64 {
    let steps = [1.0, 1e-1, 1e-2, 1e-3, 1e-4, 1e-5];
    let whole = |x: f64| (x - x.round()).abs() < 1e-6;
    let fits = |step: &f64| points.iter().all(|point| whole(point.1 / step));
    steps.into_iter().find(fits).unwrap_or(1e-6)
}

/// The track of a setting in words, by pass; of many points the ends.
fn track(points: &[(u64, f64)]) -> String {
    let mut points = points.to_vec();
    points.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let said = |(pass, value): &(u64, f64)| format!("{value} at pass {pass}");
    match points.as_slice() {
        [first, .., last] if points.len() > 6 => {
            format!("{} up to {} in {} steps", said(first), said(last), points.len())
        }
        all => all.iter().map(said).collect::<Vec<_>>().join(", "),
    }
}

fn rounded(x: f64) -> f64 {
    (x * 1e6).round() / 1e6
}

#[expect(clippy::cast_precision_loss, reason = "a pass")]
fn as_number(pass: u64) -> f64 {
    pass as f64
}
