//! Text and times in records, borrowed from the line where it holds no escapes.

use crate::shape::{Shape, Shaped};
use serde::de::{self, Visitor};
use serde::{Deserialize, Deserializer, Serialize};
use std::borrow::Cow;
use std::ops::Deref;

macro_rules! textual {
    ($($(#[$doc:meta])* $name:ident, $shape:expr, $check:expr;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
        #[serde(transparent)]
        pub struct $name<'a>(Cow<'a, str>);

        impl $name<'_> {
            /// The text.
            #[must_use]
            pub fn as_str(&self) -> &str {
                &self.0
            }

            /// The same text, owned.
            #[must_use]
            pub fn into_owned(self) -> $name<'static> {
                $name(Cow::Owned(self.0.into_owned()))
            }
        }

        impl Deref for $name<'_> {
            type Target = str;
            fn deref(&self) -> &str {
                &self.0
            }
        }

        impl std::fmt::Display for $name<'_> {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl Shaped for $name<'_> {
            const SHAPE: Shape = $shape;
        }

        impl<'de: 'a, 'a> Deserialize<'de> for $name<'a> {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                let text = d.deserialize_str(Borrow)?;
                let check: fn(&str) -> bool = $check;
                if check(&text) {
                    Ok(Self(text))
                } else {
                    Err(de::Error::custom(Self::SHAPE))
                }
            }
        }
    )*};
}

textual! {
    /// Any text.
    Text, Shape::Text, |_| true;
    /// A name: text that is not empty.
    Name, Shape::Name, |text| !blank(text);
    /// An instant as written, RFC 3339 with an offset.
    Time, Shape::Time, |text| instant(text).is_some();
}

impl<'a> From<&'a str> for Text<'a> {
    fn from(text: &'a str) -> Self {
        Self(Cow::Borrowed(text))
    }
}

impl From<String> for Text<'_> {
    fn from(text: String) -> Self {
        Self(Cow::Owned(text))
    }
}

/// A name made by a program. Reading checks that names are not empty; making one
/// does not, since what is copied from a record has been checked.
impl<'a> From<&'a str> for Name<'a> {
    fn from(text: &'a str) -> Self {
        Self(Cow::Borrowed(text))
    }
}

impl From<String> for Name<'_> {
    fn from(text: String) -> Self {
        Self(Cow::Owned(text))
    }
}

impl Time<'_> {
    /// The instant, for comparing and for differences.
    #[must_use]
    pub fn instant(&self) -> Option<jiff::Timestamp> {
        instant(&self.0)
    }

    /// A time from its RFC 3339 text; none where it is not one.
    #[must_use]
    pub fn parse(text: &str) -> Option<Time<'_>> {
        instant(text).map(|_| Time(Cow::Borrowed(text)))
    }
}

/// Whether a text is empty or all white space, by the `\s` of ECMA-262, which the
/// patterns of JSON Schema follow: U+FEFF is white space there, U+0085 is not.
pub(crate) fn blank(text: &str) -> bool {
    text.chars().all(|c| (c.is_whitespace() && c != '\u{85}') || c == '\u{feff}')
}

/// The instant of an RFC 3339 `date-time`: full date, `T`, full time, offset; none
/// for the shorter and looser forms of ISO 8601. Digits beyond the ninth decimal of a
/// second are let go; a sixtieth second stands only where one can be, at the end of
/// a UTC day.
fn instant(text: &str) -> Option<jiff::Timestamp> {
    let (start, rest) = text.split_at_checked(19)?;
    let (decimals, offset) = rest.split_at(rest.find(['Z', 'z', '+', '-'])?);
    let fits = like(start, "0000-00-00T00:00:00")
        && (decimals.is_empty()
            || decimals.strip_prefix('.').is_some_and(|d| !d.is_empty() && digits(d)))
        && (offset.eq_ignore_ascii_case("z")
            || (like(&offset[1..], "00:00") && offset[1..] < *"24:00"));
    if !fits {
        return None;
    }
    let decimals = decimals.get(..10).unwrap_or(decimals);
    let at: jiff::Timestamp = format!("{start}{decimals}{offset}").parse().ok()?;
    let leaps = start.ends_with("60") && at.as_second().rem_euclid(86_400) != 86_399;
    (!leaps).then_some(at)
}

/// Whether a text has digits where the form has `0`, and the form's own characters
/// (letters in either case) elsewhere.
fn like(text: &str, form: &str) -> bool {
    text.len() == form.len()
        && text.bytes().zip(form.bytes()).all(|(byte, form)| match form {
            b'0' => byte.is_ascii_digit(),
            _ => byte.eq_ignore_ascii_case(&form),
        })
}

fn digits(text: &str) -> bool {
    text.bytes().all(|b| b.is_ascii_digit())
}

struct Borrow;

impl<'de> Visitor<'de> for Borrow {
    type Value = Cow<'de, str>;

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("text")
    }

    fn visit_borrowed_str<E>(self, text: &'de str) -> Result<Self::Value, E> {
        Ok(Cow::Borrowed(text))
    }

    fn visit_str<E>(self, text: &str) -> Result<Self::Value, E> {
        Ok(Cow::Owned(text.to_owned()))
    }
}
