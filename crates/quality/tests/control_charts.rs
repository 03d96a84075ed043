//! Control chart factors, limits, averages, sums and run rules against the cases in
//! `tests/reference/control_charts.json`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod cases;

use cases::{check, number, numbers};
use secondmelt_quality::chart::{Baseline, Basis, Individuals, Limits, Subgrouper};
use secondmelt_quality::chart_factors::{ChartFactors, D2_OF_TWO, MEDIAN_RANGE_OF_TWO};
use secondmelt_quality::cusum::{Cusum, CusumPoint, run_length};
use secondmelt_quality::ewma::{Ewma, EwmaPoint};
use secondmelt_quality::run_rules::{ISO_7870_2, NELSON, Rule, RunRules, WESTERN_ELECTRIC};
use serde_json::{Value, json};
use std::sync::OnceLock;

const CASES: &str = include_str!("../../../tests/reference/control_charts.json");

/// Cases that share a shape of inputs are worked out alike.
fn computed(_id: &str, inputs: &Value) -> Option<Value> {
    let has = |name: &str| !inputs[name].is_null();
    Some(match inputs {
        _ if has("factor") => factors(inputs),
        _ if has("span") => moving_range_factors(inputs),
        _ if has("z") => fired(inputs),
        _ if has("subgroups") => subgroups(inputs),
        _ if has("lambda") => averages(inputs),
        _ if has("shift") => run_lengths(inputs),
        _ if has("h") => sums(inputs),
        _ if has("d2") => individuals(inputs),
        _ => return None,
    })
}

#[test]
fn charts_agree_with_the_reference_cases() {
    check(CASES, computed);
}

/// Factors of each size, worked out once.
fn factors_of(n: usize) -> ChartFactors {
    static FACTORS: [OnceLock<ChartFactors>; 64] = [const { OnceLock::new() }; 64];
    let work_out = || ChartFactors::of(n as u32).unwrap();
    FACTORS.get(n).map_or_else(work_out, |known| *known.get_or_init(work_out))
}

fn factors(inputs: &Value) -> Value {
    let name = inputs["factor"].as_str().unwrap();
    let factor = |n: &f64| {
        let f = factors_of(*n as usize);
        match name {
            "c4" => f.c4,
            "d2" => f.d2,
            "d3" => f.d3,
            "A" => f.a(),
            "A2" => f.a2(),
            "A3" => f.a3(),
            "B3" => f.b3(),
            "B4" => f.b4(),
            "B5" => f.b5(),
            "B6" => f.b6(),
            "D1" => f.d1_lower(),
            "D2" => f.d2_upper(),
            "D3" => f.d3_lower(),
            "D4" => f.d4_upper(),
            "E2" => f.e2(),
            other => panic!("factor {other}"),
        }
    };
    let values: Vec<f64> = numbers(&inputs["n"]).iter().map(factor).collect();
    json!({ name: values })
}

fn moving_range_factors(inputs: &Value) -> Value {
    let f = ChartFactors::of(number(inputs, "span") as u32).unwrap();
    json!({"d2": f.d2, "d3": f.d3, "E2": f.e2(), "D4": f.d4_upper(), "D3": f.d3_lower(),
        "median_range_divisor": MEDIAN_RANGE_OF_TWO})
}

fn places<T>(items: &[T], is: impl Fn(&T) -> bool) -> Vec<usize> {
    items.iter().enumerate().filter(|(_, x)| is(x)).map(|(i, _)| i).collect()
}

fn individuals(inputs: &Value) -> Value {
    let data = numbers(&inputs["data"]);
    let d2 = inputs["d2"].as_f64().unwrap_or(D2_OF_TWO);
    let mut chart = Individuals::default();
    let ranges: Vec<f64> = data.iter().filter_map(|x| chart.push(*x)).collect();
    let (limits, range_limits) = (chart.limits(d2).unwrap(), chart.range_limits().unwrap());
    let later: Vec<usize> =
        places(&ranges, |r| *r > range_limits.upper).iter().map(|i| i + 1).collect();
    json!({"mean": chart.mean(), "mr_bar": chart.mean_range(), "sigma": chart.sigma(d2),
        "ucl": limits.upper, "lcl": limits.lower, "mr_ucl": range_limits.upper,
        "mr_lcl": range_limits.lower, "mr": ranges, "mr_above": later,
        "out_of_limits": places(&data, |x| limits.beyond(*x)),
        "above": places(&data, |x| *x > limits.upper),
        "below": places(&data, |x| *x < limits.lower)})
}

fn averages(inputs: &Value) -> Value {
    let x = |name| number(inputs, name);
    let mut ewma = Ewma::new(x("start"), x("sigma"), x("lambda"), x("k")).unwrap();
    let steady = ewma.steady();
    let data = numbers(&inputs["data"]);
    let points: Vec<EwmaPoint> = data.iter().map(|x| ewma.push(*x).unwrap()).collect();
    let values: Vec<f64> = points.iter().map(|p| p.value).collect();
    if inputs["limits"] == "steady state" {
        let out = places(&points, |p| EwmaPoint { value: p.value, ..steady }.beyond());
        return json!({"ewma": values, "ucl": steady.upper, "lcl": steady.lower, "out_of_limits": out});
    }
    json!({"ewma": values, "out_of_limits": places(&points, EwmaPoint::beyond),
        "ucl": points.iter().map(|p| p.upper).collect::<Vec<_>>(),
        "lcl": points.iter().map(|p| p.lower).collect::<Vec<_>>(),
        "steady_ucl": steady.upper, "steady_lcl": steady.lower})
}

fn sums(inputs: &Value) -> Value {
    let x = |name| number(inputs, name);
    let head = inputs["head_start"].as_f64().unwrap_or(0.0);
    let mut cusum = Cusum::new(x("target"), x("k"), x("h"), head).unwrap();
    let data = numbers(&inputs["data"]);
    let points: Vec<CusumPoint> = data.iter().map(|x| cusum.push(*x).unwrap()).collect();
    let each = |f: fn(&CusumPoint) -> f64| points.iter().map(f).collect::<Vec<_>>();
    json!({"s_hi": each(|p| p.high), "s_lo": each(|p| p.low),
        "cumulative_deviation": each(|p| p.deviation),
        "above_h_high": places(&points, |p| p.above), "above_h_low": places(&points, |p| p.below),
        "first_signal": points.iter().position(|p| p.above || p.below)})
}

fn run_lengths(inputs: &Value) -> Value {
    let head = inputs["head_start"].as_f64().unwrap_or(0.0);
    let length = |shift: &f64| run_length(number(inputs, "k"), number(inputs, "h"), *shift, head);
    json!({"arl": numbers(&inputs["shift"]).iter().map(length).collect::<Vec<_>>()})
}

fn subgroups(inputs: &Value) -> Value {
    let groups: Vec<Vec<f64>> =
        inputs["subgroups"].as_array().unwrap().iter().map(numbers).collect();
    let mut subgrouper = Subgrouper::new(groups[0].len() as u32).unwrap();
    let mut baseline = Baseline::default();
    for subgroup in groups.iter().flatten().filter_map(|x| subgrouper.push(*x)) {
        assert!(baseline.push(&subgroup));
    }
    let by = |basis| baseline.limits(basis).unwrap();
    let (ranges, sds) = (by(Basis::Ranges), by(Basis::Deviations));
    json!({"grand_mean": baseline.grand_mean(), "r_bar": baseline.mean_range(),
        "s_bar": baseline.mean_sd(), "xbar_r_ucl": ranges.mean.upper,
        "xbar_r_lcl": ranges.mean.lower, "r_ucl": ranges.spread.upper,
        "r_lcl": ranges.spread.lower, "xbar_s_ucl": sds.mean.upper,
        "xbar_s_lcl": sds.mean.lower, "s_ucl": sds.spread.upper, "s_lcl": sds.spread.lower,
        "sigma_from_r": baseline.sigma_from_ranges(), "sigma_from_s": baseline.sigma_from_sds(),
        "sigma_pooled": baseline.sigma_pooled()})
}

/// Points at which each rule of a list fires, all followed at once.
fn fires_at(rules: &[Rule], zs: &[f64]) -> Vec<Vec<usize>> {
    let mut all = RunRules::new(rules);
    let fired: Vec<_> = zs.iter().map(|z| all.push(*z)).collect();
    (0..rules.len()).map(|place| places(&fired, |f| f.has(place))).collect()
}

fn fired(inputs: &Value) -> Value {
    let zs = numbers(&inputs["z"]);
    let mut fires = serde_json::Map::new();
    for (prefix, rules) in [("we", &WESTERN_ELECTRIC[..]), ("n", &NELSON[..])] {
        for (i, at) in fires_at(rules, &zs).into_iter().enumerate() {
            fires.insert(format!("{prefix}{}", i + 1), json!(at));
        }
    }
    let iso = fires_at(&ISO_7870_2, &zs);
    json!({"fires": fires, "seven_one_side": iso[1], "seven_trend": iso[2]})
}

#[test]
fn limits_kept_as_five_numbers_judge_as_before() {
    let limits = Limits::three_sigma(1.75, 0.004, 5).unwrap();
    let Limits { centre, lower, upper, sigma, n } = limits;
    let again = Limits { centre, lower, upper, sigma, n };
    assert!(again.beyond(1.7625) && !again.beyond(1.75));
    assert_eq!(limits, again);
}
