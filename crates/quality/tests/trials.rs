//! Comparing groups of trials against other libraries; source and status stand beside each case
//! in `tests/reference/trials.json`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod common;

use common::{Case, cases};
use secondmelt_quality::contingency::{Table, holm, stratified_two_sided};
use secondmelt_quality::separating::{May, Tried, weigh};
use secondmelt_quality::yield_product::{Stage, predict};
use secondmelt_quality::{firth, sequential};
use serde_json::{Value, json};

const CASES: &str = include_str!("../../../tests/reference/trials.json");

fn over(case: &Case, value: impl Fn(&[f64]) -> f64) -> Value {
    case.rows().iter().map(|row| json!(value(row))).collect()
}

fn table(row: &[f64]) -> Table {
    let [good1, bad1, good2, bad2] = [row[0] as u64, row[1] as u64, row[2] as u64, row[3] as u64];
    Table { good1, bad1, good2, bad2 }
}

fn fisher(case: &Case) -> Value {
    json!({
        "two_sided": over(case, |row| table(row).fisher_two_sided().unwrap()),
        "second_better": over(case, |row| table(row).fisher_second_better().unwrap()),
    })
}

fn stratified(case: &Case) -> Value {
    let rows = case.inputs["rows"].as_array().unwrap().iter().map(|strata| {
        let strata = strata.as_array().unwrap().iter();
        stratified_two_sided(&strata.map(|row| table(&common::numbers(row))).collect::<Vec<_>>())
    });
    json!({"two_sided": rows.map(Option::unwrap).collect::<Vec<_>>()})
}

fn evidence(case: &Case) -> Value {
    let of = |f: fn(u64, u64, f64) -> Option<f64>| {
        over(case, |row| f(row[0] as u64, row[1] as u64, row[2]).unwrap())
    };
    json!({"above": of(sequential::evidence_above), "below": of(sequential::evidence_below)})
}

fn firth_fit(case: &Case) -> Value {
    let x = case.inputs["x"].as_array().unwrap();
    let x: Vec<Vec<f64>> = x
        .iter()
        .map(|row| row.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect())
        .collect();
    let good = case.inputs["good"].as_array().unwrap();
    let good: Vec<bool> = good.iter().map(|good| good.as_bool().unwrap()).collect();
    let trials = firth::Trials::new(&x, &good).unwrap();
    let fit = trials.fit().unwrap();
    let settings = 1..fit.coefficients.len();
    let ends: Vec<_> = settings
        .clone()
        .map(|j| trials.interval(&fit, j, case.number("confidence")).unwrap())
        .collect();
    json!({
        "coefficients": fit.coefficients,
        "ln_likelihood": fit.ln_likelihood,
        "p": settings.map(|j| trials.probability(&fit, j).unwrap()).collect::<Vec<_>>(),
        "low": ends.iter().map(|end| end.0).collect::<Vec<_>>(),
        "high": ends.iter().map(|end| end.1).collect::<Vec<_>>(),
    })
}

/// By the regression, and by the counts.
fn half_added(case: &Case) -> Value {
    let counts = ["good1", "bad1", "good2", "bad2"].map(|name| case.whole(name));
    let table = Table { good1: counts[0], bad1: counts[1], good2: counts[2], bad2: counts[3] };
    let (mut x, mut good) = (Vec::new(), Vec::new());
    for (n, (level, outcome)) in
        counts.iter().zip([(-1.0, true), (-1.0, false), (1.0, true), (1.0, false)])
    {
        for _ in 0..*n {
            x.push(vec![level]);
            good.push(outcome);
        }
    }
    let fit = firth::Trials::new(&x, &good).unwrap().fit().unwrap();
    assert!((0.5 * table.odds_ratio().ln() - fit.coefficients[1]).abs() < 1e-7);
    json!({"coefficient": fit.coefficients[1]})
}

fn separating(case: &Case) -> Value {
    let settings = usize::try_from(case.whole("settings")).unwrap();
    let tried: Vec<Tried> = case.inputs["tried"]
        .as_array()
        .unwrap()
        .iter()
        .map(|trial| Tried {
            as_good: trial[0].as_array().unwrap().iter().map(|x| x.as_bool().unwrap()).collect(),
            good: trial[1].as_bool().unwrap(),
        })
        .collect();
    let weighed = weigh(settings, &tried).unwrap();
    let made = (0..settings).map(|at| weighed.made(at).unwrap().probability);
    let free = vec![May { stay: true, go_back: true }; settings];
    json!({
        "made": made.collect::<Vec<_>>(),
        "none": weighed.none(),
        "open_bits": weighed.open_bits(),
        "bits": weighed.next(&free).unwrap().bits,
    })
}

/// Logarithms of so many yields with that variance: an even number of steps up and down about the mean.
fn stage(variance: f64, runs: u64) -> Stage {
    let step = (variance * (runs - 1) as f64 / (2 * (runs / 2)) as f64).sqrt();
    let logs = (0..runs).map(|i| match i {
        i if i == runs - 1 && runs % 2 == 1 => 0.0,
        i if i % 2 == 0 => step,
        _ => -step,
    });
    Stage::new(&logs.map(|log| (log - 1.0).exp()).collect::<Vec<_>>()).unwrap()
}

fn yields(case: &Case) -> Value {
    let rows = case.inputs["rows"].as_array().unwrap().iter().map(|row| {
        let list = |at: usize| row[at].as_array().unwrap().iter();
        let variances = list(0).map(|x| x.as_f64().unwrap());
        let runs = list(1).map(|x| x.as_u64().unwrap());
        let stages: Vec<Stage> = variances.zip(runs).map(|(s2, n)| stage(s2, n)).collect();
        let (low, high) = predict(&stages).interval(case.number("confidence")).unwrap();
        0.5 * (high.ln() - low.ln())
    });
    json!({"half": rows.collect::<Vec<_>>()})
}

#[test]
fn every_case_is_met() {
    let file: Value = serde_json::from_str(CASES).unwrap();
    for case in cases(&file) {
        let found = match case.id {
            "fisher" | "fisher-tea" => fisher(&case),
            "stratified" => stratified(&case),
            "holm" => json!({"adjusted": holm(&case.list("p"))}),
            "sequential-evidence" => evidence(&case),
            "sequential-more-good" => json!({"more": over(&case, |row| {
                sequential::more_good(row[0] as u64, row[1] as u64, row[2], row[3]).unwrap() as f64
            })}),
            "firth-half-added" => half_added(&case),
            "separating-crossed" | "separating-three" => separating(&case),
            "yield-product" => yields(&case),
            id if id.starts_with("firth-") => firth_fit(&case),
            id => panic!("{id}: no test"),
        };
        case.check(&found);
    }
}

#[test]
fn settings_that_depend_on_one_another_have_no_fit() {
    let x: Vec<Vec<f64>> = [-1.0, -1.0, 1.0, 1.0, 1.0].iter().map(|x| vec![*x, 2.0 * x]).collect();
    let good = [false, true, true, true, false];
    assert!(firth::Trials::new(&x, &good).unwrap().fit().is_none());
}

#[test]
fn strata_that_tell_nothing_add_nothing() {
    let of = |good1, bad1, good2, bad2| Table { good1, bad1, good2, bad2 };
    let tables = [of(1, 2, 7, 0), of(40, 15, 30, 35), of(0, 2, 9, 3), of(400, 150, 300, 350)];
    let silent = [of(0, 0, 3, 4), of(5, 0, 0, 0), of(0, 3, 0, 9), of(u64::MAX, 0, 0, 0)];
    for table in tables {
        let alone = table.fisher_two_sided().unwrap();
        assert_eq!(stratified_two_sided(&[table]), Some(alone));
        let [a, b, c, d] = silent;
        assert_eq!(stratified_two_sided(&[a, b, table, c, d]), Some(alone));
    }
    assert_eq!(stratified_two_sided(&[]), Some(1.0));
    assert_eq!(stratified_two_sided(&silent), Some(1.0));
    assert_eq!(of(u64::MAX, 0, 0, 0).fisher_two_sided(), Some(1.0));
}

#[test]
fn the_order_of_strata_and_of_groups_does_not_matter() {
    let of = |good1, bad1, good2, bad2| Table { good1, bad1, good2, bad2 };
    let strata = [of(3, 5, 6, 1), of(0, 4, 2, 3), of(7, 2, 9, 0), of(1, 8, 2, 2)];
    let p = stratified_two_sided(&strata).unwrap();
    let mut back = strata.to_vec();
    back.reverse();
    let other = |t: &Table| of(t.good2, t.bad2, t.good1, t.bad1);
    let others: Vec<Table> = strata.iter().map(other).collect();
    for found in [stratified_two_sided(&back), stratified_two_sided(&others)] {
        assert!((found.unwrap() - p).abs() < 1e-12, "{p} {found:?}");
    }
    // Hundreds of strata neither overflow nor take long; huge ones together have no answer.
    let many = stratified_two_sided(&vec![of(8, 12, 12, 8); 300]).unwrap();
    assert!(many > 0.0 && many < 1e-100, "{many}");
    assert!(stratified_two_sided(&[of(20_000, 20_000, 20_000, 20_000); 2]).is_none());
    assert!(stratified_two_sided(&[of(u64::MAX, 1, 0, 0)]).is_none());
}
