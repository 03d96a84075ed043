//! The columns of a kind: its fields in their order, objects spread over several.

use secondmelt_record::Kind;
use secondmelt_record::shape::{Field, Shape};
use serde_json::value::RawValue;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// What the cells of a column hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Holds {
    Text,
    /// A text that is a time.
    Time,
    Number,
    /// An object of named numbers: a column for each name that turns up.
    Names,
    /// Anything else, as JSON.
    Json,
}

/// A column.
#[derive(Debug, Clone)]
pub(crate) struct Column {
    /// Names on the way to the value, from the outermost.
    pub(crate) path: Vec<&'static str>,
    pub(crate) holds: Holds,
}

impl Column {
    /// The heading, as `ingest` understands it: a dot reaches into an object.
    pub(crate) fn heading(&self) -> String {
        self.path.join(".")
    }
}

/// The columns of a kind.
pub(crate) fn of(kind: Kind) -> Vec<Column> {
    let mut columns = Vec::new();
    gather(kind.fields(), &[], &mut columns);
    columns
}

/// A record or part of one, its values not looked into.
pub(crate) type Object<'a> = BTreeMap<Cow<'a, str>, &'a RawValue>;

/// The value at the end of a path.
pub(crate) fn find<'a>(object: &Object<'a>, path: &[&str]) -> Option<&'a RawValue> {
    let (first, rest) = path.split_first()?;
    let value = object.get(*first)?;
    if rest.is_empty() {
        return Some(value);
    }
    find(&serde_json::from_str(value.get()).ok()?, rest)
}

fn gather(fields: &[Field], above: &[&'static str], columns: &mut Vec<Column>) {
    for field in fields {
        let path: Vec<_> = above.iter().copied().chain([field.name]).collect();
        let holds = match field.shape {
            Shape::Object(inner) => {
                gather(inner, &path, columns);
                continue;
            }
            Shape::Number(..) | Shape::Count(..) | Shape::Flag => Holds::Number,
            Shape::Numbers | Shape::Counts => Holds::Names,
            Shape::Time => Holds::Time,
            Shape::List(..) => Holds::Json,
            _ => Holds::Text,
        };
        columns.push(Column { path, holds });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_columns_of_every_kind_have_names_of_their_own() {
        for kind in Kind::ALL {
            let mut headings: Vec<String> = of(*kind).iter().map(Column::heading).collect();
            let all = headings.len();
            headings.sort();
            headings.dedup();
            assert_eq!(headings.len(), all, "{kind}");
        }
    }

    #[test]
    fn an_object_is_spread_over_columns_with_dots() {
        let headings: Vec<String> = of(Kind::Lot).iter().map(Column::heading).collect();
        assert!(headings.starts_with(&["lot".into(), "material".into()]), "{headings:?}");
        assert!(headings.ends_with(&["src.file".into(), "src.line".into(), "src.sheet".into()]));
    }
}
