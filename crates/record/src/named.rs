//! Objects of named values, in which a name stands once.

use serde::de::{Deserialize, Deserializer, Error, MapAccess, Visitor};
use std::collections::BTreeMap;
use std::marker::PhantomData;

/// Reads an object of named values and refuses a name that stands twice.
pub(crate) fn values<'de, D: Deserializer<'de>, V: Deserialize<'de>>(
    d: D,
) -> Result<BTreeMap<String, V>, D::Error> {
    d.deserialize_map(Names(PhantomData))
}

struct Names<V>(PhantomData<V>);

impl<'de, V: Deserialize<'de>> Visitor<'de> for Names<V> {
    type Value = BTreeMap<String, V>;

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("an object of named values")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
        let mut values = BTreeMap::new();
        while let Some((name, value)) = map.next_entry::<String, V>()? {
            if values.contains_key(&name) {
                return Err(A::Error::custom(format!("duplicate field `{name}`")));
            }
            values.insert(name, value);
        }
        Ok(values)
    }
}
