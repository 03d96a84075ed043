//! What the stream said of steps, scales and weighings.

use crate::names::{Id, Names};
use secondmelt_record::facts::{Does, Role, Scale, Source, Step};
use secondmelt_record::{Code, Count, Line, Name, Problem, Text, facts};
use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, HashMap};

/// Where a weighing was written down: the lab's own file where the record says so,
/// else the stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Spot {
    file: Option<Id>,
    sheet: Option<Id>,
    line: Option<u64>,
}

/// One weighing. Times are in ms since 1970.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Weighing {
    pub(crate) step: Id,
    pub(crate) lot: Id,
    pub(crate) role: Role,
    /// Absent: it flowed and was not weighed.
    pub(crate) mass_g: Option<f64>,
    pub(crate) at_ms: Option<i64>,
    u_g: Option<f64>,
    scale: Option<Id>,
    spot: Spot,
}

/// Sheet and line: the place within a file, whatever the file is called.
type Row = (Option<Id>, Option<u64>);
/// All that tells one weighing of a source line from another, numbers by their bits.
type Content = (Row, Id, Id, Role, Option<u64>, Option<u64>, Option<Id>, Option<i64>);

impl Weighing {
    fn content(&self) -> Content {
        let bits = |x: Option<f64>| x.map(f64::to_bits);
        let Self { spot, step, lot, role, scale, at_ms, .. } = *self;
        let row = (spot.sheet, spot.line);
        (row, step, lot, role, bits(self.mass_g), bits(self.u_g), scale, at_ms)
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct StepFact {
    does: Does,
    at_ms: Option<i64>,
}

/// Standard uncertainty of a weighing on a scale, in g, and where it is known from.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Known {
    /// Somebody has stated it.
    Stated(f64),
    /// It is the rounding to a step of the display and nothing else.
    Display(f64),
}

/// What a step took.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Outlay {
    pub(crate) energy_kwh: Option<f64>,
    pub(crate) cost: Option<f64>,
    pub(crate) currency: Option<String>,
}

/// What the stream said.
#[derive(Debug, Default)]
pub(crate) struct Book {
    names: Names,
    steps: HashMap<Id, StepFact>,
    /// What is known of each scale.
    scales: HashMap<Id, Option<Known>>,
    /// What is known of lots by their own records.
    lots: HashMap<Id, crate::trace::Source>,
    materials: HashMap<Id, Id>,
    /// Water over wet mass, by lot and time in ms since 1970.
    moistures: HashMap<Id, Vec<(Option<i64>, f64)>>,
    outlays: HashMap<Id, Outlay>,
    /// Containers of the lab, in g.
    pub(crate) tares_g: Vec<f64>,
    weighings: Vec<Weighing>,
    /// Where each weighing with a source line was first written down.
    sourced: HashMap<Content, Spot>,
}

/// Standard uncertainty of a reading that is only known to lie within half a display
/// step either side: a rectangular distribution (JCGM 100:2008, 4.3.7 and F.2.2.1).
fn u_of_resolution(resolution: f64) -> f64 {
    resolution / 12_f64.sqrt()
}

impl Book {
    /// Takes a step; a problem where it contradicts an earlier one of the same name.
    pub(crate) fn step(&mut self, step: &Step<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        let id = self.names.id(&step.step);
        let fact = StepFact { does: step.does, at_ms: milliseconds(step.at.as_ref()) };
        self.outlays.entry(id).or_insert_with(|| Outlay {
            energy_kwh: step.energy_kwh.map(Into::into),
            cost: step.cost.map(Into::into),
            currency: step.currency.as_ref().map(|name| name.to_string()),
        });
        let first = *self.steps.entry(id).or_insert(fact);
        (first != fact).then(|| line.contradiction("step", &step.step))
    }

    /// Takes a scale; a problem where it contradicts an earlier one of the same name.
    pub(crate) fn scale(&mut self, scale: &Scale<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        let id = self.names.id(&scale.scale);
        let display = scale.resolution_g.map(|step| Known::Display(u_of_resolution(step.get())));
        let known = scale.u_g.map(|u_g| Known::Stated(u_g.into())).or(display);
        let first = *self.scales.entry(id).or_insert(known);
        (first != known).then(|| line.contradiction("scale", &scale.scale))
    }

    /// Takes a lot; a problem where it contradicts an earlier one of the same name.
    pub(crate) fn lot(&mut self, lot: &facts::Lot<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        let id = self.names.id(&lot.lot);
        let source = crate::trace::Source { origin: lot.origin, passes: lot.passes.map(|n| n.0) };
        let material = self.names.id(&lot.material);
        let first = *self.lots.entry(id).or_insert(source);
        let kept = *self.materials.entry(id).or_insert(material);
        (first != source || kept != material).then(|| line.contradiction("lot", &lot.lot))
    }

    /// Takes a moisture content.
    pub(crate) fn moisture(&mut self, record: &facts::Moisture<'_>) {
        let share = record.moisture_pct.get() / 100.0;
        let wet = match record.basis {
            Some(facts::MoistureBasis::Dry) => share / (1.0 + share),
            _ => share,
        };
        let lot = self.names.id(&record.lot);
        self.moistures.entry(lot).or_default().push((milliseconds(record.at.as_ref()), wet));
    }

    /// Whether the moisture of a lot was ever read.
    fn has_moisture(&self, lot: Id) -> bool {
        self.moistures.contains_key(&lot)
    }

    /// Water that left a step that dries or washes, in g, by the moisture of what went in and came out:
    /// negative where it took water up. None where that is not known of every weighing, or the
    /// water was weighed.
    pub(crate) fn water_g(&self, step: Id, weighings: &[&Weighing]) -> Option<f64> {
        if !matches!(self.does(step)?, Does::Dry | Does::Wash) {
            return None;
        }
        let mut water = 0.0;
        let mut sides = (false, false);
        for weighing in weighings.iter().filter(|w| w.role != Role::Stock) {
            if weighing.role == Role::Water || !self.has_moisture(weighing.lot) {
                return None;
            }
            let held = weighing.mass_g? * self.wet_share(weighing);
            let goes_in = weighing.role == Role::In;
            water += if goes_in { held } else { -held };
            sides = (sides.0 || goes_in, sides.1 || weighing.role == Role::Out);
        }
        (sides == (true, true)).then_some(water)
    }

    /// Water over wet mass of what was weighed: by the last reading of the lot until then,
    /// else by its first; nothing where none was read.
    pub(crate) fn wet_share(&self, weighing: &Weighing) -> f64 {
        let Some(readings) = self.moistures.get(&weighing.lot) else { return 0.0 };
        let at = self.at_ms(weighing);
        let order = |a: &&(Option<i64>, f64), b: &&(Option<i64>, f64)| {
            a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
        };
        let until = readings.iter().filter(|(read, _)| at.is_none() || *read <= at);
        let found = until.max_by(order).or_else(|| readings.iter().min_by(order));
        found.map_or(0.0, |(_, wet)| *wet)
    }

    /// Energy and cost of a step, where its record carries them.
    pub(crate) fn outlay(&self, step: Id) -> Option<&Outlay> {
        self.outlays.get(&step)
    }

    /// What is known of a lot that no step made.
    pub(crate) fn lot_source(&self, lot: Id) -> crate::trace::Source {
        self.lots.get(&lot).copied().unwrap_or_default()
    }

    /// Takes a weighing; a problem where the same source line was taken before, be it under
    /// another name of its file: a copy of a file has each weighing on the same line.
    pub(crate) fn weighing(
        &mut self,
        record: &facts::Weighing<'_>,
        line: Line<'_>,
    ) -> Option<Problem<'static>> {
        let weighing = Weighing {
            step: self.names.id(&record.step),
            lot: self.names.id(&record.lot),
            role: record.role,
            mass_g: record.mass_g.map(Into::into),
            at_ms: milliseconds(record.at.as_ref()),
            u_g: record.u_g.map(Into::into),
            scale: record.scale.as_ref().map(|scale| self.names.id(scale)),
            spot: self.spot(record.src.as_ref(), line),
        };
        let sourced = record.src.as_ref().is_some_and(|src| src.line.is_some());
        if sourced {
            match self.sourced.entry(weighing.content()) {
                Entry::Occupied(first) => {
                    let first = *first.get();
                    return Some(self.duplicate(&weighing, first, line));
                }
                Entry::Vacant(free) => drop(free.insert(weighing.spot)),
            }
        }
        self.weighings.push(weighing);
        None
    }

    fn spot(&mut self, src: Option<&Source<'_>>, line: Line<'_>) -> Spot {
        match src {
            Some(src) => Spot {
                file: Some(self.names.id(&src.file)),
                sheet: src.sheet.as_ref().map(|sheet| self.names.id(sheet)),
                line: src.line.map(|line| line.0),
            },
            None => Spot {
                file: line.place.file.map(|file| self.names.id(file)),
                sheet: None,
                line: Some(line.place.line),
            },
        }
    }

    fn duplicate(&self, again: &Weighing, first: Spot, line: Line<'_>) -> Problem<'static> {
        let (here, there) = (self.spot_text(again.spot), self.spot_text(first));
        let (found, advice) = if again.spot == first {
            (format!("{here} a second time"), "it is counted once; read each file once")
        } else {
            (
                format!("the weighing of {there} again, as {here}"),
                "it is counted once, as from the same file under another name; where it is another \
                 weighing, give each its time (`at`)",
            )
        };
        let mut problem = line.problem(Code::Duplicate, found, "each source line once");
        problem.lot = Some(self.named(again.lot).into_owned());
        problem.advice = Some(advice.into());
        problem
    }

    /// The weighings, in order of reading.
    pub(crate) fn weighings(&self) -> &[Weighing] {
        &self.weighings
    }

    /// Standard uncertainty of a weighing, in g: its own, else that of its scale.
    pub(crate) fn u_g(&self, weighing: &Weighing) -> Option<f64> {
        weighing.u_g.or_else(|| match self.known_of(weighing)? {
            (_, Known::Stated(u_g) | Known::Display(u_g)) => Some(u_g),
        })
    }

    /// The scale of a weighing of which the display step is all that is known.
    pub(crate) fn display_scale(&self, weighing: &Weighing) -> Option<&str> {
        match self.known_of(weighing).filter(|_| weighing.u_g.is_none())? {
            (scale, Known::Display(_)) => Some(self.name(scale)),
            (_, Known::Stated(_)) => None,
        }
    }

    fn known_of(&self, weighing: &Weighing) -> Option<(Id, Known)> {
        let scale = weighing.scale?;
        Some((scale, (*self.scales.get(&scale)?)?))
    }

    /// Time of a weighing in ms since 1970: its own, else that of its step.
    pub(crate) fn at_ms(&self, weighing: &Weighing) -> Option<i64> {
        weighing.at_ms.or_else(|| self.steps.get(&weighing.step)?.at_ms)
    }

    /// A name of a step or lot.
    pub(crate) fn name(&self, id: Id) -> &str {
        self.names.name(id)
    }

    /// A name as the field of a record.
    pub(crate) fn named(&self, id: Id) -> Name<'_> {
        Name::from(self.name(id))
    }

    /// What a step does, where a record describes it.
    pub(crate) fn does(&self, step: Id) -> Option<Does> {
        self.steps.get(&step).map(|fact| fact.does)
    }

    /// Steps that a record describes.
    pub(crate) fn described(&self) -> impl Iterator<Item = Id> {
        self.steps.keys().copied()
    }

    /// Where a weighing was written down, for a person.
    pub(crate) fn place(&self, weighing: &Weighing) -> String {
        self.spot_text(weighing.spot)
    }

    /// Where a weighing was written down in the lab's own files.
    pub(crate) fn source(&self, weighing: &Weighing) -> Option<Source<'static>> {
        let Spot { file, sheet, line } = weighing.spot;
        let text = |id: Id| Text::from(self.name(id).to_owned());
        let line = line.map(Count);
        Some(Source {
            file: text(file?),
            sheet: sheet.map(text),
            line,
            life: std::marker::PhantomData,
        })
    }

    fn spot_text(&self, Spot { file, sheet, line }: Spot) -> String {
        let file = file.map(|file| self.name(file).to_owned());
        let sheet = sheet.map(|sheet| format!("sheet {}", self.name(sheet)));
        let line = line.map(|line| format!("line {line}"));
        let parts: Vec<_> = [file, sheet, line].into_iter().flatten().collect();
        parts.join(" ")
    }

    /// Steps that weighings name and no record describes, one problem each. A stream
    /// without any `step` record says nothing of its steps, and is none.
    pub(crate) fn not_described(&self) -> Vec<Problem<'static>> {
        if self.steps.is_empty() {
            return Vec::new();
        }
        let mut first: BTreeMap<&str, &Weighing> = BTreeMap::new();
        for weighing in &self.weighings {
            if !self.steps.contains_key(&weighing.step) {
                first.entry(self.name(weighing.step)).or_insert(weighing);
            }
        }
        first.into_iter().map(|(step, weighing)| self.unknown_step(step, weighing)).collect()
    }

    fn unknown_step(&self, step: &str, weighing: &Weighing) -> Problem<'static> {
        let Spot { file, sheet, line } = weighing.spot;
        let text = |id: Id| Text::from(self.name(id).to_owned());
        Problem {
            code: Code::NotDescribed,
            file: file.map(text),
            sheet: sheet.map(text),
            line: line.map(Count),
            field: Some("step".into()),
            lot: Some(self.named(weighing.lot).into_owned()),
            found: format!("step {step}").into(),
            expected: "a `step` record of that name".into(),
            advice: Some("it is balanced all the same; correct the name or add the step".into()),
            ..Problem::default()
        }
    }
}

fn milliseconds(at: Option<&secondmelt_record::Time<'_>>) -> Option<i64> {
    at.and_then(|at| at.instant()).map(|instant| instant.as_millisecond())
}
