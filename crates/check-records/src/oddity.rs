//! What JSON allows and a stream does not, wherever it stands in a record, in
//! fields that nobody here knows too: a field that stands twice, and `null`.

use std::borrow::Cow;
use std::collections::HashSet;

/// Something that JSON allows and a stream does not.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Oddity {
    /// A field that stands twice in one object.
    Twice(String),
    /// `null`, in the field named (the nearest one around it).
    Null(String),
}

/// The first oddity in a text that is known to be JSON; none where there is none.
/// The text is walked as it stands, since a parser would stop at numbers that are
/// too large for it, and those are allowed.
pub(crate) fn first(json: &str) -> Option<Oddity> {
    let bytes = json.as_bytes();
    let mut open: Vec<Level<'_>> = Vec::new();
    let mut i = 0;
    while let Some(byte) = bytes.get(i) {
        match byte {
            b'"' => {
                let end = text_end(bytes, i);
                if let Some(level) = open.last_mut()
                    && let Some(name) = level.name(json.get(i..end).unwrap_or_default())
                {
                    return Some(Oddity::Twice(name));
                }
                i = end;
                continue;
            }
            b'{' => open.push(Level { names: Some(HashSet::new()), name_next: true, last: None }),
            b'[' => {
                let last = open.last().and_then(|level| level.last.clone());
                open.push(Level { names: None, name_next: false, last });
            }
            b'}' | b']' => drop(open.pop()),
            b',' => {
                if let Some(level) = open.last_mut() {
                    level.name_next = level.names.is_some();
                }
            }
            b'n' => {
                let name = open.last().and_then(|level| level.last.as_deref());
                return Some(Oddity::Null(name.unwrap_or_default().to_owned()));
            }
            _ => {}
        }
        i += 1;
    }
    None
}

/// An object or a list that is open.
struct Level<'a> {
    /// Names so far; none for a list.
    names: Option<HashSet<Cow<'a, str>>>,
    name_next: bool,
    /// The latest name.
    last: Option<Cow<'a, str>>,
}

impl<'a> Level<'a> {
    /// Takes a text with its quotes; where it is a name that has been there, that name.
    fn name(&mut self, quoted: &'a str) -> Option<String> {
        if !std::mem::take(&mut self.name_next) {
            return None;
        }
        let plain = quoted.trim_matches('"');
        let name = match serde_json::from_str::<String>(quoted) {
            Ok(name) if plain.contains('\\') => Cow::Owned(name),
            _ => Cow::Borrowed(plain),
        };
        self.last = Some(name.clone());
        let names = self.names.get_or_insert_default();
        (!names.insert(name.clone())).then(|| name.into_owned())
    }
}

/// Where the text that starts with a quote at `start` ends, its quote included.
fn text_end(bytes: &[u8], start: usize) -> usize {
    let mut i = start + 1;
    while let Some(byte) = bytes.get(i) {
        match byte {
            b'\\' => i += 2,
            b'"' => return i + 1,
            _ => i += 1,
        }
    }
    bytes.len()
}

#[cfg(test)]
mod tests {
    use super::{Oddity, first};
    use proptest::prelude::*;

    #[test]
    fn a_name_that_stands_twice_is_found_at_any_depth_and_however_it_is_written() {
        let twice = |name: &str| Some(Oddity::Twice(name.to_owned()));
        assert_eq!(first(r#"{"a":1,"b":2,"a":3}"#), twice("a"));
        assert_eq!(first(r#"{"a":[{"b":1},{"b":2,"\u0062":3}]}"#), twice("b"));
        assert_eq!(first(r#"{"a":{"b":1},"b":{"a":1e400},"c":["a","a"]}"#), None);
        assert_eq!(first(r#"{"a\"":1,"a\"":2}"#), twice("a\""));
    }

    #[test]
    fn null_is_found_with_the_field_that_holds_it_and_not_within_texts() {
        let null = |name: &str| Some(Oddity::Null(name.to_owned()));
        assert_eq!(first(r#"{"a":null}"#), null("a"));
        assert_eq!(first(r#"{"a":1,"list":[1,[null]]}"#), null("list"));
        assert_eq!(first(r#"{"a":"null","n":"n","null":true}"#), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        // A parser that keeps one value a name ends up with fewer names than were written.
        #[test]
        fn names_are_told_apart_as_a_parser_does(names in prop::collection::vec("[ab\"\\\\]{0,2}", 0..4)) {
            let members: Vec<String> = names
                .iter()
                .map(|name| format!("{}:1", serde_json::Value::String(name.clone())))
                .collect();
            let text = format!("{{{}}}", members.join(","));
            let kept: serde_json::Map<String, serde_json::Value> = serde_json::from_str(&text).unwrap();
            prop_assert_eq!(first(&text).is_some(), kept.len() < names.len());
        }
    }
}
