//! Column headings to fields: whatever their case, with the unit understood.

use crate::settings::Settings;
use secondmelt_record::Kind;
use secondmelt_record::shape::{Field, Shape};
use secondmelt_record::units;

/// The field a column fills.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Target {
    /// A field of the record.
    Field(String),
    /// A named number within a field that holds several (`settings.melt_c`).
    Within(String, String),
}

impl Target {
    /// The name as it is written in a heading.
    pub(crate) fn name(&self) -> String {
        match self {
            Self::Field(name) => name.clone(),
            Self::Within(field, key) => format!("{field}.{key}"),
        }
    }

    /// The name at the end of which a unit stands.
    pub(crate) fn last(&self) -> &str {
        match self {
            Self::Field(name) | Self::Within(_, name) => name,
        }
    }
}

/// What a heading says of the unit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Said {
    /// Nothing.
    Nothing,
    /// That it is the unit of the field, by its full name.
    Own,
    /// Nothing, of a column that was named by hand: that of the field, unless a flag
    /// says another.
    Assumed,
    /// This spelling.
    Unit(String),
}

/// What a heading stands for.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Claim {
    /// The field.
    pub(crate) target: Target,
    /// The unit it names.
    pub(crate) said: Said,
}

/// Fields of a kind that a column may fill.
pub(crate) fn fillable(kind: Kind) -> impl Iterator<Item = &'static Field> {
    kind.fields()
        .iter()
        .filter(|f| !matches!(f.shape, Shape::Object(_) | Shape::List(_) | Shape::Counts))
}

/// A heading in lower case, with single spaces for all that is neither letter nor digit,
/// and a word for the sign of a diameter.
pub(crate) fn plain(heading: &str) -> String {
    let spaced: String = heading
        .replace(['\u{2300}', '\u{2205}'], " \u{f8} ")
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { ' ' })
        .flat_map(char::to_lowercase)
        .collect();
    let word = |word| if word == "\u{f8}" { "diameter" } else { word };
    spaced.split_whitespace().map(word).collect::<Vec<_>>().join(" ")
}

/// The target of that name, as it stands in `--column` or `--set`.
pub(crate) fn named(kind: Kind, name: &str) -> Option<Target> {
    if let Some((object, key)) = name.split_once('.') {
        return within(kind, object, key, None).map(|claim| claim.target);
    }
    fillable(kind)
        .find(|f| f.name == name && !matches!(f.shape, Shape::Numbers))
        .map(|f| Target::Field(f.name.to_owned()))
}

/// What a heading stands for in records of that kind; none where it is no field.
pub(crate) fn claim(kind: Kind, heading: &str) -> Option<Claim> {
    let (bare, bracket) = split_bracket(heading);
    if let Some((object, key)) = bare.split_once('.')
        && let Some(claim) = within(kind, object, key, bracket.as_deref())
    {
        return Some(claim);
    }
    // `Water content [%]` holds a unit, `Diameter (X)` does not.
    let in_bracket = || {
        let claim = whole(kind, &bare)?;
        Some(Claim { said: Said::Unit(bracket.clone()?), ..claim })
    };
    let direct = whole(kind, heading);
    if direct.as_ref().is_some_and(|claim| claim.said == Said::Own) {
        return direct;
    }
    let at_the_end = || {
        splits(heading).into_iter().find_map(|(bare, unit)| {
            let claim = whole(kind, bare)?;
            Some(Claim { said: Said::Unit(unit.to_owned()), ..claim })
        })
    };
    if bracket.as_deref().is_some_and(units::is_known) {
        return in_bracket().or(direct);
    }
    at_the_end().or(direct).or_else(in_bracket)
}

/// The field whose name, name without unit, or usual heading this is.
fn whole(kind: Kind, heading: &str) -> Option<Claim> {
    let heading = plain(heading);
    if heading.is_empty() {
        return None;
    }
    let fields = || fillable(kind).filter(|f| !matches!(f.shape, Shape::Numbers));
    let claim = |field: &Field, said| Claim { target: Target::Field(field.name.to_owned()), said };
    if let Some(field) = fields().find(|f| plain(f.name) == heading) {
        return Some(claim(field, Said::Own));
    }
    let stem = |f: &Field| units::of_field(f.name).map(|(_, stem)| plain(stem));
    fields()
        .find(|f| stem(f).as_ref() == Some(&heading))
        .or_else(|| fields().find(|f| f.headings.iter().any(|h| plain(h) == heading)))
        .map(|field| claim(field, Said::Nothing))
        .or_else(|| whole(kind, &by_axis(&heading)?))
}

/// A heading whose axis has a number, by the letter of the axis.
fn by_axis(heading: &str) -> Option<String> {
    let (bare, number) = heading.rsplit_once(' ')?;
    let axis = match number {
        "1" => "x",
        "2" => "y",
        "3" => "z",
        _ => return None,
    };
    Some(format!("{bare} {axis}"))
}

/// A named number within an object, with the sign of its unit at the end of its key.
fn within(kind: Kind, object: &str, key: &str, bracket: Option<&str>) -> Option<Claim> {
    let object = plain(object);
    let field =
        fillable(kind).find(|f| matches!(f.shape, Shape::Numbers) && plain(f.name) == object)?;
    let target = |key: String| Target::Within(field.name.to_owned(), key);
    let key = plain(key).replace(' ', "_");
    if key.is_empty() {
        return None;
    }
    let said = bracket.map_or(Said::Own, |unit| Said::Unit(unit.to_owned()));
    match bracket.and_then(units::by_sign) {
        Some(unit) if units::of_field(&key).is_none() => {
            Some(Claim { target: target(format!("{key}_{}", unit.suffix)), said })
        }
        _ => Some(Claim { target: target(key), said }),
    }
}

/// The heading without its last bracket, and what stood in it.
pub(crate) fn split_bracket(heading: &str) -> (String, Option<String>) {
    for (open, close) in [('[', ']'), ('(', ')')] {
        if let Some(end) = heading.rfind(close)
            && let Some(before) = heading.get(..end)
            && let Some(start) = before.rfind(open)
        {
            let inner = before.get(start + 1..).unwrap_or_default().trim().to_owned();
            let head = before.get(..start).unwrap_or_default();
            let tail = heading.get(end + close.len_utf8()..).unwrap_or_default();
            return (format!("{head} {tail}").trim().to_owned(), Some(inner));
        }
    }
    (heading.trim().to_owned(), None)
}

/// The ways to split a heading into a name and a unit at its end (`temp °F`, `mass in kg`,
/// `mass / kg`, `mass/kg`, `moisture%`), the longest unit first (`speed m/min`).
fn splits(heading: &str) -> Vec<(&str, &str)> {
    let heading = heading.trim();
    let between = |c: char| c.is_whitespace() || matches!(c, '_' | ',' | '/' | ':');
    let cuts = heading.match_indices(|c: char| between(c) || matches!(c, '%' | '‰'));
    cuts.filter_map(|(at, _)| {
        let (bare, unit) = heading.split_at_checked(at)?;
        let (bare, unit) = (bare.trim_end_matches(between), unit.trim_start_matches(between));
        let known = !bare.is_empty() && units::is_known(unit);
        known.then_some((bare.strip_suffix(" in").unwrap_or(bare), unit))
    })
    .collect()
}

/// What the heading of a column that was named by hand says of the unit of its field.
pub(crate) fn said_by_hand(heading: &str, target: &Target) -> Said {
    if [target.last(), &target.name()].iter().any(|name| plain(name) == plain(heading)) {
        return Said::Own;
    }
    if let (_, Some(unit)) = split_bracket(heading) {
        return Said::Unit(unit);
    }
    splits(heading).first().map_or(Said::Assumed, |(_, unit)| Said::Unit((*unit).to_owned()))
}

/// The columns that a name given by hand means: those written so, else those that
/// read the same in plain letters, with or without their unit.
pub(crate) fn positions(headings: &[String], wanted: &str) -> Vec<usize> {
    let find = |same: &dyn Fn(&str) -> bool| -> Vec<usize> {
        headings.iter().enumerate().filter(|(_, h)| same(h)).map(|(i, _)| i).collect()
    };
    let exact = find(&|h| h.trim() == wanted.trim());
    if !exact.is_empty() {
        return exact;
    }
    let letters = plain(wanted);
    if letters.is_empty() {
        return exact;
    }
    let alike = find(&|h| plain(h) == letters);
    if alike.is_empty() { find(&|h| plain(&split_bracket(h).0) == letters) } else { alike }
}

/// How well a row of cells serves as header: fields it names, and whether all that
/// must be there are.
pub(crate) fn score(settings: &Settings, cells: &[String]) -> (bool, usize) {
    let mut found: Vec<Target> = settings
        .columns
        .iter()
        .filter(|(_, heading)| !positions(cells, heading).is_empty())
        .map(|(target, _)| target.clone())
        .collect();
    for claim in cells.iter().filter_map(|cell| claim(settings.kind, cell)) {
        if !found.contains(&claim.target) {
            found.push(claim.target);
        }
    }
    let has = |name: &str| {
        let target = Target::Field(name.to_owned());
        found.contains(&target) || settings.set.iter().any(|(set, _)| *set == target)
    };
    let all = fillable(settings.kind).filter(|f| f.required).all(|f| has(f.name));
    (all && !found.is_empty(), found.len())
}

#[cfg(test)]
#[path = "header_test.rs"]
mod tests;
