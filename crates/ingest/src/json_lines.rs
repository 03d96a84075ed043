//! JSON lines: keys matched like headings, nested objects flattened with dots.

use crate::cell::Fault;
use crate::number::Decimal;
use crate::plan::Plan;
use crate::row::{Row, Rows};
use crate::settings::Settings;
use crate::sink::Sink;
use crate::source::Source;
use crate::stop::Stop;
use crate::table::tell_unmatched;
use secondmelt_record::lines::{Block, LINE_MAX, Lines};
use secondmelt_record::{Code, Count, diagnose};
use serde::de::{MapAccess, Visitor};
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
    let mut keys = Keys::new(settings);
    let mut line = 0;
    while sink.open() {
        let out = &mut *sink.out;
        let block = lines.next_block(|source| {
            source.before_read(out);
            Ok(())
        })?;
        match block {
            None => break,
            Some(Block::TooLong(start, length)) => {
                line += 1;
                sink.too_long(line, start, length);
            }
            Some(Block::Lines(block)) => {
                for raw in block.split_inclusive(|b| *b == b'\n') {
                    line += 1;
                    keys.line(raw.trim_ascii_end(), line, sink)?;
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

/// The keys met so far, and the plan for them.
struct Keys<'a> {
    settings: &'a Settings,
    names: Vec<String>,
    plan: Option<Plan>,
    told: usize,
}

impl<'a> Keys<'a> {
    fn new(settings: &'a Settings) -> Self {
        // Keys named by hand may come in later lines only.
        let by_hand = settings.columns.iter().map(|(_, name)| name);
        let names = by_hand.chain(settings.units.iter().map(|(name, _)| name)).cloned();
        Self { settings, names: names.collect(), plan: None, told: 0 }
    }

    fn line(&mut self, raw: &[u8], line: u64, sink: &mut Sink<'_>) -> Result<(), Stop> {
        if raw.is_empty() {
            return Ok(());
        }
        match self.members(raw) {
            Ok(members) => self.row(&members, raw, line, sink),
            Err(fault) => {
                sink.rows += 1;
                sink.row_problem(line, raw, fault);
                Ok(())
            }
        }
    }

    /// The members of the object in a line, those of nested ones with dotted keys.
    fn members(&self, raw: &[u8]) -> Result<Vec<(String, String)>, Fault> {
        if raw.len() > LINE_MAX {
            let found = format!("a line of {} bytes", raw.len());
            return Err(Fault::new(Code::TooLong, found, "at most 1 MiB a line"));
        }
        let text = std::str::from_utf8(raw).map_err(|error| {
            let found = format!("a byte that is not UTF-8, at column {}", error.valid_up_to() + 1);
            Fault::new(Code::NotUtf8, found, "UTF-8")
        })?;
        let mut members = Vec::new();
        self.flatten(text, "", 0, &mut members)?;
        Ok(members)
    }

    fn flatten(
        &self,
        text: &str,
        path: &str,
        depth: usize,
        members: &mut Vec<(String, String)>,
    ) -> Result<(), Fault> {
        if depth > DEPTH_MAX {
            let expected = format!("objects nested at most {DEPTH_MAX} deep");
            return Err(Fault::new(Code::NestedTooDeep, "deeper nesting", expected));
        }
        let object: Object<'_> = serde_json::from_str(text).map_err(|error| {
            let trouble = diagnose::not_json(&error);
            Fault::new(Code::NotJson, trouble.found, trouble.expected)
        })?;
        for (key, value) in object.0 {
            let name = if path.is_empty() { key } else { format!("{path}.{key}") };
            let value = value.get();
            match value.as_bytes().first() {
                Some(b'{') => self.flatten(value, &name, depth + 1, members)?,
                _ => {
                    let text = self.cell(value);
                    if members.iter().any(|(other, _)| *other == name) {
                        return Err(Fault::new(
                            Code::DuplicateKey,
                            format!("the key {name:?} twice"),
                            "it once",
                        ));
                    }
                    members.push((name, text));
                }
            }
        }
        Ok(())
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
        members: &[(String, String)],
        raw: &[u8],
        line: u64,
        sink: &mut Sink<'_>,
    ) -> Result<(), Stop> {
        self.learn(members, line, sink)?;
        let Some(plan) = &self.plan else { return Ok(()) };
        let (mut text, mut spans) = (String::new(), vec![(0, 0); self.names.len()]);
        for (key, value) in members {
            let column = self.names.iter().position(|name| name == key);
            if let Some(span) = column.and_then(|column| spans.get_mut(column)) {
                *span = (text.len(), text.len() + value.len());
                text.push_str(value);
            }
        }
        let reading = self.settings.reading(self.decimal());
        let raw = String::from_utf8_lossy(raw);
        Rows::new(plan, reading).take(Row { text: &text, spans: &spans, line, raw: &raw }, sink);
        Ok(())
    }

    /// Plans anew where a line has keys that were not met before.
    fn learn(
        &mut self,
        members: &[(String, String)],
        line: u64,
        sink: &Sink<'_>,
    ) -> Result<(), Stop> {
        let before = self.names.len();
        for (key, value) in members {
            let is_kind = key == "kind" && value == self.settings.kind.name();
            if !is_kind && self.names.len() < KEYS_MAX && !self.names.contains(key) {
                self.names.push(key.clone());
            }
        }
        if self.plan.is_none() || self.names.len() > before {
            let plan = Plan::new(self.settings, &self.names).map_err(|mut problem| {
                problem.line = Some(Count(line));
                Stop::Refused(problem)
            })?;
            if let Some(new) = plan.unmatched.get(self.told..) {
                tell_unmatched(new, self.settings, sink);
            }
            self.told = plan.unmatched.len();
            self.plan = Some(plan);
        }
        Ok(())
    }
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
