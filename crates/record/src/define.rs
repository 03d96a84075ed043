//! The macros that turn one description of a record kind into its type, its
//! reader, its writer and its table of fields.

/// Defines record kinds: a `fact` a lab recorded, or a `finding` that a filter writes
/// (nested objects are of either sort). `need` marks a field that must be there, `may` one that
/// may be absent. Words after the type are column headings of labs that mean it.
macro_rules! record {
    ($(
        $(#[doc = $doc:literal])*
        $sort:ident $kind:literal => $name:ident<$life:lifetime> {
            $( $(#[doc = $fdoc:literal])* $need:ident $field:ident : $ty:ty $(, also $($also:literal)+)? ; )*
        }
    )*) => {$(
        $(#[doc = $doc])*
        #[derive(Debug, Clone, PartialEq)]
        pub struct $name<$life> {
            $( $(#[doc = $fdoc])* pub $field: record!(@type $need $ty), )*
            #[doc(hidden)]
            pub life: std::marker::PhantomData<&$life ()>,
        }

        record!(@default $sort $name $($field)*);

        impl serde::Serialize for $name<'_> {
            fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                use serde::ser::SerializeMap;
                let mut map = s.serialize_map(None)?;
                $( record!(@write $need self map $field); )*
                map.end()
            }
        }

        impl<$life> crate::define::Described for $name<$life> {
            const KIND: &'static str = $kind;
            const DOC: &'static str = concat!($($doc, "\n"),*);
            const FIELDS: &'static [crate::shape::Field] = &[$(
                crate::shape::Field {
                    name: stringify!($field),
                    doc: concat!($($fdoc, "\n"),*),
                    required: record!(@required $need),
                    shape: <$ty as crate::shape::Shaped>::SHAPE,
                    headings: &[$($($also),+)?],
                },
            )*];
        }

        impl crate::shape::Shaped for $name<'_> {
            const SHAPE: crate::shape::Shape =
                crate::shape::Shape::Object(<Self as crate::define::Described>::FIELDS);
        }

        impl<'de: $life, $life> serde::Deserialize<'de> for $name<$life> {
            fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                struct Fields<$life>(std::marker::PhantomData<&$life ()>);
                impl<'de: $life, $life> serde::de::Visitor<'de> for Fields<$life> {
                    type Value = $name<$life>;

                    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                        f.write_str("an object")
                    }

                    fn visit_map<A: serde::de::MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
                        use serde::de::Error;
                        let mut kind_seen = false;
                        $( let mut $field: Option<$ty> = None; )*
                        while let Some(key) = map.next_key::<crate::text::Text<'de>>()? {
                            match key.as_str() {
                                "kind" => {
                                    if kind_seen {
                                        return Err(A::Error::duplicate_field("kind"));
                                    }
                                    kind_seen = true;
                                    map.next_value::<serde::de::IgnoredAny>()?;
                                }
                                $(stringify!($field) => {
                                    if $field.is_some() {
                                        return Err(A::Error::duplicate_field(stringify!($field)));
                                    }
                                    $field = Some(map.next_value()?);
                                })*
                                _ => {
                                    map.next_value::<serde::de::IgnoredAny>()?;
                                }
                            }
                        }
                        Ok($name {
                            $($field: record!(@take $need $field, A),)*
                            life: std::marker::PhantomData,
                        })
                    }
                }
                d.deserialize_map(Fields(std::marker::PhantomData))
            }
        }
    )*};
    // Only what filters write is built field by field, so only that has a default.
    (@default finding $name:ident $($field:ident)*) => {
        impl Default for $name<'_> {
            fn default() -> Self {
                Self { $($field: Default::default(),)* life: std::marker::PhantomData }
            }
        }
    };
    (@default fact $name:ident $($field:ident)*) => {};
    (@write need $self:ident $map:ident $field:ident) => {
        $map.serialize_entry(stringify!($field), &$self.$field)?;
    };
    (@write may $self:ident $map:ident $field:ident) => {
        if let Some(value) = &$self.$field {
            $map.serialize_entry(stringify!($field), value)?;
        }
    };
    (@type need $ty:ty) => { $ty };
    (@type may $ty:ty) => { Option<$ty> };
    (@required need) => { true };
    (@required may) => { false };
    (@take need $field:ident, $a:ident) => {
        $field.ok_or_else(|| $a::Error::missing_field(stringify!($field)))?
    };
    (@take may $field:ident, $a:ident) => { $field };
}

/// Defines a fixed set of words. The first is the default.
macro_rules! words {
    ($( $(#[doc = $doc:literal])* $name:ident { $( $(#[doc = $vdoc:literal])* $variant:ident = $word:literal, )* } )*) => {$(
        $(#[doc = $doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name {
            $( $(#[doc = $vdoc])* $variant, )*
        }

        impl $name {
            /// Every word, in order.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// The word as it stands in a record.
            #[must_use]
            pub fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $word),* }
            }
        }

        impl Default for $name {
            fn default() -> Self {
                Self::ALL[0]
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(self.as_str())
            }
        }

        impl crate::shape::Shaped for $name {
            const SHAPE: crate::shape::Shape = crate::shape::Shape::OneOf(&[$($word),*]);
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                s.serialize_str(self.as_str())
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                let word = crate::text::Text::deserialize(d)?;
                Self::ALL
                    .iter()
                    .copied()
                    .find(|w| w.as_str() == word.as_str())
                    .ok_or_else(|| serde::de::Error::custom(<Self as crate::shape::Shaped>::SHAPE))
            }
        }
    )*};
}

pub(crate) use {record, words};

/// What the table of a kind is made of.
pub trait Described {
    /// The word in the field `kind`.
    const KIND: &'static str;
    /// What the kind is.
    const DOC: &'static str;
    /// Its fields, in the order in which they are written.
    const FIELDS: &'static [crate::shape::Field];
}
