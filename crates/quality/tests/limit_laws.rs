//! Laws that limits keep: what an interval promises is counted out, more evidence narrows,
//! more confidence widens, and mirror images agree.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use proptest::prelude::*;
use secondmelt_quality::distributions::{beta, binomial, normal, poisson};
use secondmelt_quality::tolerance_interval::{self as interval, order_statistics};
use secondmelt_quality::{poisson_rate, proportion};

fn close(a: f64, b: f64, tolerance: f64) -> bool {
    (a - b).abs() <= tolerance * b.abs().max(1e-300)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, ..ProptestConfig::default() })]

    #[test]
    fn clopper_pearson_holds_the_share_as_often_as_promised(n in 1_u64..25, p in 0.001..0.999_f64, conf in 0.5..0.999_f64) {
        let at = beta::Point::new(p).unwrap();
        let (mut two_sided, mut lower, mut upper) = (0.0, 0.0, 0.0);
        for x in 0..=n {
            let chance = binomial::chance_of(n, x, at);
            let both = proportion::clopper_pearson(x, n, conf).unwrap();
            prop_assert!(both.low <= x as f64 / n as f64 && x as f64 / n as f64 <= both.high);
            two_sided += if both.low <= p && p <= both.high { chance } else { 0.0 };
            lower += if proportion::lower(x, n, conf).unwrap() <= p { chance } else { 0.0 };
            upper += if proportion::upper(x, n, conf).unwrap() >= p { chance } else { 0.0 };
        }
        prop_assert!(two_sided.min(lower).min(upper) >= conf - 1e-9, "{two_sided} {lower} {upper}");
    }

    #[test]
    fn limits_of_a_share_are_mirror_images_and_nest(n in 1_u64..1_000_000, part in 0.0..=1.0_f64, conf in 0.5..0.999_f64) {
        let x = (part * n as f64) as u64;
        let (low, high) = (proportion::lower(x, n, conf).unwrap(), proportion::upper(x, n, conf).unwrap());
        let mirror = 1.0 - proportion::upper(n - x, n, conf).unwrap();
        prop_assert!((low - mirror).abs() < 1e-12);
        let wider = conf + 0.5 * (1.0 - conf);
        prop_assert!(proportion::lower(x, n, wider).unwrap() <= low);
        prop_assert!(proportion::upper(x, n, wider).unwrap() >= high);
        let wilson = proportion::wilson(x, n, conf).unwrap();
        prop_assert!(0.0 <= wilson.low && wilson.low <= wilson.high && wilson.high <= 1.0);
        if x < n {
            prop_assert!(proportion::lower(x + 1, n, conf).unwrap() > low);
        }
    }

    #[test]
    fn garwood_holds_the_mean_as_often_as_promised(mean in 0.01..40.0_f64, conf in 0.5..0.999_f64) {
        let mut held = 0.0;
        let mut before = 0.0;
        for x in 0..120 {
            let up_to = poisson::tails(x, mean).unwrap().below;
            let (low, high) = poisson_rate::garwood(x, conf).unwrap();
            held += if low <= mean && mean <= high { up_to - before } else { 0.0 };
            before = up_to;
        }
        prop_assert!(held >= conf - 1e-9, "{held}");
    }

    #[test]
    fn the_fewest_trials_are_the_fewest(share in 0.5..0.999_f64, conf in 0.5..0.999_f64, bad in 0_u64..20) {
        let n = proportion::trials_needed(share, conf, bad).unwrap();
        prop_assert!(proportion::confidence_shown(n, bad, share).unwrap() >= conf - 1e-11);
        prop_assert!(n == bad + 1 || proportion::confidence_shown(n - 1, bad, share).unwrap() < conf);
        // The same said by the limit of the share.
        prop_assert!(proportion::lower(n - bad, n, conf).unwrap() >= share * (1.0 - 1e-9));
    }

    #[test]
    fn ranks_and_sizes_of_ordered_values_agree(share in 0.5..0.99_f64, conf in 0.5..0.99_f64, n in 1_u64..2000) {
        match order_statistics::blocks_left_out(n, share, conf) {
            None => prop_assert!(order_statistics::values_needed(1, share, conf).unwrap() > n),
            Some(blocks) => {
                prop_assert!(order_statistics::confidence(n, blocks, share).unwrap() >= conf - 1e-11);
                prop_assert!(order_statistics::confidence(n, blocks + 1, share).unwrap() < conf);
                prop_assert!(order_statistics::values_needed(blocks, share, conf).unwrap() <= n);
            }
        }
    }

    #[test]
    fn tolerance_factors_grow_with_share_and_confidence_and_shrink_with_values(
        n in 2_u64..5000, share in 0.05..0.999_f64, conf in 0.5..0.999_f64,
    ) {
        let one = |n, share, conf| interval::one_sided_factor(n, share, conf).unwrap();
        let two = |n, share, conf| interval::two_sided_factor(n, share, conf).unwrap();
        let more_share = share + 0.3 * (1.0 - share);
        let more_conf = conf + 0.3 * (1.0 - conf);
        prop_assert!(one(n, more_share, conf) > one(n, share, conf));
        prop_assert!(two(n, more_share, conf) > two(n, share, conf));
        prop_assert!(one(n, share, more_conf) > one(n, share, conf));
        prop_assert!(two(n, share, more_conf) > two(n, share, conf));
        prop_assert!(two(n + 1, share, conf) < two(n, share, conf));
        prop_assert!(two(n, share, conf) > one(n, share, conf));
        prop_assert!(two(n, share, conf) > normal::quantile_below(0.5 + 0.5 * share).unwrap());
    }

    #[test]
    fn a_standard_deviation_that_is_as_good_as_known_gives_the_known_factor(n in 5_u64..50, share in 0.5..0.999_f64, conf in 0.5..0.99_f64) {
        let pooled = interval::one_sided_factor_pooled(n as f64, 1e12, share, conf).unwrap();
        let known = interval::one_sided_factor_known_sd(n, share, conf).unwrap();
        prop_assert!((pooled - known).abs() < 1e-5, "{pooled} {known}");
        let pooled = interval::two_sided_factor_pooled(n as f64, 1e4, share, conf).unwrap();
        let known = interval::two_sided_factor_known_sd(n, share, conf).unwrap();
        // The standard deviation is off by 0.7 % still, in the mean square.
        prop_assert!((pooled / known - 1.0).abs() < 0.025, "{pooled} {known}");
    }
}

#[test]
fn shares_without_proper_inputs_have_no_limits() {
    assert_eq!(proportion::lower(3, 2, 0.95), None);
    assert_eq!(proportion::clopper_pearson(1, 2, 1.0), None);
    assert_eq!(proportion::wilson(0, 0, 0.95), None);
    assert_eq!(proportion::trials_needed(1.0, 0.95, 0), None);
    assert_eq!(proportion::trials_needed(0.95, 0.0, 0), None);
    assert_eq!(poisson_rate::rate(1, 0.0, 0.95), None);
    assert_eq!(poisson_rate::rate(1, f64::NAN, 0.95), None);
    assert_eq!(poisson_rate::compare((0, 1.0), (0, 1.0), 0.95), None);
    assert_eq!(poisson_rate::dispersion(&[0, 0]), None);
    // Without trials anything may be.
    let none = proportion::clopper_pearson(0, 0, 0.95).unwrap();
    assert_eq!((none.low, none.high), (0.0, 1.0));
}

#[test]
fn factors_without_proper_inputs_are_none() {
    assert_eq!(interval::one_sided_factor(1, 0.9, 0.95), None);
    assert_eq!(interval::one_sided_factor(0, 0.9, 0.95), None);
    assert_eq!(interval::two_sided_factor(1, 0.9, 0.95), None);
    assert_eq!(interval::two_sided_factor(5, 1.0, 0.95), None);
    assert_eq!(interval::two_sided_factor(5, 0.9, f64::NAN), None);
    assert_eq!(interval::two_sided(5, 0.0, -1.0, 0.9, 0.95), None);
    assert_eq!(interval::two_sided_factor_known_sd(0, 0.9, 0.95), None);
    assert_eq!(order_statistics::blocks_left_out(0, 0.9, 0.95), None);
    assert_eq!(order_statistics::values_needed(0, 0.9, 0.95), None);
}

#[test]
fn the_fewest_values_for_a_factor_are_found() {
    let needed =
        |factor| interval::values_needed(factor, 0.99, 0.95, 100_000, interval::two_sided_factor);
    let n = needed(3.0).unwrap();
    let factor = |n| interval::two_sided_factor(n, 0.99, 0.95).unwrap();
    assert!(factor(n) <= 3.0 && factor(n - 1) > 3.0);
    // No sample shows what the population itself does not hold.
    assert_eq!(needed(2.5), None);
    assert_eq!(needed(f64::NAN), None);
}

#[test]
fn two_counts_are_compared_alike_from_either_side() {
    for (x1, x2) in [(0, 5), (3, 3), (14, 5), (200, 150), (1, 0)] {
        let one = poisson_rate::compare((x1, 200.0), (x2, 180.0), 0.95).unwrap();
        let other = poisson_rate::compare((x2, 180.0), (x1, 200.0), 0.95).unwrap();
        assert!(close(one.p_doubled, other.p_doubled, 1e-12));
        assert!(close(one.p_minimum_likelihood, other.p_minimum_likelihood, 1e-12));
        assert!(one.p_minimum_likelihood <= 1.0 && one.p_minimum_likelihood > 0.0);
        if let Some(high) = one.ratio_high {
            assert!(close(high * other.ratio_low, 1.0, 1e-9) || other.ratio_low == 0.0);
        } else {
            assert_eq!((x2, other.ratio_low), (0, 0.0));
        }
    }
}

#[test]
fn the_least_likely_counts_are_those_summed_by_hand() {
    // All counts no likelier than x, one by one.
    let at = beta::Point::new(200.0 / 380.0).unwrap();
    for x in 0..=19 {
        let limit = binomial::chance_of(19, x, at) * (1.0 + 1e-7);
        let chances = (0..=19).map(|i| binomial::chance_of(19, i, at));
        let sum: f64 = chances.filter(|chance| *chance <= limit).sum();
        let found = poisson_rate::compare((x, 200.0), (19 - x, 180.0), 0.95).unwrap();
        assert!((found.p_minimum_likelihood - sum).abs() < 1e-12, "{x}");
    }
}

#[test]
fn a_confidence_met_exactly_is_met_whatever_the_rounding() {
    // share^n = 1 - confidence in decimals, not in doubles.
    for (share, conf, n) in
        [(0.9, 0.19, 2), (0.9, 0.271, 3), (0.5, 0.75, 2), (0.8, 0.36, 2), (0.7, 0.51, 2)]
    {
        assert_eq!(proportion::trials_needed(share, conf, 0), Some(n), "{share} {conf}");
        assert_eq!(order_statistics::blocks_left_out(n, share, conf), Some(1), "{share} {conf}");
    }
}
