//! What is worked out does not depend on the order of the records.

use crate::book::Book;
use crate::graph::Graph;
use crate::reconcile::Balanced;
use crate::trace::Traced;
use crate::{claims, lot, step, sums, yields};
use proptest::prelude::*;
use proptest::sample::{Index, select};
use secondmelt_record::facts::Role;
use secondmelt_record::{Kind, Line, Place, Record};

/// A record as a line of a stream. Each has a source line of its own.
fn record() -> impl Strategy<Value = String> {
    let mass = prop_oneof![Just(String::new()), (0..100_000_u32).prop_map(grams)];
    let scale = select(vec!["", r#","u_g":0.3"#, r#","scale":"bench""#, r#","scale":"none""#]);
    let fields = (0..4_u8, 0..4_u8, select(Role::ALL), mass, scale);
    fields.prop_map(|(step, lot, role, mass, scale)| {
        format!(r#""step":"s{step}","lot":"l{lot}","role":"{role}"{mass}{scale}"#)
    })
}

fn grams(hundredths: u32) -> String {
    format!(r#","mass_g":{}"#, f64::from(hundredths) / 100.0)
}

/// Numbers the weighings, so that no two have the same time or source, and adds facts.
fn stream(weighings: &[String]) -> Vec<String> {
    let numbered = weighings.iter().enumerate().map(|(n, fields)| {
        let (hour, minute) = (n / 60, n % 60);
        format!(
            r#"{{"kind":"weighing",{fields},"at":"2026-01-01T{hour:02}:{minute:02}:00Z","src":{{"file":"w.csv","line":{n}}}}}"#
        )
    });
    let facts = [
        r#"{"kind":"step","step":"s0","does":"shred"}"#,
        r#"{"kind":"step","step":"s3","does":"wind","at":"2026-01-01T00:10:00Z"}"#,
        r#"{"kind":"scale","scale":"bench","resolution_g":0.1}"#,
    ];
    numbered.chain(facts.map(str::to_owned)).collect()
}

/// Everything worked out from some lines.
fn findings(lines: &[String]) -> String {
    let mut book = Book::default();
    for (n, raw) in lines.iter().enumerate() {
        let line = Line { place: Place { file: None, line: n as u64 + 1 }, raw };
        let kind = Kind::from_name(raw.split('"').nth(3).expect("kind")).expect("kind");
        let problem = match Record::parse(kind, raw).expect("a record") {
            Record::Step(step) => book.step(&step, line),
            Record::Scale(scale) => book.scale(&scale, line),
            Record::Weighing(weighing) => book.weighing(&weighing, line),
            other => panic!("{other:?}"),
        };
        assert_eq!(problem, None);
    }
    let steps = step::balances(&book);
    let lots = lot::balances(&book);
    let graph = Graph::new(&book);
    let balanced = Balanced::new(&graph).expect("finite masses");
    let traced = Traced::new(&graph, &balanced);
    for (lot, parts) in &traced.lots {
        let whole: f64 = parts.values().sum();
        assert!((whole - 1.0).abs() < 1e-9, "parts of lot {} add up to {whole}", book.name(*lot));
    }
    let mut network: Vec<String> = Vec::new();
    network.extend(balanced.findings().map(|f| format!("{f:?}")));
    network.extend(balanced.verdict().map(|f| format!("{f:?}")));
    network.extend(balanced.suspects().map(|f| format!("{f:?}")));
    network.extend(claims::compositions(&book, &traced).map(|f| format!("{f:?}")));
    network.extend(claims::recycled(&book, &traced).map(|f| format!("{f:?}")));
    network.extend(claims::descents(&book, &traced).map(|f| format!("{f:?}")));
    network.extend(claims::loops(&book, &traced).iter().map(|f| format!("{f:?}")));
    network.extend(sums::edges(&graph, &balanced).map(|f| format!("{f:?}")));
    network.extend(sums::losses(&graph, &balanced, &traced).iter().map(|f| format!("{f:?}")));
    network.extend(sums::outlays(&graph, &balanced).iter().map(|f| format!("{f:?}")));
    network.extend(yields::rolled(&graph, &balanced, &traced).iter().map(|f| format!("{f:?}")));
    let steps = steps.iter().map(|b| format!("{:?}\n{:?}\n", b.finding(), b.verdict()));
    let lots = lots.iter().map(|b| format!("{:?}\n{:?}\n", b.finding(), b.verdict()));
    steps.chain(lots).chain(network).collect()
}

proptest! {
    #[test]
    fn the_order_of_records_changes_nothing(
        weighings in prop::collection::vec(record(), 0..40),
        swaps in prop::collection::vec((any::<Index>(), any::<Index>()), 60),
    ) {
        let lines = stream(&weighings);
        let mut shuffled = lines.clone();
        for (a, b) in &swaps {
            shuffled.swap(a.index(lines.len()), b.index(lines.len()));
        }
        prop_assert_eq!(findings(&lines), findings(&shuffled));
    }
}
