//! What went into a step against what came out.

use crate::book::{Book, Weighing};
use crate::flow::{COVERAGE, Flow, yield_pct};
use crate::names::Id;
use crate::words::{grams, grams_and_u, list, unsure, with_scales};
use secondmelt_record::facts::{Role, Settings};
use secondmelt_record::findings::{Decision, StepBalance, Verdict};
use secondmelt_record::{Code, Count, NonNegative, Number, Problem};
use std::collections::BTreeMap;

const RULE: &str = "|in - out - losses| <= 2 u, about 95 %; u is the root sum of squares of the \
                    weighings (JCGM 100:2008, 5.1.2), and of 10 % of the water where moisture readings \
                    account for it";

/// Share by which water worked out from moisture readings may be off, as a standard uncertainty (the
/// lab's own, common practice, no source).
pub(crate) const WATER_OFF: f64 = 0.1;

/// One step.
#[derive(Debug)]
pub(crate) struct Balance<'a> {
    book: &'a Book,
    step: Id,
    fed: Flow<'a>,
    good: Flow<'a>,
    losses: BTreeMap<Role, Flow<'a>>,
    /// In minus all that came out.
    difference: Flow<'a>,
    /// Water that left by the moisture readings, in g.
    water_g: Option<f64>,
}

/// One balance a step, by name: every step that is described or was weighed. A step
/// in which only stock was weighed is a stocktaking and has none.
pub(crate) fn balances(book: &Book) -> Vec<Balance<'_>> {
    let mut steps: BTreeMap<&str, (Id, Vec<&Weighing>)> = BTreeMap::new();
    for step in book.described() {
        steps.insert(book.name(step), (step, Vec::new()));
    }
    for weighing in book.weighings() {
        let step = weighing.step;
        steps.entry(book.name(step)).or_insert((step, Vec::new())).1.push(weighing);
    }
    let only_stock =
        |all: &[&Weighing]| !all.is_empty() && all.iter().all(|w| w.role == Role::Stock);
    steps
        .into_values()
        .filter(|(_, weighings)| !only_stock(weighings))
        .map(|(step, weighings)| Balance::new(book, step, &weighings))
        .collect()
}

impl<'a> Balance<'a> {
    fn new(book: &'a Book, step: Id, weighings: &[&'a Weighing]) -> Self {
        let (mut fed, mut good) = (Flow::default(), Flow::default());
        let mut losses: BTreeMap<Role, Flow<'a>> = BTreeMap::new();
        for weighing in weighings {
            match weighing.role {
                Role::In => fed.add(weighing, book),
                Role::Out => good.add(weighing, book),
                Role::Stock => {}
                loss => losses.entry(loss).or_default().add(weighing, book),
            }
        }
        let difference = fed.clone().minus([&good]).minus(losses.values());
        let water_g = book.water_g(step, weighings);
        Self { book, step, fed, good, losses, difference, water_g }
    }

    /// What no weighing explains, in g, water by moisture taken off.
    fn unexplained_g(&self) -> f64 {
        self.difference.mass_g() - self.water_g.unwrap_or(0.0)
    }

    /// Standard uncertainty of that, in g; none where one of the weighings has none.
    fn u_unexplained_g(&self) -> Option<f64> {
        let water = self.water_g.map_or(0.0, |water| WATER_OFF * water);
        self.difference.u_g().map(|u| u.hypot(water))
    }

    /// What is said of water that moisture readings account for.
    fn water(&self) -> String {
        match self.water_g {
            Some(water) if water >= 0.0 => {
                format!("; {} of water left by the moisture readings", grams(water))
            }
            Some(water) => format!("; {} of water came in by the moisture readings", grams(-water)),
            None => String::new(),
        }
    }

    /// The balance as a record; none where a sum is beyond what a record holds.
    pub(crate) fn finding(&self) -> Option<StepBalance<'_>> {
        let mut losses = BTreeMap::new();
        for (role, flow) in self.losses.iter().filter(|(_, flow)| !flow.weighed.is_empty()) {
            let name = format!("{}_g", role.as_str().replace('-', "_"));
            losses.insert(name, Number::new(flow.mass_g())?);
        }
        let gained = yield_pct(&self.good, &self.fed);
        Some(StepBalance {
            step: self.book.named(self.step),
            does: self.book.does(self.step),
            in_g: NonNegative::new(self.fed.mass_g())?,
            out_g: NonNegative::new(self.good.mass_g())?,
            losses: Settings(losses),
            water_g: self.water_g.and_then(Number::new),
            unexplained_g: Number::new(self.unexplained_g()),
            u_unexplained_g: self.u_unexplained_g().and_then(NonNegative::new),
            yield_pct: gained.and_then(|(share, _)| NonNegative::new(share)),
            u_yield_pct: gained.and_then(|(_, u)| u).and_then(NonNegative::new),
            weighings: Count::from(self.difference.weighed.len()),
            not_weighed: Count::from(self.difference.not_weighed.len()),
            ..StepBalance::default()
        })
    }

    /// What to say where a sum is beyond what a record holds.
    pub(crate) fn too_large(&self) -> Problem<'static> {
        Problem {
            code: Code::OutOfRange,
            found: format!("masses in step {} that add up beyond it", self.book.name(self.step))
                .into(),
            expected: "at most 1e9 g in a step".into(),
            advice: Some("check the unit of its weighings".into()),
            ..Problem::default()
        }
    }

    /// Whether the weighings explain the difference.
    pub(crate) fn verdict(&self) -> Verdict<'_> {
        let (result, why) = self.decision();
        let u_g = self.difference.u_g();
        let compared = !self.fed.is_empty() && self.something_came_out();
        let mut scales = self.difference.display_scales(self.book);
        scales.retain(|_| compared && u_g.is_some());
        let (rule, why) = with_scales(RULE, why, &scales);
        Verdict {
            check: "step-balance".into(),
            result,
            step: Some(self.book.named(self.step)),
            value: Number::new(self.difference.mass_g()).filter(|_| compared),
            limit: u_g.and_then(|u| Number::new(COVERAGE * u)).filter(|_| compared),
            unit: Some("g".into()),
            rule: rule.into(),
            why: why.into(),
            ..Verdict::default()
        }
    }

    fn something_came_out(&self) -> bool {
        !self.good.is_empty() || self.losses.values().any(|flow| !flow.is_empty())
    }

    fn decision(&self) -> (Decision, String) {
        match (self.fed.is_empty(), self.something_came_out()) {
            (true, false) => {
                return (Decision::Undecided, "no weighing says what went in or came out".into());
            }
            (true, true) => return (Decision::Undecided, "no weighing says what went in".into()),
            (false, false) => {
                return (Decision::Undecided, "no weighing says what came out".into());
            }
            (false, true) => {}
        }
        match self.u_unexplained_g() {
            None => (Decision::Undecided, self.unsure()),
            Some(u) if !self.difference.not_weighed.is_empty() => self.with_unweighed(COVERAGE * u),
            Some(u) => self.weighed_through(COVERAGE * u),
        }
    }

    fn weighed_through(&self, limit: f64) -> (Decision, String) {
        let difference = self.unexplained_g();
        let explained = grams(limit);
        if difference.abs() <= limit {
            let why = format!(
                "in and out differ by {}, and the weighings explain up to {explained}{}",
                grams(difference.abs()),
                self.water()
            );
            return (Decision::Conforms, why);
        }
        (
            Decision::Fails,
            format!("{}; the weighings explain at most {explained}{}", self.excess(), self.water()),
        )
    }

    fn excess(&self) -> String {
        let difference = self.unexplained_g();
        let size = grams(difference.abs());
        if difference > 0.0 {
            format!("{size} more went in than came out")
        } else if difference < 0.0 {
            format!("{size} more came out than went in")
        } else {
            "as much went in as came out".to_owned()
        }
    }

    /// How much is missing where nothing says how much may be.
    fn unsure(&self) -> String {
        let streams = &self.difference.not_weighed;
        let without = match streams.as_slice() {
            [] => String::new(),
            _ => format!(" without {}, which was not weighed", list(streams, self.book)),
        };
        format!("{}{without}; {}", self.excess(), unsure(&self.difference.unsure, self.book))
    }

    /// A stream that was not weighed is what is missing, unless that cannot be: what
    /// came out unweighed cannot be less than nothing.
    fn with_unweighed(&self, limit: f64) -> (Decision, String) {
        let streams = &self.difference.not_weighed;
        let fed = streams.iter().filter(|w| w.role == Role::In).count();
        let named = list(streams, self.book);
        let difference = self.unexplained_g();
        // The mass the streams must have had together, where all are on one side.
        let estimate = match fed {
            0 => difference,
            n if n == streams.len() => -difference,
            _ => {
                let why = format!(
                    "{named} were not weighed, some going in and some coming out, so nothing can be said of either"
                );
                return (Decision::Undecided, why);
            }
        };
        if estimate < -limit {
            let why = format!(
                "{} even without {named}, which was not weighed; the weighings explain at most {}",
                self.excess(),
                grams(limit)
            );
            return (Decision::Fails, why);
        }
        let why = format!(
            "{named} was not weighed; the balance puts it at {} if all else is right, which it cannot check: weigh it next time",
            grams_and_u(estimate, limit)
        );
        (Decision::Undecided, why)
    }
}
