//! Which column fills which field, in which unit.

use crate::header::{self, Claim, Said};
use crate::plan::{Refusal, listed, refusal};
use crate::settings::Settings;
use secondmelt_record::units::{self, Scale, Unit};
use secondmelt_record::{Code, Text};

/// Claims of `--column`.
pub(crate) fn by_hand(
    settings: &Settings,
    headings: &[String],
) -> Result<Vec<Option<Claim>>, Refusal> {
    let mut claims: Vec<Option<Claim>> = vec![None; headings.len()];
    for (target, wanted) in &settings.columns {
        let at = one_position(headings, wanted, &format!("--column {}", target.name()))?;
        let said =
            headings.get(at).map_or(Said::Assumed, |heading| header::said_by_hand(heading, target));
        let claim = Claim { target: target.clone(), said };
        if let Some(other) = claims.get_mut(at).and_then(|place| place.replace(claim)) {
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
            listed(headings),
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
pub(crate) fn by_heading(
    settings: &Settings,
    headings: &[String],
    claims: &mut [Option<Claim>],
) -> Result<(), Refusal> {
    for (at, heading) in headings.iter().enumerate() {
        let free = claims.get(at).is_some_and(Option::is_none);
        let Some(claim) = header::claim(settings.kind, heading).filter(|_| free) else { continue };
        let by_hand = settings.columns.iter().any(|(t, _)| *t == claim.target);
        let constant = settings.set.iter().any(|(t, _)| *t == claim.target);
        if by_hand || constant {
            continue;
        }
        let mut taken = claims.iter().zip(headings);
        let same = |c: &Option<Claim>| c.as_ref().is_some_and(|c| c.target == claim.target);
        if let Some((_, other)) = taken.find(|(c, _)| same(c)) {
            let name = claim.target.name();
            return Err(refusal(
                Code::BadColumn,
                format!("two columns for {name}: {other:?} and {heading:?}"),
                "one column for a field",
                format!("say which by --column {name}=HEADER"),
            ));
        }
        if let Some(place) = claims.get_mut(at) {
            *place = Some(claim);
        }
    }
    Ok(())
}

/// A `--unit` that names no column would be a slip that nobody notices.
pub(crate) fn check_units_used(settings: &Settings, headings: &[String]) -> Result<(), Refusal> {
    for (heading, unit) in &settings.units {
        if header::positions(headings, heading).is_empty() {
            return Err(refusal(
                Code::BadColumn,
                listed(headings),
                format!("a column {heading:?}"),
                format!("put --unit {heading}={unit} right"),
            ));
        }
    }
    Ok(())
}

/// How to get from the unit of a column to that of its field.
pub(crate) fn scale(
    settings: &Settings,
    headings: &[String],
    column: usize,
    claim: &Claim,
) -> Result<Scale, Refusal> {
    let unit = units::of_field(claim.target.last()).map(|(unit, _)| unit);
    let heading = headings.get(column).map_or("", |h| h.trim());
    let place = |mut problem: Refusal| {
        problem.column = Some(Text::from(heading.to_owned()));
        problem.field = Some(Text::from(claim.target.name()));
        problem
    };
    let stated = settings
        .units
        .iter()
        .find(|(wanted, _)| header::positions(headings, wanted).contains(&column))
        .map(|(_, unit)| unit);
    let answer = match (stated, unit) {
        (Some(stated), Some(unit)) => by_flag(heading, stated, unit, claim),
        (Some(stated), None) => Err(refusal(
            Code::UnknownUnit,
            format!("the unit {stated:?}"),
            format!("none: {} is a plain number", claim.target.name()),
            format!("leave out --unit '{heading}={stated}'"),
        )),
        // Without a unit, what stands in brackets can only be a remark.
        (None, None) => Ok(Scale::ONE),
        (None, Some(unit)) => by_heading_alone(heading, unit, claim),
    };
    answer.map_err(place)
}

/// The scale of a unit that is stated, if the heading does not say another.
fn by_flag(heading: &str, stated: &str, unit: &Unit, claim: &Claim) -> Result<Scale, Refusal> {
    let Some(scale) = unit.scale(stated) else {
        let like = unit.like(stated).unwrap_or("UNIT");
        return Err(unfit(heading, &format!("the unit {stated:?}"), like, unit, claim));
    };
    let said = match &claim.said {
        Said::Own => unit.sign(),
        Said::Unit(said) => said,
        Said::Nothing | Said::Assumed => return Ok(scale),
    };
    match unit.scale(said) {
        Some(other) if other != scale => Err(refusal(
            Code::UnknownUnit,
            format!("the unit {stated:?} by --unit, and {said:?} by the heading"),
            "one unit for a column",
            format!("leave out --unit '{heading}={stated}', or put the heading right in the file"),
        )),
        _ => Ok(scale),
    }
}

/// The scale of the unit that a heading names.
fn by_heading_alone(heading: &str, unit: &Unit, claim: &Claim) -> Result<Scale, Refusal> {
    match &claim.said {
        Said::Own | Said::Assumed => Ok(Scale::ONE),
        Said::Nothing => Err(unfit(heading, "no unit", unit.sign(), unit, claim)),
        Said::Unit(said) => unit.scale(said).ok_or_else(|| {
            let like = unit.like(said).unwrap_or("UNIT");
            unfit(heading, &format!("the unit {said:?}"), like, unit, claim)
        }),
    }
}

/// Why a unit is refused, and how to say it better.
fn unfit(heading: &str, found: &str, example: &str, unit: &Unit, claim: &Claim) -> Refusal {
    let (bare, _) = header::split_bracket(heading);
    let sign = if example == "UNIT" { unit.sign() } else { example };
    refusal(
        Code::UnknownUnit,
        found,
        format!("a unit of {}, one of: {}", claim.target.name(), unit.accepted()),
        format!(
            "say --unit '{heading}={example}', or write the unit in brackets in the heading, e.g. {bare} ({sign})"
        ),
    )
}
