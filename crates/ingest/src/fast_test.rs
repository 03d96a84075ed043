//! The short way held to the general way.

use super::*;
use crate::clock::Clock;
use crate::number::Style;
use crate::options::Options;
use crate::row::{Row, Rows};
use crate::settings::Settings;
use crate::sink::Sink;
use crate::split::cut;
use clap::Parser;
use proptest::prelude::*;
use secondmelt_record::Out;
use secondmelt_record::output::Identity;

fn plan(headings: &[&str], options: &[&str]) -> Plan {
    let words = ["ingest", "diameter"].iter().chain(options);
    let settings = Settings::new(Options::try_parse_from(words).unwrap()).unwrap();
    let headings: Vec<String> = headings.iter().map(|h| (*h).to_owned()).collect();
    Plan::new(&settings, &headings).unwrap()
}

/// The record of one line by the general way; none where it makes a problem of it.
fn general(plan: &Plan, reading: &Reading, line: &str, delimiter: u8) -> Option<Vec<u8>> {
    let mut out = Out::nowhere(Identity { program: "ingest", version: "0", options: Vec::new() });
    let mut sink = Sink::new(&mut out, "-");
    let text = line.trim_end_matches('\n');
    let text = text.strip_suffix('\r').unwrap_or(text);
    let mut spans = Vec::new();
    cut(text, delimiter, &mut spans);
    let row = Row { text, spans: &spans, line: 1, raw: text };
    let rows = Rows::new(plan, reading.clone());
    let mut record = Vec::new();
    let good = !row.is_blank() && rows.ragged(row).is_none();
    (good && rows.fill(row, &mut record, &mut sink)).then_some(record)
}

/// Runs both ways over a block; how many rows went the short way.
fn compared(
    plan: &Plan,
    decimal: Decimal,
    delimiter: u8,
    lines: &[String],
) -> Result<usize, TestCaseError> {
    let reading = Reading { style: Style { decimal, thousands: None }, clock: Clock::default() };
    let mut fast = Fast::new(plan, &reading, delimiter).unwrap();
    // Some room after the last row, as there is in most blocks.
    let block = lines.concat() + &" ".repeat(64);
    let (mut at, mut short) = (0, 0);
    for line in lines {
        if let Some(next) = fast.row(block.as_bytes(), at) {
            prop_assert_eq!(next, at + line.len());
            let slow = general(plan, &reading, line, delimiter);
            let (fast, slow) = (fast.record().to_vec(), slow.unwrap_or_default());
            prop_assert_eq!(
                String::from_utf8_lossy(&fast),
                String::from_utf8_lossy(&slow),
                "{:?}",
                line
            );
            short += 1;
        }
        at += line.len();
    }
    Ok(short)
}

fn number() -> impl Strategy<Value = String> {
    prop_oneof![
        4 => "[0-9]{1,5}[.,][0-9]{1,5}",
        2 => "[0-9]{1,12}",
        1 => "[-+.,0-9eE ]{0,18}",
        1 => Just(String::new()),
        1 => Just("NaN".to_owned()),
    ]
}

fn name() -> impl Strategy<Value = String> {
    prop_oneof![
        4 => Just("spool 1".to_owned()),
        2 => Just("spool 1b".to_owned()),
        1 => "[ -~\u{a0}\u{e0}-\u{ff}]{0,20}",
    ]
}

fn row() -> impl Strategy<Value = String> {
    let cells = (name(), number(), number(), name(), number(), any::<bool>(), 0_usize..12);
    cells.prop_map(|(lot, position, dx, other, dy, return_too, odd)| {
        let mut cells = vec![lot, position, dx, other, dy];
        match odd {
            0 => drop(cells.pop()),
            1 => cells.push("x".to_owned()),
            _ => {}
        }
        cells.join(";") + if return_too { "\r\n" } else { "\n" }
    })
}

proptest! {
    #[test]
    fn the_short_way_answers_as_the_general_way(
        lines in prop::collection::vec(row(), 1..40), comma: bool, micrometres: bool
    ) {
        let dx = if micrometres { "dx [µm]" } else { "dx_mm" };
        let plan = plan(&["lot", "position_m", dx, "nothing", "dy_mm"], &["--set", "gauge=g"]);
        let decimal = if comma { Decimal::Comma } else { Decimal::Point };
        compared(&plan, decimal, b';', &lines)?;
    }
}

#[test]
fn common_rows_go_the_short_way() {
    let plan = plan(&["lot", "position_m", "dx [µm]", "dy_mm"], &[]);
    for (decimal, delimiter, line) in [
        (Decimal::Point, b',', "spool 1,12.50,1749,1.7500\n"),
        (Decimal::Point, b',', "spool 1,0.00,1749.5,1.75\r\n"),
        (Decimal::Comma, b';', "spool 1;12,50;1749;1,7500\n"),
        (Decimal::Comma, b';', "spool 1;12,50;1749;\n"),
        (Decimal::Comma, b';', "Müller 1;12,50;1749;1,75\n"),
    ] {
        let lines = vec![line.to_owned(); 3];
        assert_eq!(compared(&plan, decimal, delimiter, &lines).unwrap(), 3, "{line}");
    }
}
