//! Verdicts as test results in the XML that CI systems read: a suite for each check, a case for
//! each verdict. A verdict that is undecided is skipped: it neither passed nor failed.

use crate::collect::{Collected, Ended, Ruling};
use crate::compose::verdicts::{figures, subject};
use crate::html::escape::attribute;
use secondmelt_record::findings::Decision;
use std::collections::BTreeMap;

/// Cases of one suite and how many came out how.
#[derive(Debug, Default)]
struct Suite {
    cases: String,
    tests: u64,
    failures: u64,
    errors: u64,
    skipped: u64,
}

impl Suite {
    /// Adds a case; `inner` is what is said of it.
    fn case(&mut self, suite: &str, name: &str, inner: &str) {
        self.tests += 1;
        let start =
            format!("<testcase classname=\"{}\" name=\"{}\"", attribute(suite), attribute(name));
        self.cases.push_str(&match inner {
            "" => format!("    {start}/>\n"),
            _ => format!("    {start}>{inner}</testcase>\n"),
        });
    }

    fn error(&mut self, suite: &str, name: &str, message: &str) {
        self.errors += 1;
        self.case(suite, name, &format!("<error message=\"{}\"/>", attribute(message)));
    }
}

/// The verdicts as XML.
pub(crate) fn render(title: &str, c: &Collected, ended: &Ended) -> String {
    let f = &c.findings;
    let mut suites: BTreeMap<&str, Suite> = BTreeMap::new();
    let lists = [&f.fails, &f.undecided, &f.conforms];
    for ruling in lists.into_iter().flat_map(|list| list.items()) {
        verdict(suites.entry(&ruling.check).or_default(), ruling);
    }
    let mut stream = Suite::default();
    match &ended.cut {
        Some(why) => stream.error("stream", "whole", why),
        None => stream.case("stream", "whole", ""),
    }
    for (code, problems) in &c.frame.problems {
        let more = problems.total.saturating_sub(problems.first.len() as u64);
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        let message = format!("{}{more}", problems.first.join(" "));
        stream.error("stream", &format!("problem: {code}"), &message);
    }
    if c.frame.problems_missing() > 0 {
        let message = "counted by earlier runs, whose records were left out of the stream";
        stream.error("stream", &format!("{} problems", c.frame.problems_missing()), message);
    }
    if f.decided.total() == 0 {
        stream.error("stream", "verdicts", "no filter that decides ran");
    }
    // What is not listed must not pass for good.
    for (list, what) in lists.into_iter().zip(["failed", "undecided", "good"]) {
        let more = list.total() - list.items().len() as u64;
        if more > 0 && what != "good" {
            stream.error("stream", &format!("{more} more {what} verdicts"), "not listed here");
        }
    }
    let mut all: Vec<(&str, Suite)> = suites.into_iter().collect();
    all.push(("stream", stream));
    let sum = |of: fn(&Suite) -> u64| all.iter().map(|(_, s)| of(s)).sum::<u64>();
    let mut xml = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites name=\"{}\" {}>\n",
        attribute(title),
        counts(sum(|s| s.tests), sum(|s| s.failures), sum(|s| s.errors), sum(|s| s.skipped))
    );
    for (name, s) in &all {
        let counts = counts(s.tests, s.failures, s.errors, s.skipped);
        xml.push_str(&format!("  <testsuite name=\"{}\" {counts}>\n", attribute(name)));
        xml.push_str(&s.cases);
        xml.push_str("  </testsuite>\n");
    }
    xml + "</testsuites>\n"
}

fn counts(tests: u64, failures: u64, errors: u64, skipped: u64) -> String {
    format!("tests=\"{tests}\" failures=\"{failures}\" errors=\"{errors}\" skipped=\"{skipped}\"")
}

fn verdict(suite: &mut Suite, r: &Ruling) {
    let about = subject(&r.about);
    let name = if about.is_empty() { "all" } else { &about };
    let message = format!("{} {}", r.why, figures(r));
    let message = attribute(message.trim());
    let inner = match r.result {
        Decision::Conforms => String::new(),
        Decision::Fails => {
            suite.failures += 1;
            format!("<failure type=\"fails\" message=\"{message}\"/>")
        }
        Decision::Undecided => {
            suite.skipped += 1;
            format!("<skipped message=\"undecided: {message}\"/>")
        }
    };
    suite.case(&r.check, name, &inner);
}
