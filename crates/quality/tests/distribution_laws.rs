//! Laws that every distribution keeps, over the whole range of its parameters: shares lie
//! between 0 and 1 and make one, they grow with the point, quantiles lead there and back,
//! mirror images agree, and what is improper has no answer.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use proptest::prelude::*;
use secondmelt_quality::distributions::{
    Split, beta, binomial, fisher_f, gamma, hypergeometric, noncentral_t, normal, poisson,
    student_t,
};

/// A positive number of any size between two powers of ten.
fn size(from: f64, to: f64) -> impl Strategy<Value = f64> {
    (from..to).prop_map(|power| 10_f64.powf(power))
}

/// A split with a tail of any size, on either side.
fn split() -> impl Strategy<Value = Split> {
    (size(-12.0, -0.302), any::<bool>()).prop_map(|(tail, below)| {
        if below { Split::with_below(tail).unwrap() } else { Split::with_above(tail).unwrap() }
    })
}

fn shares_make_one(split: Split) -> Result<(), TestCaseError> {
    prop_assert!((0.0..=1.0).contains(&split.below), "{split:?}");
    prop_assert!((0.0..=1.0).contains(&split.above), "{split:?}");
    prop_assert!((split.below + split.above - 1.0).abs() < 1e-12, "{split:?}");
    Ok(())
}

/// The smaller share comes back to the digits given.
fn comes_back(wanted: Split, found: Option<Split>, tolerance: f64) -> Result<(), TestCaseError> {
    let found = found.unwrap();
    let error = if wanted.below < wanted.above {
        found.below / wanted.below - 1.0
    } else {
        found.above / wanted.above - 1.0
    };
    prop_assert!(error.abs() < tolerance, "{wanted:?} {found:?}: {error:e}");
    Ok(())
}

/// Below grows and above falls from the first to the second.
fn grows(first: Option<Split>, second: Option<Split>) -> Result<(), TestCaseError> {
    let (first, second) = (first.unwrap(), second.unwrap());
    shares_make_one(first)?;
    prop_assert!(second.below >= first.below * (1.0 - 1e-11), "{first:?} {second:?}");
    prop_assert!(second.above <= first.above * (1.0 + 1e-11), "{first:?} {second:?}");
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, ..ProptestConfig::default() })]

    #[test]
    fn normal_goes_there_and_back(split in split(), z in -30.0..30.0_f64) {
        comes_back(split, normal::tails(normal::quantile(split).unwrap()), 1e-12)?;
        grows(normal::tails(z), normal::tails(z + 1e-3))?;
        prop_assert_eq!(normal::tails(z).unwrap().swapped(), normal::tails(-z).unwrap());
    }

    #[test]
    fn gamma_goes_there_and_back(shape in size(-1.0, 9.0), split in split(), factor in 0.1..3.0_f64) {
        let x = gamma::quantile(shape, split).unwrap();
        prop_assert!(x > 0.0);
        comes_back(split, gamma::tails(shape, x), 1e-8)?;
        grows(gamma::tails(shape, shape * factor), gamma::tails(shape, shape * factor * 1.01))?;
    }

    #[test]
    fn beta_goes_there_and_back(a in size(-1.0, 6.5), b in size(-1.0, 6.5), split in split()) {
        let at = beta::quantile(a, b, split).unwrap();
        prop_assert!((at.x + at.rest - 1.0).abs() < 1e-15);
        comes_back(split, beta::tails(a, b, at), 1e-9)?;
        let mirror = beta::Point { x: at.rest, rest: at.x };
        let (one, other) = (beta::tails(a, b, at).unwrap(), beta::tails(b, a, mirror).unwrap());
        prop_assert!((one.below - other.above).abs() < 1e-13);
let further = beta::Point { x: 1.0 - 0.999 * at.rest, rest: 0.999 * at.rest };
        grows(beta::tails(a, b, at), beta::tails(a, b, further))?;
    }

    #[test]
    fn student_t_goes_there_and_back(freedom in size(0.0, 10.0), split in split()) {
        let t = student_t::quantile(freedom, split).unwrap();
        comes_back(split, student_t::tails(freedom, t), 1e-10)?;
        let mirror = student_t::tails(freedom, -t).unwrap().swapped();
        prop_assert_eq!(student_t::tails(freedom, t).unwrap(), mirror);
        let of_normal = normal::quantile(split).unwrap();
        prop_assert!(t.abs() >= of_normal.abs() * (1.0 - 1e-12), "heavier than normal tails");
    }

    #[test]
    fn f_is_the_square_of_t(freedom in size(0.0, 5.0), t in 0.01..20.0_f64) {
        let both = 2.0 * student_t::tails(freedom, t).unwrap().above;
        let found = fisher_f::tails(1.0, freedom, t * t).unwrap().above;
        prop_assert!((found / both - 1.0).abs() < 1e-11);
    }

    #[test]
    fn f_goes_there_and_back(d1 in size(0.0, 5.0), d2 in size(0.0, 5.0), split in split()) {
        let f = fisher_f::quantile(d1, d2, split).unwrap();
        comes_back(split, fisher_f::tails(d1, d2, f), 1e-9)?;
    }

    #[test]
    fn noncentral_t_goes_there_and_back(freedom in size(0.0, 6.0), part in -3.0..6.0_f64, split in split()) {
        let delta = part * freedom.sqrt();
        let t = noncentral_t::quantile(freedom, delta, split).unwrap();
        comes_back(split, noncentral_t::tails(freedom, delta, t), 1e-9)?;
        let mirror = noncentral_t::tails(freedom, -delta, -t).unwrap().swapped();
        let found = noncentral_t::tails(freedom, delta, t).unwrap();
        prop_assert!((found.below - mirror.below).abs() < 1e-12);
        grows(Some(found), noncentral_t::tails(freedom, delta, t + 0.01))?;
        grows(noncentral_t::tails(freedom, delta + 0.01, t), Some(found))?;
        let back = noncentral_t::noncentrality(freedom, t, split).unwrap();
        prop_assert!((back - delta).abs() < 1e-8 * (1.0 + delta.abs()), "{back} {delta}");
    }

    #[test]
    fn noncentral_t_without_a_shift_is_student_t(freedom in size(0.0, 7.0), t in -8.0..8.0_f64) {
        let found = noncentral_t::tails(freedom, 0.0, t).unwrap();
        let central = student_t::tails(freedom, t).unwrap();
        let ratio = if t < 0.0 { found.below / central.below } else { found.above / central.above };
        prop_assert!((ratio - 1.0).abs() < 1e-11, "{found:?} {central:?}");
    }

    #[test]
    fn counts_add_up_from_their_chances(n in 1_u64..400, p in 0.001..0.999_f64, part in 0.0..1.0_f64) {
        let k = (part * n as f64) as u64;
        let at = beta::Point::new(p).unwrap();
        let sum: f64 = (0..=k).map(|i| binomial::chance_of(n, i, at)).sum();
        let found = binomial::tails(n, k, p).unwrap();
        shares_make_one(found)?;
        prop_assert!((found.below - sum).abs() < 1e-12);
        let mean = 0.3 * n as f64 * p;
        let mut term = (-mean).exp();
        let mut sum = term;
        for i in 1..=k {
            term *= mean / i as f64;
            sum += term;
        }
        prop_assert!((poisson::tails(k, mean).unwrap().below - sum).abs() < 1e-12);
    }

    #[test]
    fn a_lot_has_the_same_hits_whichever_way_it_is_seen(lot in 2_u64..5000, bad in 0.0..1.0_f64, n in 0.0..1.0_f64, k in 0.0..1.0_f64) {
        let part = |x: f64, of: u64| (x * of as f64) as u64;
        let (bad, n) = (part(bad, lot), part(n, lot));
        let k = part(k, n);
        let found = hypergeometric::tails(lot, bad, n, k).unwrap();
        shares_make_one(found)?;
        let swapped = hypergeometric::tails(lot, n, bad, k).unwrap();
        prop_assert!((found.below - swapped.below).abs() < 1e-11);
    }

    #[test]
    fn what_is_improper_has_no_answer_and_ends(a in any::<f64>(), b in any::<f64>(), x in any::<f64>(), p in any::<f64>()) {
        let split = Split { below: p, above: 1.0 - p };
        let point = beta::Point { x, rest: 1.0 - x };
        let numbers = [
            normal::quantile(split),
            gamma::quantile(a, split),
            beta::quantile(a, b, split).map(|p| p.x),
            student_t::quantile(a, split),
            fisher_f::quantile(a, b, split),
        ];
        prop_assert!(numbers.iter().flatten().all(|x| x.is_finite()), "{numbers:?}");
        let splits = [
            normal::tails(x),
            gamma::tails(a, x),
            beta::tails(a, b, point),
            student_t::tails(a, x),
            fisher_f::tails(a, b, x),
        ];
        for found in splits.into_iter().flatten() {
            shares_make_one(found)?;
        }
    }
}

#[test]
fn improper_parameters_are_refused() {
    let half = Split::with_below(0.5).unwrap();
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(gamma::tails(bad, 1.0), None);
        assert_eq!(gamma::quantile(bad, half), None);
        assert_eq!(beta::tails(bad, 1.0, beta::Point::new(0.5).unwrap()), None);
        assert_eq!(beta::quantile(1.0, bad, half), None);
        assert_eq!(student_t::quantile(bad, half), None);
        assert_eq!(noncentral_t::tails(bad, 1.0, 1.0), None);
        assert_eq!(noncentral_t::quantile(bad, 1.0, half), None);
    }
    for bad in [0.0, 1.0, -0.1, 1.1, f64::NAN] {
        assert_eq!(Split::with_below(bad), None);
        assert_eq!(Split::with_above(bad), None);
    }
    assert_eq!(beta::Point::new(1.5), None);
    assert_eq!(noncentral_t::tails(3.0, f64::NAN, 1.0), None);
    assert_eq!(hypergeometric::tails(10, 11, 5, 1), None);
    assert_eq!(binomial::tails(10, 3, -0.5), None);
    assert_eq!(poisson::tails(3, -1.0), None);
}

#[test]
fn the_ends_are_certain() {
    assert_eq!(gamma::tails(2.0, 0.0).unwrap().below, 0.0);
    assert_eq!(gamma::tails(2.0, f64::INFINITY).unwrap().above, 0.0);
    assert_eq!(binomial::tails(5, 5, 0.3).unwrap().above, 0.0);
    assert_eq!(binomial::tails(5, 2, 0.0).unwrap().above, 0.0);
    assert_eq!(binomial::tails(5, 2, 1.0).unwrap().below, 0.0);
    assert_eq!(poisson::tails(0, 0.0).unwrap().below, 1.0);
    assert_eq!(student_t::tails(3.0, f64::INFINITY).unwrap().above, 0.0);
}
