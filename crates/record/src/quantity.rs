//! Numbers that cannot be absurd: each type holds a finite number in its range,
//! so a reader that has one need not check again. The unit is in the field name.

use crate::shape::{COUNT_MAX, Range, Shape, Shaped};
use serde::de::{self, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Beyond this a figure in a lab's record is a slip, whatever its unit.
const ABSURD: f64 = 1e9;

macro_rules! quantity {
    ($($(#[$doc:meta])* $name:ident: $min:expr, $above:expr, $max:expr;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// The range of this type.
            pub const RANGE: Range = Range { min: $min, above_min: $above, max: $max };

            /// The number, where it lies in the range.
            #[must_use]
            pub fn new(x: f64) -> Option<Self> {
                Self::RANGE.holds(x).then_some(Self(x))
            }

            /// The number.
            #[must_use]
            pub fn get(self) -> f64 {
                self.0
            }
        }

        /// For a finding that is built field by field: zero, or one where zero is outside.
        impl Default for $name {
            fn default() -> Self {
                Self(if $above { 1.0 } else { 0.0 })
            }
        }

        impl Shaped for $name {
            const SHAPE: Shape = Shape::Number(Self::RANGE);
        }

        impl From<$name> for f64 {
            fn from(x: $name) -> Self {
                x.0
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                s.serialize_f64(self.0)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                let x = d.deserialize_f64(AnyNumber)?;
                Self::new(x).ok_or_else(|| de::Error::custom(Self::RANGE))
            }
        }
    )*};
}

quantity! {
    /// A number above zero: a diameter, an opening, a load.
    Positive: 0.0, true, ABSURD;
    /// A size that something real has, in mm: above a nanometre.
    SizeMm: 1e-6, true, ABSURD;
    /// A number of zero or more: a mass, a time since the start, an uncertainty.
    NonNegative: 0.0, false, ABSURD;
    /// A number of either sign: a position, a correction, a difference.
    Number: -1e15, false, 1e15;
    /// A share in per cent, 0 to 100.
    Percent: 0.0, false, 100.0;
    /// A temperature in degrees Celsius, from absolute zero to 2000.
    Celsius: -273.15, false, 2000.0;
    /// A probability or a fraction, 0 to 1.
    Fraction: 0.0, false, 1.0;
}

struct AnyNumber;

impl Visitor<'_> for AnyNumber {
    type Value = f64;

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a number")
    }

    fn visit_f64<E>(self, x: f64) -> Result<f64, E> {
        Ok(x)
    }

    #[expect(clippy::cast_precision_loss, reason = "whole numbers this large are out of range")]
    fn visit_u64<E>(self, x: u64) -> Result<f64, E> {
        Ok(x as f64)
    }

    #[expect(clippy::cast_precision_loss, reason = "whole numbers this large are out of range")]
    fn visit_i64<E>(self, x: i64) -> Result<f64, E> {
        Ok(x as f64)
    }
}

/// A whole number of things, zero included. `3.0` and `3e0` are whole numbers, as
/// JSON Schema has it: a table read as floating point writes its counts so.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(transparent)]
pub struct Count(pub u64);

impl Shaped for Count {
    const SHAPE: Shape = Shape::Count(0, COUNT_MAX);
}

impl<'de> Deserialize<'de> for Count {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let x = d.deserialize_f64(AnyNumber)?;
        whole(x).map(Self).ok_or_else(|| de::Error::custom(Self::SHAPE))
    }
}

/// The count that a number is; none where it is negative, broken or too large.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked before")]
#[expect(clippy::cast_precision_loss, reason = "a double holds it")]
pub(crate) fn whole(x: f64) -> Option<u64> {
    (x.fract() == 0.0 && (0.0..=COUNT_MAX as f64).contains(&x)).then_some(x as u64)
}

impl From<usize> for Count {
    fn from(n: usize) -> Self {
        Self(n as u64)
    }
}
