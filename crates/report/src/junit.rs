//! Verdicts as tests in the XML that CI systems read (the JUnit format): a failed verdict is a failed
//! test, an undecided one a skipped one, each problem code an error.

use crate::collect::{Collected, Ruling};
use secondmelt_record::contract::visible;
use secondmelt_record::findings::Decision;
use std::fmt::Write;

/// The verdicts as one suite.
pub(crate) fn render(title: &str, collected: &Collected, cut: Option<&str>) -> String {
    let f = &collected.findings;
    let decided = f.decided;
    let mut codes: Vec<_> = collected.frame.problems.iter().collect();
    codes.sort_by(|a, b| a.0.cmp(b.0));
    let errors = codes.len() + usize::from(cut.is_some());
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    let _ = writeln!(
        out,
        "<testsuite name=\"{}\" tests=\"{}\" failures=\"{}\" errors=\"{errors}\" skipped=\"{}\">",
        escaped(title),
        decided.total() + errors as u64,
        decided.fails,
        decided.undecided
    );
    for ruling in [&f.fails, &f.undecided, &f.conforms].into_iter().flat_map(|list| list.items()) {
        case(&mut out, ruling);
    }
    for (code, problems) in codes {
        let first = problems.first.first().map(String::as_str).unwrap_or_default();
        error(&mut out, code.as_str(), &format!("{} of them; the first: {first}", problems.total));
    }
    if let Some(why) = cut {
        error(&mut out, "cut-short", why);
    }
    out.push_str("</testsuite>\n");
    out
}

fn case(out: &mut String, ruling: &Ruling) {
    let about = &ruling.about;
    let names =
        [&about.lot, &about.step, &about.machine].into_iter().filter(|name| !name.is_empty());
    let name: Vec<&str> = names.map(String::as_str).collect();
    let name = if name.is_empty() { "all".to_owned() } else { name.join(" ") };
    let _ = write!(
        out,
        "<testcase classname=\"{}\" name=\"{}\"",
        escaped(&ruling.check),
        escaped(&name)
    );
    let why = escaped(&ruling.why);
    let _ = match ruling.result {
        Decision::Conforms => writeln!(out, "/>"),
        Decision::Fails => writeln!(out, "><failure message=\"{why}\"/></testcase>"),
        Decision::Undecided => writeln!(out, "><skipped message=\"{why}\"/></testcase>"),
    };
}

fn error(out: &mut String, name: &str, why: &str) {
    let (name, why) = (escaped(name), escaped(why));
    let _ = writeln!(
        out,
        "<testcase classname=\"problem\" name=\"{name}\"><error message=\"{why}\"/></testcase>"
    );
}

/// Text within an attribute. Control characters, which XML cannot hold, are made visible.
fn escaped(text: &str) -> String {
    crate::html::escaped(&visible(text))
}
