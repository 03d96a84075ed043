//! The streams that a step is tried on. All of their data are invented.

use super::rules::Rule;
use crate::examples;
use secondmelt_record::{Class, Kind};

/// A line with its line end, and the rule that a step breaks if it does not pass it on.
#[derive(Debug, Clone)]
pub(crate) struct Given {
    /// The line, its line end included.
    pub(crate) line: String,
    /// The rule.
    pub(crate) rule: Rule,
}

/// Lines that no step may stumble over, each different from every other.
const SPECIAL: &[(Rule, &[&str])] = &[
    (
        Rule::Strangers,
        &[
            r#"{"kind":"example.colour","lot":"spool-7","name":"signal green"}"#,
            r#"{"kind":"example.water_level","level_m":1.42,"at":"2026-03-12T11:00:00+01:00"}"#,
            r#"{"level_m":1.44,"kind":"example.water_level","at":"2026-03-12T12:00:00+01:00"}"#,
        ],
    ),
    (
        Rule::Fields,
        &[
            r#"{"kind":"lot","lot":"spool-8","material":"PETG","example_shelf":"B 3","form":"filament"}"#,
            r#"{"material":"PETG","lot":"spool-9","kind":"lot"}"#,
            r#"{ "kind" : "lot" , "lot" : "spool-10" , "material" : "PETG" }"#,
            "{\"kind\":\"lot\",\t\"lot\":\"spool-11\",\"material\":\"PETG\"} ",
            r#"{"kind":"diameter","lot":"spool-7","position_m":12.6,"dx_mm":1.751,"example":{"b":[1,{"c":{}}],"a":true}}"#,
        ],
    ),
    (
        Rule::Numbers,
        &[
            r#"{"kind":"example.number","n":"1","x":1.7500}"#,
            r#"{"kind":"example.number","n":"2","x":1E2}"#,
            r#"{"kind":"example.number","n":"3","x":1e400}"#,
            r#"{"kind":"example.number","n":"4","x":12345678901234567890}"#,
            r#"{"kind":"example.number","n":"5","x":-0.0}"#,
            r#"{"kind":"example.number","n":"6","x":0.1000000000000000055511151231257827}"#,
            r#"{"kind":"diameter","lot":"spool-7","position_m":12.70,"dx_mm":1.7500,"dy_mm":1.7490}"#,
        ],
    ),
    (
        Rule::Texts,
        &[
            r#"{"kind":"example.text","n":1,"text":"caf\u00e9 \/ \ud83d\ude00 \u0000 \t"}"#,
            r#"{"kind":"example.text","n":2,"text":"café, größer, 直径, نهر, 😀"}"#,
            "{\"kind\":\"example.text\",\"n\":3,\"text\":\"a line separator \u{2028} and a no-break space \u{a0}\"}",
            r#"{"kind":"example.text","n":4,"text":"back\\slash, \"quotes\", %s %d $HOME `x` 'y'"}"#,
        ],
    ),
    (
        Rule::LineEnds,
        &[
            "{\"kind\":\"example.line_end\",\"n\":1}\r",
            "",
            "  ",
            "\t",
            "{\"kind\":\"example.line_end\",\"n\":2}\r",
            "\r",
        ],
    ),
];

/// Runs whose findings are among the examples, beside the one that is an example itself.
const BEGUN: &[&str] = &[
    r#"{"kind":"begin","id":"05ad5d4c95e1a3eb","program":"check-tolerance","version":"0.1.0","contract":1,"options":[],"after":["b3778ded97c1a081"]}"#,
    r#"{"kind":"begin","id":"5f1a618b3fea5828","program":"mass-balance","version":"0.1.0","contract":1,"options":[],"after":["b3778ded97c1a081","05ad5d4c95e1a3eb"]}"#,
    r#"{"kind":"begin","id":"9f5bf39f6198a09d","program":"cycle-adjust","version":"0.1.0","contract":1,"options":[],"after":["b3778ded97c1a081","05ad5d4c95e1a3eb","5f1a618b3fea5828"]}"#,
];
const ENDED: &[&str] = &[
    r#"{"kind":"end","id":"05ad5d4c95e1a3eb","read":{},"written":{},"problems":{}}"#,
    r#"{"kind":"end","id":"5f1a618b3fea5828","read":{},"written":{},"problems":{"not-a-number":1}}"#,
    r#"{"kind":"end","id":"9f5bf39f6198a09d","read":{},"written":{},"problems":{}}"#,
];

/// A good stream: signed, with a record of every kind and the lines above.
pub(crate) fn good() -> Vec<Given> {
    let of_class = |class: Class| examples::all().filter(move |(kind, _)| kind.class() == class);
    let frame = |kind: Kind| examples::of(kind).into_iter().map(str::trim_end);
    let record = |line: &str| given(Rule::Records, line);
    let sign = |line: &str| given(Rule::Signatures, line);
    let mut lines: Vec<Given> = frame(Kind::Begin).chain(BEGUN.iter().copied()).map(sign).collect();
    lines.extend(of_class(Class::Fact).map(|(_, line)| record(line.trim_end())));
    lines.extend((0..20).map(|n| record(&reading(n))));
    for (rule, special) in SPECIAL {
        lines.extend(special.iter().map(|line| given(*rule, line)));
    }
    lines.extend(of_class(Class::Finding).map(|(_, line)| record(line.trim_end())));
    lines.extend(frame(Kind::Problem).map(record));
    lines.extend(frame(Kind::End).chain(ENDED.iter().copied()).map(sign));
    lines
}

fn given(rule: Rule, line: &str) -> Given {
    Given { line: format!("{line}\n"), rule }
}

/// A plain reading, without its line end. Its numbers have no zero at their end, so that
/// a step that writes numbers anew writes these alike; others are there to find it out.
pub(crate) fn reading(n: u64) -> String {
    let position_m = 20.05 + 0.1 * as_f64(n);
    let dx_mm = 1.7401 + 0.0002 * as_f64((n * 7) % 100);
    format!(
        "{{\"kind\":\"diameter\",\"lot\":\"spool-7\",\"position_m\":{position_m:.2},\"dx_mm\":{dx_mm:.4},\"dy_mm\":1.7482}}"
    )
}

#[expect(clippy::cast_precision_loss, reason = "numbers of readings are small")]
fn as_f64(n: u64) -> f64 {
    n as f64
}

/// About so many bytes of plain readings, whole lines.
pub(crate) fn readings(bytes: usize) -> String {
    let mut text = String::with_capacity(bytes + 200);
    let mut n = 0;
    while text.len() < bytes {
        text.push_str(&reading(n));
        text.push('\n');
        n += 1;
    }
    text
}

#[cfg(test)]
mod tests {
    use super::good;
    use secondmelt_record::contract::Begin;
    use std::collections::HashSet;

    #[test]
    fn no_line_of_the_stream_stands_twice() {
        let lines = good();
        let different: HashSet<&str> = lines.iter().map(|g| g.line.as_str()).collect();
        assert_eq!(different.len(), lines.len());
    }

    #[test]
    fn every_run_in_the_stream_has_the_programs_of_this_version() {
        for begin in super::BEGUN {
            assert!(serde_json::from_str::<Begin<'_>>(begin).is_ok(), "{begin}");
        }
    }
}
