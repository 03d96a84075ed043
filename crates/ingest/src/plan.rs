//! How a row of a table becomes a record: worked out once for a header, followed for
//! every row.

use crate::cell::{Cell, text_into};
use crate::claims;
use crate::header::{self, Claim, Target};
use crate::settings::Settings;
use secondmelt_record::shape::{Field, Shape};
use secondmelt_record::units::Scale;
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

pub(crate) type Refusal = Box<Problem<'static>>;

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
        let mut claims = claims::by_hand(settings, headings)?;
        claims::by_heading(settings, headings, &mut claims)?;
        claims::check_units_used(settings, headings)?;
        let mut plan = Self::empty(settings, headings.len());
        for (column, (heading, claim)) in headings.iter().zip(&claims).enumerate() {
            match claim {
                Some(claim) => plan.add(settings, column, headings, claim)?,
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
        headings: &[String],
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
            Shape::Number(_) => claims::scale(settings, headings, column, claim)?,
            _ => Scale::ONE,
        };
        let Some(cell) = Cell::of(&shape, scale) else { return Ok(()) };
        let slot = Slot {
            column,
            heading: headings.get(column).cloned().unwrap_or_default(),
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

    /// Whether positions have a column of their own.
    pub(crate) fn has_positions(&self) -> bool {
        let column =
            |name: &str| self.slots.iter().find(|s| s.target.last() == name).map(|s| s.column);
        column("position_m").is_some() && column("position_m") != column("time_s")
    }

    /// Fields that neither a column nor a constant fills, as they are named by hand.
    pub(crate) fn free(&self, settings: &Settings) -> Vec<String> {
        let filled = |name: &str| {
            let same = |target: &Target| *target == Target::Field(name.to_owned());
            self.slots.iter().any(|s| same(&s.target)) || settings.set.iter().any(|(t, _)| same(t))
        };
        header::fillable(self.kind)
            .filter(|f| !filled(f.name))
            .map(|f| match f.shape {
                Shape::Numbers => format!("{}.NAME", f.name),
                _ => f.name.to_owned(),
            })
            .collect()
    }

    /// Why a table without a column for a required field is refused.
    pub(crate) fn missing_column(&self, headings: &[String]) -> Option<Refusal> {
        let name = self.missing.first()?.name;
        let wanted: Vec<String> = self
            .missing
            .iter()
            .map(|f| format!("{} ({})", f.name, f.text().trim_end_matches('.')))
            .collect();
        let flags: Vec<String> =
            self.missing.iter().map(|f| format!("--column {}=HEADER", f.name)).collect();
        // A reading is never the same in every row.
        let same = self.missing.iter().find(|f| !matches!(f.shape, Shape::Number(_)));
        let constant = same.map_or(String::new(), |f| {
            format!("; what is the same in every row is said by --set {}=VALUE", f.name)
        });
        let mut problem = refusal(
            Code::MissingColumn,
            listed(headings),
            format!("a column for {}", wanted.join(" and for ")),
            format!("say which it is by {}{constant}", flags.join(" ")),
        );
        problem.field = Some(Text::from(name));
        Some(problem)
    }
}

/// Why a table is refused that has neither positions nor the times to work them out
/// with the line speed that is stated.
pub(crate) fn missing_time(
    plan: &Plan,
    settings: &Settings,
    headings: &[String],
) -> Option<Refusal> {
    let has = |name: &str| plan.slots.iter().any(|s| s.target.last() == name);
    (settings.speed.is_some() && !has("time_s") && !has("position_m")).then(|| {
        refusal(
            Code::MissingColumn,
            listed(headings),
            "a column for time_s, since a line speed is stated",
            "name the column by --column time_s=HEADER, or leave out the line speed",
        )
    })
}

/// Headings for a message; not more than a person can take in.
pub(crate) fn listed(headings: &[String]) -> String {
    let mut names: Vec<String> = headings
        .iter()
        .map(|h| h.trim())
        .filter(|h| !h.is_empty())
        .take(41)
        .map(|h| h.chars().take(60).collect())
        .collect();
    if names.len() > 40 {
        names.truncate(40);
        names.push("...".to_owned());
    }
    let columns = if names.len() == 1 { "column" } else { "columns" };
    format!("the {columns} {}", names.join(", "))
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
