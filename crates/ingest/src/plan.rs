//! How a row of a table becomes a record: worked out once for a header, followed for
//! every row.

use crate::cell::{Cell, text_into};
use crate::header::{self, Claim, Said, Target};
use crate::settings::Settings;
use secondmelt_record::shape::{Field, Shape};
use secondmelt_record::units::{self, Scale};
use secondmelt_record::{Code, Kind, Number, Problem, Text};

/// One value of a record: where it comes from and how it is written.
#[derive(Debug, Clone)]
pub(crate) struct Slot {
    /// Column of the table, counted from 0.
    pub(crate) column: usize,
    /// Its heading.
    pub(crate) heading: String,
    /// The field.
    pub(crate) target: Target,
    /// What stands before the value: `,"dx_mm":`.
    pub(crate) key: Vec<u8>,
    /// What the cell is turned into.
    pub(crate) cell: Cell,
    /// Whether a row without it is a problem.
    pub(crate) required: bool,
}

/// How a row becomes a record.
#[derive(Debug, Clone)]
pub(crate) struct Plan {
    /// Kind of the records.
    pub(crate) kind: Kind,
    /// The start of every record: its kind and the constants.
    pub(crate) prefix: Vec<u8>,
    /// Values in the order in which they are written.
    pub(crate) slots: Vec<Slot>,
    /// What stands before a nested object: `,"settings":{`.
    pub(crate) open: Vec<u8>,
    /// Its constants, each with its comma after it.
    pub(crate) inner_prefix: Vec<u8>,
    /// Its values.
    pub(crate) inner: Vec<Slot>,
    /// Required fields that neither a column nor a constant fills.
    pub(crate) missing: Vec<&'static Field>,
    /// Headings that are no field of the kind.
    pub(crate) unmatched: Vec<String>,
    /// Columns of the table.
    pub(crate) columns: usize,
    /// Whether records say where they came from.
    pub(crate) src: bool,
}

type Refusal = Box<Problem<'static>>;

/// A problem that refuses a whole file.
pub(crate) fn refusal(
    code: Code,
    found: impl Into<String>,
    expected: impl Into<String>,
    advice: impl Into<String>,
) -> Refusal {
    Box::new(Problem {
        code,
        found: Text::from(found.into()),
        expected: Text::from(expected.into()),
        advice: Some(Text::from(advice.into())),
        ..Problem::default()
    })
}

impl Plan {
    /// The plan for a header.
    ///
    /// # Errors
    /// Where two columns claim one field, a column named by hand is not there, or a
    /// unit is missing or does not fit.
    pub(crate) fn new(settings: &Settings, headings: &[String]) -> Result<Self, Refusal> {
        let mut claims = by_hand(settings, headings)?;
        by_heading(settings, headings, &mut claims)?;
        check_units_used(settings, headings)?;
        let mut plan = Self::empty(settings, headings.len());
        for (column, (heading, claim)) in headings.iter().zip(&claims).enumerate() {
            match claim {
                Some(claim) => plan.add(settings, column, heading, claim)?,
                None if heading.trim().is_empty() => {}
                None => plan.unmatched.push(heading.clone()),
            }
        }
        plan.add_position(settings);
        let filled = |name: &str| {
            let target = Target::Field(name.to_owned());
            plan.slots.iter().any(|s| s.target == target)
                || settings.set.iter().any(|(set, _)| *set == target)
        };
        plan.missing =
            header::fillable(settings.kind).filter(|f| f.required && !filled(f.name)).collect();
        Ok(plan)
    }

    fn empty(settings: &Settings, columns: usize) -> Self {
        let mut prefix = format!("{{\"kind\":\"{}\"", settings.kind).into_bytes();
        let (mut open, mut inner_prefix) = (Vec::new(), Vec::new());
        for (target, json) in &settings.set {
            match target {
                Target::Field(name) => {
                    prefix.extend(key(name));
                    prefix.extend_from_slice(json);
                }
                Target::Within(field, name) => {
                    open = opening(field);
                    inner_prefix.extend(key(name).into_iter().skip(1));
                    inner_prefix.extend_from_slice(json);
                    inner_prefix.push(b',');
                }
            }
        }
        Self {
            kind: settings.kind,
            prefix,
            slots: Vec::new(),
            open,
            inner_prefix,
            inner: Vec::new(),
            missing: Vec::new(),
            unmatched: Vec::new(),
            columns,
            src: settings.kind != Kind::Diameter,
        }
    }

    fn add(
        &mut self,
        settings: &Settings,
        column: usize,
        heading: &str,
        claim: &Claim,
    ) -> Result<(), Refusal> {
        let name = claim.target.last();
        let (shape, required) = match &claim.target {
            Target::Field(name) => {
                settings.kind.field(name).map_or((Shape::Text, false), |f| (f.shape, f.required))
            }
            Target::Within(..) => (Shape::Number(Number::RANGE), false),
        };
        let scale = match shape {
            Shape::Number(_) => scale(settings, heading, claim)?,
            _ => Scale::ONE,
        };
        let Some(cell) = Cell::of(&shape, scale) else { return Ok(()) };
        let slot = Slot {
            column,
            heading: heading.to_owned(),
            target: claim.target.clone(),
            key: key(name),
            cell,
            required,
        };
        if let Target::Within(field, _) = &claim.target {
            self.open = opening(field);
            self.inner.push(slot);
        } else {
            self.slots.push(slot);
        }
        Ok(())
    }

    /// Where a line speed is stated and there are times and no positions: the position
    /// from the same column as the time.
    fn add_position(&mut self, settings: &Settings) {
        let target = Target::Field("position_m".to_owned());
        let taken = self.slots.iter().any(|s| s.target == target)
            || settings.set.iter().any(|(set, _)| *set == target);
        let Some((above, below)) = settings.speed.filter(|_| !taken) else { return };
        let at = self.slots.iter().position(|s| s.target.last() == "time_s");
        let range = settings.kind.field("position_m").map(|f| f.shape);
        if let (Some(at), Some(Shape::Number(range))) = (at, range)
            && let Some(time) = self.slots.get(at)
            && let Cell::Number(_, scale) = &time.cell
            && let Some(scale) = scale.times(above, below)
        {
            let key = key("position_m");
            let slot = Slot {
                target,
                key,
                cell: Cell::Number(range, scale),
                required: false,
                ..time.clone()
            };
            self.slots.insert(at + 1, slot);
        }
    }

    /// Why a table without a column for a required field is refused.
    pub(crate) fn missing_column(&self, headings: &[String]) -> Option<Refusal> {
        let field = self.missing.first()?;
        let (name, text) = (field.name, field.text());
        let headings: Vec<_> =
            headings.iter().map(|h| h.trim()).filter(|h| !h.is_empty()).collect();
        let mut problem = refusal(
            Code::MissingColumn,
            format!("the columns {}", headings.join(", ")),
            format!("a column for {name} ({})", text.trim_end_matches('.')),
            format!(
                "name the column by --column {name}=HEADER, or say --set {name}=VALUE if it is the same in every row"
            ),
        );
        problem.field = Some(Text::from(name));
        Some(problem)
    }
}

fn key(name: &str) -> Vec<u8> {
    let mut key = vec![b','];
    text_into(name, &mut key);
    key.push(b':');
    key
}

fn opening(field: &str) -> Vec<u8> {
    let mut open = key(field);
    open.push(b'{');
    open
}

/// Claims of `--column`.
fn by_hand(settings: &Settings, headings: &[String]) -> Result<Vec<Option<Claim>>, Refusal> {
    let mut claims: Vec<Option<Claim>> = vec![None; headings.len()];
    for (target, wanted) in &settings.columns {
        let at = one_position(headings, wanted, &format!("--column {}", target.name()))?;
        let claim = Claim { target: target.clone(), said: header::said_by_hand(&headings[at]) };
        if let Some(other) = claims[at].replace(claim) {
            return Err(refusal(
                Code::BadColumn,
                format!(
                    "the column {wanted:?} for {} and for {}",
                    other.target.name(),
                    target.name()
                ),
                "one field for a column",
                "leave out one --column",
            ));
        }
    }
    Ok(claims)
}

/// The one column that a name given by hand means.
fn one_position(headings: &[String], wanted: &str, flag: &str) -> Result<usize, Refusal> {
    match header::positions(headings, wanted).as_slice() {
        [at] => Ok(*at),
        [] => Err(refusal(
            Code::BadColumn,
            format!("the columns {}", headings.join(", ")),
            format!("a column {wanted:?}"),
            format!("put {flag} right"),
        )),
        _ => Err(refusal(
            Code::BadColumn,
            format!("more than one column {wanted:?}"),
            "one",
            "rename one of them in the file",
        )),
    }
}

/// Claims by heading, for columns and fields that are not settled by hand.
fn by_heading(
    settings: &Settings,
    headings: &[String],
    claims: &mut [Option<Claim>],
) -> Result<(), Refusal> {
    for (at, heading) in headings.iter().enumerate() {
        let Some(claim) = header::claim(settings.kind, heading).filter(|_| claims[at].is_none())
        else {
            continue;
        };
        let by_hand = settings.columns.iter().any(|(t, _)| *t == claim.target);
        let constant = settings.set.iter().any(|(t, _)| *t == claim.target);
        if by_hand || constant {
            continue;
        }
        let same = |c: &Option<Claim>| c.as_ref().is_some_and(|c| c.target == claim.target);
        if let Some(other) = claims.iter().position(same) {
            let name = claim.target.name();
            return Err(refusal(
                Code::BadColumn,
                format!("two columns for {name}: {:?} and {heading:?}", headings[other]),
                "one column for a field",
                format!("say which by --column {name}=HEADER"),
            ));
        }
        claims[at] = Some(claim);
    }
    Ok(())
}

/// A `--unit` that names no column would be a slip that nobody notices.
fn check_units_used(settings: &Settings, headings: &[String]) -> Result<(), Refusal> {
    for (heading, unit) in &settings.units {
        if header::positions(headings, heading).is_empty() {
            return Err(refusal(
                Code::BadColumn,
                format!("the columns {}", headings.join(", ")),
                format!("a column {heading:?}"),
                format!("put --unit {heading}={unit} right"),
            ));
        }
    }
    Ok(())
}

/// How to get from the unit of a column to that of its field.
fn scale(settings: &Settings, heading: &str, claim: &Claim) -> Result<Scale, Refusal> {
    let name = claim.target.last();
    let stated = settings.units.iter().find(|(wanted, _)| {
        !header::positions(std::slice::from_ref(&heading.to_owned()), wanted).is_empty()
    });
    let said = match (stated, &claim.said) {
        (Some((_, unit)), _) => Said::Unit(unit.clone()),
        (None, said) => said.clone(),
    };
    let unit = units::of_field(name).map(|(unit, _)| unit);
    let flag = heading.trim();
    let fault = |found: String, expected: String, example: &str| {
        let mut problem = refusal(
            Code::UnknownUnit,
            found,
            expected,
            format!("say --unit '{flag}={example}', or write the unit in the heading"),
        );
        problem.column = Some(Text::from(flag.to_owned()));
        problem.field = Some(Text::from(claim.target.name()));
        problem
    };
    match (said, unit) {
        (Said::Own, _) | (Said::Nothing, None) => Ok(Scale::ONE),
        (Said::Nothing, Some(unit)) => Err(fault(
            "no unit".to_owned(),
            format!("the unit of {}, one of: {}", claim.target.name(), unit.accepted()),
            unit.sign(),
        )),
        (Said::Unit(found), Some(unit)) => unit.scale(&found).ok_or_else(|| {
            fault(
                format!("the unit {found:?}"),
                format!("a unit of {}, one of: {}", claim.target.name(), unit.accepted()),
                unit.sign(),
            )
        }),
        // Without a unit, what stands in brackets can only be a remark.
        (Said::Unit(_), None) if stated.is_none() => Ok(Scale::ONE),
        (Said::Unit(found), None) => Err(refusal(
            Code::UnknownUnit,
            format!("the unit {found:?}"),
            format!("none: {} is a plain number", claim.target.name()),
            format!("leave out --unit {flag}={found}"),
        )),
    }
}
