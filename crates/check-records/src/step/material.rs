//! The streams that a step is tried on. All of their data are invented.

use super::rules::Rule;
use crate::examples;
use secondmelt_record::lines::LINE_MAX;
use secondmelt_record::{Class, Kind};

/// A line with its line end, and the rule that a step breaks if it does not pass it on.
#[derive(Debug, Clone)]
pub(crate) struct Given {
    /// The line, its line end included.
    pub(crate) line: String,
    /// The rule.
    pub(crate) rule: Rule,
}

impl Given {
    /// The line without its line end.
    pub(crate) fn raw(&self) -> &[u8] {
        self.line.strip_suffix('\n').unwrap_or(&self.line).as_bytes()
    }
}

/// Records on which steps act that do so under a condition only: what is damp, thick, oval,
/// failed, undecided, dear, dirty, old or coloured.
const CONDITIONS: &[&str] = &[
    r#"{"kind":"lot","lot":"spool-12","material":"PETG","form":"filament","passes":5,"note":"grey, matt"}"#,
    r#"{"kind":"moisture","lot":"spool-12","moisture_pct":0.3,"at":"2026-03-12T09:15:00+01:00"}"#,
    r#"{"kind":"moisture","lot":"regrind-4","moisture_pct":0.004,"at":"2026-03-12T15:15:00+01:00"}"#,
    r#"{"kind":"step","step":"extrude-12","does":"extrude","settings":{"melt_c":271,"line_speed_m_min":7.5},"energy_kwh":9.8,"cost":88.41,"currency":"EUR"}"#,
    r#"{"kind":"weighing","step":"extrude-12","lot":"spool-12","role":"off-tolerance","mass_g":311.4,"u_g":0.3}"#,
    r#"{"kind":"weighing","step":"extrude-12","lot":"spool-12","role":"dust"}"#,
    r#"{"kind":"diameter","lot":"spool-12","position_m":3.45,"dx_mm":1.9132,"dy_mm":1.6241}"#,
    r#"{"kind":"diameter","lot":"spool-12","position_m":3.55,"dx_mm":1.5821,"dy_mm":1.5794}"#,
    r#"{"kind":"inclusion","lot":"spool-12","position_m":3.52,"size_mm":0.9,"what":"black speck"}"#,
    r#"{"kind":"trial","lot":"spool-12","machine":"printer-b","part":"float housing","outcome":"failed","fault":"jam"}"#,
    r#"{"kind":"trial","lot":"spool-12","machine":"printer-b","part":"float housing","outcome":"good"}"#,
];
/// The same among what earlier filters have found.
const CONDITIONS_FOUND: &[&str] = &[
    r#"{"kind":"verdict","by":"05ad5d4c95e1a3eb","check":"diameter-tolerance","result":"undecided","lot":"spool-12","rule":"guarded acceptance","why":"the readings are too few"}"#,
    r#"{"kind":"verdict","by":"05ad5d4c95e1a3eb","check":"diameter-tolerance","result":"conforms","lot":"spool-9","rule":"guarded acceptance","why":"all readings are within the limits"}"#,
];
/// A record that the lab has written down more than once: twice in a row, and once more later.
const REPEATED: &str = r#"{"kind":"inspection","lot":"spool-12","length_m":5}"#;

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
    r#"{"kind":"begin","id":"c2a7d1b04f6e9385","program":"check-trials","version":"0.1.0","contract":1,"options":[],"after":["b3778ded97c1a081","05ad5d4c95e1a3eb","5f1a618b3fea5828","9f5bf39f6198a09d"]}"#,
    r#"{"kind":"begin","id":"d81f0c5ab2e74396","program":"plan-batch","version":"0.1.0","contract":1,"options":[],"after":["b3778ded97c1a081","05ad5d4c95e1a3eb","5f1a618b3fea5828","9f5bf39f6198a09d","c2a7d1b04f6e9385"]}"#,
];
const ENDED: &[&str] = &[
    r#"{"kind":"end","id":"05ad5d4c95e1a3eb","read":{},"written":{},"problems":{}}"#,
    r#"{"kind":"end","id":"5f1a618b3fea5828","read":{},"written":{},"problems":{"not-a-number":1}}"#,
    r#"{"kind":"end","id":"9f5bf39f6198a09d","read":{},"written":{},"problems":{}}"#,
    r#"{"kind":"end","id":"c2a7d1b04f6e9385","read":{},"written":{},"problems":{}}"#,
    r#"{"kind":"end","id":"d81f0c5ab2e74396","read":{},"written":{},"problems":{}}"#,
];

/// A good stream: signed, with a record of every kind and the lines above.
pub(crate) fn good() -> Vec<Given> {
    let of_class = |class: Class| examples::all().filter(move |(kind, _)| kind.class() == class);
    let frame = |kind: Kind| examples::of(kind).into_iter().map(str::trim_end);
    let record = |line: &str| given(Rule::Records, line);
    let sign = |line: &str| given(Rule::Signatures, line);
    let mut lines: Vec<Given> = frame(Kind::Begin).chain(BEGUN.iter().copied()).map(sign).collect();
    lines.extend(of_class(Class::Fact).map(|(_, line)| record(line.trim_end())));
    lines.extend(CONDITIONS.iter().copied().map(record));
    lines.extend([REPEATED, REPEATED].map(record));
    lines.extend((0..20).map(|n| record(&reading(n))));
    for (rule, special) in SPECIAL {
        lines.extend(special.iter().map(|line| given(*rule, line)));
    }
    lines.extend([given(Rule::LongLines, &long_line()), record(REPEATED)]);
    lines.extend(of_class(Class::Finding).map(|(_, line)| record(line.trim_end())));
    lines.extend(CONDITIONS_FOUND.iter().copied().map(record));
    lines.extend(frame(Kind::Problem).map(record));
    lines.extend(frame(Kind::End).chain(ENDED.iter().copied()).map(sign));
    lines
}

/// A line just under the 1 MiB that a line may have, without its line end.
fn long_line() -> String {
    let (start, end) = ("{\"kind\":\"example.text\",\"n\":5,\"text\":\"", "\"}");
    let words = "a long note ".repeat(LINE_MAX / 12);
    let room = LINE_MAX - start.len() - end.len() - 16;
    format!("{start}{}{end}", words.get(..room).unwrap_or_default())
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
    use super::{LINE_MAX, REPEATED, good};
    use crate::checks::Checks;
    use secondmelt_record::contract::Begin;
    use secondmelt_record::{Line, Place};
    use std::collections::HashSet;

    #[test]
    fn one_line_stands_three_times_in_the_stream_and_every_other_once() {
        let lines = good();
        let at: Vec<_> = (0..).zip(&lines).filter(|(_, g)| g.line.trim_end() == REPEATED).collect();
        assert_eq!(at.len(), 3);
        assert!(at[0].0 + 1 == at[1].0 && at[1].0 + 1 < at[2].0);
        let different: HashSet<&str> = lines.iter().map(|g| g.line.as_str()).collect();
        assert_eq!(different.len() + 2, lines.len());
    }

    #[test]
    fn one_line_is_nearly_as_long_as_a_line_may_be() {
        let longest = good().iter().map(|g| g.line.len()).max().unwrap();
        assert!(longest <= LINE_MAX && longest > LINE_MAX - 100, "{longest}");
    }

    #[test]
    fn the_stream_keeps_the_contract_that_it_is_to_try() {
        let mut checks = Checks::default();
        for given in good() {
            let raw = given.line.trim_end_matches(['\n', '\r']);
            let found = checks.line(Line { place: Place { file: None, line: 1 }, raw });
            assert_eq!(found, [], "{raw}");
        }
    }

    #[test]
    fn every_run_in_the_stream_has_the_programs_of_this_version() {
        for begin in super::BEGUN {
            assert!(serde_json::from_str::<Begin<'_>>(begin).is_ok(), "{begin}");
        }
    }
}
