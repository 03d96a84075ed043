//! Gauge studies against the AIAG manual, the NIST Statistical Reference Datasets and other
//! libraries; source and status stand beside each case in
//! `tests/reference/measurement_system.json`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod common;

use common::{Case, cases};
use secondmelt_quality::gauge_study::ranges::Factors;
use secondmelt_quality::gauge_study::{Study, Variation, crossed, one_way, ranges};
use serde_json::{Value, json};

const CASES: &str = include_str!("../../../tests/reference/measurement_system.json");

fn lists(value: &Value) -> Vec<Vec<f64>> {
    value.as_array().unwrap().iter().map(common::numbers).collect()
}

fn study(case: &Case) -> Study {
    let readings = case.inputs["readings"].as_array().unwrap();
    Study::new(&readings.iter().map(lists).collect::<Vec<_>>()).unwrap()
}

/// The factors of a case, exact ones where it gives none.
fn factors(case: &Case) -> Factors {
    match case.optional("K1") {
        None => Factors::exact(&study(case)).unwrap(),
        Some(trials) => Factors { trials, appraisers: case.number("K2"), parts: case.number("K3") },
    }
}

fn variation(of: Variation) -> Value {
    let percent = |sd: f64| of.percent_of_total(sd).unwrap();
    let categories = of.categories().unwrap();
    json!({
        "ev": of.repeatability, "av": of.reproducibility, "int": of.interaction,
        "grr": of.gauge, "pv": of.parts, "tv": of.total,
        "pct_ev": percent(of.repeatability), "pct_av": percent(of.reproducibility),
        "pct_grr": percent(of.gauge), "pct_pv": percent(of.parts),
        "ndc_unrounded": categories, "ndc": categories.floor(),
    })
}

fn by_ranges(case: &Case) -> Value {
    let factors = factors(case);
    let found = ranges::analyse(&study(case), factors);
    let mut all = variation(found.variation);
    all["r_bar"] = json!(found.mean_range);
    all["r_bar_bar"] = json!(found.mean_range_of_all);
    all["x_bar"] = json!(found.average);
    all["x_diff"] = json!(found.range_of_averages);
    all["r_p"] = json!(found.range_of_parts);
    all["K1"] = json!(factors.trials);
    all["K2"] = json!(factors.appraisers);
    all["K3"] = json!(factors.parts);
    all
}

fn table(of: &crossed::Table) -> Value {
    let against = |line: crossed::Line, other| line.against(other);
    let (part, appraiser) =
        (against(of.part, of.interaction), against(of.appraiser, of.interaction));
    let interaction = against(of.interaction, of.error);
    json!({
        "ss_part": of.part.ss, "ss_appraiser": of.appraiser.ss,
        "ss_interaction": of.interaction.ss, "ss_error": of.error.ss, "ss_total": of.ss_total(),
        "ms_part": of.part.ms(), "ms_appraiser": of.appraiser.ms(),
        "ms_interaction": of.interaction.ms(), "ms_error": of.error.ms(),
        "df": [of.part.df, of.appraiser.df, of.interaction.df, of.error.df],
        "df_part": of.part.df, "df_appraiser": of.appraiser.df,
        "df_interaction": of.interaction.df, "df_error": of.error.df,
        "f_part": part.map(|r| r.f), "f_appraiser": appraiser.map(|r| r.f),
        "f_interaction": interaction.map(|r| r.f),
        "p_part": part.map(|r| r.p), "p_appraiser": appraiser.map(|r| r.p),
        "p_interaction": interaction.map(|r| r.p),
    })
}

fn by_anova(case: &Case) -> Value {
    let found = crossed::analyse(&study(case));
    let error = found.pooled_error();
    let mut pooled = variation(found.pooled().variation);
    pooled["ms_error"] = json!(error.ms());
    pooled["f_part"] = json!(found.part.against(error).unwrap().f);
    pooled["f_appraiser"] = json!(found.appraiser.against(error).unwrap().f);
    let unpooled = variation(found.unpooled().variation);
    json!({ "table": table(&found), "pooled": pooled, "unpooled": unpooled })
}

/// The printed components are pooled, the printed ratios divide by the error mean square.
fn printed_components(case: &Case) -> Value {
    let found = crossed::analyse(&study(case));
    let mut all = variation(found.usual().variation);
    all["f_part"] = json!(found.part.against(found.error).unwrap().f);
    all["f_appraiser"] = json!(found.appraiser.against(found.error).unwrap().f);
    all
}

fn groups(case: &Case) -> Value {
    let found = one_way::analyse(&lists(&case.inputs["groups"])).unwrap();
    json!({
        "ss_between": found.ss_between, "ss_within": found.ss_within,
        "ms_between": found.ms_between, "ms_within": found.ms_within,
        "f": found.f, "residual_sd": found.residual_sd, "r_squared": found.r_squared,
    })
}

/// The part of what was found that a case expects.
fn wanted(found: &Value, expected: &Value) -> Value {
    match (found, expected) {
        (Value::Object(found), Value::Object(expected)) => expected
            .iter()
            .map(|(name, expected)| (name.clone(), wanted(&found[name], expected)))
            .collect(),
        _ => found.clone(),
    }
}

fn found(case: &Case) -> Value {
    match case.id {
        "aiag-anova-printed" => table(&crossed::analyse(&study(case))),
        "aiag-anova-components-printed" => printed_components(case),
        "aiag-anova-computed" | "hand-2x2x2" | "diameter-study" => by_anova(case),
        id if id.starts_with("aiag-range-") => by_ranges(case),
        id if id.starts_with("strd-") => groups(case),
        id => panic!("unknown case {id}"),
    }
}

#[test]
fn printed_and_computed_values_are_reached() {
    let file: Value = serde_json::from_str(CASES).unwrap();
    let cases = cases(&file);
    assert_eq!(cases.len(), 10);
    for case in cases {
        case.check(&wanted(&found(&case), case.expected));
    }
}
