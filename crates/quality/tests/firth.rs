//! The penalised logistic regression on random data sets, and a case worked by hand.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use secondmelt_quality::firth::Trials;
use secondmelt_quality::random::Random;

/// Trials whose settings go along with one another: each the same as the one before it in most.
fn correlated(random: &mut Random) -> (Vec<Vec<f64>>, Vec<bool>) {
    let settings = 2 + random.below(3);
    let trials = 8 + random.below(40);
    let levels = 2 + random.below(2);
    let alike = 0.5 + 0.5 * random.uniform();
    let draw = |random: &mut Random| random.below(levels) as f64 / (levels - 1) as f64;
    let effects: Vec<f64> = (0..=settings).map(|_| 4.0 * random.normal()).collect();
    let mut x = Vec::new();
    let mut good = Vec::new();
    for _ in 0..trials {
        let mut row = vec![draw(random)];
        for _ in 1..settings {
            let same = random.uniform() < alike;
            row.push(if same { row[row.len() - 1] } else { draw(random) });
        }
        let odds: f64 =
            effects[0] + row.iter().zip(&effects[1..]).map(|(x, b)| (x - 0.5) * b).sum::<f64>();
        good.push(random.uniform() < 1.0 / (1.0 + (-odds).exp()));
        x.push(row);
    }
    (x, good)
}

/// Whether no setting follows from the others: elimination leaves a pivot for each, and the constant.
fn told_apart(x: &[Vec<f64>]) -> bool {
    let mut rows: Vec<Vec<f64>> =
        x.iter().map(|row| std::iter::once(1.0).chain(row.iter().copied()).collect()).collect();
    let width = rows[0].len();
    for at in 0..width {
        let Some(pivot) = (at..rows.len()).find(|i| rows[*i][at].abs() > 1e-9) else {
            return false;
        };
        rows.swap(at, pivot);
        for i in at + 1..rows.len() {
            let above = rows[at].clone();
            let times = rows[i][at] / above[at];
            rows[i].iter_mut().zip(&above).for_each(|(x, y)| *x -= times * y);
        }
    }
    true
}

#[test]
fn the_interval_is_found_and_holds_the_estimate() {
    let mut random = Random::new(1);
    let (mut sets, mut intervals) = (0, 0);
    while sets < 300 {
        let (x, good) = correlated(&mut random);
        if !told_apart(&x) {
            continue;
        }
        sets += 1;
        let trials = Trials::new(&x, &good).unwrap();
        let fit = trials.fit().unwrap();
        for (j, best) in fit.coefficients.iter().enumerate() {
            let interval = trials.interval(&fit, j, 0.95);
            let (low, high) = interval.unwrap_or_else(|| panic!("{j}: {x:?} {good:?}"));
            assert!(low < *best && *best < high, "{j}: {low} {best} {high}: {x:?} {good:?}");
            // None is outside it where the probability is below 5 %.
            let p = trials.probability(&fit, j).unwrap();
            assert_eq!(p < 0.05, !(low..=high).contains(&0.0), "{j}: {p} {low} {high}: {x:?}");
            intervals += 1;
        }
    }
    assert!(intervals > 1100, "{intervals}");
}

/// A bed and a fan changed after ten failures, ten good trials, and one failure with the bed alone. By
/// hand: three sets of settings and three coefficients, so that half a trial is added to each count: the
/// logarithms of the odds are ln 1/21, ln 1/3 and ln 21.
#[test]
fn one_trial_alone_tells_two_settings_apart() {
    let mut x = vec![vec![0.0, 0.0]; 10];
    x.extend(vec![vec![1.0, 1.0]; 10]);
    x.push(vec![1.0, 0.0]);
    let good: Vec<bool> = (0..21).map(|trial| (10..20).contains(&trial)).collect();
    let trials = Trials::new(&x, &good).unwrap();
    let fit = trials.fit().unwrap();
    for (found, by_hand) in fit.coefficients.iter().zip([1.0 / 21.0, 7.0, 63.0_f64]) {
        assert!((found - by_hand.ln()).abs() < 1e-9, "{fit:?}");
    }
    let (low, high) = trials.interval(&fit, 1, 0.95).unwrap();
    assert!(
        (low.exp() - 0.031_935).abs() < 1e-5 && (high.exp() - 1591.5).abs() < 0.1,
        "{low} {high}"
    );
    assert!(trials.interval(&fit, 1, 0.999_999).is_some());
    assert!(trials.interval(&fit, 3, 0.95).is_none() && trials.interval(&fit, 1, 1.0).is_none());
    // In other units the ends are in those units, and beyond 200 they are not looked for.
    for (unit, found) in [(50.0, true), (0.5, true), (0.001, false)] {
        let scaled: Vec<Vec<f64>> = x.iter().map(|row| vec![unit * row[0], row[1]]).collect();
        let trials = Trials::new(&scaled, &good).unwrap();
        let interval = trials.interval(&trials.fit().unwrap(), 1, 0.95);
        assert_eq!(interval.is_some(), found, "{unit}");
        if let Some(ends) = interval {
            assert!((unit * ends.0 - low).abs() < 1e-6 && (unit * ends.1 - high).abs() < 1e-6);
        }
    }
}
