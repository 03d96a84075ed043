//! Every case of the reference data that this crate covers. Source and status stand
//! beside each case in `tests/reference/` at the top of the repository.

#![expect(clippy::expect_used, clippy::panic, reason = "a test says what is wrong by failing")]

use secondmelt_plastics::filament::*;
use secondmelt_plastics::melt_flow::*;
use serde_json::{Value, json};

/// The values this crate computes for a case, under the names the case expects; none
/// where the case is not known.
type Compute = fn(&str, &Value) -> Option<Value>;

fn check(file: &str, compute: Compute) {
    let path = format!("{}/../../tests/reference/{file}.json", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).expect(&path);
    let data: Value = serde_json::from_str(&text).expect(&path);
    let cases = data["cases"].as_array().expect("cases");
    assert!(!cases.is_empty());
    for case in cases {
        let id = case["id"].as_str().expect("id");
        let found = compute(id, &case["inputs"]).unwrap_or_else(|| panic!("{id} is not covered"));
        let tolerance = case["rel_tol"].as_f64().expect("rel_tol");
        alike(id, &found, &case["expected"], tolerance);
    }
}

/// Checks that every expected value is met, within its relative tolerance.
fn alike(at: &str, found: &Value, expected: &Value, tolerance: f64) {
    match expected {
        Value::Object(fields) => {
            for (name, value) in fields {
                alike(&format!("{at} {name}"), &found[name], value, tolerance);
            }
        }
        Value::Array(values) => {
            assert_eq!(found.as_array().map(Vec::len), Some(values.len()), "{at}");
            for (n, value) in values.iter().enumerate() {
                alike(&format!("{at} [{n}]"), &found[n], value, tolerance);
            }
        }
        Value::Number(number) => {
            let (x, want) = (found.as_f64(), number.as_f64().expect("a number"));
            let x = x.unwrap_or_else(|| panic!("{at}: nothing computed"));
            let allowed = if want == 0.0 { 1e-9 } else { tolerance * want.abs() };
            assert!((x - want).abs() <= allowed, "{at}: computed {x}, expected {want}");
        }
        other => assert_eq!(found, other, "{at}"),
    }
}

fn number(inputs: &Value, name: &str) -> f64 {
    inputs[name].as_f64().unwrap_or_else(|| panic!("input {name}"))
}

fn numbers(inputs: &Value, name: &str) -> Vec<f64> {
    let list = inputs[name].as_array().unwrap_or_else(|| panic!("input {name}"));
    list.iter().map(|x| x.as_f64().expect("a number")).collect()
}

fn each(inputs: &Value, name: &str, f: impl Fn(f64) -> f64) -> Vec<f64> {
    numbers(inputs, name).into_iter().map(f).collect()
}

#[test]
fn melt_flow_agrees_with_the_reference_cases() {
    check("melt_flow", |id, inputs| {
        let x = |name| number(inputs, name);
        Some(match id {
            "mfr-cutoff" => {
                json!({"mfr_g_10min": mfr_g_10min(x("cutoff_mass_g"), x("cutoff_time_s"))})
            }
            "mvr-piston" => {
                json!({"mvr_cm3_10min": mvr_cm3_10min(x("piston_travel_cm"), x("time_s"))})
            }
            "melt-density" => {
                let density = melt_density_g_cm3(x("mfr_g_10min"), x("mvr_cm3_10min"));
                json!({"melt_density_g_cm3": density})
            }
            "melt-density-direct" => {
                let density = melt_density_of_travel_g_cm3(x("mass_g"), x("piston_travel_cm"));
                json!({"melt_density_g_cm3": density})
            }
            "cutoff-spread" | "cutoff-spread-bad" => cut_offs(inputs),
            "factor-427" => areas(x("piston_foot_diameter_mm"), x("bore_diameter_mm")),
            _ => return None,
        })
    });
}

fn cut_offs(inputs: &Value) -> Value {
    let masses = numbers(inputs, "cutoff_masses_g");
    let seconds = number(inputs, "cutoff_time_s");
    let rates: Vec<_> = masses.iter().map(|mass| mfr_g_10min(*mass, seconds)).collect();
    let spread = spread_pct(&rates).expect("cut-offs");
    json!({
        "mean_mass_g": mean(&masses),
        "mfr_g_10min": mean(&rates),
        "spread_pct_of_mean": spread,
        "accepted": spread <= SPREAD_MAX_PCT,
    })
}

/// The rounded area and factor of the crate, beside the areas they come from.
fn areas(foot_mm: f64, bore_mm: f64) -> Value {
    let area = |mm: f64| std::f64::consts::PI / 4.0 * mm * mm / 100.0;
    let mean = f64::midpoint(area(foot_mm), area(bore_mm));
    assert_eq!((mean * 1000.0).round() / 1000.0, AREA_CM2);
    assert_eq!((600.0 * AREA_CM2).round(), VOLUME_FACTOR);
    json!({
        "piston_area_cm2": area(foot_mm),
        "bore_area_cm2": area(bore_mm),
        "mean_area_cm2": mean,
        "factor_600_times_mean": 600.0 * mean,
        "rounded_standard_area_cm2": AREA_CM2,
        "factor_from_rounded_area": 600.0 * AREA_CM2,
    })
}

#[test]
fn filament_and_flow_agree_with_the_reference_cases() {
    check("diameter_flow", |id, inputs| {
        let x = |name| number(inputs, name);
        Some(match id {
            "flow-at-tolerance-1.75" | "flow-at-tolerance-2.85" => at_tolerance(inputs),
            "diameter-for-flow" => {
                let nominal = x("nominal_mm");
                let diameter = |pct: f64| diameter_of_area_ratio_mm(nominal, 1.0 + pct / 100.0);
                json!({
                    "diameter_mm": each(inputs, "flow_pct", diameter),
                    "error_mm": each(inputs, "flow_pct", |pct| diameter(pct) - nominal),
                })
            }
            "length-per-kg" => json!({
                "metres_per_kg_1.75": lengths(inputs, 0),
                "metres_per_kg_2.85": lengths(inputs, 1),
            }),
            "mass-rate" => {
                let rate = mass_rate_g_min(x("density_g_cm3"), x("diameter_mm"), x("speed_m_min"));
                json!({"g_per_min": rate, "kg_per_h": rate * 60.0 / 1000.0})
            }
            "speed-for-output" => {
                let speed =
                    speed_of_output_m_min(x("density_g_cm3"), x("diameter_mm"), x("kg_per_h"));
                json!({"speed_m_min": speed})
            }
            "puller-correction" => {
                let (target, speed) = (x("target_mm"), x("speed_m_min"));
                json!({
                    "factor": each(inputs, "diameter_mm", |d| area_ratio(d, target)),
                    "speed_m_min":
                        each(inputs, "diameter_mm", |d| puller_speed_m_min(speed, d, target)),
                })
            }
            "screw-correction" => {
                let target = x("target_mm");
                json!({"factor": each(inputs, "diameter_mm", |d| screw_factor(d, target))})
            }
            _ => return None,
        })
    });
}

fn at_tolerance(inputs: &Value) -> Value {
    let nominal = number(inputs, "nominal_mm");
    let high = |t: f64| area_ratio(nominal + t, nominal);
    let low = |t: f64| area_ratio(nominal - t, nominal);
    let column = |f: &dyn Fn(f64) -> f64| each(inputs, "tolerance_mm", f);
    json!({
        "ratio_high": column(&high),
        "ratio_low": column(&low),
        "percent_high": column(&|t| 100.0 * (high(t) - 1.0)),
        "percent_low": column(&|t| 100.0 * (low(t) - 1.0)),
    })
}

fn lengths(inputs: &Value, diameter: usize) -> Value {
    let diameter_mm = inputs["diameter_mm"][diameter].as_f64().expect("a diameter");
    let densities = inputs["density_g_cm3"].as_object().expect("densities");
    let length =
        |density: &Value| length_per_kg_m(density.as_f64().expect("a density"), diameter_mm);
    densities.iter().map(|(polymer, density)| (polymer.clone(), json!(length(density)))).collect()
}
