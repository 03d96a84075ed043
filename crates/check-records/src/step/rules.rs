//! The rules of the contract that a step can keep or break, and what was found out.

use std::collections::BTreeMap;

macro_rules! rules {
    ($( $(#[doc = $doc:literal])* $rule:ident = $name:literal, $says:literal; )*) => {
        /// A rule, in the order in which they are told.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub(crate) enum Rule { $( $(#[doc = $doc])* $rule, )* }

        impl Rule {
            /// Every rule.
            pub(crate) const ALL: &'static [Self] = &[$(Self::$rule),*];

            /// Its short name.
            pub(crate) fn name(self) -> &'static str {
                match self { $(Self::$rule => $name),* }
            }

            /// What a step does that keeps it.
            pub(crate) fn says(self) -> &'static str {
                match self { $(Self::$rule => $says),* }
            }
        }
    };
}

rules! {
    /// Records of our kinds.
    Records = "records", "passes on every record that it is given, byte for byte";
    /// Values of facts.
    Measurements = "measurements", "edits no measurement: it adds a record that refers to it";
    /// Kinds nobody knows.
    Strangers = "strangers", "passes on kinds that it does not know";
    /// Fields nobody knows, key order, spaces.
    Fields = "fields", "passes on fields that it does not know, in the order and spacing of the line";
    /// Numbers as written.
    Numbers = "numbers", "leaves numbers as they are written: 1.7500, 1E2, 1e400, twenty digits";
    /// Texts as written.
    Texts = "texts", "leaves texts as they are written, escapes and letters of any script";
    /// CRLF and blank lines.
    LineEnds = "line-ends", "passes on blank lines, and lines that end in CR LF, as they are";
    /// Lines as long as they may be.
    LongLines = "long-lines", "passes on lines of up to 1 MiB, and writes none that is longer";
    /// `begin` and `end`.
    Signatures = "signatures", "passes on begin and end, and ends what it begins itself";
    /// Order of lines.
    Order = "order", "keeps the order of the lines";
    /// No line more or less often.
    Once = "once", "passes each line on as often as it is given, equal ones too";
    /// Only records on standard output.
    Output = "output", "writes nothing but records: one JSON object a line, with a kind, no field twice";
    /// No null.
    Values = "values", "adds no null, NaN or infinity: what is unknown is left out";
    /// Encoding of what it adds.
    Encoding = "encoding", "adds UTF-8 with LF line ends";
    /// Dots in kinds.
    Kinds = "kinds", "adds kinds of its own with a dot in their name";
    /// Our kinds are valid.
    Schemas = "schemas", "adds records of secondmelt's kinds only as their schemas have them";
    /// Whose findings.
    Runs = "runs", "points by `by` and `after` to runs that have begun and to no others";
    /// Exit status.
    Status = "status", "exits with status 0 on good input";
    /// It ends.
    Ends = "ends", "ends when its input ends";
    /// Nothing to read.
    Empty = "empty", "copes with empty input";
    /// No last line end.
    LastLine = "last-line", "copes with a last line without its line end";
    /// Not JSON.
    NotJson = "not-json", "copes with a line that is not JSON: passes it on, or answers it by a problem";
    /// Not UTF-8.
    NotUtf8 = "not-utf8", "copes with a line that is not UTF-8";
    /// Flushing.
    Live = "live", "flushes its output before it waits for input";
    /// Bounded delay.
    Flow = "flow", "holds back no more than a little of a long stream";
    /// Closed reader.
    Closed = "closed", "ends quietly when its reader closes";
}

/// What was found out of a rule that is not plainly kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Finding {
    /// It is broken, and how.
    Broken(String),
    /// It could not be tried, and why.
    Untried(String),
}

/// What was found out so far. The first breach of a rule is the one that is told.
#[derive(Debug, Default)]
pub(crate) struct Findings(BTreeMap<Rule, Finding>);

impl Findings {
    /// Notes a breach.
    pub(crate) fn broken(&mut self, rule: Rule, how: impl Into<String>) {
        let before = self.0.get(&rule);
        if !matches!(before, Some(Finding::Broken(_))) {
            self.0.insert(rule, Finding::Broken(how.into()));
        }
    }

    /// Notes that a rule could not be tried.
    pub(crate) fn untried(&mut self, rule: Rule, why: impl Into<String>) {
        self.0.entry(rule).or_insert_with(|| Finding::Untried(why.into()));
    }

    /// How many rules are broken.
    pub(crate) fn count(&self) -> usize {
        self.0.values().filter(|finding| matches!(finding, Finding::Broken(_))).count()
    }

    /// The findings by the Test Anything Protocol: a plan, then a line for each rule,
    /// and after it the reason where the rule is broken.
    pub(crate) fn text(&self) -> String {
        let mut text = format!("1..{}\n", Rule::ALL.len());
        for (n, rule) in Rule::ALL.iter().enumerate() {
            let line = format!("{} - {}: {}", n + 1, rule.name(), rule.says());
            text.push_str(&match self.0.get(rule) {
                None => format!("ok {line}\n"),
                Some(Finding::Untried(why)) => format!("ok {line} # SKIP {why}\n"),
                Some(Finding::Broken(how)) => format!("not ok {line}\n# {how}\n"),
            });
        }
        text
    }
}
