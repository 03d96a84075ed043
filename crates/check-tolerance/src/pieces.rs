//! The cut list: which stretches of a spool to keep for a machine.

use crate::reading::rounded;
use secondmelt_record::findings::Piece;
use secondmelt_record::{Name, NonNegative, Number, Out};

/// Pieces so far.
#[derive(Debug)]
pub struct Pieces {
    piece_m: f64,
    margin_m: f64,
    /// Up to where the list is written.
    edge_m: Option<f64>,
    /// Where the stretch in hand began to be good.
    good_m: Option<f64>,
    /// Pieces kept.
    pub kept: u64,
    /// Their length.
    pub kept_m: f64,
}

impl Pieces {
    /// No piece yet. A piece is kept from `piece_m` on, and ends `margin_m` before what is
    /// out.
    pub fn new(piece_m: f64, margin_m: f64) -> Self {
        Self { piece_m, margin_m, edge_m: None, good_m: None, kept: 0, kept_m: 0.0 }
    }

    /// A good reading, whose stretch begins at `from_m`; positions go in `direction`.
    #[inline]
    pub fn good(&mut self, from_m: f64, direction: f64) {
        if self.good_m.is_some() {
            return;
        }
        // Nothing lies before the first reading, so nothing is to be cut off there.
        let first = self.edge_m.is_none();
        self.edge_m.get_or_insert(from_m);
        self.good_m = Some(if first { from_m } else { from_m + direction * self.margin_m });
    }

    /// What came before this position is dropped, and so is what is in hand.
    pub fn begin_at(&mut self, from_m: f64) {
        self.edge_m = Some(from_m);
        self.good_m = self.good_m.map(|_| from_m);
    }

    /// A reading outside, whose stretch begins at `from_m`.
    pub fn bad(&mut self, from_m: f64, of: Of<'_>, out: &mut Out) {
        self.edge_m.get_or_insert(from_m);
        self.end(from_m - of.direction * self.margin_m, of, out);
    }

    /// The last reading before a gap, a step back or the end stands at `to_m`.
    pub fn close(&mut self, to_m: f64, of: Of<'_>, out: &mut Out) {
        self.end(to_m, of, out);
        if let Some(edge) = self.edge_m.take().filter(|edge| of.length_m(*edge, to_m) > 0.0) {
            out.write(&of.piece(false, edge, to_m));
        }
    }

    /// Ends the good stretch in hand; it is kept where it is long enough.
    fn end(&mut self, to_m: f64, of: Of<'_>, out: &mut Out) {
        let (Some(from_m), Some(edge)) = (self.good_m.take(), self.edge_m) else { return };
        // A stretch at least as long as is wanted, by what decimals can tell.
        let length_m = of.length_m(from_m, to_m);
        if rounded(length_m) < self.piece_m {
            return;
        }
        if of.length_m(edge, from_m) > 0.0 {
            out.write(&of.piece(false, edge, from_m));
        }
        out.write(&of.piece(true, from_m, to_m));
        self.edge_m = Some(to_m);
        self.kept += 1;
        self.kept_m += length_m;
    }
}

/// Whose piece it is.
#[derive(Debug, Clone, Copy)]
pub struct Of<'a> {
    /// Lot.
    pub lot: &'a str,
    /// Machine.
    pub machine: &'a str,
    /// Which way positions go: 1 or -1.
    pub direction: f64,
}

impl Of<'_> {
    /// Length from one position on to another, negative for one further back.
    fn length_m(&self, from_m: f64, to_m: f64) -> f64 {
        (to_m - from_m) * self.direction
    }

    fn piece(&self, keep: bool, from_m: f64, to_m: f64) -> Piece<'_> {
        let at = |m: f64| Number::new(rounded(m)).unwrap_or_default();
        let length = NonNegative::new(rounded(self.length_m(from_m, to_m)));
        Piece {
            lot: Name::from(self.lot),
            machine: Name::from(self.machine),
            keep,
            from_m: at(from_m),
            to_m: at(to_m),
            length_m: length.unwrap_or_default(),
            ..Piece::default()
        }
    }
}
