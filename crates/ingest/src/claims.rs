//! Which column fills which field, in which unit.

use crate::header::{self, Claim, Said};
use crate::plan::{Refusal, listed, refusal};
use crate::settings::Settings;
use secondmelt_record::units::{self, Scale};
use secondmelt_record::{Code, Text};

/// Claims of `--column`.
pub(crate) fn by_hand(
    settings: &Settings,
    headings: &[String],
) -> Result<Vec<Option<Claim>>, Refusal> {
    let mut claims: Vec<Option<Claim>> = vec![None; headings.len()];
    for (target, wanted) in &settings.columns {
        let at = one_position(headings, wanted, &format!("--column {}", target.name()))?;
        let said = headings.get(at).map_or(Said::Own, |heading| header::said_by_hand(heading));
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
    let name = claim.target.last();
    let stated = settings
        .units
        .iter()
        .find(|(wanted, _)| header::positions(headings, wanted).contains(&column));
    let said = match (stated, &claim.said) {
        (Some((_, unit)), _) => Said::Unit(unit.clone()),
        (None, said) => said.clone(),
    };
    let unit = units::of_field(name).map(|(unit, _)| unit);
    let flag = headings.get(column).map_or("", |h| h.trim());
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
