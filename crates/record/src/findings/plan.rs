//! Findings about a batch to come: feed, time, samples, stages of growth, prints from kept pieces.

use super::Decision;
use crate::define::record;
use crate::facts::{Does, Form};
use crate::quantity::{Count, NonNegative, Number, Percent, Positive};
use crate::text::{Name, Text, Time};

record! {
    /// The feed that a batch takes, from plastic of one form or from one lot.
    finding "feed_need" => FeedNeed<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Material (ISO 1043-1); absent where no record names one.
        may material: Name<'a>;
        /// Lot it would be made from; absent for any lot of the form.
        may lot: Name<'a>;
        /// Form of the feed.
        need form: Form;
        /// Good filament that is wanted, in g.
        need target_g: Positive;
        /// Spools of it, where they were asked for.
        may spools: Count;
        /// Stages from the feed to the filament, each with its typical yield and runs behind it.
        need stages: Vec<Text<'a>>;
        /// Typical yield of all stages, in per cent.
        need yield_pct: Positive;
        /// Feed that is needed at the typical yield, in g.
        need feed_g: Positive;
        /// Lower end of the 95 % prediction interval of the feed that the batch will turn out to
        /// need, in g. Absent, as are the next two, where a stage has been weighed only once.
        may low_g: Positive;
        /// Upper end of that interval, in g.
        may high_g: Positive;
        /// Feed that is enough with a probability of 95 %, in g.
        may enough_g: Positive;
        /// What there is of the lot, in g.
        may have_g: NonNegative;
        /// Good filament that this gives at the typical yield, in g.
        may makes_g: NonNegative;
        /// Lower end of its 95 % prediction interval, in g.
        may makes_low_g: NonNegative;
        /// Upper end of the same, in g.
        may makes_high_g: NonNegative;
    }

    /// The time that a stage of a batch takes on its machine.
    finding "machine_time" => MachineTime<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// The stage.
        need does: Does;
        /// Its machine, where one is known.
        may machine: Name<'a>;
        /// Plastic that goes in, in g.
        need mass_g: Positive;
        /// Rate, in kg/h.
        may rate_kg_h: Positive;
        /// Loads, where it takes one load after another.
        may loads: Count;
        /// Hours.
        need hours: NonNegative;
        /// Hours at the lower end of the feed's interval.
        may low_h: NonNegative;
        /// Hours at its upper end.
        may high_h: NonNegative;
        /// When it starts, one stage after another, where a start was given.
        may from: Time<'a>;
        /// When it is done.
        may to: Time<'a>;
        /// When it is done at the latest, where this stage and all before it take `high_h`.
        may latest: Time<'a>;
        /// Where the rate is from.
        need basis: Text<'a>;
    }

    /// Readings or samples to take of a batch.
    finding "reading_plan" => ReadingPlan<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// What is read.
        need what: Name<'a>;
        /// Readings of each spool, or fillings of each batch.
        need each: Count;
        /// In all.
        need in_all: Count;
        /// Plastic to set aside for it, in g.
        may mass_g: NonNegative;
        /// Where the number is from.
        need basis: Text<'a>;
    }

    /// One stage of growing to the size of a batch: what it makes, and what opens the next.
    finding "batch_stage" => BatchStage<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Number of the stage, from 1.
        need stage: Count;
        /// Stages in all.
        need of: Count;
        /// Good filament that it makes, in g.
        need product_g: Positive;
        /// Feed that it takes at the typical yield, in g. Absent where a yield is not known.
        may feed_g: Positive;
        /// Whether it may begin now.
        need open: Decision;
        /// What must hold at its end before the next one begins.
        need gate: Text<'a>;
        /// Why it is open, or is not, in one plain sentence.
        need why: Text<'a>;
    }

    /// A kept piece of filament and the prints that are made from it.
    finding "piece_use" => PieceUse<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot (spool).
        need lot: Name<'a>;
        /// Printer.
        need machine: Name<'a>;
        /// Where the piece starts, in m.
        need from_m: Number;
        /// Where it ends, in m.
        need to_m: Number;
        /// Its length, in m.
        need length_m: Positive;
        /// Prints from it.
        need prints: Vec<Text<'a>>;
        /// Length that they take, in m.
        need used_m: NonNegative;
        /// Length that is left over, in m.
        need left_m: NonNegative;
    }

    /// How well prints were assigned to kept pieces, beside the best that could be.
    finding "piece_plan" => PiecePlan<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Printer.
        need machine: Name<'a>;
        /// Prints asked for.
        need prints: Count;
        /// Prints that have a piece.
        need placed: Count;
        /// No assignment places more.
        need placed_at_most: Count;
        /// Pieces that are begun.
        need pieces: Count;
        /// No assignment of the same prints begins fewer.
        need pieces_at_least: Count;
        /// Gap to the best that could be: pieces begun beyond the bound, in per cent of it.
        need gap_pct: NonNegative;
        /// Prints without a piece.
        need left_over: Vec<Text<'a>>;
        /// Share of the kept filament that is used, in per cent.
        may used_pct: Percent;
    }
}
