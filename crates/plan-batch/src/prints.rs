//! Prints assigned to kept pieces of filament.

use crate::book::{Book, Piece};
use crate::options::Settled;
use crate::target::known_printer;
use crate::words::{amount, figures, joined, plural, positive};
use secondmelt_quality::packing::pack;
use secondmelt_record::findings::{Decision, PiecePlan, PieceUse, Verdict};
use secondmelt_record::{Count, Name, NonNegative, Number, Out, Percent, Text};
use std::collections::BTreeSet;

/// What a spool may be lighter than as it was made before it counts as begun, in g.
const BEGUN_G: f64 = 2.0;
const CHECK: &str = "prints-have-pieces";
const RULE: &str = "conforms where every print fits a kept piece, each from one piece without a splice; fails where no assignment places \
                    them all; else undecided";

/// Writes which print is made from which piece, for the printer that is asked for or the only one
/// that pieces were kept for.
pub(crate) fn write(book: &Book, settled: &Settled, out: &mut Out) {
    if settled.prints.is_empty() {
        return;
    }
    if let Some(Err(why)) = settled.printer.as_deref().map(|printer| known_printer(book, printer)) {
        out.write(&verdict(Decision::Undecided, None, why));
        return;
    }
    let (mut gone, mut begun) = (BTreeSet::new(), BTreeSet::new());
    let there: Vec<&Piece> = book
        .pieces
        .iter()
        .filter(|piece| is_of(book, piece, settled.material.as_deref()))
        .filter(|piece| {
            let left = if is_used_up(book, &piece.lot) {
                &mut gone
            } else if is_begun(book, &piece.lot) {
                &mut begun
            } else {
                return true;
            };
            left.insert(piece.lot.clone());
            false
        })
        .collect();
    let told = |lots: BTreeSet<String>, words: &str| {
        let lots: Vec<String> = lots.into_iter().collect();
        if lots.is_empty() { String::new() } else { format!("; {words} {}", joined(&lots)) }
    };
    let some_begun = !begun.is_empty();
    let gone = told(gone, "nothing is left of")
        + &told(begun, "it is not known which pieces are left, since part of it was used, of");
    let machines: BTreeSet<&str> = there.iter().map(|piece| piece.machine.as_str()).collect();
    let only = machines.first().copied().filter(|_| machines.len() == 1);
    let Some(machine) = settled.printer.as_deref().or(only) else {
        let names: Vec<String> = machines.into_iter().map(str::to_owned).collect();
        let why = if names.is_empty() {
            format!("no kept piece is known: let check-tolerance judge the spools first{gone}")
        } else {
            format!("pieces are kept for {}: say for which with --printer", joined(&names))
        };
        out.write(&verdict(Decision::Undecided, None, why));
        return;
    };
    let mut pieces: Vec<&Piece> =
        there.into_iter().filter(|piece| piece.machine == machine).collect();
    pieces.sort_by(|a, b| a.lot.cmp(&b.lot).then(a.from_m.total_cmp(&b.from_m)));
    let lengths: Vec<f64> = settled.prints.iter().map(|print| print.length_m).collect();
    let rooms: Vec<f64> = pieces.iter().map(|piece| piece.length_m).collect();
    let packing = pack(&lengths, &rooms);
    let mut used_m = 0.0;
    for (i, piece) in pieces.iter().enumerate() {
        let here: Vec<usize> =
            (0..lengths.len()).filter(|at| packing.piece_of[*at] == Some(i)).collect();
        let taken: f64 = here.iter().map(|at| lengths[*at]).sum();
        let Some(length_m) = positive(piece.length_m).filter(|_| !here.is_empty()) else {
            continue;
        };
        used_m += taken;
        out.write(&PieceUse {
            lot: Name::from(piece.lot.as_str()),
            machine: Name::from(machine),
            from_m: Number::new(piece.from_m).unwrap_or_default(),
            to_m: Number::new(piece.to_m).unwrap_or_default(),
            length_m,
            prints: here.iter().map(|at| Text::from(settled.prints[*at].name.as_str())).collect(),
            used_m: amount(taken).unwrap_or_default(),
            left_m: amount((piece.length_m - taken).max(0.0)).unwrap_or_default(),
            ..PieceUse::default()
        });
    }
    let left_over: Vec<&str> = settled
        .prints
        .iter()
        .zip(&packing.piece_of)
        .filter(|(_, piece)| piece.is_none())
        .map(|(print, _)| print.name.as_str())
        .collect();
    let all: f64 = rooms.iter().sum();
    out.write(&PiecePlan {
        machine: Name::from(machine),
        prints: Count::from(lengths.len()),
        placed: Count::from(packing.placed),
        placed_at_most: Count::from(packing.placed_at_most),
        pieces: Count::from(packing.pieces),
        pieces_at_least: Count::from(packing.pieces_at_least),
        gap_pct: gap(packing.pieces, packing.pieces_at_least),
        left_over: left_over.iter().map(|name| Text::from(*name)).collect(),
        used_pct: if all > 0.0 {
            Percent::new(figures(100.0 * used_m / all).min(100.0))
        } else {
            None
        },
        ..PiecePlan::default()
    });
    let names: Vec<String> = left_over.iter().map(|name| (*name).to_owned()).collect();
    let (result, why) = if left_over.is_empty() {
        let best = if packing.pieces == packing.pieces_at_least {
            "no assignment needs fewer".to_owned()
        } else {
            format!("{} at least are needed", packing.pieces_at_least)
        };
        (
            Decision::Conforms,
            format!(
                "all prints ({}) fit {}; {best}",
                lengths.len(),
                plural(packing.pieces as u64, "kept piece")
            ),
        )
    } else if packing.placed_at_most < lengths.len() {
        let longest = rooms.iter().fold(0.0, |most: f64, room| most.max(*room));
        let placed = settled.prints.iter().zip(&packing.piece_of);
        let long = placed.filter(|(print, piece)| piece.is_none() && print.length_m > longest);
        let reason = match (long.count(), left_over.len()) {
            (n, of) if n == of => "no piece is long enough for",
            (0, _) => "there is no room left for",
            _ => "no piece is long enough, or there is no room left, for",
        };
        let most = if packing.placed == packing.placed_at_most {
            "no assignment places more".to_owned()
        } else {
            format!("{} at most could", packing.placed_at_most)
        };
        let why = format!(
            "{} of {} prints have a piece, and {most}: {reason} {}",
            packing.placed,
            lengths.len(),
            joined(&names)
        );
        (Decision::Fails, why)
    } else {
        let why = format!(
            "{} of {} prints have a piece; whether a better assignment places {}, too, is not known",
            packing.placed,
            lengths.len(),
            joined(&names)
        );
        (Decision::Undecided, why)
    };
    // What is left of a spool that was begun might do.
    let result = match result {
        Decision::Fails if some_begun => Decision::Undecided,
        other => other,
    };
    out.write(&verdict(result, Some(machine), format!("{why}{gone}")));
}

/// Whether a piece may be of a material: nothing says that it is of another.
fn is_of(book: &Book, piece: &Piece, material: Option<&str>) -> bool {
    let of = book.lots.get(&piece.lot).map(|lot| lot.material.as_str());
    material.is_none() || of.is_none() || of == material
}

/// Whether some of a lot was used, in g more than a scale errs.
fn is_begun(book: &Book, lot: &str) -> bool {
    book.held.get(lot).is_some_and(|held| {
        let by_stock = held.stock_g.is_some_and(|stock_g| held.made_g - stock_g > BEGUN_G);
        held.used_g > BEGUN_G || held.not_weighed || by_stock
    })
}

/// Whether the last that is known of a lot is that nothing is left.
fn is_used_up(book: &Book, lot: &str) -> bool {
    book.held.get(lot).is_some_and(|held| match held.stock_g {
        Some(stock_g) => stock_g <= 0.0,
        None => !held.not_weighed && held.made_g > 0.0 && held.used_g >= held.made_g,
    })
}

#[expect(clippy::cast_precision_loss, reason = "numbers of pieces")]
fn gap(pieces: usize, at_least: usize) -> NonNegative {
    let gap = if at_least == 0 { 0.0 } else { 100.0 * (pieces as f64 / at_least as f64 - 1.0) };
    amount(gap.max(0.0)).unwrap_or_default()
}

fn verdict(result: Decision, machine: Option<&str>, why: String) -> Verdict<'_> {
    Verdict {
        check: Name::from(CHECK),
        result,
        machine: machine.map(Name::from),
        rule: Text::from(RULE),
        why: Text::from(why),
        ..Verdict::default()
    }
}
