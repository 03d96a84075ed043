//! Screening designs: balance, resolution and aliases by algebra on their columns.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use secondmelt_quality::designs::{Design, RUNS, design, fewest_runs, letter};

fn all() -> Vec<(usize, usize, Design)> {
    let sizes = (2..20).flat_map(|k| RUNS.map(|runs| (k, runs)));
    sizes.filter_map(|(k, runs)| Some((k, runs, design(k, runs)?))).collect()
}

#[test]
fn every_setting_is_balanced_and_any_two_are() {
    let designs = all();
    assert!(designs.len() > 40, "{}", designs.len());
    for (k, runs, design) in designs {
        assert_eq!((design.rows.len(), design.settings()), (runs, k));
        for a in 0..k {
            assert!(design.together(&[a], &[]).abs() < 1e-12, "{k} in {runs}");
            for b in a + 1..k {
                assert!(design.together(&[a], &[b]).abs() < 1e-12, "{k} in {runs}");
            }
        }
    }
}

/// Shortest product of columns that is the same in every run, from the columns alone.
fn shortest_word(design: &Design) -> Option<usize> {
    let k = design.settings();
    let words = (1_u32..1 << k).filter(|word| {
        let of: Vec<usize> = (0..k).filter(|s| word >> s & 1 == 1).collect();
        design.together(&of, &[]).abs() > 0.999
    });
    words.map(|word| word.count_ones() as usize).min()
}

/// Resolution as printed: Box, Hunter and Hunter (1978), table 12.15; NIST/SEMATECH e-Handbook
/// 5.3.3.4.7 (from memory).
#[test]
fn the_resolution_is_the_printed_one() {
    let printed = [
        (3, 4, 3),
        (4, 8, 4),
        (5, 8, 3),
        (6, 8, 3),
        (7, 8, 3),
        (5, 16, 5),
        (6, 16, 4),
        (7, 16, 4),
        (8, 16, 4),
        (9, 16, 3),
        (6, 32, 6),
        (7, 32, 4),
        (8, 32, 4),
    ];
    for (k, runs, resolution) in printed {
        let design = design(k, runs).unwrap();
        assert_eq!(design.resolution, Some(resolution), "{k} in {runs}");
        assert_eq!(shortest_word(&design), Some(resolution), "{k} in {runs}");
        assert!(!design.aliases().is_empty() || resolution > 4);
    }
    for (k, runs) in [(2, 4), (3, 8), (4, 16), (5, 32)] {
        let full = design(k, runs).unwrap();
        assert_eq!((full.resolution, shortest_word(&full)), (None, None));
        assert!(full.aliases().is_empty());
        assert_eq!(full.rows.iter().collect::<std::collections::BTreeSet<_>>().len(), runs);
    }
}

/// The aliases of the half fraction of three and of the eighth fraction of six as every textbook
/// works them out (I = ABC; I = ABD = ACE = BCF ...).
#[test]
fn aliases_follow_from_the_defining_relation() {
    assert_eq!(design(3, 4).unwrap().aliases(), ["A = BC", "B = AC", "C = AB"]);
    let eighth = design(6, 8).unwrap().aliases();
    assert!(eighth.contains(&"A = BD = CE".to_owned()), "{eighth:?}");
    assert!(eighth.contains(&"AF = BE = CD".to_owned()), "{eighth:?}");
    let half = design(4, 8).unwrap().aliases();
    assert_eq!(half, ["AB = CD", "AC = BD", "AD = BC"]);
    assert!(design(5, 16).unwrap().aliases().is_empty());
}

/// Rows of the design for 12 runs as printed by Plackett and Burman (1946) and in the NIST/SEMATECH
/// e-Handbook, 5.3.3.5 (from memory).
#[test]
fn twelve_and_twenty_runs_are_those_of_plackett_and_burman() {
    let twelve = design(11, 12).unwrap();
    let text =
        |row: &[i8]| -> String { row.iter().map(|x| if *x > 0 { '+' } else { '-' }).collect() };
    assert_eq!(text(&twelve.rows[0]), "++-+++---+-");
    assert_eq!(text(&twelve.rows[1]), "-++-+++---+");
    assert_eq!(text(&twelve.rows[11]), "-----------");
    let twenty = design(19, 20).unwrap();
    assert_eq!(text(&twenty.rows[0]), "++--++++-+-+----++-");
    assert_eq!(text(&twenty.rows[1]), "-++--++++-+-+----++");
    // In twelve runs a main effect is mixed with a third of every interaction of two others
    // (Hamada and Wu 1992, J. Quality Technol. 24:130), in twenty with a fifth or three fifths.
    for (design, parts) in [(&twelve, [1.0 / 3.0, 1.0 / 3.0]), (&twenty, [0.2, 0.6])] {
        let k = design.settings();
        for a in 0..k {
            for b in 0..k {
                for c in b + 1..k {
                    let part = design.together(&[a], &[b, c]).abs();
                    let own = a == b || a == c;
                    assert!(if own {
                        part < 1e-9
                    } else {
                        parts.iter().any(|p| (p - part).abs() < 1e-9)
                    });
                }
            }
        }
    }
    assert_eq!(
        twelve.aliases(),
        ["each main effect is mixed with a third of every interaction of two others"]
    );
    assert!(design(4, 12).unwrap().aliases()[0].starts_with("A = "));
}

#[test]
fn the_fewest_runs_hold_every_setting() {
    let found: Vec<_> = (2..20).map(|k| fewest_runs(k).unwrap()).collect();
    assert_eq!(found, [4, 4, 8, 8, 8, 8, 12, 12, 12, 12, 20, 20, 20, 20, 20, 20, 20, 20]);
    assert!(fewest_runs(20).is_none() && fewest_runs(1).is_none() && design(3, 7).is_none());
    assert_eq!((letter(0), letter(8), letter(19)), (Some('A'), Some('J'), None));
}
