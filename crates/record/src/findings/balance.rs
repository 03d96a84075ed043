//! Findings about where masses went, beyond the balance of one step or lot.

use crate::define::{record, words};
use crate::facts::{Origin, Role, Settings, Source};
use crate::quantity::{Count, Fraction, NonNegative, Number, Percent};
use crate::text::{Name, Text};

words! {
    /// What the balances say of a stream.
    StreamClass {
        /// Measured, and checked by other weighings.
        Redundant = "redundant",
        /// Measured, and no other weighing says anything of it.
        JustMeasured = "just measured",
        /// Not measured, and follows from the others.
        Observable = "observable",
        /// Not measured, and does not follow from the others.
        NotObservable = "not observable",
    }
    /// What a slip of the hand would explain a wrong weighing.
    Slip {
        /// Two neighbouring digits changed places.
        Transposition = "digits transposed",
        /// The decimal point slipped, or the unit.
        PowerOfTen = "power of ten",
        /// A container of the lab was weighed with it, or taken off twice.
        Tare = "tare",
        /// No slip that is tried explains it.
        None = "none",
    }
}

record! {
    /// A stream of the network of steps and lots after reconciliation: its mass such that
    /// every balance closes.
    finding "reconciled" => ReconciledStream<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Step.
        need step: Name<'a>;
        /// Lot.
        need lot: Name<'a>;
        /// What the mass is to the step.
        need role: Role;
        /// What the balances say of it.
        need class: StreamClass;
        /// Mass as weighed, in g.
        may measured_g: NonNegative;
        /// Mass that balances, in g, every weighing taken as right: one that is wrong (`suspect`) drives
        /// its neighbours off. Absent where it cannot be told.
        may mass_g: Number;
        /// Its standard uncertainty, in g.
        may u_g: NonNegative;
        /// Measured minus reconciled over the standard deviation of that difference.
        may z: Number;
        /// Where the weighing was written down.
        may src: Source<'a>;
    }

    /// A weighing that is most likely wrong.
    finding "suspect" => Suspect<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Step.
        need step: Name<'a>;
        /// Lot.
        need lot: Name<'a>;
        /// What the mass is to the step.
        need role: Role;
        /// Mass as weighed, in g.
        need measured_g: NonNegative;
        /// What the other weighings put it at, in g.
        need suggested_g: Number;
        /// Standard uncertainty of that, in g.
        may u_suggested_g: NonNegative;
        /// Measured minus suggested, in g.
        need off_g: Number;
        /// Test value of the measurement test.
        need z: Number;
        /// Largest test value that chance explains.
        need critical_z: NonNegative;
        /// The slip that explains it.
        need slip: Slip;
        /// What it would be without the slip, in g.
        may meant_g: NonNegative;
        /// What explains the imbalance just as well, or nearly.
        need or_else: Vec<Text<'a>>;
        /// The reason, in one plain sentence.
        need why: Text<'a>;
        /// Where the weighing was written down.
        may src: Source<'a>;
    }

    /// What a lot is made of, carried through the steps from the lots it came from.
    finding "composition" => Composition<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot.
        need lot: Name<'a>;
        /// Mass share by origin, in per cent (`virgin_pct`, `post_consumer_pct` ...); origin
        /// as it entered the loop.
        need origin: Settings;
        /// Mass share by number of times melted, in per cent (`passes_0_pct` ...).
        need passes: Settings;
        /// Times melted, mean by mass.
        need mean_passes: NonNegative;
        /// Times the oldest part was melted.
        need oldest_passes: Count;
        /// Mass share of the oldest part, in per cent.
        need oldest_pct: Percent;
        /// Mass share of which the number of passes is not known and was taken as none.
        may passes_assumed_pct: Percent;
    }

    /// Recycled content of a lot by ISO 14021, in both readings of the lab's own regrind.
    finding "recycled_content" => RecycledContent<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot.
        need lot: Name<'a>;
        /// Strict reading: in-process regrind counts in the mass and not as recycled, in per cent.
        need strict_pct: Percent;
        /// Boundary reading: in-process regrind carries the content of what entered the loop,
        /// in per cent.
        may boundary_pct: Percent;
        /// Standard uncertainty of the strict reading, from the weighings, in per cent.
        may u_strict_pct: NonNegative;
        /// The strict reading rounded down to a whole per cent, since a marked content is a minimum
        /// (ISO 11469).
        may mark_pct: Percent;
        /// Post-consumer share by the strict reading, in per cent.
        need post_consumer_pct: Percent;
        /// Pre-consumer share by the strict reading, in per cent.
        need pre_consumer_pct: Percent;
        /// Share of unknown origin, which is not counted, in per cent.
        need unknown_pct: Percent;
        /// Chain-of-custody model (ISO 22095).
        need model: Text<'a>;
        /// What the figures do and do not say.
        need rule: Text<'a>;
    }

    /// A lot and one of the lots it came from: the genealogy, up and down. Of a lot that came from more
    /// than 256, those with the largest shares.
    finding "descent" => Descent<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot.
        need lot: Name<'a>;
        /// Lot that some of it came from.
        need from: Name<'a>;
        /// Steps between the two, the fewest.
        need steps: Count;
        /// Share of the lot that came through it, in per cent by mass.
        may share_pct: Percent;
    }

    /// Plastic that went from one lot through a step into another or was lost: one edge of a
    /// mass-flow diagram.
    finding "mass_flow" => MassFlow<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Step.
        need step: Name<'a>;
        /// Lot.
        need lot: Name<'a>;
        /// Which way, and as what.
        need role: Role;
        /// Mass in g: reconciled where it could be, else as weighed.
        need mass_g: NonNegative;
    }

    /// A loss by cause, and over the cycles.
    finding "loss" => Loss<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Cause.
        need cause: Role;
        /// Times the plastic had been melted before; absent for all together.
        may passes: Count;
        /// Mass lost, in g.
        need mass_g: NonNegative;
        /// Share of what entered the steps in question, in per cent.
        may share_pct: NonNegative;
    }

    /// How a loss by one cause goes with the cycles: a straight line of its share over the times the
    /// plastic had been melted.
    finding "loss_trend" => LossTrend<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Cause.
        need cause: Role;
        /// Cycles with such a loss.
        need cycles: Count;
        /// Change of its share of what entered, in per cent per pass.
        need change_pct_per_pass: Number;
        /// Lower end of the 95 % interval of the change (Student t).
        may low_pct_per_pass: Number;
        /// Upper end of the same.
        may high_pct_per_pass: Number;
        /// Probability of so steep a line were there no trend.
        may probability: Fraction;
    }

    /// Yield rolled through the steps: of a lot, from the lots no step made to this one; of a
    /// cycle, or of all, the product of the yields of each kind of step. Of dry masses where the
    /// moisture is known.
    finding "rolled_yield" => RolledYield<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot it is of.
        may lot: Name<'a>;
        /// Cycle it is of: times the plastic had been melted before; absent with `lot`, and for all.
        may passes: Count;
        /// Good product over what entered, in per cent.
        need yield_pct: NonNegative;
        /// Standard uncertainty, from the weighings alone, in per cent.
        may u_yield_pct: NonNegative;
        /// Steps in a row that it is rolled through, the most; kinds of step for a cycle.
        need stages: Count;
    }

    /// What filament took in energy and money.
    finding "outlay" => Outlay<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Step; absent for the whole.
        may step: Name<'a>;
        /// Good filament that it is spread over, in kg.
        need filament_kg: NonNegative;
        /// Energy, in kWh for each kg of good filament. Absent where no step carries one.
        may energy_kwh_kg: NonNegative;
        /// Share of all energy, in per cent.
        may energy_pct: Percent;
        /// Cost for each kg of good filament.
        may cost_per_kg: NonNegative;
        /// Share of all cost, in per cent.
        may cost_pct: Percent;
        /// Currency (ISO 4217).
        may currency: Name<'a>;
        /// Steps that carry neither and are not in it.
        may steps_without: Count;
    }
}

/// The name of an origin's share in a `composition`.
#[must_use]
pub fn origin_share(origin: Origin) -> String {
    format!("{}_pct", origin.as_str().replace('-', "_"))
}
