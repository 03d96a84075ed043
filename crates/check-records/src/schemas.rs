//! The schemas of all kinds, compiled when they are first needed.

use jsonschema::Validator;
use secondmelt_record::{Kind, schema};
use serde_json::Value;
use std::collections::HashMap;

/// Compiled schemas by kind.
#[derive(Debug, Default)]
pub(crate) struct Schemas(HashMap<Kind, Option<Validator>>);

impl Schemas {
    /// Why the schema of the kind refuses a record; none where it accepts it.
    pub(crate) fn refusal(&mut self, kind: Kind, record: &Value) -> Option<String> {
        let schema = self.0.entry(kind).or_insert_with(|| compiled(kind));
        let Some(schema) = schema else {
            return Some(format!("the schema of {kind} cannot be used"));
        };
        let error = schema.validate(record).err()?;
        let at = error.instance_path().to_string();
        Some(if at.is_empty() { error.to_string() } else { format!("{at}: {error}") })
    }
}

fn compiled(kind: Kind) -> Option<Validator> {
    let schema = schema::of_kind(kind);
    jsonschema::options().should_validate_formats(true).build(&schema).ok()
}

#[cfg(test)]
mod tests {
    use super::compiled;
    use secondmelt_record::Kind;

    #[test]
    fn every_schema_can_be_used() {
        for kind in Kind::ALL {
            assert!(compiled(*kind).is_some(), "{kind}");
        }
    }
}
