//! The cases of the reference data on repeated passes, told apart by what they give.

#![expect(clippy::expect_used, reason = "a test says what is wrong by failing")]

mod cases;

use cases::{cases, each, hold, number, numbers};
use secondmelt_plastics::blending::mfr_ratio_of_molar_mass;
use secondmelt_plastics::reprocessing::{Direction, Loop, factor_per_pass, published};
use serde_json::{Value, json};

/// What is left to `crates/quality/tests/drift_by_pass.rs`, where lines are fitted.
const FITTED: &str = "drift-fit";

#[test]
fn the_closed_loop_agrees_with_the_reference_cases() {
    let mut cases = cases("reprocessing");
    cases.retain(|case| case["inputs"]["polymer"].is_null() && case["id"] != FITTED);
    hold(&cases, |_, inputs| {
        let has = |name: &str| !inputs[name].is_null();
        Some(match inputs {
            _ if has("passes") && has("regrind_fraction") => steady(inputs),
            _ if has("rounds") => transient(inputs),
            _ if has("within") => rounds(inputs),
            _ if has("mfr_limit") => at_limit(inputs),
            _ if has("factor_per_pass") => flow(inputs),
            _ if has("q") => property(inputs),
            _ if has("mw_ratio_after_5") => derived(inputs),
            _ if has("regrind_fraction") => means(inputs),
            _ => return None,
        })
    });
}

fn of_share(share: f64) -> Loop {
    Loop::new(share).expect("a share below one")
}

#[expect(clippy::cast_possible_truncation, reason = "a small count")]
fn whole(x: f64) -> i32 {
    assert_eq!(x.fract(), 0.0);
    x as i32
}

fn steady(inputs: &Value) -> Value {
    let regrind = of_share(number(inputs, "regrind_fraction"));
    json!({
        "fraction": each(inputs, "passes", |passes| regrind.steady_share(whole(passes))),
        "mean_earlier_passes": regrind.steady_mean(),
        "fraction_more_than_3": regrind.steady_share_beyond(3),
        "fraction_more_than_5": regrind.steady_share_beyond(5),
    })
}

fn means(inputs: &Value) -> Value {
    let column = |f: &dyn Fn(Loop) -> f64| each(inputs, "regrind_fraction", |r| f(of_share(r)));
    json!({
        "mean_earlier_passes": column(&Loop::steady_mean),
        "mean_passes_after_this_one": column(&|r| r.steady_mean() + 1.0),
        "variance": column(&Loop::steady_variance),
    })
}

fn transient(inputs: &Value) -> Value {
    let (regrind, rounds) =
        (of_share(number(inputs, "regrind_fraction")), whole(number(inputs, "rounds")));
    let shares = regrind.shares_after(rounds);
    let weighted = (0..).map(f64::from).zip(&shares).map(|(passes, share)| passes * share);
    json!({
        "fraction_by_earlier_passes": shares,
        "mean_earlier_passes": weighted.sum::<f64>(),
        "closed_form_mean": regrind.mean_after(rounds),
    })
}

fn rounds(inputs: &Value) -> Value {
    let within = number(inputs, "within");
    let rounds = numbers(inputs, "regrind_fraction")
        .into_iter()
        .map(|share| of_share(share).rounds_to_steady(within));
    json!({"rounds": rounds.collect::<Vec<_>>()})
}

fn flow(inputs: &Value) -> Value {
    let (factor, virgin) = (number(inputs, "factor_per_pass"), number(inputs, "mfr_virgin"));
    let feed = |r: f64| of_share(r).steady_feed_mfr(virgin, factor);
    let product = |r: f64| of_share(r).steady_product_mfr(virgin, factor);
    json!({
        "mfr_feed_steady": each(inputs, "regrind_fraction", feed),
        "mfr_product_steady": each(inputs, "regrind_fraction", product),
    })
}

fn property(inputs: &Value) -> Value {
    let (q, virgin) = (number(inputs, "q"), number(inputs, "virgin"));
    let feed = |r: f64| of_share(r).steady_property(virgin, q).expect("r q below one");
    json!({"feed_steady": each(inputs, "regrind_fraction", feed)})
}

fn at_limit(inputs: &Value) -> Value {
    let x = |name| number(inputs, name);
    let largest = Loop::at_limit(x("factor_per_pass"), x("mfr_virgin"), x("mfr_limit"));
    json!({"regrind_fraction": largest.expect("a share").share()})
}

fn derived(inputs: &Value) -> Value {
    let (ratio, exponent) = (number(inputs, "mw_ratio_after_5"), number(inputs, "exponent"));
    let mfr = mfr_ratio_of_molar_mass(ratio, exponent);
    json!({
        "mw_factor_per_pass": factor_per_pass(ratio, 5.0),
        "mfr_ratio_after_5": mfr,
        "mfr_factor_per_pass": factor_per_pass(mfr, 5.0),
    })
}

/// Only directions are used of what is published; the figures of single papers stand in the
/// file and are no rule for another lab.
#[test]
fn published_directions_are_those_of_the_reference_cases() {
    let mut held = 0;
    for case in cases("reprocessing") {
        let inputs = (case["inputs"]["polymer"].as_str(), &case["expected"]["direction_of_mfr"]);
        let (Some(polymer), Value::String(direction)) = inputs else { continue };
        let expected = match direction.as_str() {
            "up" => Direction::Up,
            "down" => Direction::Down,
            "none" | "slightly up" => Direction::Level,
            other => panic!("{other}"),
        };
        let mut studies = published(polymer).peekable();
        assert!(studies.peek().is_some(), "nothing of {polymer}");
        assert!(studies.all(|study| study.direction == expected), "{}", case["id"]);
        held += 1;
    }
    assert!(held > 8, "{held}");
}

#[test]
fn a_share_of_all_or_a_limit_that_is_never_reached_has_no_loop() {
    for share in [1.0, 1.5, -0.1, f64::NAN] {
        assert_eq!(Loop::new(share), None);
    }
    // The rate falls with each pass, so it never climbs to the limit.
    assert_eq!(Loop::at_limit(0.9, 4.0, 5.0), None);
    assert_eq!(Loop::at_limit(1.15, 6.0, 5.0), None);
    assert_eq!(of_share(0.0).rounds_to_steady(0.01), Some(0));
}
