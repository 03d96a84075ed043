//! Finding the kind of a line without parsing it, and reading the one kind that
//! comes by the million. Whatever is not plain is left to `serde_json`; where the
//! scanner answers, it answers the same (a property test holds one to the other).

use crate::contract::Code;
use crate::diagnose::{Trouble, not_json};
use crate::kind::Kind;
use crate::text::Text;

mod diameter;

pub use diameter::diameter;

/// How deep objects and lists may be nested in a line that is read.
pub const DEPTH_MAX: usize = 64;

/// White space of JSON (RFC 8259); a form feed or a no-break space is none.
const SPACE: [char; 4] = [' ', '\t', '\n', '\r'];

/// What a line is.
#[derive(Debug, PartialEq)]
pub enum Peek<'a> {
    /// A record of a kind that this crate knows.
    Known(Kind),
    /// A record of another kind.
    Stranger(Text<'a>),
    /// Nothing but white space.
    Blank,
    /// Not a record.
    Bad(Trouble),
}

/// Finds out what a line is. A line that starts with its kind, as everything that
/// secondmelt writes does, is not looked at any further than its last byte.
#[must_use]
pub fn peek(line: &str) -> Peek<'_> {
    match leading_kind(line) {
        Some(name) if line.trim_end_matches(SPACE).ends_with('}') => of_name(Text::from(name)),
        _ => search_kind(line),
    }
}

fn of_name(name: Text<'_>) -> Peek<'_> {
    Kind::from_name(&name).map_or(Peek::Stranger(name), Peek::Known)
}

fn leading_kind(line: &str) -> Option<&str> {
    let rest = line.strip_prefix("{\"kind\":")?;
    let rest = rest.strip_prefix(' ').unwrap_or(rest).strip_prefix('"')?;
    let name = &rest[..memchr::memchr(b'"', rest.as_bytes())?];
    let plain = !name.is_empty() && name.bytes().all(|b| b >= b' ' && b != b'\\');
    plain.then_some(name)
}

fn search_kind(line: &str) -> Peek<'_> {
    let text = line.trim_matches(SPACE);
    if text.is_empty() {
        return Peek::Blank;
    }
    if depth(text) > DEPTH_MAX {
        return Peek::Bad(too_deep());
    }
    let what = "a record: one JSON object with a field `kind` that holds text";
    match serde_json::from_str::<OnlyKind<'_>>(text) {
        Ok(OnlyKind(Some(kind))) if !kind.is_empty() => of_name(kind),
        Ok(OnlyKind(_)) => Peek::Bad(Trouble::new(Code::NoKind, "no kind", what)),
        Err(error) if error.to_string().starts_with("duplicate field") => {
            Peek::Bad(Trouble::new(Code::DuplicateKey, "`kind` twice", "it once"))
        }
        Err(error) if error.is_data() => {
            Peek::Bad(Trouble::new(Code::NoKind, start_of(text), what))
        }
        Err(error) => Peek::Bad(not_json(&error)),
    }
}

/// A line that is nested deeper than [`DEPTH_MAX`].
#[must_use]
pub fn too_deep() -> Trouble {
    Trouble::new(Code::NestedTooDeep, "deeper nesting", format!("at most {DEPTH_MAX} levels"))
}

fn start_of(text: &str) -> String {
    let end = text.char_indices().nth(60).map_or(text.len(), |(i, _)| i);
    format!("{:?}{}", &text[..end], if end < text.len() { " ..." } else { "" })
}

struct OnlyKind<'a>(Option<Text<'a>>);

impl<'de: 'a, 'a> serde::Deserialize<'de> for OnlyKind<'a> {
    fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct Search;
        impl<'de> serde::de::Visitor<'de> for Search {
            type Value = Option<Text<'de>>;

            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("an object")
            }

            fn visit_map<A: serde::de::MapAccess<'de>>(
                self,
                mut map: A,
            ) -> Result<Self::Value, A::Error> {
                use serde::de::Error;
                let mut kind = None;
                while let Some(key) = map.next_key::<Text<'de>>()? {
                    if key.as_str() != "kind" {
                        map.next_value::<serde::de::IgnoredAny>()?;
                    } else if kind.is_some() {
                        return Err(A::Error::duplicate_field("kind"));
                    } else {
                        kind = Some(map.next_value()?);
                    }
                }
                Ok(kind)
            }
        }
        d.deserialize_map(Search).map(OnlyKind)
    }
}

/// The deepest nesting of objects and lists, whether or not the text is JSON.
#[must_use]
pub fn depth(text: &str) -> usize {
    let (mut depth, mut deepest, mut in_text, mut escaped) = (0_usize, 0, false, false);
    for byte in text.bytes() {
        match byte {
            _ if escaped => escaped = false,
            b'\\' if in_text => escaped = true,
            b'"' => in_text = !in_text,
            b'{' | b'[' if !in_text => {
                depth += 1;
                deepest = deepest.max(depth);
            }
            b'}' | b']' if !in_text => depth = depth.saturating_sub(1),
            _ => {}
        }
    }
    deepest
}
