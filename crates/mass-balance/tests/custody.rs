//! The cases of `tests/reference/recycled_content.json` on claims; source and status stand beside
//! each there.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use secondmelt_mass_balance::custody::*;
use secondmelt_record::facts::Origin;
use serde_json::Value;

fn case(id: &str) -> Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/recycled_content.json");
    let data: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    data["cases"].as_array().unwrap().iter().find(|case| case["id"] == id).unwrap().clone()
}

fn holds(case: &Value, name: &str, found: f64) {
    let expected = case["expected"][name].as_f64().unwrap();
    let allowed = case["rel_tol"].as_f64().unwrap() * expected.abs();
    assert!((found - expected).abs() <= allowed, "{name}: {found}, expected {expected}");
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

#[test]
fn streams_count_by_the_process_they_come_from() {
    let case = case("classify");
    // The streams of the case in its order, put to their kind of waste by hand.
    let kinds = [
        WasteOf::SameProcess,
        WasteOf::OtherProcess,
        WasteOf::Users,
        WasteOf::Distribution,
        WasteOf::SameProcess,
        WasteOf::Users,
        WasteOf::SameProcess,
        WasteOf::OtherProcess,
    ];
    let expected = case["expected"]["kind"].as_array().unwrap();
    assert_eq!(expected.len(), kinds.len());
    for (kind, expected) in kinds.into_iter().zip(expected) {
        let word = match kind.origin() {
            Origin::PostConsumer => "post-consumer",
            Origin::PreConsumer => "pre-consumer",
            _ => "none",
        };
        assert_eq!(word, expected);
    }
}

#[test]
fn additives_count_in_the_whole_and_losses_that_take_all_alike_change_nothing() {
    let batch = case("with-masterbatch");
    let kg = |name: &str| number(&batch["inputs"]["kg"][name]);
    let rest = kg("virgin_masterbatch") + kg("chain_extender");
    holds(&batch, "recycled_content_pct", content_pct(kg("post_consumer_polymer"), rest).unwrap());

    let loss = case("losses-do-not-change-content");
    let (post, virgin) =
        (number(&loss["inputs"]["kg"]["post_consumer"]), number(&loss["inputs"]["kg"]["virgin"]));
    let even = 1.0 - number(&loss["inputs"]["even_loss_kg"]) / (post + virgin);
    holds(&loss, "content_after_even_loss_pct", content_pct(post * even, virgin * even).unwrap());
    let one_sided = number(&loss["inputs"]["loss_from_post_consumer_kg"]);
    holds(
        &loss,
        "content_after_one_sided_loss_pct",
        content_pct(post - one_sided, virgin).unwrap(),
    );
    assert_eq!(content_pct(0.0, 0.0), None);
    assert_eq!(content_pct(-1.0, 2.0), None);
}

#[test]
fn models_keep_what_the_standard_says() {
    let case = case("model-strictness");
    let all = [
        Model::IdentityPreserved,
        Model::Segregated,
        Model::ControlledBlending,
        Model::MassBalance,
        Model::BookAndClaim,
    ];
    let names: Vec<_> = all.iter().map(|model| Value::from(model.name())).collect();
    assert_eq!(case["inputs"]["models"], Value::from(names));
    let column =
        |of: fn(Model) -> bool| Value::from(all.iter().map(|model| of(*model)).collect::<Vec<_>>());
    assert_eq!(
        case["expected"]["physical_content_known_per_batch"],
        column(Model::knows_each_batch)
    );
    assert_eq!(case["expected"]["single_source"], column(Model::has_one_source));
    assert_eq!(
        case["expected"]["record_tied_to_physical_flow"],
        column(Model::follows_the_material)
    );
}

#[test]
fn what_is_mixed_with_another_origin_is_no_longer_segregated() {
    let breach = case("segregated-breach");
    let (post, virgin) =
        (number(&breach["inputs"]["post_consumer_kg"]), number(&breach["inputs"]["virgin_kg"]));
    let model = Model::of_shares([post, virgin]);
    assert_eq!(Value::from(model == Model::Segregated), breach["expected"]["segregated"]);
    assert_eq!(Model::of_shares([post, 0.0]), Model::Segregated);
    holds(&breach, "controlled_blending_pct", content_pct(post, virgin).unwrap());

    let blending = case("controlled-blending");
    let batches = blending["inputs"]["batches"].as_array().unwrap();
    for (batch, expected) in
        batches.iter().zip(blending["expected"]["batch_pct"].as_array().unwrap())
    {
        let found = content_pct(number(&batch["post"]), number(&batch["virgin"])).unwrap();
        assert!((found / number(expected) - 1.0).abs() < 1e-9);
    }
    let may = Model::ControlledBlending.knows_each_batch();
    assert_eq!(Value::from(may), blending["expected"]["may_claim_per_batch"]);
}

#[test]
fn a_credit_is_gained_spent_and_not_overdrawn() {
    let period = case("mass-balance-period");
    let input = |name: &str| number(&period["inputs"][name]);
    let mut credit = Credit::of(input("input_with_property_kg"), input("yield")).unwrap();
    holds(&period, "credit_available_kg", credit.gained());
    holds(&period, "average_pct", credit.mean_pct(input("output_total_kg")).unwrap());
    credit.draw(input("allocated_so_far_kg")).unwrap();
    holds(&period, "credit_left_kg", credit.left());

    let overdraw = case("mass-balance-overdraw");
    let mut left = Credit::left_over(number(&overdraw["inputs"]["credit_left_kg"])).unwrap();
    let drawn = left.draw(number(&overdraw["inputs"]["wanted_kg"]));
    assert_eq!(Value::from(drawn.is_ok()), overdraw["expected"]["allowed"]);
    holds(&overdraw, "shortfall_kg", drawn.unwrap_err());
    holds(&overdraw, "shortfall_kg", number(&overdraw["inputs"]["wanted_kg"]) - left.left());
}

#[test]
fn a_marked_content_is_rounded_down() {
    let case = case("round-down");
    let content = number(&case["inputs"]["content_pct"]);
    let steps = case["inputs"]["step_pct"].as_array().unwrap();
    for (step, expected) in steps.iter().zip(case["expected"]["mark_pct"].as_array().unwrap()) {
        assert_eq!(mark_pct(content, number(step)), number(expected));
    }
    assert_eq!(mark_pct(35.0 - 1e-12, 5.0), 35.0);
}
