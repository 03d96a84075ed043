//! JSON Schemas (draft 2020-12) worked out from the tables of fields.

use crate::kind::{Class, Kind};
use crate::quantity::{Count, Number};
use crate::shape::{Field, Shape, Shaped};
use serde_json::{Map, Value, json};

const DRAFT: &str = "https://json-schema.org/draft/2020-12/schema";

/// The schema of one kind.
#[must_use]
pub fn of_kind(kind: Kind) -> Value {
    let mut schema = object(kind.fields());
    let entries = [
        ("$schema", json!(DRAFT)),
        ("$id", json!(file_name(kind))),
        ("title", json!(kind.name())),
        ("description", json!(kind.text())),
    ];
    if let Value::Object(map) = &mut schema {
        map.extend(entries.map(|(name, value)| (name.to_owned(), value)));
        if let Some(Value::Object(properties)) = map.get_mut("properties") {
            properties.insert("kind".to_owned(), json!({ "const": kind.name() }));
        }
        if let Some(Value::Array(required)) = map.get_mut("required") {
            required.insert(0, json!("kind"));
        }
    }
    schema
}

/// The schema of any record: one of ours, or a stranger's with a dot in its kind.
#[must_use]
pub fn of_any() -> Value {
    let mut choices: Vec<Value> =
        Kind::ALL.iter().map(|k| json!({ "$ref": file_name(*k) })).collect();
    choices.push(json!({
        "description": "A kind made by somebody else has a dot in its name.",
        "properties": { "kind": { "type": "string", "pattern": "\\." } }
    }));
    json!({
        "$schema": DRAFT,
        "$id": "record.schema.json",
        "title": "record",
        "description": "Any line of a stream: one JSON object with a kind.",
        "type": "object",
        "required": ["kind"],
        "properties": { "kind": { "type": "string", "minLength": 1 } },
        "anyOf": choices
    })
}

/// The file that holds the schema of a kind.
#[must_use]
pub fn file_name(kind: Kind) -> String {
    format!("{}.schema.json", kind.name())
}

/// Every schema with its file name, as it is committed.
pub fn files() -> impl Iterator<Item = (String, String)> {
    let kinds = Kind::ALL.iter().map(|k| (file_name(*k), of_kind(*k)));
    let all = kinds.chain(std::iter::once(("record.schema.json".to_owned(), of_any())));
    all.map(|(name, schema)| (name, format!("{schema:#}\n")))
}

/// The table of kinds in Markdown, as it stands in the README.
#[must_use]
pub fn kinds_table(class: Class) -> String {
    let mut text =
        String::from("| kind | what it is | fields (optional ones in brackets) |\n|---|---|---|\n");
    for kind in Kind::ALL.iter().filter(|k| k.class() == class) {
        let (must, may): (Vec<&Field>, Vec<&Field>) =
            kind.fields().iter().partition(|f| f.required);
        let names = |fields: &[&Field]| {
            fields
                .iter()
                .map(|f| f.name)
                .filter(|n| !matches!(*n, "src" | "by"))
                .collect::<Vec<_>>()
                .join(", ")
        };
        let (must, may) = (names(&must), names(&may));
        let gap = if must.is_empty() || may.is_empty() { "" } else { ", " };
        let may = if may.is_empty() { may } else { format!("[{may}]") };
        text.push_str(&format!("| `{kind}` | {} | {must}{gap}{may} |\n", kind.text()));
    }
    text
}

fn object(fields: &[Field]) -> Value {
    let properties: Map<String, Value> =
        fields.iter().map(|f| (f.name.to_owned(), property(f))).collect();
    let required: Vec<&str> = fields.iter().filter(|f| f.required).map(|f| f.name).collect();
    json!({ "type": "object", "properties": properties, "required": required })
}

fn property(field: &Field) -> Value {
    let mut schema = of_shape(&field.shape);
    if let Value::Object(map) = &mut schema {
        map.insert("description".to_owned(), json!(field.text()));
    }
    schema
}

fn of_shape(shape: &Shape) -> Value {
    match shape {
        Shape::Text => json!({ "type": "string" }),
        Shape::Name => json!({ "type": "string", "pattern": "\\S" }),
        Shape::Time => json!({ "type": "string", "format": "date-time" }),
        Shape::Flag => json!({ "type": "boolean" }),
        Shape::Number(range) => {
            let low = if range.above_min { "exclusiveMinimum" } else { "minimum" };
            json!({ "type": "number", low: range.min, "maximum": range.max })
        }
        Shape::Count(min, max) => json!({ "type": "integer", "minimum": min, "maximum": max }),
        Shape::OneOf(words) => json!({ "enum": words }),
        Shape::Numbers => {
            json!({ "type": "object", "additionalProperties": of_shape(&Number::SHAPE) })
        }
        Shape::Counts => {
            json!({ "type": "object", "additionalProperties": of_shape(&Count::SHAPE) })
        }
        Shape::Object(fields) => object(fields),
        Shape::List(of) => json!({ "type": "array", "items": of_shape(of) }),
    }
}
