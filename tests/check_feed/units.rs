//! The same facts in other units give the same findings.

use super::*;
use proptest::prelude::{ProptestConfig, prop_assert, proptest};

/// A column: its name, and the units it may be in with what multiplies a value (and what is then
/// added).
struct Column {
    name: &'static str,
    units: &'static [(&'static str, f64, f64)],
}

const MASS: &[(&str, f64, f64)] =
    &[("g", 1.0, 0.0), ("lb", 1.0 / 453.592_37, 0.0), ("mg", 1000.0, 0.0)];
const TEMP: &[(&str, f64, f64)] = &[("°C", 1.0, 0.0), ("°F", 1.8, 32.0), ("K", 1.0, 273.15)];
const LENGTH: &[(&str, f64, f64)] =
    &[("mm", 1.0, 0.0), ("in", 1.0 / 25.4, 0.0), ("µm", 1000.0, 0.0)];
const HOURS: &[(&str, f64, f64)] = &[("h", 1.0, 0.0), ("min", 60.0, 0.0), ("s", 3600.0, 0.0)];
const PERCENT: &[(&str, f64, f64)] = &[("%", 1.0, 0.0), ("ppm", 10_000.0, 0.0), ("‰", 10.0, 0.0)];
const LOAD: &[(&str, f64, f64)] =
    &[("kg", 1.0, 0.0), ("lb", 1.0 / 0.453_592_37, 0.0), ("g", 1000.0, 0.0)];
const SECONDS: &[(&str, f64, f64)] =
    &[("s", 1.0, 0.0), ("min", 1.0 / 60.0, 0.0), ("ms", 1000.0, 0.0)];
const VOLUME: &[(&str, f64, f64)] =
    &[("cm³", 1.0, 0.0), ("in³", 1.0 / 16.387_064, 0.0), ("l", 0.001, 0.0)];

const fn column(name: &'static str, units: &'static [(&'static str, f64, f64)]) -> Column {
    Column { name, units }
}

/// Rows of numbers as a table in the units of a number, made into records.
fn ingested(kind: &str, columns: &[Column], rows: &[Vec<f64>], unit: usize) -> Vec<u8> {
    let mut table = String::from("lot");
    for column in columns {
        table += &format!(",{} [{}]", column.name, column.units[unit].0);
    }
    for row in rows {
        table += "\na";
        for (x, column) in row.iter().zip(columns) {
            let (_, factor, added) = column.units[unit];
            table += &format!(",{}", x * factor + added);
        }
    }
    table.push('\n');
    let ran = run("ingest", &[kind], table.as_bytes());
    assert_eq!(ran.status, 0, "{table}{}", ran.stderr);
    ran.stdout
}

/// Whether two findings say the same: words as they stand, numbers to nine digits, digits within words as
/// they were rounded.
fn alike(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Object(a), Value::Object(b)) => {
            let named = |name: &str| name != "by" && name != "src";
            let keys = |o: &serde_json::Map<String, Value>| -> Vec<String> {
                o.keys().filter(|k| named(k)).cloned().collect()
            };
            keys(a) == keys(b) && keys(a).iter().all(|k| alike(&a[k], &b[k]))
        }
        (Value::Array(a), Value::Array(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| alike(a, b))
        }
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64().unwrap(), b.as_f64().unwrap());
            // What is zero but for rounding has no digits to compare.
            (a - b).abs() <= 1e-6 * a.abs().max(b.abs()) + 1e-9
        }
        _ => a == b,
    }
}

/// Findings that a filter makes of a table and other facts; at least one, and no problem.
fn found(filter: &str, facts: &[Value], table: &[u8]) -> Vec<Value> {
    let mut input: Vec<u8> = facts.iter().flat_map(|r| format!("{r}\n").into_bytes()).collect();
    input.extend(table);
    let ran = run(filter, &[], &input);
    assert_eq!(ran.status, 0, "{}", ran.stderr);
    let read: Vec<Value> = input
        .split(|b| *b == b'\n')
        .filter(|line| !line.is_empty())
        .map(|line| serde_json::from_slice(line).unwrap())
        .collect();
    let text = String::from_utf8(ran.stdout).unwrap();
    let all = text.lines().map(|line| serde_json::from_str::<Value>(line).unwrap());
    let made: Vec<Value> =
        all.filter(|r| !read.contains(r) && r["kind"] != "begin" && r["kind"] != "end").collect();
    assert!(!made.is_empty(), "nothing was found");
    assert!(!made.iter().any(|r| r["kind"] == "problem"), "{made:#?}");
    made
}

/// Whether the findings are the same in every unit, and hold kinds that they must.
fn same(
    filter: &str,
    kind: &str,
    columns: &[Column],
    facts: &[Value],
    rows: &[Vec<f64>],
    must: &[&str],
) -> Result<(), String> {
    let of = |unit| found(filter, facts, &ingested(kind, columns, rows, unit));
    let ours = of(0);
    for must in must {
        if !ours.iter().any(|r| r["kind"] == *must) {
            return Err(format!("no {must} in {ours:#?}"));
        }
    }
    for unit in [1, 2] {
        let other = of(unit);
        if ours.len() != other.len() {
            return Err(format!(
                "{} findings against {}: {ours:#?}\n{other:#?}",
                ours.len(),
                other.len()
            ));
        }
        if let Some((a, b)) = ours.iter().zip(&other).find(|(a, b)| !alike(a, b)) {
            return Err(format!("unit {unit}:\n{a:#}\n{b:#}"));
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn densities(air in 5_000..60_000_u32, density in 900..1_350_u32, temp in 180..260_u32) {
        let (air, density) = (f64::from(air) / 1e4, f64::from(density) / 1e3);
        let liquid = (air * (1.0 - 0.9975 / density) * 1e4).round() / 1e4;
        let columns = [column("air", MASS), column("liquid mass", MASS), column("temp", TEMP)];
        let rows = [vec![air, liquid, f64::from(temp) / 10.0]];
        let held = same("check-feed", "immersion", &columns, &[lot("PETG")], &rows, &["density", "verdict"]);
        prop_assert!(held.is_ok(), "{}", held.unwrap_err());
    }

    #[test]
    fn dryings(start in 150..600_u32, rate in 10..60_u32, temp in 55..70_u32, slips in proptest::array::uniform5(-30..30_i32)) {
        let rate = f64::from(rate) / 1e3;
        let rows: Vec<Vec<f64>> = [0.0, 1.0, 2.0, 3.0, 5.0].iter().zip(slips).map(|(&h, slip)| {
            let left = secondmelt_plastics::drying::Granule::Plate.left(rate * h);
            let pct = f64::from(start) / 1e3 * left * (1.0 + f64::from(slip) / 1e3);
            vec![(pct * 1e5).round() / 1e5, h, f64::from(temp)]
        }).collect();
        let columns = [column("moisture", PERCENT), column("dried", HOURS), column("drying temp", TEMP)];
        let own = json!({"kind": "material", "material": "PETG", "dry_end_pct": 0});
        let mut flakes = lot("PETG");
        flakes["piece"] = json!("flake");
        let held = same("check-feed", "moisture", &columns, &[own, flakes], &rows, &["verdict"]);
        prop_assert!(held.is_ok(), "{}", held.unwrap_err());
    }

    #[test]
    fn sievings(masses in proptest::array::uniform6(1..90_000_u32)) {
        let charge: f64 = masses.iter().map(|m| f64::from(*m) / 1e3).sum();
        let rows: Vec<Vec<f64>> = [8.0, 5.6, 4.0, 2.0, 1.0, 0.0].iter().zip(masses)
            .map(|(mm, g)| vec![*mm, f64::from(g) / 1e3, charge]).collect();
        let columns = [column("opening", LENGTH), column("retained", MASS), column("charge", MASS)];
        let held = same("check-feed", "sieve", &columns, &[lot("PP")], &rows, &["particle_size", "verdict"]);
        prop_assert!(held.is_ok(), "{}", held.unwrap_err());
    }

    #[test]
    fn pourings(mass in 20_000..60_000_u32) {
        let rows = [vec![f64::from(mass) / 1e3, 100.0]];
        let columns = [column("filled", MASS), column("vessel", VOLUME)];
        let held = same("check-feed", "bulk", &columns, &[lot("PP")], &rows, &["bulk_density"]);
        prop_assert!(held.is_ok(), "{}", held.unwrap_err());
    }

    #[test]
    fn melt_flows(mass in 100..900_u32, time in 50..600_u32, stroke in 10..250_u32) {
        let cut = |more: f64| vec![230.0, 2.16, f64::from(mass) / 1e3 * more, f64::from(time) / 10.0, f64::from(stroke) / 10.0];
        let rows = [cut(1.0), cut(1.02), cut(0.99)];
        let columns = [column("temp", TEMP), column("load", LOAD), column("cut mass", MASS),
            column("cut time", SECONDS), column("stroke", LENGTH)];
        let held = same("cycle-adjust", "melt_flow", &columns, &[lot("PP")], &rows, &["melt_flow_result"]);
        prop_assert!(held.is_ok(), "{}", held.unwrap_err());
    }
}

/// A load is a mass here: a pressure is no unit of it and is refused before any record is made.
#[test]
fn a_pressure_is_no_load() {
    let table = "lot,temp [°C],load [psi],cut mass [g],cut time [s]\na,230,43,0.5,10\n";
    let ran = run("ingest", &["melt_flow"], table.as_bytes());
    assert_ne!(ran.status, 0);
    assert!(ran.stderr.contains("psi"), "{}", ran.stderr);
    assert!(!String::from_utf8_lossy(&ran.stdout).contains("\"kind\":\"melt_flow\""));
}
