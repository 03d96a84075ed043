//! What a step gave back, held against what it was given.

use super::material::Given;
use super::rules::{Findings, Rule};
use secondmelt_record::Class;
use secondmelt_record::scan::{Peek, peek};
use serde_json::Value;
use std::collections::{HashMap, HashSet, VecDeque};

/// How many lines that were not given are compared with those that are missing.
const COMPARED: usize = 1000;
/// A line that starts another one and is at least so long, in bytes, is that one cut off.
const CUT: usize = 40;

/// Output lines without their line ends, and whether the last one had one.
pub(crate) fn lines(output: &[u8]) -> (Vec<&[u8]>, bool) {
    let mut lines: Vec<&[u8]> = output.split(|byte| *byte == b'\n').collect();
    let ended = lines.pop_if(|last| last.is_empty()).is_some();
    (lines, ended || output.is_empty())
}

/// A text shortened for a message, what cannot be seen made visible.
pub(crate) fn shown(line: &[u8]) -> String {
    let text = String::from_utf8_lossy(line);
    let text = secondmelt_record::contract::visible(&text);
    match text.char_indices().nth(160) {
        Some((end, _)) => format!("{} ...", text.get(..end).unwrap_or_default()),
        None => text,
    }
}

/// Holds output lines against those that were given: notes what is missing, edited, out
/// of order or repeated, and says of each output line whether it is one that was given.
pub(crate) fn passed_on(given: &[Given], output: &[&[u8]], findings: &mut Findings) -> Vec<bool> {
    let mut places = Places::new(given, output);
    let mut passed_on = vec![false; output.len()];
    let mut latest = 0;
    let mut missing = Vec::new();
    for (n, given) in (1..).zip(given) {
        let Some((at, as_often)) = places.next(given.raw()) else {
            if places.has(given.raw()) {
                let how = format!("line {n} equals an earlier one and is not in the output");
                findings.broken(Rule::Once, format!("{how}: {}", shown(given.raw())));
            } else {
                missing.push((n, given));
            }
            continue;
        };
        passed_on[at] = true;
        // Which of equal lines is which cannot be told where some are missing or added.
        if !as_often {
            continue;
        }
        if at < latest {
            let how = format!("earlier than a line before it: {}", shown(given.raw()));
            findings.broken(Rule::Order, how);
        }
        latest = latest.max(at);
    }
    // An empty line may be another one that has lost its white space.
    for given in given.iter().filter(|given| !given.raw().is_empty()) {
        while let Some((at, _)) = places.next(given.raw()) {
            passed_on[at] = true;
            let how = format!("more often in the output than given: {}", shown(given.raw()));
            findings.broken(Rule::Once, how);
        }
    }
    let unknown = (0..output.len()).filter(|at| !passed_on[*at]).take(COMPARED);
    let mut copies: Vec<_> = unknown.map(|at| Copy::new(at, output[at])).collect();
    for (n, given) in missing {
        if let Some(at) = lost(given, n, &mut copies, findings) {
            passed_on[at] = true;
        }
    }
    passed_on
}

/// Where the lines that were given stand in the output.
struct Places<'a>(HashMap<&'a [u8], Place>);

/// Where a line stands in the output: the places not yet used, first to last.
#[derive(Default)]
struct Place {
    given: usize,
    found: usize,
    left: VecDeque<usize>,
}

impl<'a> Places<'a> {
    fn new(given: &'a [Given], output: &[&[u8]]) -> Self {
        let mut places: HashMap<&[u8], Place> = HashMap::new();
        for given in given {
            places.entry(given.raw()).or_default().given += 1;
        }
        for (at, line) in output.iter().enumerate() {
            if let Some(place) = places.get_mut(*line) {
                place.found += 1;
                place.left.push_back(at);
            }
        }
        Self(places)
    }

    /// The next place of a line, and whether it is there as often as it was given.
    fn next(&mut self, line: &[u8]) -> Option<(usize, bool)> {
        let place = self.0.get_mut(line)?;
        Some((place.left.pop_front()?, place.found == place.given))
    }

    fn has(&self, line: &[u8]) -> bool {
        self.0.get(line).is_some_and(|place| place.found > 0)
    }
}

/// An output line that may stand for one that was given.
struct Copy {
    at: usize,
    text: String,
    shape: Shape,
}

/// What two lines are compared by.
#[derive(PartialEq)]
struct Shape {
    without_space: String,
    kind: Option<String>,
    words: HashSet<String>,
}

impl Copy {
    fn new(at: usize, line: &[u8]) -> Self {
        let text = String::from_utf8_lossy(line).into_owned();
        Self { at, shape: Shape::of(&text), text }
    }
}

impl Shape {
    fn of(line: &str) -> Self {
        let words = line.split(|c: char| "{}[],:\" ".contains(c)).filter(|word| !word.is_empty());
        Self {
            without_space: line.split_whitespace().collect(),
            kind: kind_of(line),
            words: words.map(str::to_owned).collect(),
        }
    }

    /// Whether the two seem to stand for one another: the same but for white space, or
    /// of the same kind and alike in most of what they hold.
    fn resembles(&self, other: &Self) -> bool {
        let shared = self.words.intersection(&other.words).count();
        let alike = shared * 3 >= self.words.len().max(other.words.len()) * 2;
        self.without_space == other.without_space
            || (self.kind.is_some() && self.kind == other.kind && alike)
    }
}

/// Notes what became of a line that is not in the output as it was given; where a
/// changed copy is, if there is one.
fn lost(given: &Given, n: usize, copies: &mut Vec<Copy>, findings: &mut Findings) -> Option<usize> {
    let raw = given.line.trim_end_matches('\n');
    let shape = Shape::of(raw);
    let line = shown(raw.as_bytes());
    let stands_for = |copy: &Copy| {
        copy.shape.resembles(&shape) || (copy.text.len() >= CUT && raw.starts_with(&copy.text))
    };
    let Some(i) = copies.iter().position(stands_for) else {
        findings.broken(given.rule, format!("line {n} is not in the output: {line}"));
        return None;
    };
    let copy = copies.remove(i);
    let edited = given.rule == Rule::Records && edited(raw, &copy.text);
    let rule = if edited { Rule::Measurements } else { given.rule };
    let found = shown(copy.text.as_bytes());
    findings.broken(rule, format!("line {n} came out changed: given {line}, found {found}"));
    Some(copy.at)
}

fn kind_of(line: &str) -> Option<String> {
    match peek(line.trim()) {
        Peek::Known(kind) => Some(kind.name().to_owned()),
        Peek::Stranger(kind) => Some(kind.to_string()),
        Peek::Blank | Peek::Bad(_) => None,
    }
}

/// Whether a fact came out with another meaning, and not only in another form.
fn edited(given: &str, output: &str) -> bool {
    let fact = match peek(given) {
        Peek::Known(kind) => kind.class() == Class::Fact,
        _ => false,
    };
    let parsed = |text: &str| serde_json::from_str::<Value>(text).ok();
    fact && match (parsed(given), parsed(output)) {
        (Some(given), Some(output)) => !same(&given, &output),
        _ => true,
    }
}

/// Whether two values mean the same, however their numbers are written.
fn same(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Number(a), Value::Number(b)) => a.as_f64() == b.as_f64(),
        (Value::Array(a), Value::Array(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same(a, b))
        }
        (Value::Object(a), Value::Object(b)) => {
            a.len() == b.len() && a.iter().all(|(name, a)| b.get(name).is_some_and(|b| same(a, b)))
        }
        _ => a == b,
    }
}
