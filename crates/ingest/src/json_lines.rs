//! JSON lines: keys matched like headings, nested objects flattened with dots.

use crate::cell::{Cell, Fault, shown};
use crate::header::{self, Target};
use crate::number::Decimal;
use crate::plan::{Plan, Slot};
use crate::row::{Row, Rows};
use crate::settings::Settings;
use crate::sink::{Sink, row_problem};
use crate::source::{Source, next_block};
use crate::stop::Stop;
use crate::unused;
use secondmelt_record::lines::{Block, LINE_MAX, Lines};
use secondmelt_record::shape::Shape;
use secondmelt_record::{Code, Count, Number, Text, diagnose};
use serde::de::{MapAccess, Visitor};
use serde_json::error::Category;
use serde_json::value::RawValue;

/// How many keys are told apart in a file.
const KEYS_MAX: usize = 1000;
/// How deep objects may be nested.
const DEPTH_MAX: usize = 16;

/// Reads JSON lines to their end.
///
/// # Errors
/// Why they were refused or could not be read on.
pub(crate) fn read(
    lines: &mut Lines<Source>,
    settings: &Settings,
    sink: &mut Sink<'_>,
) -> Result<(), Stop> {
    let malformed = lines.source().malformed();
    let mut keys = Keys::new(settings);
    let mut line = 0;
    while sink.open() {
        let block = next_block(lines, sink.out)?;
        match block {
            None => break,
            Some(Block::TooLong(start, length)) => {
                line += 1;
                sink.too_long(line, start, length);
            }
            Some(Block::Lines(block)) => {
                for raw in block.split_inclusive(|b| *b == b'\n') {
                    line += 1;
                    let raw = raw.trim_ascii_end();
                    if malformed.get() && memchr::memmem::find(raw, "\u{fffd}".as_bytes()).is_some()
                    {
                        sink.rows += 1;
                        sink.row_problem(line, raw, crate::body::not_decoded());
                    } else {
                        keys.line(raw, line, sink)?;
                    }
                }
            }
        }
    }
    if sink.rows == 0 {
        sink.problem(*crate::plan::refusal(
            Code::EmptyFile,
            "nothing",
            "JSON objects, one a line",
            "look whether the export was complete",
        ));
    }
    Ok(())
}

/// A member of an object.
struct Member {
    /// Its key, those of the objects around it before it.
    key: String,
    /// Its value as a cell of a table would hold it.
    text: String,
    /// Whether the value is something that is never text: true, false or a list.
    odd: bool,
}

/// The keys met so far, and the plan for them.
struct Keys<'a> {
    settings: &'a Settings,
    names: Vec<String>,
    plan: Option<Plan>,
    told: usize,
    /// Keys of objects, each with the field that cannot hold one.
    objects: Vec<(String, Option<(String, Shape)>)>,
}

impl<'a> Keys<'a> {
    fn new(settings: &'a Settings) -> Self {
        // Keys named by hand may come in later lines only.
        let by_hand = settings.columns.iter().map(|(_, name)| name);
        let names = by_hand.chain(settings.units.iter().map(|(name, _)| name)).cloned();
        Self { settings, names: names.collect(), plan: None, told: 0, objects: Vec::new() }
    }

    fn line(&mut self, raw: &[u8], line: u64, sink: &mut Sink<'_>) -> Result<(), Stop> {
        if raw.is_empty() {
            return Ok(());
        }
        let members = self.members(raw).and_then(|members| {
            self.other_kind(&members).map_or(Ok(members), |fault| Err(("kind".to_owned(), fault)))
        });
        match members {
            Ok(members) => self.row(&members, raw, line, sink),
            Err((field, fault)) => {
                sink.rows += 1;
                let mut problem = row_problem(line, raw, fault);
                problem.field = (!field.is_empty()).then(|| Text::from(field));
                sink.problem(problem);
                Ok(())
            }
        }
    }

    /// What is wrong with a record whose own kind is another than the one to be made,
    /// unless that key has been named by hand.
    fn other_kind(&self, members: &[Member]) -> Option<Fault> {
        let by_hand = self.settings.columns.iter().any(|(_, wanted)| wanted == "kind");
        let kind = members.iter().find(|m| m.key == "kind" && !by_hand)?;
        let expected = self.settings.kind.name();
        (kind.text != expected).then(|| {
            Fault::new(
                Code::WrongType,
                format!("a record of the kind {}", shown(&kind.text)),
                format!("{expected:?}, or no kind"),
            )
            .advice("leave the line out, or run ingest with its own kind".to_owned())
        })
    }

    /// The members of the object in a line, those of nested ones with dotted keys.
    /// What is wrong comes with the field that it concerns, if any.
    fn members(&mut self, raw: &[u8]) -> Result<Vec<Member>, (String, Fault)> {
        let whole = |fault| (String::new(), fault);
        if raw.len() > LINE_MAX {
            let found = format!("a line of {} bytes", raw.len());
            return Err(whole(Fault::new(Code::TooLong, found, "at most 1 MiB a line")));
        }
        let text = std::str::from_utf8(raw).map_err(|error| {
            let found = format!("a byte that is not UTF-8, at column {}", error.valid_up_to() + 1);
            whole(Fault::new(Code::NotUtf8, found, "UTF-8"))
        })?;
        let mut members = Vec::new();
        self.flatten(text, "", 0, &mut members)?;
        Ok(members)
    }

    fn flatten(
        &mut self,
        text: &str,
        path: &str,
        depth: usize,
        members: &mut Vec<Member>,
    ) -> Result<(), (String, Fault)> {
        if depth > DEPTH_MAX {
            let expected = format!("objects nested at most {DEPTH_MAX} deep");
            let fault = Fault::new(Code::NestedTooDeep, "deeper nesting", expected);
            return Err((String::new(), fault));
        }
        let object: Object<'_> =
            serde_json::from_str(text).map_err(|error| (String::new(), not_an_object(&error)))?;
        for (key, value) in object.0 {
            let key = if path.is_empty() { key } else { format!("{path}.{key}") };
            let value = value.get();
            if value.starts_with('{') {
                if let Some((field, shape)) = self.no_object(&key) {
                    let fault = Fault::new(Code::WrongType, "an object", shape.to_string());
                    return Err((field, fault));
                }
                self.flatten(value, &key, depth + 1, members)?;
            } else if members.iter().any(|other| other.key == key) {
                let found = format!("the key {key:?} twice");
                return Err((String::new(), Fault::new(Code::DuplicateKey, found, "it once")));
            } else {
                let odd = value.starts_with(['t', 'f', '[']);
                members.push(Member { text: self.cell(value), key, odd });
            }
        }
        Ok(())
    }

    /// The field that a key stands for, if it cannot hold an object.
    fn no_object(&mut self, key: &str) -> Option<(String, Shape)> {
        if let Some((_, known)) = self.objects.iter().find(|(other, _)| other == key) {
            return known.clone();
        }
        let by_hand = self.settings.columns.iter().find(|(_, wanted)| wanted == key);
        let target = by_hand
            .map(|(target, _)| target.clone())
            .or_else(|| header::claim(self.settings.kind, key).map(|claim| claim.target));
        let field = target.map(|target| {
            let shape = match &target {
                Target::Field(name) => self.settings.kind.field(name).map(|f| f.shape),
                Target::Within(..) => None,
            };
            (target.name(), shape.unwrap_or(Shape::Number(Number::RANGE)))
        });
        if self.objects.len() < KEYS_MAX {
            self.objects.push((key.to_owned(), field.clone()));
        }
        field
    }

    /// The text of a value as a cell of a table would hold it.
    fn cell(&self, value: &str) -> String {
        match value.as_bytes().first() {
            Some(b'"') => serde_json::from_str(value).unwrap_or_default(),
            Some(b'n') => String::new(),
            // Numbers have a point in JSON, whatever sign the texts of the file have.
            Some(b'-' | b'0'..=b'9') if self.decimal() == Decimal::Comma => value.replace('.', ","),
            _ => value.to_owned(),
        }
    }

    fn decimal(&self) -> Decimal {
        self.settings.stated_decimal().unwrap_or(Decimal::Point)
    }

    fn row(
        &mut self,
        members: &[Member],
        raw: &[u8],
        line: u64,
        sink: &mut Sink<'_>,
    ) -> Result<(), Stop> {
        self.learn(members, line, sink)?;
        let Some(plan) = &self.plan else { return Ok(()) };
        let (mut text, mut spans) = (String::new(), vec![(0, 0); self.names.len()]);
        let mut odd = Vec::new();
        for member in members {
            let column = self.names.iter().position(|name| *name == member.key);
            if let Some((column, span)) = column.and_then(|c| Some((c, spans.get_mut(c)?))) {
                *span = (text.len(), text.len() + member.text.len());
                text.push_str(&member.text);
                odd.extend(member.odd.then_some(column));
            }
        }
        let raw = String::from_utf8_lossy(raw);
        let row = Row { text: &text, spans: &spans, line, raw: &raw };
        let mut rows = Rows::new(plan, self.settings.reading(self.decimal()));
        let no_text = |slot: &&Slot| {
            odd.contains(&slot.column) && matches!(slot.cell, Cell::Name | Cell::Text)
        };
        match plan.slots.iter().find(no_text) {
            Some(slot) => {
                let found = shown(row.cell(slot.column));
                let fault = Fault::new(Code::WrongType, found, "text in quotes");
                rows.refuse(row, slot, fault, sink);
            }
            None => rows.take(row, sink),
        }
        Ok(())
    }

    /// Plans anew where a line has keys that were not met before.
    fn learn(&mut self, members: &[Member], line: u64, sink: &Sink<'_>) -> Result<(), Stop> {
        let before = self.names.len();
        for Member { key, .. } in members {
            if key != "kind" && self.names.len() < KEYS_MAX && !self.names.contains(key) {
                self.names.push(key.clone());
            }
        }
        if self.plan.is_none() || self.names.len() > before {
            let plan = Plan::new(self.settings, &self.names).map_err(|mut problem| {
                problem.line = Some(Count(line));
                Stop::Refused(problem)
            })?;
            let new = plan.unmatched.get(self.told..).unwrap_or_default();
            if let Some(what) = unused::note(new, &plan, self.settings) {
                sink.tell(&what);
            }
            self.told = plan.unmatched.len();
            self.plan = Some(plan);
        }
        Ok(())
    }
}

/// What is wrong with text that is not one JSON object.
fn not_an_object(error: &serde_json::Error) -> Fault {
    let trouble = diagnose::not_json(error);
    if trouble.code != Code::NotJson {
        return Fault::new(trouble.code, trouble.found, trouble.expected);
    }
    let found = match error.classify() {
        Category::Eof => "an object that breaks off".to_owned(),
        Category::Data => "something other than an object".to_owned(),
        _ => format!("text that is not JSON, at column {}", error.column()),
    };
    Fault::new(Code::NotJson, found, "one JSON object a line")
}

/// The members of an object, values as they stand.
struct Object<'a>(Vec<(String, &'a RawValue)>);

impl<'de: 'a, 'a> serde::Deserialize<'de> for Object<'a> {
    fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct Members;
        impl<'de> Visitor<'de> for Members {
            type Value = Object<'de>;

            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("an object")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
                let mut members = Vec::new();
                while let Some(member) = map.next_entry()? {
                    members.push(member);
                }
                Ok(Object(members))
            }
        }
        d.deserialize_map(Members)
    }
}
