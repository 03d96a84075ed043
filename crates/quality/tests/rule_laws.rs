//! Laws that capability, plans, decision rules and gauge studies keep: risks are met and by no
//! smaller plan, probabilities add up, and zero may lie anywhere.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use proptest::prelude::*;
use secondmelt_quality::capability::{Limits, Process, confidence};
use secondmelt_quality::decision_rule::risk::{self, Prior};
use secondmelt_quality::decision_rule::{self, Guarded, Zone};
use secondmelt_quality::gauge_study::ranges::Factors;
use secondmelt_quality::gauge_study::{Study, StudyError, crossed, one_way, ranges};
use secondmelt_quality::sampling_plan::variables::Plan;
use secondmelt_quality::sampling_plan::{Risks, attributes, standard, variables};

fn close(a: f64, b: f64, tolerance: f64) -> bool {
    (a - b).abs() <= tolerance * b.abs().max(1e-300)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, ..ProptestConfig::default() })]

    #[test]
    fn bounds_of_capability_lie_below_the_estimate_and_close_in(index in 0.2..3.0_f64, n in 5_u64..2000, conf in 0.6..0.999_f64) {
        let n = n as f64;
        let exact = |n: f64| confidence::one_sided_lower(index, n, n - 1.0, conf).unwrap();
        prop_assert!(exact(n) < index && exact(n) < exact(4.0 * n));
        let back = confidence::one_sided_needed(exact(n), n, n - 1.0, conf).unwrap();
        prop_assert!(close(back, index, 1e-9), "{back} {index}");
        let cp = confidence::cp_interval(index, n - 1.0, conf).unwrap();
        prop_assert!(cp.low < index && index < cp.high);
        let cpk = confidence::cpk_interval(index, n, n - 1.0, conf).unwrap();
        prop_assert!(cpk.low < index && index < cpk.high);
        // On target Cpm is Cp with n degrees of freedom.
        let cpm = confidence::cpm_lower(index, n, 0.0, conf).unwrap();
        prop_assert!(close(cpm, confidence::cp_lower(index, n, conf).unwrap(), 1e-12));
    }

    #[test]
    fn indices_do_not_depend_on_where_zero_is(mean in -1.0..1.0_f64, sd in 0.1..2.0_f64, shift in -8_i32..8) {
        let shift = f64::from(shift);
        let at = |by: f64| {
            let limits = Limits::new(Some(by - 3.0), Some(by + 2.0)).unwrap();
            Process::new(mean + by, sd).unwrap().indices(limits)
        };
        let (here, there) = (at(0.0), at(shift));
        prop_assert!(close(here.cpk, there.cpk, 1e-12));
        prop_assert!(here.cpk <= here.cp.unwrap());
        prop_assert!(close(here.cpk, here.cp.unwrap() * (1.0 - here.off_centre.unwrap()), 1e-12));
    }

    #[test]
    fn the_smallest_plan_by_attributes_keeps_both_risks_and_no_smaller_one_does(
        good in 0.005..0.05_f64, times in 3.0..8.0_f64, producer in 0.02..0.2_f64, consumer in 0.02..0.2_f64,
    ) {
        let bad = good * times;
        let plan = attributes::smallest(Risks::new(good, producer, bad, consumer).unwrap()).unwrap();
        let keeps = |plan: attributes::Plan| {
            plan.acceptance(good).unwrap() >= 1.0 - producer - 1e-11 && plan.acceptance(bad).unwrap() <= consumer + 1e-11
        };
        prop_assert!(keeps(plan));
        for n in 1..plan.n {
            for accept in 0..=plan.accept {
                prop_assert!(!keeps(attributes::Plan { n, accept }), "{n} {accept}");
            }
        }
        prop_assert!(close(plan.acceptance(plan.share_at(0.3).unwrap()).unwrap(), 0.3, 1e-9));
    }

    #[test]
    fn the_smallest_plan_by_variables_keeps_both_risks_and_needs_fewer_values(
        good in 0.005..0.05_f64, times in 3.0..8.0_f64, producer in 0.02..0.2_f64, consumer in 0.02..0.2_f64,
    ) {
        let bad = good * times;
        let risks = Risks::new(good, producer, bad, consumer).unwrap();
        let design = variables::smallest(risks).unwrap();
        prop_assert!(design.k_min <= design.k_max);
        let (low, high) = (Plan { n: design.n, k: design.k_min }, Plan { n: design.n, k: design.k_max });
        prop_assert!(close(low.acceptance(bad).unwrap(), consumer, 1e-8));
        prop_assert!(close(high.acceptance(good).unwrap(), 1.0 - producer, 1e-8));
        prop_assert!(variables::smallest_known_sd(risks).unwrap().n <= design.n);
        prop_assert!(design.n <= attributes::smallest(risks).unwrap().n);
        let wallis = variables::wallis(risks).unwrap();
        prop_assert!((wallis.n - design.n as f64).abs() < 4.0 + 0.1 * wallis.n, "{wallis:?} {design:?}");
    }

    #[test]
    fn share_and_k_of_a_variables_plan_are_inverse(n in 3_u64..500, k in -1.0..3.0_f64) {
        let m = variables::share_beyond(n, k).unwrap();
        prop_assert!((0.0..=1.0).contains(&m));
        if m > 1e-12 && m < 1.0 - 1e-12 {
            prop_assert!((variables::k_of_share(n, m).unwrap() - k).abs() < 1e-8);
        }
        let mirror = variables::share_beyond(n, -k).unwrap();
        prop_assert!((m + mirror - 1.0).abs() < 1e-12);
    }

    #[test]
    fn probabilities_of_a_result_make_one_and_zones_follow_its_place(y in -2.0..3.0_f64, u in 0.001..1.0_f64, guard in 0.0..0.4_f64) {
        let limits = Limits::new(Some(0.0), Some(1.0)).unwrap();
        let found = decision_rule::conformance(y, u, limits).unwrap();
        prop_assert!((found.below + found.within + found.above - 1.0).abs() < 1e-14);
        let few = decision_rule::conformance_few(y, u, 1e9, limits).unwrap();
        prop_assert!((few.within - found.within).abs() < 1e-8);
        let depth = (1.0 - y).min(y);
        let zone = Guarded::new(limits, guard).unwrap().zone(y).unwrap();
        let expected = if depth >= guard { Zone::Pass }
            else if depth >= 0.0 { Zone::ConditionalPass }
            else if depth >= -guard { Zone::ConditionalFail }
            else { Zone::Fail };
        prop_assert!(zone == expected || (depth.abs() - guard).abs() < 1e-9);
    }

    #[test]
    fn the_reach_from_the_middle_has_the_probability_asked_for(u in 0.001..0.5_f64, p in 0.5..0.999_f64) {
        let limits = Limits::new(Some(-1.0), Some(1.0)).unwrap();
        let within = |y: f64| decision_rule::conformance(y, u, limits).unwrap().within;
        match decision_rule::reach_from_middle(1.0, u, p) {
            None => prop_assert!(within(0.0) <= p),
            Some(a) => prop_assert!((within(a) - p).abs() < 1e-9 && a >= 0.0),
        }
    }

    #[test]
    fn global_risks_add_up_and_a_guard_trades_one_for_the_other(
        mean in -1.0..2.0_f64, sd in 0.05..1.0_f64, u in 0.01..0.5_f64, guard in -0.2..0.3_f64,
    ) {
        let limits = Limits::new(Some(0.0), Some(1.0)).unwrap();
        let prior = Prior::Normal { mean, sd };
        let at = |guard: f64| risk::global(prior, limits, guard, u).unwrap();
        let found = at(guard);
        let accepted = 1.0 - found.nonconforming - found.producer + found.consumer;
        prop_assert!((accepted - found.accepted).abs() < 1e-10, "{found:?}");
        // Measured values spread by both.
        let spread = sd.hypot(u);
        if guard < 0.45 {
            let inner = Limits::new(Some(guard), Some(1.0 - guard)).unwrap();
            let direct = decision_rule::conformance(mean, spread, inner).unwrap().within;
            prop_assert!((direct - found.accepted).abs() < 1e-10, "{direct} {found:?}");
        }
        let more = at(guard + 0.05);
        prop_assert!(more.consumer <= found.consumer && more.producer >= found.producer);
    }

    #[test]
    fn a_study_does_not_depend_on_where_zero_is(readings in prop::collection::vec(prop::collection::vec(prop::collection::vec(-500_i32..500, 4), 3), 2)) {
        let shifted = |by: f64| -> Vec<Vec<Vec<f64>>> {
            let value = |x: &i32| (by * 1000.0 + f64::from(*x)) / 1000.0;
            readings.iter().map(|a| a.iter().map(|t| t.iter().map(value).collect()).collect()).collect()
        };
        let here = crossed::analyse(&Study::new(&shifted(0.0)).unwrap());
        let there = crossed::analyse(&Study::new(&shifted(1e9)).unwrap());
        prop_assert!(close(here.ss_total(), there.ss_total(), 1e-12));
        prop_assert!(close(here.usual().variation.total, there.usual().variation.total, 1e-12));
        let all: Vec<f64> = shifted(0.0).into_iter().flatten().flatten().collect();
        let mean = all.iter().sum::<f64>() / all.len() as f64;
        let total: f64 = all.iter().map(|x| (x - mean).powi(2)).sum();
        prop_assert!(close(here.ss_total(), total, 1e-12));
        for found in [here.pooled(), here.unpooled()] {
            let v = found.variation;
            prop_assert!(close(v.total.powi(2), v.gauge.powi(2) + v.parts.powi(2), 1e-12));
            prop_assert!(v.reproducibility == 0.0 || !found.reproducibility_clipped);
        }
        let study = Study::new(&shifted(5.0)).unwrap();
        let by_ranges = ranges::analyse(&study, Factors::exact(&study).unwrap());
        prop_assert!(by_ranges.variation.total.is_finite() && by_ranges.mean_range_of_all >= 0.0);
    }
}

#[test]
fn standard_plans_follow_arrows_at_the_rims_of_the_table() {
    let plan = |letter, aql| {
        let found = standard::normal_plan(letter, aql).unwrap();
        (found.letter, found.plan.n, found.plan.accept)
    };
    // Where an arrow would lead out of the table the other direction is taken.
    assert_eq!(plan('A', 10.0), ('C', 5, 1));
    assert_eq!(plan('A', 6.5), ('A', 2, 0));
    assert_eq!(plan('R', 0.015), ('P', 800, 0));
    assert_eq!(plan('A', 0.010), ('Q', 1250, 0));
    assert_eq!(standard::normal_plan('I', 1.0), None);
    assert_eq!(standard::normal_plan('A', 0.7), None);
    assert_eq!(standard::code_letter(1, standard::Level::II), None);
}

#[test]
fn risks_that_no_plan_can_keep_are_refused() {
    assert_eq!(Risks::new(0.05, 0.05, 0.05, 0.1), None);
    assert_eq!(Risks::new(0.0, 0.05, 0.05, 0.1), None);
    assert_eq!(Risks::new(0.01, 0.6, 0.05, 0.5), None);
    assert_eq!(Risks::new(0.01, f64::NAN, 0.05, 0.1), None);
    // So close that Ac would exceed its bound: an end, not a search without one.
    let close = Risks::new(0.5, 0.01, 0.500_001, 0.01).unwrap();
    assert_eq!(attributes::smallest(close), None);
}

#[test]
fn a_reading_on_the_edge_of_a_guard_band_is_accepted() {
    let limits = Limits::new(Some(1.7), Some(1.8)).unwrap();
    let rule = Guarded::new(limits, 0.008).unwrap();
    assert_eq!(rule.zone(1.792), Some(Zone::Pass));
    assert_eq!(rule.zone(1.708), Some(Zone::Pass));
    assert_eq!(rule.zone(1.8), Some(Zone::ConditionalPass));
    assert_eq!(rule.zone(1.808), Some(Zone::ConditionalFail));
    assert_eq!(rule.zone(1.8081), Some(Zone::Fail));
    assert_eq!(rule.zone(f64::NAN), None);
    assert_eq!(Guarded::new(limits, -0.1), None);
    assert_eq!(Limits::new(Some(1.8), Some(1.7)), None);
    assert_eq!(Limits::new(None, None), None);
}

#[test]
fn a_risk_that_no_guard_band_gives_is_none() {
    let limits = Limits::new(None, Some(1.0)).unwrap();
    let prior = Prior::Normal { mean: 0.0, sd: 0.5 };
    assert_eq!(risk::guard_for_consumer(prior, limits, 0.1, 0.5), None);
    let guard = risk::guard_for_consumer(prior, limits, 0.1, 1e-4).unwrap();
    assert!(close(risk::global(prior, limits, guard, 0.1).unwrap().consumer, 1e-4, 1e-9));
    assert_eq!(risk::global(Prior::Gamma { shape: -1.0, rate: 1.0 }, limits, 0.0, 0.1), None);
}

#[test]
fn readings_that_make_no_study_say_why() {
    let study = |readings: &[&[&[f64]]]| {
        let rows = |a: &&[&[f64]]| a.iter().map(|t| t.to_vec()).collect::<Vec<_>>();
        Study::new(&readings.iter().map(rows).collect::<Vec<_>>()).map(|_| ())
    };
    let pair: &[f64] = &[1.0, 2.0];
    assert_eq!(study(&[]), Err(StudyError::TooFew));
    assert_eq!(study(&[&[pair, pair]]), Err(StudyError::TooFew));
    assert_eq!(study(&[&[pair], &[pair]]), Err(StudyError::TooFew));
    assert_eq!(study(&[&[pair, pair], &[pair, &[1.0]]]), Err(StudyError::Unbalanced));
    assert_eq!(study(&[&[pair, pair], &[pair]]), Err(StudyError::Unbalanced));
    assert_eq!(study(&[&[pair, &[1.0, f64::NAN]], &[pair, pair]]), Err(StudyError::NotFinite));
    assert_eq!(study(&[&[pair, pair], &[pair, pair]]), Ok(()));
}

#[test]
fn groups_far_from_zero_lose_no_digits() {
    // The scheme of the data sets SmLs07 to SmLs09 of the NIST Statistical Reference Datasets
    // with fewer values: 13 leading digits in common. By hand: groups of 0.4, and x.3 and x.5
    // around x.4 in turn, with x one more from group to group.
    let group = |x: f64| -> Vec<f64> {
        let at = |tenths: f64| (1e13 + x * 10.0 + tenths) / 10.0;
        std::iter::once(at(4.0))
            .chain((0..20).map(|i| at(if i % 2 == 0 { 3.0 } else { 5.0 })))
            .collect()
    };
    let found = one_way::analyse(&[group(0.0), group(1.0), group(2.0)]).unwrap();
    assert!(close(found.ss_between, 42.0, 1e-12), "{found:?}");
    assert!(close(found.ss_within, 0.6, 1e-12), "{found:?}");
    assert_eq!((found.df_between, found.df_within), (2.0, 60.0));
    assert!(close(found.f.unwrap(), 2100.0, 1e-12));
}

#[test]
fn groups_without_spread_have_no_ratio() {
    let flat = one_way::analyse(&[vec![1.0, 1.0], vec![1.0, 1.0]]).unwrap();
    assert_eq!((flat.f, flat.p_value, flat.r_squared), (None, None, None));
    assert!(one_way::analyse(&[vec![1.0, 2.0], vec![3.0]]).is_some());
    assert!(one_way::analyse(&[vec![1.0, 2.0]]).is_none());
    assert!(one_way::analyse(&[vec![1.0], vec![2.0]]).is_none());
    assert!(one_way::analyse(&[vec![1.0, 2.0], vec![]]).is_none());
    let clipped = one_way::analyse(&[vec![1.0, 5.0], vec![2.0, 4.0]]).unwrap();
    assert!(clipped.between_clipped && clipped.between_variance == 0.0);
}
