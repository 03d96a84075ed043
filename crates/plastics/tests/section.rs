//! The cases of `tests/reference/filament_section.json` on cross-sections; source and status
//! stand beside each there.
#![expect(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use secondmelt_plastics::section::*;
use serde_json::Value;
use std::f64::consts::FRAC_PI_2;

fn case(id: &str) -> Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/filament_section.json");
    let data: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    data["cases"].as_array().unwrap().iter().find(|case| case["id"] == id).unwrap().clone()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

fn holds(case: &Value, name: &str, found: &[f64]) {
    let expected = match &case["expected"][name] {
        Value::Array(_) => numbers(&case["expected"][name]),
        one => vec![one.as_f64().unwrap_or_else(|| panic!("{name}"))],
    };
    assert_eq!(found.len(), expected.len(), "{name}");
    for (found, expected) in found.iter().zip(expected) {
        let allowed = match case["rel_tol"].as_f64() {
            Some(relative) => relative * expected.abs(),
            None => case["abs_tol"].as_f64().unwrap(),
        };
        assert!((found - expected).abs() <= allowed, "{name}: {found}, expected {expected}");
    }
}

fn axes(case: &Value) -> (f64, f64) {
    let of = |name: &str| case["inputs"][name].as_f64().unwrap();
    (of("major_mm"), of("minor_mm"))
}

#[test]
fn two_axes_on_an_ellipse_read_what_the_reference_says() {
    let case = case("ovality-two-axis");
    let (major, minor) = axes(&case);
    let angles: Vec<f64> =
        numbers(&case["inputs"]["angle_deg"]).iter().map(|d| d.to_radians()).collect();
    let x: Vec<f64> = angles.iter().map(|a| ellipse_width(major, minor, *a)).collect();
    let y: Vec<f64> = angles.iter().map(|a| ellipse_width(major, minor, FRAC_PI_2 - a)).collect();
    let both =
        |f: &dyn Fn(f64, f64) -> f64| x.iter().zip(&y).map(|(x, y)| f(*x, *y)).collect::<Vec<_>>();
    holds(&case, "reading_x_mm", &x);
    holds(&case, "reading_y_mm", &y);
    holds(&case, "apparent_ovality_mm", &both(&|x, y| (x - y).abs()));
    holds(&case, "mean_of_axes_mm", &both(&|x, y| (x + y) / 2.0));
    holds(&case, "rms_of_axes_mm", &both(&|x, y| ((x * x + y * y) / 2.0).sqrt()));
    holds(&case, "difference_of_squares_mm2", &both(&|x, y| x * x - y * y));
}

#[test]
fn a_gauge_that_does_not_turn_understates_ovality_by_a_third() {
    let case = case("ovality-average-bias");
    let (major, minor) = axes(&case);
    let mean = mean_apparent_ovality(major, minor);
    holds(&case, "mean_apparent_ovality_mm", &[mean]);
    holds(&case, "ratio_to_true", &[mean / (major - minor)]);
    let small = mean_apparent_ovality(1.750_01, 1.75) / 0.000_01;
    holds(&case, "small_ovality_limit_2_over_pi", &[small]);
}

#[test]
fn the_area_of_an_ellipse_is_that_of_its_geometric_mean() {
    let case = case("ellipse-equivalent");
    let (major, minor) = axes(&case);
    holds(&case, "equal_area_mm", &[ellipse_equal_area(major, minor)]);
    holds(&case, "flow_ratio_to_1.75", &[(ellipse_equal_area(major, minor) / 1.75).powi(2)]);
}

#[test]
fn odd_lobes_are_invisible_and_four_shift_both_axes() {
    let lobes = case("lobes");
    let of = |name: &str| lobes["inputs"][name].as_f64().unwrap();
    let counts: Vec<u32> = numbers(&lobes["inputs"]["k"]).iter().map(|k| *k as u32).collect();
    let read = |angle: f64| {
        counts.iter().map(|k| lobed_width(of("R_mm"), of("e_mm"), *k, angle)).collect::<Vec<_>>()
    };
    let (x, y) = (read(0.0), read(FRAC_PI_2));
    holds(&lobes, "reading_x_mm", &x);
    holds(&lobes, "reading_y_mm", &y);
    let apart: Vec<f64> = x.iter().zip(&y).map(|(x, y)| (x - y).abs()).collect();
    holds(&lobes, "apparent_ovality_mm", &apart);

    let three = case("three-lobe-area");
    let of = |name: &str| three["inputs"][name].as_f64().unwrap();
    let area = lobed_area(of("R_mm"), of("e_mm"), 3);
    holds(&three, "gauge_reading_mm", &[lobed_width(of("R_mm"), of("e_mm"), 3, 0.3)]);
    holds(&three, "area_mm2", &[area]);
    holds(&three, "equal_area_diameter_mm", &[diameter_of_area(area)]);
    holds(&three, "flow_ratio", &[(diameter_of_area(area) / 1.75).powi(2)]);
}
