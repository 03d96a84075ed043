//! Which of several settings made the difference: cases worked by hand, and how often the answer is
//! wrong, by simulation; the table stands in the documentation of `separating`.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use secondmelt_quality::random::Random;
use secondmelt_quality::separating::{May, Tried, weigh};

const FREE: May = May { stay: true, go_back: true };

fn tried(as_good: &[bool], good: bool) -> Tried {
    Tried { as_good: as_good.to_vec(), good }
}

/// Worked by hand: two settings changed, one failed and one good trial. The likelihoods are 1/6 for
/// none (beforehand 1/3) and 1/4 for every other explanation (the first, the second: 1/6 each; both in
/// three ways: 1/9 each), so that the probabilities are 1/4; 3/16, 3/16; and 1/8 three times. With one
/// setting put back the chance of a good trial is 1/3 by that one and by both needed, 2/3 by the
/// other one and by any enough, and 1/2 by none and by each combination of its own, whose mean is
/// 1/2: 1 - (5/8 H(1/3) + 3/8) bits.
#[test]
fn one_of_two_settings_is_put_back() {
    let weighed = weigh(2, &[tried(&[false, false], false), tried(&[true, true], true)]).unwrap();
    let made = [0, 1].map(|at| weighed.made(at).unwrap());
    for (p, expected) in [made[0].probability, made[1].probability, weighed.none()]
        .into_iter()
        .zip([9.0 / 16.0, 9.0 / 16.0, 0.25])
    {
        assert!((p - expected).abs() < 1e-12, "{made:?}");
    }
    assert!(made.iter().all(|made| made.helps) && weighed.made(2).is_none());
    let open = 0.25 * 2.0 + 0.375 * (16.0_f64 / 3.0).log2() + 0.375 * 3.0;
    assert!((weighed.open_bits() - open).abs() < 1e-12);
    let next = weighed.next(&[FREE, FREE]).unwrap();
    assert_eq!(next.as_good, [false, true]);
    let third = -(1.0_f64 / 3.0).log2() / 3.0 - 2.0 / 3.0 * (2.0_f64 / 3.0).log2();
    assert!((next.bits - (0.625 - 0.625 * third)).abs() < 1e-12, "{next:?}");
    // The first must stay, so the second is put back; where both must stay the good trial is repeated.
    let stay = May { stay: true, go_back: false };
    assert_eq!(weighed.next(&[stay, FREE]).unwrap().as_good, [true, false]);
    assert_eq!(weighed.next(&[stay, stay]).unwrap().as_good, [true, true]);
    assert!(weighed.next(&[FREE, May { stay: false, go_back: false }]).is_none());
    assert!(weighed.next(&[FREE]).is_none());
}

#[test]
fn of_four_settings_some_are_put_back_and_the_others_are_looked_at_next() {
    let start = [tried(&[false; 4], false), tried(&[true; 4], true)];
    let next = weigh(4, &start).unwrap().next(&[FREE; 4]).unwrap();
    let back = next.as_good.iter().filter(|kept| !**kept).count();
    assert!((1..=3).contains(&back), "{next:?}");
    // The first two put back and still good, five times: it is the others.
    let mut more = start.to_vec();
    more.extend((0..5).map(|_| tried(&[false, false, true, true], true)));
    let weighed = weigh(4, &more).unwrap();
    let p = |at: usize| weighed.made(at).unwrap().probability;
    assert!(p(2) > p(0) + 0.1 && (p(0) - p(1)).abs() < 1e-12, "{} {}", p(2), p(0));
    let again = weighed.next(&[FREE; 4]).unwrap();
    assert!(again.as_good != [false, false, true, true] && again.bits > 0.1, "{again:?}");
    assert!(weigh(0, &[]).is_none() && weigh(11, &[]).is_none());
    assert!(weigh(2, &[tried(&[true], true)]).is_none());
    let all = weigh(10, &[tried(&[false; 10], false), tried(&[true; 10], true)]).unwrap();
    assert!(all.none() > 0.0 && all.next(&[FREE; 10]).unwrap().bits > 0.01);
}

/// Trials of two settings, so many of each combination; `chance` by whether the first and the second are as in
/// the good trial.
fn crossed(random: &mut Random, each: usize, chance: [[f64; 2]; 2]) -> Vec<Tried> {
    let mut trials = Vec::new();
    for (first, second) in [(false, false), (false, true), (true, false), (true, true)] {
        for _ in 0..each {
            let good = random.uniform() < chance[usize::from(first)][usize::from(second)];
            trials.push(tried(&[first, second], good));
        }
    }
    trials
}

const LABS: usize = 2000;

#[test]
fn what_is_claimed_is_seldom_wrong() {
    // Chances with none, the second, the first and both as in the good trial; whether each matters, and whether
    // so much that sixteen trials of each combination show it.
    let rows = [
        ([[0.5, 0.5], [0.5, 0.5]], [false, false], [false, false]),
        ([[0.9, 0.9], [0.9, 0.9]], [false, false], [false, false]),
        ([[0.1, 0.1], [0.9, 0.9]], [true, false], [true, false]),
        ([[0.3, 0.3], [0.9, 0.9]], [true, false], [true, false]),
        ([[0.1, 0.1], [0.1, 0.9]], [true, true], [true, true]),
        ([[0.1, 0.9], [0.9, 0.9]], [true, true], [true, true]),
        ([[0.1, 0.5], [0.5, 0.9]], [true, true], [false, false]),
        ([[0.05, 0.3], [0.7, 0.95]], [true, true], [true, false]),
    ];
    for (seed, (chance, matters, much)) in rows.into_iter().enumerate() {
        let mut random = Random::new(seed as u64);
        for each in [4, 8, 16] {
            let (mut named, mut cleared) = ([0_u32; 2], [0_u32; 2]);
            for _ in 0..LABS {
                let weighed = weigh(2, &crossed(&mut random, each, chance)).unwrap();
                for at in 0..2 {
                    let made = weighed.made(at).unwrap();
                    named[at] += u32::from(made.probability >= 0.95 && made.helps);
                    cleared[at] += u32::from(made.probability <= 0.05);
                }
            }
            let pct = |n: u32| 100.0 * f64::from(n) / LABS as f64;
            let [[a, b], [c, d]] = chance;
            println!(
                "//! | {a}, {b}, {c}, {d} | {each} | {:.1} | {:.1} | {:.1} | {:.1} |",
                pct(named[0]),
                pct(named[1]),
                pct(cleared[0]),
                pct(cleared[1])
            );
            for (at, matters) in matters.into_iter().enumerate() {
                let wrong = if matters { cleared[at] } else { named[at] };
                assert!(pct(wrong) <= 2.5, "{chance:?} {each}: {at} wrong in {:.1} %", pct(wrong));
                let shown = each < 16 || !much[at] || pct(named[at]) > 90.0;
                assert!(shown, "{chance:?}: {at} named in {:.1} %", pct(named[at]));
            }
        }
    }
}
