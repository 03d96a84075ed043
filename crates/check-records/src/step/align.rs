//! What a step gave back, held against what it was given.

use super::material::Given;
use super::rules::{Findings, Rule};
use secondmelt_record::Class;
use secondmelt_record::scan::{Peek, peek};
use serde_json::Value;
use std::collections::{HashMap, HashSet};

/// How many lines that were not given are compared with those that are missing.
const COMPARED: usize = 1000;

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

/// Holds output lines against those that were given: notes what is missing, edited,
/// out of order or repeated, and returns the lines that the step added.
pub(crate) fn added<'a>(
    given: &[Given],
    output: &[&'a [u8]],
    findings: &mut Findings,
) -> Vec<&'a [u8]> {
    let places = places(output);
    let mut passed_on = vec![false; output.len()];
    let mut latest = 0;
    let mut missing = Vec::new();
    for (n, given) in (1..).zip(given) {
        let raw = given.line.trim_end_matches('\n').as_bytes();
        let Some((first, more)) = places.get(raw).and_then(|at| at.split_first()) else {
            missing.push((n, given));
            continue;
        };
        // An empty line may be another one that has lost its white space.
        let twins = if raw.is_empty() { &[] } else { more };
        for at in twins.iter().chain([first]) {
            passed_on[*at] = true;
        }
        if !twins.is_empty() {
            findings.broken(
                Rule::Once,
                format!("{} times in the output: {}", twins.len() + 1, shown(raw)),
            );
        }
        if *first < latest {
            findings.broken(Rule::Order, format!("earlier than a line before it: {}", shown(raw)));
        }
        latest = latest.max(*first);
    }
    let unknown = (0..output.len()).filter(|at| !passed_on[*at]).take(COMPARED);
    let mut copies: Vec<_> = unknown.map(|at| Copy::new(at, output[at])).collect();
    for (n, given) in missing {
        if let Some(at) = lost(given, n, &mut copies, findings) {
            passed_on[at] = true;
        }
    }
    output
        .iter()
        .zip(passed_on)
        .filter(|(_, passed_on)| !passed_on)
        .map(|(line, _)| *line)
        .collect()
}

fn places<'a>(output: &[&'a [u8]]) -> HashMap<&'a [u8], Vec<usize>> {
    let mut places: HashMap<&[u8], Vec<usize>> = HashMap::new();
    for (i, line) in output.iter().enumerate() {
        places.entry(line).or_default().push(i);
    }
    places
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
    let Some(i) = copies.iter().position(|copy| copy.shape.resembles(&shape)) else {
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
