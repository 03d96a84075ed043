//! The same lab written in the units of the records and in others (degrees Fahrenheit, pounds,
//! inches, feet, psi, minutes) gets the same advice from `ingest`, `check-tolerance` and
//! `cycle-adjust`.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod common;

use common::run;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use serde_json::{Value, json};

/// A lab in the units of the records.
#[derive(Debug, Clone)]
struct Lab {
    drift: f64,
    scatter: Vec<f64>,
    melt_c: f64,
    step_c: f64,
    bar: f64,
    speed: f64,
    mm: f64,
    wobble: Vec<f64>,
    target_kg_h: f64,
    drying: f64,
}

fn lab() -> impl Strategy<Value = Lab> {
    (
        (0.05..0.25_f64, prop::collection::vec(-0.02..0.02_f64, 5), 215.0..235.0_f64, 3.0..6.0_f64),
        (60.0..120.0_f64, 3.0..6.0_f64, 1.70..1.80_f64, prop::collection::vec(-0.01..0.01_f64, 12)),
        (0.7..1.3_f64, 0.1..0.5_f64),
    )
        .prop_map(
            |((drift, scatter, melt_c, step_c), (bar, speed, mm, wobble), (target, drying))| Lab {
                drift,
                scatter,
                melt_c,
                step_c,
                bar,
                speed,
                mm,
                wobble,
                target_kg_h: target,
                drying,
            },
        )
}

/// A column in the unit of the record and in another: both headings, and what one of the first is
/// in the other.
type Column = (&'static str, &'static str, fn(f64) -> f64);

const LB_G: f64 = 453.592_37;
const INCH_MM: f64 = 25.4;
/// A pound (0.453 592 37 kg) times 9.806 65 m/s2 on a square inch, in bar (all exact).
const PSI_BAR: f64 = 0.453_592_37 * 9.806_65 / (INCH_MM * INCH_MM * 1e-6) / 1e5;

fn fahrenheit(c: f64) -> f64 {
    c * 1.8 + 32.0
}

/// A table, in the units of the records or in others. Cells that are words stand before.
fn table(other: bool, words: &[&str], columns: &[Column], rows: &[(String, Vec<f64>)]) -> String {
    let heading = |(own, others, _): &Column| if other { *others } else { *own };
    let headings = words.iter().copied().chain(columns.iter().map(heading));
    let mut text = headings.collect::<Vec<_>>().join(",") + "\n";
    for (name, values) in rows {
        text += name;
        for (value, (_, _, convert)) in values.iter().zip(columns) {
            let value = if other { convert(*value) } else { *value };
            text += &format!(",{value}");
        }
        text += "\n";
    }
    text
}

fn ingested(kind: &str, args: &[&str], table: &str) -> String {
    let args: Vec<&str> = [&[kind, "--decimal", "point"][..], args, &["-"][..]].concat();
    let ran = run("ingest", &args, table.as_bytes());
    assert!(ran.of("problem").is_empty() && ran.status == 0, "{}{}", ran.stderr, ran.text());
    ran.text()
}

/// What the chain finds of the lab.
fn findings(lab: &Lab, other: bool) -> Vec<Value> {
    let passes: Vec<u32> = (0..5).collect();
    let lots: String = passes
        .iter()
        .map(|p| format!("{}\n", json!({"kind":"lot","lot":format!("p{p}"),"material":"PETG","passes":p,"form":"regrind"})))
        .collect();
    let links: String = passes
        .iter()
        .map(|p| {
            format!(
                "{}\n",
                json!({"kind":"weighing","step":format!("e{p}"),"lot":format!("p{p}"),"role":"out"})
            )
        })
        .collect();
    let limits = [
        json!({"kind":"limit","what":"mfr_g_10min","material":"PETG","max":14,"temp_c":220,"load_kg":2.16,"unit":"g/10 min"}),
        json!({"kind":"limit","what":"throughput_kg_h","machine":"X","target":lab.target_kg_h,"unit":"kg/h"}),
    ];
    let limits: String = limits.iter().map(|limit| format!("{limit}\n")).collect();
    let steps: Vec<_> = passes
        .iter()
        .map(|p| {
            let (x, off) = (f64::from(*p), lab.scatter[*p as usize]);
            let row =
                vec![lab.melt_c - lab.step_c * x + off, lab.bar - 4.0 * x + off, lab.speed, 20.0];
            (format!("e{p},extrude,X"), row)
        })
        .collect();
    let cuts: Vec<_> = passes
        .iter()
        .flat_map(|p| {
            let mfr = 7.0 * (lab.drift * f64::from(*p) + lab.scatter[*p as usize]).exp();
            let row = vec![220.0, 2.16, mfr * 0.05, 30.0, mfr * 30.0 / 427.0 * 10.0 / 1.1];
            (1..4).map(move |_| (format!("p{p}"), row.clone()))
        })
        .collect();
    let dried: Vec<_> = (0..6)
        .map(|h| {
            let h = f64::from(h);
            ("p4".to_owned(), vec![h, 0.3 * (-lab.drying * h).exp() * (1.0 + lab.scatter[1]), 65.0])
        })
        .collect();
    let diameters: Vec<_> = lab
        .wobble
        .iter()
        .enumerate()
        .map(|(n, off)| ("p4".to_owned(), vec![n as f64, lab.mm + off]))
        .collect();
    let machine = [("X,extrude".to_owned(), vec![1.75, 0.02, lab.speed * 1.3, 280.0])];
    let tables = [
        ingested(
            "material",
            &[],
            &table(
                other,
                &["material"],
                &[
                    ("melt_min_c", "melt_min_c (°F)", fahrenheit),
                    ("melt_max_c", "melt_max_c (°F)", fahrenheit),
                    ("density (g/cm3)", "density (kg/m3)", |x| x * 1000.0),
                    ("activation_min_kj_mol", "activation_min_kj_mol (kcal/mol)", |x| x / 4.184),
                    ("activation_max_kj_mol", "activation_max_kj_mol (kcal/mol)", |x| x / 4.184),
                ],
                &[("PETG".to_owned(), vec![170.0, 275.0, 1.27, 50.0, 80.0])],
            ),
        ),
        ingested(
            "machine",
            &[],
            &table(
                other,
                &["machine", "does"],
                &[
                    ("nominal (mm)", "nominal (in)", |x| x / INCH_MM),
                    ("tolerance (mm)", "tolerance (in)", |x| x / INCH_MM),
                    ("line_speed_max_m_min", "line_speed_max_m_min (ft/min)", |x| x / 0.3048),
                    ("melt_max_c", "melt_max_c (°F)", fahrenheit),
                ],
                &machine,
            ),
        ),
        ingested(
            "step",
            &[],
            &table(
                other,
                &["step", "does", "machine"],
                &[
                    ("settings.melt_c", "settings.melt_c (°F)", fahrenheit),
                    ("settings.pressure_bar", "settings.pressure_bar (psi)", |x| x / PSI_BAR),
                    ("settings.line_speed_m_min", "settings.line_speed_m_min (in/min)", |x| {
                        x * 1000.0 / INCH_MM
                    }),
                    ("settings.screw_rpm", "settings.screw_rpm (1/s)", |x| x / 60.0),
                ],
                &steps,
            ),
        ),
        ingested(
            "melt_flow",
            &[],
            &table(
                other,
                &["lot"],
                &[
                    ("temp (°C)", "temp (°F)", fahrenheit),
                    ("load (kg)", "load (lb)", |x| x * 1000.0 / LB_G),
                    ("cut-off mass (g)", "cut-off mass (lb)", |x| x / LB_G),
                    ("cut-off time (s)", "cut-off time (min)", |x| x / 60.0),
                    ("stroke (mm)", "stroke (in)", |x| x / INCH_MM),
                ],
                &cuts,
            ),
        ),
        ingested(
            "moisture",
            &[],
            &table(
                other,
                &["lot"],
                &[
                    ("drying time (h)", "drying time (min)", |x| x * 60.0),
                    ("moisture (%)", "moisture (ppm)", |x| x * 1e4),
                    ("drying temp (°C)", "drying temp (°F)", fahrenheit),
                ],
                &dried,
            ),
        ),
        ingested(
            "diameter",
            &[],
            &table(
                other,
                &["lot"],
                &[
                    ("position (m)", "position (ft)", |x| x / 0.3048),
                    ("diameter (mm)", "diameter (in)", |x| x / INCH_MM),
                ],
                &diameters,
            ),
        ),
    ];
    let input = lots + &links + &limits + &tables.concat();
    let summed =
        run("check-tolerance", &["--no-waves", "--no-charts", "--no-alarms"], input.as_bytes());
    let ran = run("cycle-adjust", &[], &summed.stdout);
    let records = ran.records();
    assert!(records.iter().all(|r| r["kind"] != "problem"), "{}", ran.text());
    let own = records.iter().position(|r| r["program"] == "cycle-adjust").unwrap();
    let by = records[own]["id"].clone();
    records.into_iter().filter(|r| r.get("by") == Some(&by)).collect()
}

/// Two findings that say the same: numbers to a part in 10^8, and those in words to their last digits.
fn alike(at: &str, a: &Value, b: &Value) {
    match (a, b) {
        (Value::Object(a), Value::Object(b)) => {
            assert_eq!(a.keys().collect::<Vec<_>>(), b.keys().collect::<Vec<_>>(), "{at}");
            a.iter()
                .filter(|(name, _)| *name != "by")
                .for_each(|(name, x)| alike(name, x, &b[name]));
        }
        (Value::Number(x), Value::Number(y)) => {
            let (x, y) = (x.as_f64().unwrap(), y.as_f64().unwrap());
            assert!((x - y).abs() <= 1e-8 * x.abs().max(1e-3), "{at}: {x}, {y}");
        }
        (Value::String(x), Value::String(y)) => {
            let (words, numbers) = apart(x);
            let (others, figures) = apart(y);
            assert_eq!(words, others, "{at}");
            for (x, y) in numbers.iter().zip(&figures) {
                assert!((x - y).abs() <= 0.011 + 1e-3 * x.abs(), "{at}: {x}, {y}");
            }
        }
        _ => assert_eq!(a, b, "{at}"),
    }
}

/// The words of a text and the numbers in it.
fn apart(text: &str) -> (String, Vec<f64>) {
    let (mut words, mut numbers) = (String::new(), Vec::new());
    for token in text.split(|c: char| !c.is_ascii_digit() && c != '.') {
        match token.trim_matches('.').parse() {
            Ok(x) => numbers.push(x),
            Err(_) => words.push_str(token),
        }
    }
    words.extend(text.chars().filter(|c| !c.is_ascii_digit() && *c != '.'));
    (words, numbers)
}

#[test]
fn the_same_lab_in_other_units_gets_the_same_advice() {
    let config = Config { cases: 24, failure_persistence: None, ..Config::default() };
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &[5; 32]);
    let mut seen = std::collections::BTreeSet::new();
    let mut proposed = std::collections::BTreeSet::new();
    TestRunner::new_with_rng(config, rng)
        .run(&lab(), |lab| {
            let (own, other) = (findings(&lab, false), findings(&lab, true));
            // An empty output would be alike, too.
            assert!(own.len() > 20, "{own:?}");
            assert_eq!(own.len(), other.len());
            for (a, b) in own.iter().zip(&other) {
                alike("", a, b);
                proptest::prop_assert!(a["kind"].is_string());
            }
            Ok(())
        })
        .unwrap();
    // Every sort of advice came up, so that each was compared.
    let mut runner = TestRunner::new_with_rng(
        Config { cases: 24, failure_persistence: None, ..Config::default() },
        TestRng::from_seed(RngAlgorithm::ChaCha, &[5; 32]),
    );
    for _ in 0..6 {
        let lab = lab().new_tree(&mut runner).unwrap().current();
        for finding in findings(&lab, true) {
            seen.insert(finding["kind"].as_str().unwrap().to_owned());
            proposed.extend(finding["what"].as_str().map(str::to_owned));
        }
    }
    for kind in [
        "adjustment",
        "caution",
        "melt_flow_drift",
        "melt_flow_result",
        "melt_viscosity",
        "passes_left",
        "verdict",
    ] {
        assert!(seen.contains(kind), "no {kind}: {seen:?}");
    }
    for what in
        ["melt_c", "pressure_bar", "line_speed_m_min", "screw_rpm", "dry_h", "younger_share_pct"]
    {
        assert!(proposed.contains(what), "no {what}: {proposed:?}");
    }
}
