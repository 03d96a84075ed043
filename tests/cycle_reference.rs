//! `cycle-adjust` against the cases of the reference data that a lab can meet, each at its own
//! tolerance. Those of formulas that no record asks for alone are held in `crates/plastics/tests`.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod common;

use common::{Ran, run};
use serde_json::{Value, json};

const MELT_FLOW: &str = include_str!("reference/melt_flow.json");
const DIAMETER_FLOW: &str = include_str!("reference/diameter_flow.json");
const CARDS: &str = include_str!("../crates/plastics/data/materials.json");

fn adjusted(records: &[Value]) -> Ran {
    let stream: String = records.iter().map(|record| format!("{record}\n")).collect();
    let ran = run("cycle-adjust", &[], stream.as_bytes());
    assert_eq!(ran.status, 0, "{}", ran.stderr);
    assert!(ran.of("problem").is_empty(), "{}", ran.text());
    ran
}

struct Case(Value);

impl Case {
    fn of(file: &str, id: &str) -> Self {
        let file: Value = serde_json::from_str(file).unwrap();
        let cases = file["cases"].as_array().unwrap();
        Self(cases.iter().find(|case| case["id"] == id).unwrap_or_else(|| panic!("{id}")).clone())
    }

    fn input(&self, name: &str) -> f64 {
        number(&self.0["inputs"], name)
    }

    fn inputs(&self, name: &str) -> Vec<f64> {
        list(&self.0["inputs"][name])
    }

    fn expected(&self, name: &str) -> Vec<f64> {
        list(&self.0["expected"][name])
    }

    /// Holds a value to its tolerance.
    fn holds(&self, found: f64, expected: f64) {
        let allowed = number(&self.0, "rel_tol") * expected.abs();
        assert!((found - expected).abs() <= allowed, "{}: {found}, {expected}", self.0["id"]);
    }
}

fn list(x: &Value) -> Vec<f64> {
    match x {
        Value::Array(all) => all.iter().map(|x| x.as_f64().unwrap()).collect(),
        one => vec![one.as_f64().unwrap()],
    }
}

fn number(record: &Value, name: &str) -> f64 {
    record[name].as_f64().unwrap_or_else(|| panic!("no {name} in {record}"))
}

/// A cut-off of a minute that gives a flow rate.
fn cut(lot: &str, temp_c: f64, load_kg: f64, run: &str, mfr: f64) -> Value {
    json!({"kind":"melt_flow","lot":lot,"temp_c":temp_c,"load_kg":load_kg,"cut_g":mfr / 10.0,"cut_s":60,"run":run})
}

#[test]
fn wall_stress_by_load() {
    let case = Case::of(MELT_FLOW, "wall-stress");
    for (load_kg, stress) in
        case.inputs("loads_kg").into_iter().zip(case.expected("stress_Pa_mean_area_0.711cm2"))
    {
        let mut record = cut("a", 230.0, load_kg, "1", 5.0);
        record["stroke_mm"] = json!(9.5);
        case.holds(number(&adjusted(&[record]).only("melt_viscosity"), "stress_pa"), stress);
    }
}

#[test]
fn apparent_viscosity_of_two_polymers() {
    for (id, temp_c) in [("apparent-viscosity", 230.0), ("apparent-viscosity-ps", 200.0)] {
        let case = Case::of(MELT_FLOW, id);
        let (mfr, density) = (case.input("mfr_g_10min"), case.input("melt_density_g_cm3"));
        let mut record = cut("a", temp_c, case.input("load_kg"), "1", mfr);
        // The travel of a minute: volume flow times time over 427.
        record["stroke_mm"] = json!(mfr / density * 60.0 / 427.0 * 10.0);
        let found = adjusted(&[record]).only("melt_viscosity");
        for (field, name) in [
            ("mvr_cm3_10min", "mvr_cm3_10min"),
            ("stress_pa", "stress_Pa"),
            ("shear_rate_per_s", "shear_rate_per_s"),
            ("viscosity_pa_s", "viscosity_Pa_s"),
        ] {
            case.holds(number(&found, field), case.expected(name)[0]);
        }
    }
}

#[test]
fn the_temperature_that_restores_flow() {
    let case = Case::of(MELT_FLOW, "temperature-to-restore-flow");
    let (target, from) = (case.input("mfr_target"), case.input("temperature_C"));
    let pairs = case.inputs("mfr_now").into_iter().zip(case.inputs("activation_kJ_mol"));
    for ((now, energy), to) in pairs.zip(case.expected("temperature_C")) {
        let mut records = vec![
            json!({"kind":"material","material":"PP","melt_min_c":180,"melt_max_c":260,
                "activation_min_kj_mol":energy,"activation_max_kj_mol":energy}),
            json!({"kind":"limit","what":"mfr_g_10min","material":"PP","target":target,"unit":"g/10 min"}),
            json!({"kind":"step","step":"e","does":"extrude","settings":{"melt_c":from}}),
            json!({"kind":"weighing","step":"e","lot":"p2","role":"out"}),
            json!({"kind":"weighing","step":"e","lot":"p1","role":"in"}),
            json!({"kind":"weighing","step":"s","lot":"p1","role":"out"}),
            json!({"kind":"weighing","step":"s","lot":"p0","role":"in"}),
        ];
        for (pass, mfr) in [5.0, 0.97 * (5.0 * now).sqrt(), now].into_iter().enumerate() {
            let lot = format!("p{pass}");
            records.push(json!({"kind":"lot","lot":lot,"material":"PP","passes":pass}));
            records.push(cut(&lot, 230.0, 2.16, "1", mfr));
        }
        let changes = adjusted(&records).of("adjustment");
        let change = changes.iter().find(|a| a["what"] == "melt_c").unwrap();
        case.holds(number(change, "to"), to);
        assert_eq!(change["from"], from);
    }
}

/// A blend of lots that were tested, tested itself at what the case says.
fn blend(case: &Case) -> Vec<Value> {
    let (fractions, rates) = (case.inputs("mass_fractions"), case.inputs("mfr"));
    let mut records = vec![
        json!({"kind":"step","step":"mix","does":"blend"}),
        json!({"kind":"lot","lot":"b","material":"PP"}),
        json!({"kind":"weighing","step":"mix","lot":"b","role":"out"}),
        cut("b", 230.0, 2.16, "1", 5.5),
    ];
    for (n, (fraction, mfr)) in fractions.into_iter().zip(rates).enumerate() {
        let lot = format!("part-{n}");
        records.push(json!({"kind":"lot","lot":lot,"material":"PP","passes":n}));
        records.push(cut(&lot, 230.0, 2.16, "1", mfr));
        records.push(
            json!({"kind":"weighing","step":"mix","lot":lot,"role":"in","mass_g":400.0 * fraction}),
        );
    }
    records
}

#[test]
fn blends_by_the_logarithmic_rule() {
    for id in ["blend-log", "blend-three"] {
        let case = Case::of(MELT_FLOW, id);
        let verdicts = adjusted(&blend(&case)).of("verdict");
        let held = verdicts.iter().find(|v| v["check"] == "blend-rule").unwrap();
        case.holds(number(held, "limit"), case.expected("mfr_log_rule")[0]);
    }
}

/// Regrind of the third pass, virgin, and what is wanted of their blend.
fn shared(regrind: f64, virgin: f64, target: f64) -> Vec<Value> {
    let mut records = vec![
        json!({"kind":"limit","what":"mfr_g_10min","material":"PP","target":target,"unit":"g/10 min"}),
        json!({"kind":"lot","lot":"v","material":"PP","passes":0,"origin":"virgin"}),
        cut("v", 230.0, 2.16, "1", virgin),
    ];
    let even = (regrind / virgin).cbrt();
    for (pass, mfr) in [(1, 1.003 * virgin * even), (2, 0.997 * virgin * even * even), (3, regrind)]
    {
        let lot = format!("p{pass}");
        records.push(json!({"kind":"lot","lot":lot,"material":"PP","passes":pass}));
        records.push(cut(&lot, 230.0, 2.16, "1", mfr));
    }
    for n in 1..3 {
        records.push(
            json!({"kind":"weighing","step":format!("s{n}"),"lot":format!("p{n}"),"role":"in"}),
        );
        records.push(json!({"kind":"weighing","step":format!("s{n}"),"lot":format!("p{}", n + 1),"role":"out"}));
    }
    records
}

#[test]
fn the_share_that_meets_a_target() {
    let case = Case::of(MELT_FLOW, "blend-for-target");
    let (virgin, regrind) = (case.input("mfr_virgin"), case.input("mfr_regrind"));
    let share = adjusted(&shared(regrind, virgin, case.input("mfr_limit"))).only("blend_share");
    case.holds(1.0 - number(&share, "share_pct") / 100.0, case.expected("regrind_fraction")[0]);
}

#[test]
fn the_rules_part_ways_as_in_the_two_cases_of_one_blend() {
    // The blend whose logarithmic rate is that of `blend-log` has by the power rule that of `blend-power`.
    let (log, power) = (Case::of(MELT_FLOW, "blend-log"), Case::of(MELT_FLOW, "blend-power"));
    let rates = log.inputs("mfr");
    let target = log.expected("mfr_log_rule")[0];
    let share = adjusted(&shared(rates[1], rates[0], target)).only("blend_share");
    log.holds(number(&share, "share_pct") / 100.0, log.inputs("mass_fractions")[0]);
    power.holds(number(&share, "power_g_10min"), power.expected("mfr")[0]);
}

#[test]
fn the_loop_that_keeps_its_feed_at_a_limit() {
    let file: Value = serde_json::from_str(include_str!("reference/reprocessing.json")).unwrap();
    let cases = file["cases"].as_array().unwrap();
    let case = Case(cases.iter().find(|case| case["id"] == "regrind-limit").unwrap().clone());
    let (factor, virgin) = (case.input("factor_per_pass"), case.input("mfr_virgin"));
    let mut records = vec![
        json!({"kind":"limit","what":"mfr_g_10min","material":"PP","target":case.input("mfr_limit"),"unit":"g/10 min"}),
        json!({"kind":"lot","lot":"v","material":"PP","passes":0,"origin":"virgin"}),
        cut("v", 230.0, 2.16, "1", virgin),
    ];
    // A scatter that leaves the slope as it is.
    for (pass, off) in [1.004, 1.0 / 1.004, 1.0 / 1.004, 1.004].into_iter().enumerate() {
        let lot = format!("p{pass}");
        records.push(json!({"kind":"lot","lot":lot,"material":"PP","passes":pass}));
        records.push(cut(&lot, 230.0, 2.16, "1", virgin * factor.powi(pass as i32) * off));
        for (lot, role) in [(format!("p{pass}"), "in"), (format!("p{}", pass + 1), "out")] {
            records
                .push(json!({"kind":"weighing","step":format!("s{pass}"),"lot":lot,"role":role}));
        }
    }
    let share = adjusted(&records).only("blend_share");
    case.holds(1.0 - number(&share, "loop_pct") / 100.0, case.expected("regrind_fraction")[0]);
    let (low, at, high) = (
        number(&share, "loop_low_pct"),
        number(&share, "loop_pct"),
        number(&share, "loop_high_pct"),
    );
    assert!(low < at && at < high, "{share}");
}

#[test]
fn the_screw_correction() {
    let case = Case::of(DIAMETER_FLOW, "screw-correction");
    for (mm, factor) in case.inputs("diameter_mm").into_iter().zip(case.expected("factor")) {
        // A puller that can do nothing else than it does.
        let change = adjusted(&[
            json!({"kind":"machine","machine":"X","does":"extrude","nominal_mm":case.input("target_mm"),
                "tolerance_mm":0.01,"line_speed_min_m_min":5.0,"line_speed_max_m_min":5.0}),
            json!({"kind":"step","step":"e","does":"extrude","machine":"X","settings":{"line_speed_m_min":5.0,"screw_rpm":20}}),
            json!({"kind":"weighing","step":"e","lot":"S","role":"out"}),
            json!({"kind":"diameter_summary","lot":"S","readings":1000,"axes":1,"mean_mm":mm,"sd_mm":0.005,"min_mm":mm,
                "max_mm":mm,"area_mm":mm,"lag1":0.0,"out_of_order":0}),
        ])
        .only("adjustment");
        assert_eq!(change["what"], "screw_rpm");
        case.holds(number(&change, "to") / 20.0, factor);
    }
}

#[test]
fn every_card_gives_a_start_within_its_window_and_none_that_is_never_melted() {
    let cards: Value = serde_json::from_str(CARDS).unwrap();
    let cards = cards["cards"].as_array().unwrap();
    assert_eq!(cards.len(), 20);
    for card in cards {
        let material = card["abbreviation"].as_str().unwrap();
        let ran = adjusted(&[
            json!({"kind":"machine","machine":"X","does":"extrude"}),
            json!({"kind":"lot","lot":"L","material":material}),
        ]);
        if card["contains_halogen"] == true {
            assert!(ran.of("adjustment").is_empty(), "{material}");
            assert_eq!(ran.only("verdict")["check"], "never-melted");
            continue;
        }
        let start = ran.only("adjustment");
        let window = &card["extrusion_C"];
        for (end, name) in [("low", "min"), ("high", "max")] {
            assert_eq!(number(&start, end), number(window, name), "{material}");
        }
        assert!(start["basis"].as_str().unwrap().contains("a start only"));
        // The card's own hazards are named.
        let danger = ran.only("caution")["danger"].as_str().unwrap().to_owned();
        for hazard in card["hazards_on_heating"]["list"].as_array().unwrap() {
            assert!(danger.contains(hazard.as_str().unwrap()), "{material}: {danger}");
        }
    }
}
