//! `mass-balance`: rolled yields, trends of losses, water by moisture, tares, energy and money, and
//! that no plastic comes from nowhere.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod common;

use common::{Ran, reference};
use proptest::prelude::*;
use serde_json::{Value, json};

fn run(args: &[&str], records: &[Value]) -> Ran {
    let stream: String = records.iter().map(|record| format!("{record}\n")).collect();
    let ran = common::run("mass-balance", args, stream.as_bytes());
    assert_eq!(ran.status, 0, "{}", ran.stderr);
    ran
}

fn weighing(step: &str, lot: &str, role: &str, mass_g: f64) -> Value {
    json!({"kind":"weighing","step":step,"lot":lot,"role":role,"mass_g":mass_g,"u_g":0.1})
}

fn step(name: &str, does: &str) -> Value {
    json!({"kind":"step","step":name,"does":does})
}

fn lot(name: &str, origin: &str, passes: u64) -> Value {
    json!({"kind":"lot","lot":name,"material":"PETG","origin":origin,"passes":passes})
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn find(ran: &Ran, kind: &str, field: &str, is: &str) -> Value {
    let found = ran.of(kind).into_iter().find(|record| record[field] == is);
    found.unwrap_or_else(|| panic!("no {kind} of {is} in {}", ran.text()))
}

/// By hand: 0.95 of the sack is shredded well, 0.9 of the flakes extruded well: 0.855 of the sack.
#[test]
fn yields_are_rolled_through_the_steps_to_a_lot_and_by_kind_of_step() {
    let ran = run(
        &[],
        &[
            step("s", "shred"),
            step("e", "extrude"),
            lot("sack", "post-consumer", 0),
            weighing("s", "sack", "in", 1000.0),
            weighing("s", "flakes", "out", 950.0),
            weighing("s", "sack", "dust", 50.0),
            weighing("e", "flakes", "in", 950.0),
            weighing("e", "spool", "out", 855.0),
            weighing("e", "flakes", "purge", 95.0),
        ],
    );
    let rolled = find(&ran, "rolled_yield", "lot", "spool");
    assert!((number(&rolled["yield_pct"]) - 85.5).abs() < 1e-3, "{rolled}");
    assert_eq!(rolled["stages"], 2);
    assert!(number(&rolled["u_yield_pct"]) > 0.0 && number(&rolled["u_yield_pct"]) < 0.1);
    assert!(
        (number(&find(&ran, "rolled_yield", "lot", "flakes")["yield_pct"]) - 95.0).abs() < 1e-3
    );
    let whole = ran
        .of("rolled_yield")
        .into_iter()
        .find(|r| r.get("lot").is_none() && r.get("passes").is_none())
        .unwrap();
    assert!((number(&whole["yield_pct"]) - 85.5).abs() < 1e-3, "{whole}");
}

/// Purge of 2, 4 and 6 % at passes 0, 1 and 2: two per cent more with every pass.
#[test]
fn losses_that_grow_with_the_cycles_have_a_trend() {
    let mut records = vec![lot("sack", "virgin", 0)];
    for (n, purge) in [20.0, 40.0, 60.0].into_iter().enumerate() {
        let (name, fed, made) = (
            format!("e{n}"),
            if n == 0 { "sack".into() } else { format!("l{}", n - 1) },
            format!("l{n}"),
        );
        records.push(step(&name, "extrude"));
        records.extend([
            weighing(&name, &fed, "in", 1000.0),
            weighing(&name, &made, "out", 1000.0 - purge),
            weighing(&name, &fed, "purge", purge),
        ]);
    }
    let trend = find(&run(&[], &records), "loss_trend", "cause", "purge");
    assert_eq!(trend["cycles"], 3);
    assert!((number(&trend["change_pct_per_pass"]) - 2.0).abs() < 0.01, "{trend}");
}

/// 500 g at 1.2 % water hold 494 g of plastic: dried to 0.05 % they weigh 494 / 0.9995 g.
#[test]
fn drying_balances_by_the_moisture_readings_and_not_without_them() {
    let dried = 494.0 / 0.9995;
    let balance = [
        step("d", "dry"),
        weighing("d", "wet", "in", 500.0),
        weighing("d", "dry", "out", (dried * 10.0_f64).round() / 10.0),
    ];
    let without = run(&[], &balance);
    assert_eq!(find(&without, "verdict", "check", "step-balance")["result"], "fails");
    let mut records = balance.to_vec();
    records.push(json!({"kind":"moisture","lot":"wet","moisture_pct":1.2}));
    records.push(json!({"kind":"moisture","lot":"dry","moisture_pct":0.05}));
    let with = run(&[], &records);
    assert_eq!(
        find(&with, "verdict", "check", "step-balance")["result"],
        "conforms",
        "{}",
        with.text()
    );
    let found = with.only("step_balance");
    assert!((number(&found["water_g"]) - (6.0 - 0.0005 * dried)).abs() < 0.01, "{found}");
    assert!(number(&found["unexplained_g"]).abs() < 0.1);
    // The network balances, too: nothing is suspected.
    assert!(with.of("suspect").is_empty());
    // The same on a dry basis: 1.2 % of the wet mass are 1.2146 % of the dry one.
    let last = records.len() - 2;
    records[last] =
        json!({"kind":"moisture","lot":"wet","moisture_pct":100.0 * 0.012 / 0.988,"basis":"dry"});
    let dry_basis = run(&[], &records).only("step_balance");
    assert!((number(&dry_basis["water_g"]) - number(&found["water_g"])).abs() < 1e-9);
}

#[test]
fn a_container_that_was_weighed_along_is_an_explanation_where_its_mass_is_given() {
    let records = [
        weighing("shred", "caps", "in", 500.0),
        weighing("shred", "flakes", "out", 537.3),
        weighing("shred", "caps", "dust", 5.1),
        weighing("dry", "flakes", "in", 495.0),
        weighing("dry", "dry-flakes", "out", 494.0),
        weighing("dry", "flakes", "water", 1.0),
        weighing("count", "flakes", "stock", 0.0),
    ];
    let suspect = run(&["--tare-g", "42.4"], &records).only("suspect");
    assert_eq!(
        (&suspect["lot"], &suspect["slip"]),
        (&json!("flakes"), &json!("tare")),
        "{suspect}"
    );
    assert!((number(&suspect["meant_g"]) - 494.9).abs() < 1e-9);
    assert_eq!(run(&[], &records).only("suspect")["slip"], "none");
    assert_eq!(common::run("mass-balance", &["--tare-g", "-1"], b"").status, 2);
}

#[test]
fn two_weighings_that_only_check_each_other_cannot_be_told_apart_and_that_is_said() {
    let ran =
        run(&[], &[weighing("s", "caps", "in", 412.0), weighing("s", "flakes", "out", 142.0)]);
    assert!(
        ran.only("suspect")["why"].as_str().unwrap().contains("cannot tell these apart"),
        "{}",
        ran.text()
    );
}

/// 2 kg of filament for 3 + 1 kWh and 5 of money: 2 kWh and 2.5 a kilogram.
#[test]
fn energy_and_money_are_told_for_each_kilogram_and_absent_ones_are_not_nothing() {
    let with = |does: &str, name: &str, more: Value| {
        let mut record = step(name, does);
        record.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        record
    };
    let ran = run(
        &[],
        &[
            with("shred", "s", json!({"energy_kwh":1})),
            with("extrude", "e", json!({"energy_kwh":3,"cost":5,"currency":"EUR"})),
            step("w", "wind"),
            weighing("s", "a", "in", 2000.0),
            weighing("s", "b", "out", 2000.0),
            weighing("e", "b", "in", 2000.0),
            weighing("e", "c", "out", 2000.0),
        ],
    );
    let whole = ran.of("outlay").into_iter().find(|outlay| outlay.get("step").is_none()).unwrap();
    assert!(
        (number(&whole["energy_kwh_kg"]) - 2.0).abs() < 1e-3
            && (number(&whole["cost_per_kg"]) - 2.5).abs() < 1e-3,
        "{whole}"
    );
    assert_eq!((&whole["currency"], &whole["steps_without"]), (&json!("EUR"), &json!(1)));
    let shred = find(&ran, "outlay", "step", "s");
    assert!(
        (number(&shred["energy_pct"]) - 25.0).abs() < 1e-6 && shred.get("cost_per_kg").is_none(),
        "{shred}"
    );
    assert!(
        run(&[], &[weighing("s", "a", "in", 1.0), weighing("s", "b", "out", 1.0)])
            .of("outlay")
            .is_empty()
    );
}

#[test]
fn a_negative_mass_and_a_step_that_nothing_goes_into_are_told() {
    let ran = run(&[], &[weighing("s", "a", "in", -5.0), weighing("s", "b", "out", 3.0)]);
    let problem = ran.only("problem");
    assert_eq!(problem["field"], "mass_g", "{problem}");
    assert!(problem["raw"].as_str().unwrap().contains("-5"));
    let verdict = find(&ran, "verdict", "check", "step-balance");
    assert_ne!(verdict["result"], "conforms", "{verdict}");
}

/// Published steady states: `reprocessing.json`.
#[test]
fn closed_loops_of_other_shares_reach_their_limits_as_fast_as_they_should() {
    let rounds = |share: f64, rounds: usize| {
        let mut records = vec![lot("virgin", "virgin", 0)];
        for round in 0..=rounds {
            let (name, spool) = (format!("e{round}"), format!("l{round}"));
            records.push(step(&name, "extrude"));
            records.push(weighing(
                &name,
                "virgin",
                "in",
                if round == 0 { 1000.0 } else { 1000.0 * (1.0 - share) },
            ));
            if round > 0 {
                records.push(weighing(&name, &format!("l{}", round - 1), "in", 1000.0 * share));
            }
            records.push(weighing(&name, &spool, "out", 1000.0));
        }
        run(&[], &records)
    };
    let earlier =
        |ran: &Ran, lot: &str| number(&find(ran, "composition", "lot", lot)["mean_passes"]) - 1.0;
    for id in ["regrind-steady-20", "regrind-steady-50"] {
        let case = reference("reprocessing.json", id);
        let ran = rounds(number(&case["inputs"]["regrind_fraction"]), 45);
        let found = find(&ran, "composition", "lot", "l45");
        for (n, share) in case["expected"]["fraction"].as_array().unwrap().iter().enumerate() {
            let pct = number(&found["passes"][format!("passes_{}_pct", n + 1)]);
            assert!(
                (pct / 100.0 - number(share)).abs() <= number(&case["abs_tol"]),
                "{id} {n}: {pct}"
            );
        }
        assert!(
            (earlier(&ran, "l45") - number(&case["expected"]["mean_earlier_passes"])).abs() < 1e-9
        );
    }
    let table = reference("reprocessing.json", "regrind-mean-table");
    let steady = reference("reprocessing.json", "batches-to-steady");
    let shares = table["inputs"]["regrind_fraction"].as_array().unwrap();
    for (share, mean) in
        shares.iter().zip(table["expected"]["mean_earlier_passes"].as_array().unwrap())
    {
        // Enough rounds that share^rounds is below the tolerance of the case.
        let n = (1e-10_f64.ln() / number(share).ln()).ceil() as usize;
        let ran = rounds(number(share), n);
        let found = earlier(&ran, &format!("l{n}"));
        assert!(
            (found / number(mean) - 1.0).abs() <= number(&table["rel_tol"]),
            "{share}: {found}"
        );
        let wanted = steady["inputs"]["regrind_fraction"]
            .as_array()
            .unwrap()
            .iter()
            .position(|r| r == share);
        let Some(at) = wanted else { continue };
        let reached = (1..=n).find(|k| {
            (earlier(&ran, &format!("l{k}")) / number(mean) - 1.0).abs()
                <= number(&steady["inputs"]["within"])
        });
        assert_eq!(reached.map(|k| json!(k)).unwrap(), steady["expected"]["rounds"][at], "{share}");
    }
}

#[test]
fn a_long_chain_keeps_a_bounded_genealogy() {
    let mut records = vec![lot("l0", "virgin", 0)];
    for n in 0..400 {
        records.push(weighing(&format!("s{n:03}"), &format!("l{n}"), "in", 100.0));
        records.push(weighing(&format!("s{n:03}"), &format!("l{}", n + 1), "out", 100.0));
    }
    let ran = run(&[], &records);
    let of_last = ran.of("descent").into_iter().filter(|descent| descent["lot"] == "l400").count();
    assert_eq!(of_last, 256);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// Plastic of each origin: what entered is in the lots and losses that came out, to 1e-9.
    #[test]
    fn total_mass_by_origin_is_conserved(masses in prop::collection::vec(1.0_f64..500.0, 2..6), blends in 1_usize..5) {
        let origins = ["virgin", "post-consumer", "pre-consumer"];
        let mut records = Vec::new();
        let mut entered = [0.0; 3];
        let mut before: Option<(String, f64)> = None;
        for blend in 0..blends {
            let name = format!("b{blend}");
            records.push(step(&name, "blend"));
            let mut total = 0.0;
            for (n, mass) in masses.iter().enumerate() {
                let origin = (n + blend) % 3;
                let fed = format!("f{blend}-{n}");
                records.push(lot(&fed, origins[origin], 0));
                records.push(weighing(&name, &fed, "in", *mass));
                entered[origin] += mass;
                total += mass;
            }
            if let Some((made, mass)) = before.take() {
                records.push(weighing(&name, &made, "in", mass));
                total += mass;
            }
            let made = format!("m{blend}");
            records.push(weighing(&name, &made, "out", total));
            before = Some((made, total));
        }
        let ran = run(&[], &records);
        let (made, total) = before.unwrap();
        let found = find(&ran, "composition", "lot", &made);
        let mut whole = 0.0;
        for (origin, entered) in origins.iter().zip(entered) {
            let share = found["origin"].as_object().unwrap().iter()
                .find(|(name, _)| name.replace('_', "-").starts_with(origin)).map_or(0.0, |(_, pct)| number(pct) / 100.0);
            prop_assert!((share * total - entered).abs() <= 1e-9 * total, "{}: {} of {}", origin, share * total, entered);
            whole += share;
        }
        prop_assert!((whole - 1.0).abs() < 1e-9);
    }
}
