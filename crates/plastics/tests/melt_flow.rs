//! The cases of the reference data on melt flow, told apart by what they give.

#![expect(clippy::expect_used, reason = "a test says what is wrong by failing")]

mod cases;

use cases::{check, each, number, numbers};
use secondmelt_plastics::blending::{POWER, Part, Rule, mfr_ratio_of_molar_mass};
use secondmelt_plastics::melt_flow::*;
use secondmelt_plastics::melt_flow_conditions::{Condition, conditions, of_letter};
use secondmelt_plastics::rheology::*;
use secondmelt_plastics::temperature_shift::{
    activation_kj_mol, flow_factor, temperature_of_factor_c,
};
use serde_json::{Value, json};
use std::collections::BTreeMap;

#[test]
fn melt_flow_agrees_with_the_reference_cases() {
    check("melt_flow", |_, inputs| {
        let has = |name: &str| !inputs[name].is_null();
        Some(match inputs {
            _ if has("cutoff_mass_g") => mass_flow(inputs),
            _ if has("piston_travel_cm") => travel(inputs),
            _ if has("piston_foot_diameter_mm") => areas(inputs),
            _ if has("mvr_cm3_10min") => density(inputs),
            _ if has("cutoff_masses_g") => cut_offs(inputs),
            _ if has("loads_kg") => stresses(inputs),
            _ if has("area_cm2") => viscosity(inputs),
            _ if has("die_diameter_mm") => {
                json!({"s_per_cm3_10min": shear_rate_per_s(1.0, number(inputs, "die_diameter_mm"))})
            }
            _ if has("apparent_rate_per_s") => corrected(inputs),
            _ if has("load_low_kg") => index(inputs),
            _ if has("power_law_index") => other_load(inputs),
            _ if has("from_C") => shifts(inputs),
            _ if has("mfr_now") => restored(inputs),
            _ if has("mass_fractions") => blend(inputs),
            _ if has("mfr_regrind") => share(inputs),
            _ if has("mw_ratio") => molar_masses(inputs),
            _ if has("materials") => by_material(inputs),
            _ if has("letters") => by_letter(inputs),
            _ if has("sr") => repeatability(inputs),
            _ => return None,
        })
    });
}

fn mass_flow(inputs: &Value) -> Value {
    let mfr = mfr_g_10min(number(inputs, "cutoff_mass_g"), number(inputs, "cutoff_time_s"));
    json!({"mfr_g_10min": mfr})
}

fn travel(inputs: &Value) -> Value {
    let travel_cm = number(inputs, "piston_travel_cm");
    match inputs["mass_g"].as_f64() {
        Some(grams) => {
            json!({"melt_density_g_cm3": melt_density_of_travel_g_cm3(grams, travel_cm)})
        }
        None => json!({"mvr_cm3_10min": mvr_cm3_10min(travel_cm, number(inputs, "time_s"))}),
    }
}

fn density(inputs: &Value) -> Value {
    let (mass, volume) = (number(inputs, "mfr_g_10min"), number(inputs, "mvr_cm3_10min"));
    json!({"melt_density_g_cm3": melt_density_g_cm3(mass, volume)})
}

fn cut_offs(inputs: &Value) -> Value {
    let masses = numbers(inputs, "cutoff_masses_g");
    let seconds = inputs["cutoff_time_s"].as_f64().unwrap_or(30.0);
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
fn areas(inputs: &Value) -> Value {
    let area = |name: &str| circle_cm2(number(inputs, name));
    let (foot, bore) = (area("piston_foot_diameter_mm"), area("bore_diameter_mm"));
    let mean = f64::midpoint(foot, bore);
    assert_eq!((mean * 1000.0).round() / 1000.0, AREA_CM2);
    assert_eq!((600.0 * AREA_CM2).round(), VOLUME_FACTOR);
    json!({
        "piston_area_cm2": foot,
        "bore_area_cm2": bore,
        "mean_area_cm2": mean,
        "factor_600_times_mean": 600.0 * mean,
        "rounded_standard_area_cm2": AREA_CM2,
        "factor_from_rounded_area": 600.0 * AREA_CM2,
    })
}

fn circle_cm2(diameter_mm: f64) -> f64 {
    std::f64::consts::PI / 4.0 * diameter_mm * diameter_mm / 100.0
}

fn stresses(inputs: &Value) -> Value {
    let die = Die {
        diameter_mm: number(inputs, "die_diameter_mm"),
        length_mm: number(inputs, "die_length_mm"),
    };
    assert_eq!((die, number(inputs, "g")), (STANDARD_DIE, G_M_S2));
    let with = |area_cm2: f64| each(inputs, "loads_kg", |kg| wall_stress_pa(kg, die, area_cm2));
    json!({
        "stress_Pa_mean_area_0.711cm2": each(inputs, "loads_kg", standard_wall_stress_pa),
        "stress_Pa_piston_foot": with(circle_cm2(9.474)),
        "stress_Pa_bore": with(circle_cm2(9.55)),
    })
}

fn viscosity(inputs: &Value) -> Value {
    assert_eq!(number(inputs, "area_cm2"), AREA_CM2);
    let mvr = number(inputs, "mfr_g_10min") / number(inputs, "melt_density_g_cm3");
    let rate = shear_rate_per_s(mvr, STANDARD_DIE.diameter_mm);
    let stress = standard_wall_stress_pa(number(inputs, "load_kg"));
    json!({
        "mvr_cm3_10min": mvr,
        "shear_rate_per_s": rate,
        "stress_Pa": stress,
        "viscosity_Pa_s": viscosity_pa_s(stress, rate),
    })
}

fn corrected(inputs: &Value) -> Value {
    let rate = number(inputs, "apparent_rate_per_s");
    json!({
        "factor": each(inputs, "n", rate_correction),
        "true_rate_per_s": each(inputs, "n", |n| rate * rate_correction(n)),
    })
}

fn index(inputs: &Value) -> Value {
    let x = |name| number(inputs, name);
    let (low, high) = ((x("load_low_kg"), x("mfr_low")), (x("load_high_kg"), x("mfr_high")));
    json!({"flow_rate_ratio": high.1 / low.1, "power_law_index": power_law_index(low, high)})
}

fn other_load(inputs: &Value) -> Value {
    let (n, to_kg) = (number(inputs, "power_law_index"), number(inputs, "load_kg"));
    let fields = inputs.as_object().expect("inputs");
    let (name, mfr) = fields.iter().find(|(name, _)| name.starts_with("mfr_at_")).expect("a rate");
    let from_kg: f64 = name.trim_start_matches("mfr_at_").parse().expect("a load");
    json!({"mfr": mfr_at_load(mfr.as_f64().expect("a rate"), from_kg, to_kg, n)})
}

fn shifts(inputs: &Value) -> Value {
    let (from, to) = (numbers(inputs, "from_C"), numbers(inputs, "to_C"));
    let energies = numbers(inputs, "activation_kJ_mol");
    let rows = energies.iter().zip(from.iter().zip(&to));
    let factors: Vec<_> = rows
        .map(|(energy, (from_c, to_c))| {
            let factor = flow_factor(*energy, *from_c, *to_c);
            let back = activation_kj_mol((1.0, *from_c), (factor, *to_c)).expect("an energy");
            assert!((back - energy).abs() < 1e-9 * energy, "{back} {energy}");
            factor
        })
        .collect();
    json!({"factor": factors})
}

fn restored(inputs: &Value) -> Value {
    let (target, at_c) = (number(inputs, "mfr_target"), number(inputs, "temperature_C"));
    let factors = each(inputs, "mfr_now", |now| target / now);
    let energies = numbers(inputs, "activation_kJ_mol");
    let to_c: Vec<_> = factors
        .iter()
        .zip(energies)
        .map(|(factor, energy)| temperature_of_factor_c(energy, at_c, *factor).expect("a melt"))
        .collect();
    let change: Vec<_> = to_c.iter().map(|c| c - at_c).collect();
    json!({"factor": factors, "temperature_C": to_c, "change_K": change})
}

fn blend(inputs: &Value) -> Value {
    let parts: Vec<_> = numbers(inputs, "mass_fractions")
        .into_iter()
        .zip(numbers(inputs, "mfr"))
        .map(|(fraction, mfr_g_10min)| Part { fraction, mfr_g_10min })
        .collect();
    let power = inputs["exponent"].as_f64().map_or(POWER, |exponent| Rule::Power { exponent });
    let by_power = power.mfr_g_10min(&parts);
    json!({
        "mfr_log_rule": Rule::Logarithmic.mfr_g_10min(&parts),
        "mfr_linear": Rule::Linear.mfr_g_10min(&parts),
        "mfr": by_power,
        "mfr_power_rule_3.4": by_power,
    })
}

fn share(inputs: &Value) -> Value {
    let x = |name| number(inputs, name);
    let (virgin, regrind) = (x("mfr_virgin"), x("mfr_regrind"));
    let rule = Rule::Logarithmic;
    let share = rule.share_for(virgin, regrind, x("mfr_limit")).expect("a share");
    let parts = [
        Part { fraction: 1.0 - share, mfr_g_10min: virgin },
        Part { fraction: share, mfr_g_10min: regrind },
    ];
    json!({"regrind_fraction": share, "check_mfr": rule.mfr_g_10min(&parts)})
}

fn molar_masses(inputs: &Value) -> Value {
    let exponent = number(inputs, "exponent");
    let ratio = |mw: f64| mfr_ratio_of_molar_mass(mw, exponent);
    json!({"mfr_ratio": each(inputs, "mw_ratio", ratio)})
}

fn texts(inputs: &Value, name: &str) -> Vec<String> {
    let list = inputs[name].as_array().expect("a list");
    list.iter().map(|text| text.as_str().expect("text").to_owned()).collect()
}

fn columns(list: &[Condition]) -> Value {
    json!({
        "temperature_C": list.iter().map(|c| c.temp_c).collect::<Vec<_>>(),
        "load_kg": list.iter().map(|c| c.load_kg).collect::<Vec<_>>(),
    })
}

/// The annex has a row for each condition, so a material comes as often as it has some.
fn by_material(inputs: &Value) -> Value {
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let next = |material: String| {
        let n = seen.entry(material.clone()).or_insert(0);
        *n += 1;
        *conditions(&material).get(*n - 1).expect("a condition")
    };
    columns(&texts(inputs, "materials").into_iter().map(next).collect::<Vec<_>>())
}

fn by_letter(inputs: &Value) -> Value {
    let letters = texts(inputs, "letters");
    let condition = |text: &String| text.chars().next().and_then(of_letter).expect("a letter");
    columns(&letters.iter().map(condition).collect::<Vec<_>>())
}

fn repeatability(inputs: &Value) -> Value {
    let (sr, results) = (number(inputs, "sr"), numbers(inputs, "results"));
    let difference = (results[0] - results[1]).abs();
    let limit = REPEATABILITY_FACTOR_EXACT * sr;
    json!({
        "limit_exact_1.96_root_2": limit,
        "limit_2.8": REPEATABILITY_FACTOR * sr,
        // ASTM E691 rounds the same factor otherwise.
        "limit_2.83": 2.83 * sr,
        "difference": difference,
        "within_limit": difference <= limit,
    })
}
