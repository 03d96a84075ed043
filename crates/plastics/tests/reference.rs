//! The cases of the reference data on filament and flow.

#![expect(clippy::expect_used, reason = "a test says what is wrong by failing")]

mod cases;

use cases::{check, each, number, numbers};
use secondmelt_plastics::filament::*;
use secondmelt_plastics::melt_flow::mean;
use serde_json::{Value, json};

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
            "draw-down" => {
                let (die, filament) = (x("die_mm"), x("filament_mm"));
                let swollen = die * x("swell_ratio_diameter");
                json!({
                    "area_draw_down": draw_down(die, filament),
                    "area_draw_down_from_swollen": draw_down(swollen, filament),
                })
            }
            "melt-to-solid" => {
                let ratio = x("solid_density_g_cm3") / x("melt_density_g_cm3");
                let speed =
                    melt_speed_m_min(x("line_speed_m_min"), x("filament_mm"), x("die_mm"), ratio);
                json!({"melt_speed_m_min": speed})
            }
            "mean-square" => mean_square(inputs),
            _ => return None,
        })
    });
}

/// The mean of the diameters against that of their areas.
fn mean_square(inputs: &Value) -> Value {
    let diameters = numbers(inputs, "diameters_mm");
    let middle = mean(&diameters).expect("diameters");
    let ratios: Vec<_> = diameters.iter().map(|d| area_ratio(*d, middle)).collect();
    let ratio = mean(&ratios).expect("diameters");
    json!({
        "mean_mm": middle,
        "rms_mm": diameter_of_area_ratio_mm(middle, ratio),
        "excess_flow_pct": 100.0 * (ratio - 1.0),
    })
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
