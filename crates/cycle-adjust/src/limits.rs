//! The limits and targets that the lab has set.

use secondmelt_record::facts::Limit;
use secondmelt_record::{Code, Line, Name, Number, Problem};

/// The quantity that limits of the melt mass-flow rate name.
pub(crate) const MFR: &str = "mfr_g_10min";
/// The quantity that a wanted throughput names.
pub(crate) const THROUGHPUT: &str = "throughput_kg_h";
/// The quantity that limits of the moisture name.
pub(crate) const MOISTURE: &str = "moisture_pct";

/// Temperatures nearer than this are one test condition, in degrees Celsius.
const SAME_C: f64 = 0.05;
/// Loads nearer than this share are one test condition.
const SAME_LOAD: f64 = 1e-3;

/// Limits and target of a quantity, in its unit.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Ends {
    pub(crate) min: Option<f64>,
    pub(crate) max: Option<f64>,
    pub(crate) target: Option<f64>,
}

/// A limit and what it holds for.
#[derive(Debug, Clone, PartialEq)]
struct Set {
    what: &'static str,
    lot: Option<String>,
    material: Option<String>,
    machine: Option<String>,
    temp_c: Option<f64>,
    load_kg: Option<f64>,
    ends: Ends,
}

/// What a limit is asked of.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Of<'a> {
    pub(crate) lot: Option<&'a str>,
    pub(crate) material: Option<&'a str>,
    pub(crate) machine: Option<&'a str>,
    /// Test temperature and load of a melt flow rate, in degrees Celsius and kg.
    pub(crate) condition: Option<(f64, f64)>,
}

/// Every limit that this filter can use.
#[derive(Debug, Default)]
pub(crate) struct Limits(Vec<Set>);

impl Limits {
    /// Takes a limit; a problem where it is none or contradicts an earlier one. Limits of other
    /// quantities are no business of this filter.
    pub(crate) fn take(&mut self, limit: &Limit<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        let known = [MFR, THROUGHPUT, MOISTURE];
        let what = *known.iter().find(|name| **name == limit.what.as_str())?;
        // A limit of the melt flow on one machine would be one of the test, not of the lot.
        if what == MFR && limit.machine.is_some() {
            return None;
        }
        let smallest = [limit.min, limit.max, limit.target].into_iter().flatten().map(Number::get);
        let smallest = smallest.fold(f64::INFINITY, f64::min);
        if what != MOISTURE && smallest <= 0.0 {
            let found = format!("a limit of {what} of {smallest}");
            let mut problem = line.problem(Code::OutOfRange, found, "a limit above zero");
            problem.advice =
                Some("leave the field out where there is no limit on that side".into());
            return Some(problem);
        }
        if let (Some(min), Some(max)) = (limit.min, limit.max)
            && min > max
        {
            let found =
                format!("a smallest {what} of {} above the largest of {}", min.get(), max.get());
            return Some(line.problem(Code::OutOfRange, found, "min at most max"));
        }
        let name = |x: &Option<Name<'_>>| x.as_ref().map(ToString::to_string);
        let set = Set {
            what,
            lot: name(&limit.lot),
            material: name(&limit.material),
            machine: name(&limit.machine),
            temp_c: limit.temp_c.map(Into::into),
            load_kg: limit.load_kg.map(Into::into),
            ends: Ends {
                min: limit.min.map(Into::into),
                max: limit.max.map(Into::into),
                target: limit.target.map(Into::into),
            },
        };
        let Some(first) = self.0.iter().find(|other| other.holds_for_the_same(&set)) else {
            self.0.push(set);
            return None;
        };
        (first.ends != set.ends).then(|| line.contradiction("limit", what))
    }

    /// The limit that holds: that of the lot before that of its material before that of all, and
    /// of each the one that names most.
    pub(crate) fn of(&self, what: &str, of: Of<'_>) -> Option<Ends> {
        let fitting = self.0.iter().filter(|set| set.what == what && set.fits(of));
        fitting.max_by_key(|set| set.named()).map(|set| set.ends)
    }

    /// Whether the limit that holds for a melt flow rate names no test condition.
    pub(crate) fn is_of_any_condition(&self, of: Of<'_>) -> bool {
        let fitting = self.0.iter().filter(|set| set.what == MFR && set.fits(of));
        let best = fitting.max_by_key(|set| set.named());
        best.is_some_and(|set| set.temp_c.is_none() && set.load_kg.is_none())
    }
}

impl Set {
    fn holds_for_the_same(&self, other: &Self) -> bool {
        Self { ends: other.ends, ..self.clone() } == *other
    }

    fn fits(&self, of: Of<'_>) -> bool {
        let named = |mine: &Option<String>, asked: Option<&str>| {
            mine.as_deref().is_none_or(|mine| asked == Some(mine))
        };
        let condition = match of.condition {
            None => self.temp_c.is_none() && self.load_kg.is_none(),
            Some((temp_c, load_kg)) => {
                self.temp_c.is_none_or(|mine| (mine - temp_c).abs() <= SAME_C)
                    && self.load_kg.is_none_or(|mine| (mine - load_kg).abs() <= SAME_LOAD * mine)
            }
        };
        condition
            && named(&self.lot, of.lot)
            && named(&self.material, of.material)
            // How dry a lot must be is asked before it is known where it will be melted.
            && (self.what == MOISTURE || named(&self.machine, of.machine))
    }

    fn named(&self) -> [bool; 5] {
        [
            self.lot.is_some(),
            self.material.is_some(),
            self.machine.is_some(),
            self.temp_c.is_some(),
            self.load_kg.is_some(),
        ]
    }
}
