//! Lines of several families with one slope against `tests/reference/drift_by_pass.json`, and
//! the drift of the melt flow rate in `tests/reference/reprocessing.json`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod cases;
mod noise;

use cases::{check, number, numbers};
use noise::Noise;
use secondmelt_quality::regression::common_slope::{
    CommonSlope, LackOfFit, Point, Shown, Spread, spread_between,
};
use serde_json::{Value, json};

const CASES: &str = include_str!("../../../tests/reference/drift_by_pass.json");
const REPROCESSING: &str = include_str!("../../../tests/reference/reprocessing.json");

fn points(inputs: &Value) -> Vec<Point> {
    let (x, y) = (numbers(&inputs["x"]), numbers(&inputs["y"]));
    let (family, weight) = (numbers(&inputs["family"]), numbers(&inputs["weight"]));
    (0..x.len())
        .map(|i| Point { family: family[i] as usize, x: x[i], y: y[i], weight: weight[i] })
        .collect()
}

fn computed(_id: &str, inputs: &Value) -> Option<Value> {
    let points = points(inputs);
    let line = CommonSlope::fit(&points)?;
    let family = number(inputs, "at_family") as usize;
    let (x0, limit) = (number(inputs, "x0"), number(inputs, "limit"));
    let new = number(inputs, "new_weight");
    let lack = LackOfFit::test(&points)?;
    let crossing = line.crossing(family, limit, 0.95);
    Some(json!({
        "slope": line.slope, "slope_se": line.slope_se(), "freedom": line.freedom,
        "variance": line.variance(), "slope_interval": line.slope_interval(0.95),
        "at": line.at(family, x0), "mean_interval": line.mean_interval(family, x0, 0.95),
        "prediction_interval": line.prediction_interval(family, x0, new, 0.95),
        "probability_below": line.probability_below(family, x0, new, limit),
        "lack_of_fit": {"shown": match lack.shown {
            Shown::Replicates => "replicates", Shown::Curvature => "curvature" },
            "f": lack.f, "p": lack.p, "freedom": lack.freedom,
            "error_freedom": lack.error_freedom},
        "crossing": crossing.map(|c| json!({"x": c.x, "low": c.low, "high": c.high})),
    }))
}

#[test]
fn lines_with_one_slope_agree_with_the_reference_cases() {
    check(CASES, computed);
}

#[test]
fn the_factor_per_pass_is_that_of_least_squares_on_logarithms() {
    let mut file: Value = serde_json::from_str(REPROCESSING).unwrap();
    file["cases"]
        .as_array_mut()
        .unwrap()
        .retain(|case| !case["inputs"]["mfr"].is_null() && !case["inputs"]["passes"].is_null());
    check(&file.to_string(), |_, inputs| {
        let each = numbers(&inputs["passes"]).into_iter().zip(numbers(&inputs["mfr"]));
        let points: Vec<_> =
            each.map(|(x, mfr)| Point { family: 0, x, y: mfr.ln(), weight: 1.0 }).collect();
        let line = CommonSlope::fit(&points)?;
        Some(json!({"factor_per_pass": line.slope.exp(), "mfr_at_0": line.at(0, 0.0)?.exp()}))
    });
}

fn line_of(y: &[f64]) -> Vec<Point> {
    let x = (0..).map(f64::from);
    x.zip(y).map(|(x, y)| Point { family: 0, x, y: *y, weight: 1.0 }).collect()
}

#[test]
fn what_says_nothing_has_no_line() {
    assert_eq!(CommonSlope::fit(&[]), None);
    assert_eq!(CommonSlope::fit(&line_of(&[1.0, 2.0])), None);
    // Each family at one x only.
    let apart: Vec<_> =
        (0..4).map(|i| Point { family: i / 2, x: (i / 2) as f64, y: 1.0, weight: 1.0 }).collect();
    assert_eq!(CommonSlope::fit(&apart), None);
    let mut broken = line_of(&[1.0, 2.0, 3.1, 3.9]);
    broken[1].y = f64::NAN;
    broken[2].weight = 0.0;
    assert_eq!(CommonSlope::fit(&broken), None);
}

#[test]
fn points_on_their_line_have_no_scatter_and_no_probability() {
    let line = CommonSlope::fit(&line_of(&[1.0, 2.0, 3.0])).unwrap();
    assert_eq!(line.probability_below(0, 3.0, 1.0, 5.0), None);
    assert_eq!(line.prediction_interval(0, 3.0, 1.0, 0.95), Some((4.0, 4.0)));
    assert_eq!(line.at(7, 0.0), None);
    // Three points on two x leave nothing to see a bend by.
    let two =
        [(0.0, 1.0), (0.0, 1.2), (1.0, 2.0)].map(|(x, y)| Point { family: 0, x, y, weight: 1.0 });
    assert_eq!(LackOfFit::test(&two), None);
}

#[test]
fn moving_all_points_far_away_changes_no_interval() {
    let near = line_of(&[1.0, 2.1, 2.9, 4.2]);
    let far: Vec<_> = near.iter().map(|p| Point { x: p.x + 1e6, y: p.y + 1e6, ..*p }).collect();
    let (a, b) = (CommonSlope::fit(&near).unwrap(), CommonSlope::fit(&far).unwrap());
    assert!((a.slope_se() - b.slope_se()).abs() < 1e-9);
    assert!((a.slope - b.slope).abs() < 1e-9);
}

#[test]
fn means_of_equal_numbers_weigh_the_same_and_scatter_between_lots_is_found() {
    let mut noise = Noise::of(7);
    // 4000 lots with a standard deviation of 0.3 between them and 0.4 within, one to three
    // results each.
    let points: Vec<_> = (0..4000)
        .map(|i| {
            let results = f64::from(i % 3 + 1);
            let y = 0.3 * noise.normal() + 0.4 * noise.normal() / results.sqrt();
            (Point { family: 0, x: f64::from(i % 5), y, weight: 1.0 }, results)
        })
        .collect();
    let spread = spread_between(&points, 0.16).unwrap();
    assert!((spread.between - 0.09).abs() < 0.01, "{spread:?}");
    assert_eq!(Spread { within: 0.2, between: 0.1 }.weight(2.0), 5.0);
    // Lots that differ less than their results do.
    assert_eq!(spread_between(&points, 4.0).unwrap().between, 0.0);
    assert_eq!(spread_between(&points, 0.0), None);
}

/// Runs of each size.
const RUNS: u32 = 2000;

/// How lots and fillings scatter in a simulated lab, in logarithms, and how many fillings a
/// lot has at most.
const LABS: [Scatter; 3] = [(0.03, 0.015, 3), (0.0, 0.03, 2), (0.05, 0.01, 1)];

/// How lots and fillings scatter, and how many fillings a lot has at most.
type Scatter = (f64, f64, u32);

/// A tested lot, its number of fillings, and their sum of squares about its mean.
fn tested(
    noise: &mut Noise,
    family: usize,
    passes: f64,
    drift: f64,
    by: Scatter,
) -> (Point, f64, f64) {
    let (between, within, most) = by;
    let results = 1.0 + (noise.even() * f64::from(most)).floor();
    let lot = 2.0 + 0.5 * family as f64 + drift * passes + between * noise.normal();
    let logs: Vec<_> = (0..results as u32).map(|_| lot + within * noise.normal()).collect();
    let y = logs.iter().sum::<f64>() / results;
    let squares = logs.iter().map(|log| (log - y).powi(2)).sum();
    (Point { family, x: passes, y, weight: 1.0 }, results, squares)
}

/// Whether the prediction interval holds the next pass of one lab, which tested lots of one
/// family, from eight lots on of two.
fn is_held(noise: &mut Noise, n: u32, by: Scatter) -> bool {
    let drift = 0.3 * noise.even() - 0.1;
    let family = |i: u32| usize::from(n >= 8 && i < 2);
    let passes = |i: u32| f64::from(if family(i) == 1 { i } else { (i + n % 2) / 2 });
    let lots: Vec<_> = (0..n).map(|i| tested(noise, family(i), passes(i), drift, by)).collect();
    let freedom: f64 = lots.iter().map(|(_, results, _)| results - 1.0).sum();
    let within = lots.iter().map(|(.., squares)| squares).sum::<f64>() / freedom;
    let points: Vec<_> = lots.iter().map(|(point, results, _)| (*point, *results)).collect();
    let spread = if freedom > 0.0 { spread_between(&points, within) } else { None };
    let weight = |results: f64| spread.map_or(1.0, |spread| spread.weight(results));
    let weighted: Vec<_> =
        points.iter().map(|(p, results)| Point { weight: weight(*results), ..*p }).collect();
    let line = CommonSlope::fit(&weighted).unwrap();
    let next = passes(n - 1) + 1.0;
    let (truth, results, _) = tested(noise, 0, next, drift, by);
    let (low, high) = line.prediction_interval(0, next, weight(results), 0.95).unwrap();
    (low..=high).contains(&truth.y)
}

/// The share of labs whose next pass lies in its 95 % prediction interval; the table in
/// DEVELOPERS.md is what this prints.
#[test]
fn the_prediction_interval_holds_the_next_pass_as_often_as_it_says() {
    for n in 4..=12 {
        let mut row = format!("| {n} |");
        for (i, scatter) in LABS.into_iter().enumerate() {
            let mut noise = Noise::of(u64::from(n) * 10 + i as u64);
            let held = (0..RUNS).filter(|_| is_held(&mut noise, n, scatter)).count();
            let share = 100.0 * held as f64 / f64::from(RUNS);
            row.push_str(&format!(" {share:.1} |"));
            assert!((93.0..=97.0).contains(&share), "n = {n}, {scatter:?}: {share} %");
        }
        println!("{row}");
    }
}
