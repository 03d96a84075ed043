//! Packing of lengths into pieces, against packings worked out by trying all of them.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use secondmelt_quality::packing::{Packing, pack};
use secondmelt_quality::random::Random;

/// Most lengths that can be placed, and fewest pieces for so many, by trying everything.
fn by_trying(lengths: &[f64], pieces: &[f64]) -> (usize, usize) {
    fn go(
        lengths: &[f64],
        left: &mut Vec<f64>,
        full: &[f64],
        placed: usize,
        best: &mut (usize, usize),
    ) {
        let Some((first, rest)) = lengths.split_first() else {
            let begun = left.iter().zip(full).filter(|(a, b)| a != b).count();
            if placed > best.0 || (placed == best.0 && begun < best.1) {
                *best = (placed, begun);
            }
            return;
        };
        for bin in 0..left.len() {
            if left[bin] >= *first {
                let room = left[bin];
                left[bin] -= first;
                go(rest, left, full, placed + 1, best);
                left[bin] = room;
            }
        }
        go(rest, left, full, placed, best);
    }
    let mut best = (0, 0);
    go(lengths, &mut pieces.to_vec(), pieces, 0, &mut best);
    best
}

fn holds(packing: &Packing, lengths: &[f64], pieces: &[f64]) {
    let mut used = vec![0.0; pieces.len()];
    for (length, piece) in lengths.iter().zip(&packing.piece_of) {
        if let Some(piece) = piece {
            used[*piece] += length;
        }
    }
    assert!(used.iter().zip(pieces).all(|(used, piece)| *used <= piece + 1e-6), "{packing:?}");
    assert_eq!(packing.placed, packing.piece_of.iter().flatten().count());
    assert_eq!(packing.pieces, used.iter().filter(|used| **used > 0.0).count());
    assert!(packing.placed <= packing.placed_at_most && packing.pieces_at_least <= packing.pieces);
}

#[test]
fn no_packing_found_by_trying_all_is_better_and_the_bounds_hold() {
    let mut random = Random::new(3);
    let mut hard = 0;
    for _ in 0..300 {
        let lengths: Vec<f64> =
            (0..random.below(6) + 1).map(|_| (random.below(40) + 1) as f64).collect();
        let pieces: Vec<f64> =
            (0..random.below(4) + 1).map(|_| (random.below(60) + 1) as f64).collect();
        let packing = pack(&lengths, &pieces);
        holds(&packing, &lengths, &pieces);
        let (placed, begun) = by_trying(&lengths, &pieces);
        assert_eq!(packing.placed, placed, "{lengths:?} {pieces:?} {packing:?}");
        // So few lengths are searched to the end, and that no more fit is proven.
        assert_eq!(packing.placed_at_most, placed, "{lengths:?} {pieces:?} {packing:?}");
        // The lengths that are cut may be others of the same number; of those the fewest pieces.
        assert!(packing.pieces >= begun && packing.pieces_at_least <= packing.pieces);
        if packing.placed == lengths.len() {
            assert_eq!(packing.pieces, begun, "{lengths:?} {pieces:?} {packing:?}");
            assert_eq!(packing.pieces_at_least, begun);
        }
        hard += usize::from(packing.placed < lengths.len());
    }
    assert!(hard > 50, "{hard}");
}

/// Best fit, the longest first, begins three pieces of ten here; two do: 6 + 2 + 2 and 5 + 5 are easy, but
/// 4 + 3 + 3 twice is what it misses with 4, 4, 3, 3, 3, 3 in pieces of ten.
#[test]
fn the_search_finds_what_best_fit_misses() {
    let packing = pack(&[4.0, 4.0, 3.0, 3.0, 3.0, 3.0], &[10.0, 10.0, 10.0]);
    assert_eq!((packing.placed, packing.pieces, packing.pieces_at_least), (6, 2, 2));
}

#[test]
fn what_fits_nowhere_is_left_over() {
    let packing = pack(&[50.0, 5.0, f64::NAN, -1.0, 0.0], &[20.0, 10.0]);
    assert_eq!(packing.piece_of, [None, Some(1), None, None, None]);
    assert_eq!((packing.placed, packing.pieces), (1, 1));
    let none = pack(&[5.0], &[]);
    assert_eq!((none.placed, none.placed_at_most, none.pieces), (0, 0, 0));
    // Rounding in the log is no reason to leave one over.
    assert_eq!(pack(&[0.1, 0.2], &[0.3]).placed, 2);
}

/// Fewest pieces come first, so that 3 and 5 m share the spool; 5 m alone go into the shortest piece that holds them. Of lids of 4.2 m a piece
/// of 10 holds two, so that two of them hold four, whatever is left of each.
#[test]
fn short_pieces_are_used_up_first_and_no_piece_holds_a_part_of_a_length() {
    assert_eq!(pack(&[5.0, 3.0], &[400.0, 6.0, 4.0]).piece_of, [Some(0), Some(0)]);
    assert_eq!(pack(&[5.0], &[400.0, 6.0, 4.0]).piece_of, [Some(1)]);
    let lids = pack(&[4.2; 6], &[10.0, 10.0]);
    assert_eq!((lids.placed, lids.placed_at_most), (4, 4));
    let many = pack(&[4.2; 400], &[10.0; 140]);
    assert_eq!((many.placed, many.placed_at_most), (280, 280));
}

#[test]
fn hundreds_of_prints_are_packed_within_a_gap_that_is_told() {
    let mut random = Random::new(4);
    let lengths: Vec<f64> = (0..400).map(|_| 2.0 + 30.0 * random.uniform()).collect();
    let pieces: Vec<f64> = (0..120).map(|_| 20.0 + 80.0 * random.uniform()).collect();
    let packing = pack(&lengths, &pieces);
    holds(&packing, &lengths, &pieces);
    assert!(packing.placed_at_most - packing.placed <= 4, "{packing:?}");
    assert!(packing.pieces - packing.pieces_at_least <= 4, "{packing:?}");
}
