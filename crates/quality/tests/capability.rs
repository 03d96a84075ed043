//! Capability indices and their bounds against handbooks and other libraries; source and
//! status stand beside each case in `tests/reference/capability.json`.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod common;

use common::{Case, cases};
use secondmelt_quality::capability::{Limits, Process, confidence, moving_range_sd};
use secondmelt_quality::sums::Sums;
use serde_json::{Value, json};

const CASES: &str = include_str!("../../../tests/reference/capability.json");

fn limits(case: &Case) -> Limits {
    Limits::new(case.optional("lsl"), case.optional("usl")).unwrap()
}

fn given(case: &Case) -> Process {
    Process::new(case.number("mean"), case.number("sigma")).unwrap()
}

/// Every index and share that a process has, by name.
fn all(process: Process, limits: Limits, target: Option<f64>) -> Value {
    let indices = process.indices(limits);
    let outside = process.outside(limits);
    let targeted = target.and_then(|target| process.target_indices(limits, target));
    let total = outside.below + outside.above;
    json!({
        "cp": indices.cp, "cpk": indices.cpk, "cpu": indices.cpu, "cpl": indices.cpl,
        "k": indices.off_centre,
        "cpm": targeted.and_then(|t| t.cpm), "cpmk": targeted.map(|t| t.cpmk),
        "below": outside.below, "above": outside.above, "outside": total, "ppm": total * 1e6,
    })
}

/// The part of `all` that a case expects.
fn wanted(case: &Case, all: &Value) -> Value {
    let names = case.expected.as_object().unwrap().keys();
    Value::Object(names.map(|name| (name.clone(), all[name].clone())).collect())
}

/// Centred process whose limits lie `h` standard deviations off.
fn centred(h: f64) -> Value {
    all(Process::new(0.0, 1.0).unwrap(), Limits::new(Some(-h), Some(h)).unwrap(), None)
}

fn column(values: impl Iterator<Item = Option<f64>>) -> Value {
    values.map(|x| json!(x.unwrap())).collect()
}

fn rejects(case: &Case) -> Value {
    match case.inputs.get("h") {
        None => {
            let halves: Vec<f64> = case.list("width_in_sigma").iter().map(|w| w / 2.0).collect();
            json!({
                "cp": halves.iter().map(|h| centred(*h)["cp"].clone()).collect::<Value>(),
                "fraction": halves.iter().map(|h| centred(*h)["outside"].clone()).collect::<Value>(),
            })
        }
        Some(_) => json!({
            "fraction": case.list("h").iter().map(|h| centred(*h)["outside"].clone()).collect::<Value>(),
            "ppm_one_sided": column(case.list("h").iter().map(|h| Some(centred(*h)["above"].as_f64()? * 1e6))),
        }),
    }
}

fn montgomery_cp(case: &Case) -> Value {
    let process = Process::new(50.0, case.number("s")).unwrap();
    let cp = process.indices(limits(case)).cp.unwrap();
    let interval =
        confidence::cp_interval(cp, case.number("n") - 1.0, case.number("conf")).unwrap();
    json!({ "cp": cp, "low": interval.low, "high": interval.high })
}

fn montgomery_cpk(case: &Case) -> Value {
    let n = case.number("n");
    let interval =
        confidence::cpk_interval(case.number("cpk"), n, n - 1.0, case.number("conf")).unwrap();
    json!({ "low": interval.low, "high": interval.high })
}

/// Rows of n, index and confidence.
fn bounds(case: &Case) -> Value {
    let rows = case.rows();
    let over = |bound: &dyn Fn(f64, f64, f64) -> Option<f64>| -> Value {
        column(rows.iter().map(|r| bound(r[0], r[1], r[2])))
    };
    match case.id {
        "cp-interval" => json!({
            "low": over(&|n, cp, conf| Some(confidence::cp_interval(cp, n - 1.0, conf)?.low)),
            "high": over(&|n, cp, conf| Some(confidence::cp_interval(cp, n - 1.0, conf)?.high)),
            "one_sided_low": over(&|n, cp, conf| confidence::cp_lower(cp, n - 1.0, conf)),
        }),
        "cpk-bissell" => json!({
            "low": over(&|n, k, conf| Some(confidence::cpk_interval(k, n, n - 1.0, conf)?.low)),
            "high": over(&|n, k, conf| Some(confidence::cpk_interval(k, n, n - 1.0, conf)?.high)),
            "one_sided_low": over(&|n, k, conf| confidence::cpk_lower(k, n, n - 1.0, conf)),
        }),
        "cpu-exact-low" => json!({
            "low": over(&|n, x, conf| confidence::one_sided_lower(x, n, n - 1.0, conf)),
        }),
        "cpu-needed" => json!({
            "estimate": over(&|n, x, conf| confidence::one_sided_needed(x, n, n - 1.0, conf)),
        }),
        id => panic!("unknown case {id}"),
    }
}

fn from_data(case: &Case) -> Value {
    let data = case.list("data");
    let mut sums = Sums::default();
    data.iter().for_each(|x| sums.push(*x, 1.0));
    let (n, mean) = (data.len() as f64, sums.mean(1.0).unwrap());
    let (sd, short_sd) = (sums.sd(1.0).unwrap(), moving_range_sd(&data).unwrap());
    let target = case.optional("target");
    let overall = all(Process::new(mean, sd).unwrap(), limits(case), target);
    let short = all(Process::new(mean, short_sd).unwrap(), limits(case), target);
    let number = |x: &Value| x.as_f64().unwrap();
    let pp = confidence::cp_interval(number(&overall["cp"]), n - 1.0, 0.95).unwrap();
    let ppk = confidence::cpk_interval(number(&overall["cpk"]), n, n - 1.0, 0.95).unwrap();
    json!({
        "mean": mean, "sd_overall": sd, "sd_short": short_sd,
        "pp": overall["cp"], "ppk": overall["cpk"], "cpm": overall["cpm"],
        "cp": short["cp"], "cpk": short["cpk"],
        "outside_overall": overall["outside"], "outside_short": short["outside"],
        "pp_interval_95": [pp.low, pp.high], "ppk_bissell_95": [ppk.low, ppk.high],
    })
}

fn fractions(case: &Case) -> Value {
    let share = |name: &str| -> Value {
        let process = |r: &Vec<f64>| Process::new(r[0], r[1]).unwrap();
        case.rows().iter().map(|r| all(process(r), limits(case), None)[name].clone()).collect()
    };
    json!({ "below": share("below"), "above": share("above") })
}

fn found(case: &Case) -> Value {
    match case.id {
        "nist-cp-cpk" | "nist-more" => {
            wanted(case, &all(given(case), limits(case), case.optional("target")))
        }
        "nist-rejects" | "rejects-exact" => rejects(case),
        "montgomery-cp" => montgomery_cp(case),
        "montgomery-cpk" => montgomery_cpk(case),
        "indices-from-data" => from_data(case),
        "fractions-grid" => fractions(case),
        _ => bounds(case),
    }
}

#[test]
fn printed_and_computed_values_are_reached() {
    let file: Value = serde_json::from_str(CASES).unwrap();
    let cases = cases(&file);
    assert_eq!(cases.len(), 12);
    for case in cases {
        case.check(&found(&case));
    }
}
