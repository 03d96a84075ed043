//! Findings: what the filters worked out.

mod balance;
mod charts;
mod cycle;
mod feed;
mod plan;
mod trials;

pub use balance::*;
pub use charts::*;
pub use cycle::*;
pub use feed::*;
pub use plan::*;
pub use trials::*;

use crate::define::{record, words};
use crate::facts::{Does, Part, Settings};
use crate::quantity::{Celsius, Count, Fraction, NonNegative, Number, Percent, Positive};
use crate::text::{Name, Text};

words! {
    /// A decision.
    Decision {
        /// The evidence does not settle it.
        Undecided = "undecided",
        /// What was asked holds.
        Conforms = "conforms",
        /// What was asked does not hold.
        Fails = "fails",
    }
    /// Which limit was passed.
    Side {
        /// Above the upper limit.
        Above = "above",
        /// Below the lower limit.
        Below = "below",
        /// Above and below within one excursion.
        Both = "both",
    }
}

record! {
    /// A decision about a lot, step or machine.
    finding "verdict" => Verdict<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// What was checked.
        need check: Name<'a>;
        /// The decision.
        need result: Decision;
        /// Lot it concerns.
        may lot: Name<'a>;
        /// Step it concerns.
        may step: Name<'a>;
        /// Machine it concerns.
        may machine: Name<'a>;
        /// Material it concerns (ISO 1043-1), where it is of no one lot.
        may material: Name<'a>;
        /// The value that decided.
        may value: Number;
        /// The limit it was held against.
        may limit: Number;
        /// Unit of both.
        may unit: Text<'a>;
        /// The rule of decision.
        need rule: Text<'a>;
        /// Probability that what was asked holds, where the rule gives one.
        may probability: Fraction;
        /// The reason, in one plain sentence.
        need why: Text<'a>;
    }

    /// A change that is proposed.
    finding "adjustment" => Adjustment<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Setting to change, its unit in the name.
        need what: Name<'a>;
        /// Lot it was worked out from.
        may lot: Name<'a>;
        /// Step it was worked out from.
        may step: Name<'a>;
        /// Machine to change it on.
        may machine: Name<'a>;
        /// Value now.
        may from: Number;
        /// Value proposed.
        may to: Number;
        /// Lower end of the interval of the proposed value.
        may low: Number;
        /// Upper end of the interval of the proposed value.
        may high: Number;
        /// Unit of all four.
        need unit: Text<'a>;
        /// The reason, in one plain sentence.
        need because: Text<'a>;
        /// Formula or standard it rests on.
        need basis: Text<'a>;
        /// Level of confidence of the interval; 0 where it is a usual range that claims none.
        may confidence: Fraction;
    }

    /// A danger, and whose word comes before ours.
    finding "caution" => Caution<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot it concerns.
        may lot: Name<'a>;
        /// Step it concerns.
        may step: Name<'a>;
        /// Machine it concerns.
        may machine: Name<'a>;
        /// The danger and the usual care.
        need danger: Text<'a>;
        /// Rules and licensed practice that come first.
        need defer_to: Text<'a>;
    }

    /// The diameter of a lot in figures.
    finding "diameter_summary" => DiameterSummary<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot (spool).
        need lot: Name<'a>;
        /// Number of readings.
        need readings: Count;
        /// Axes that every reading has.
        need axes: Count;
        /// Mean of the diameters, each reading the mean of its axes, in mm.
        need mean_mm: Number;
        /// Standard deviation of the same (divisor n - 1), in mm. Absent for one reading.
        may sd_mm: NonNegative;
        /// Smallest diameter along any axis, in mm.
        need min_mm: Number;
        /// Largest diameter along any axis, in mm.
        need max_mm: Number;
        /// Diameter of the circle whose area is the mean of the readings' areas, in mm; an area is
        /// pi/4 times the squared geometric mean of its axes. Flow follows this one.
        need area_mm: Number;
        /// Number of independent readings that would fix the mean as well: n (1 - r) / (1 + r) with
        /// r the lag-1 autocorrelation, at most n (Bayley and Hammersley 1946).
        may effective_readings: NonNegative;
        /// Lower end of the 95 % interval of `mean_mm` by Student's t with the effective number
        /// of readings, in mm. The uncertainty of the gauge is not in it.
        may mean_low_mm: Number;
        /// Upper end of the same interval, in mm.
        may mean_high_mm: Number;
        /// Largest reading (mean of axes) that at most 1 % of the readings lie below, in mm. Exact:
        /// the ceil(n p)-th smallest. Absent where the readings have too many different values.
        may p01_mm: Number;
        /// The same for 5 %.
        may p05_mm: Number;
        /// The median in the same sense, the lower of two.
        may median_mm: Number;
        /// The same for 95 %.
        may p95_mm: Number;
        /// The same for 99 %.
        may p99_mm: Number;
        /// Lag-1 autocorrelation of the readings (means of axes), in order of reading; absent
        /// where all are equal.
        may lag1: Number;
        /// Mean along the first axis, in mm.
        may dx_mean_mm: Number;
        /// Standard deviation along the first axis, in mm.
        may dx_sd_mm: NonNegative;
        /// Mean along the second axis, in mm.
        may dy_mean_mm: Number;
        /// Standard deviation along the second axis, in mm.
        may dy_sd_mm: NonNegative;
        /// Mean along the third axis, in mm.
        may dz_mean_mm: Number;
        /// Standard deviation along the third axis, in mm.
        may dz_sd_mm: NonNegative;
        /// Mean ovality (largest minus smallest axis of a reading), in mm. Two axes see only part of
        /// it: nothing of an ellipse at 45 degrees to them, and 2/pi (64 %) of it on average over all
        /// angles where the filament does not turn; no axis sees an odd number of lobes.
        may ovality_mean_mm: NonNegative;
        /// Largest ovality, in mm.
        may ovality_max_mm: NonNegative;
        /// Where it is, in m.
        may ovality_max_at_m: Number;
        /// Position of the first reading, in m.
        may from_m: Number;
        /// Position of the last reading, in m.
        may to_m: Number;
        /// Length covered by the readings, gaps in the log left out, in m.
        may length_m: NonNegative;
        /// Length of the gaps in the log, which nobody read, in m.
        may unread_m: NonNegative;
        /// Speed of the line by which times were turned into positions, in m/min; absent where
        /// positions were read.
        may line_speed_m_min: Positive;
        /// Mass of that length, in g, where a `material` record gives the density.
        may mass_g: NonNegative;
        /// Gaps in the log.
        may gaps: Count;
        /// Readings whose position or time is not after that of the reading before.
        need out_of_order: Count;
        /// Gauge that read it, where every reading names the same.
        may gauge: Name<'a>;
    }

    /// A stretch of filament outside the tolerance of a machine.
    finding "excursion" => Excursion<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot (spool).
        need lot: Name<'a>;
        /// Machine whose tolerance is meant.
        need machine: Name<'a>;
        /// Limit that was passed.
        need side: Side;
        /// Readings outside.
        need readings: Count;
        /// Number of the first reading outside, counted from 1 within the lot.
        need first_reading: Count;
        /// Position of the first reading outside, in m.
        may from_m: Number;
        /// Position of the last reading outside, in m.
        may to_m: Number;
        /// Length from the first to the last reading outside and half-way to the neighbours of
        /// both, in m. Readings inside between two that are close together are in it.
        may length_m: NonNegative;
        /// Time of the first reading outside, in s.
        may from_s: Number;
        /// Time of the last reading outside, in s.
        may to_s: Number;
        /// The diameter furthest from nominal, in mm.
        need worst_mm: Number;
        /// Where it is, in m.
        may worst_at_m: Number;
        /// How far it lies beyond the limit, in mm.
        need beyond_mm: NonNegative;
    }

    /// How much of a lot is outside the tolerance of a machine.
    finding "out_share" => OutShare<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot (spool).
        need lot: Name<'a>;
        /// Machine whose tolerance is meant.
        need machine: Name<'a>;
        /// Nominal diameter of the machine, in mm.
        need nominal_mm: Positive;
        /// Its tolerance either way, in mm.
        need tolerance_mm: NonNegative;
        /// Readings.
        need readings: Count;
        /// Readings outside.
        need readings_out: Count;
        /// Readings outside, in per cent of all.
        need readings_out_pct: Percent;
        /// Excursions.
        need excursions: Count;
        /// Length that the readings stand for, in m.
        may length_m: NonNegative;
        /// Length outside, in m.
        may out_m: NonNegative;
        /// Length outside, in per cent.
        may out_pct: Percent;
        /// Pieces worth keeping.
        may pieces: Count;
        /// Their length together, in m.
        may kept_m: NonNegative;
        /// Their mass, in g, where the density of the lot's material is known.
        may kept_g: NonNegative;
    }

    /// A stretch of a spool in the order of the cut list: kept for a machine, or cut out.
    finding "piece" => Piece<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot (spool).
        need lot: Name<'a>;
        /// Machine it is meant for.
        need machine: Name<'a>;
        /// Whether to keep it.
        need keep: bool;
        /// Where it starts, in m.
        need from_m: Number;
        /// Where it ends, in m.
        need to_m: Number;
        /// Its length, in m.
        need length_m: NonNegative;
    }

    /// A stretch without readings between others. Nothing is known of it and nothing is
    /// worked out over it.
    finding "log_gap" => LogGap<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot (spool).
        need lot: Name<'a>;
        /// Position of the last reading before it, in m; absent where there are no positions.
        may from_m: Number;
        /// Position of the first reading after it, in m.
        may to_m: Number;
        /// Its length, in m.
        may length_m: NonNegative;
        /// Time of the last reading before it, in s.
        may from_s: Number;
        /// Time of the first reading after it, in s.
        may to_s: Number;
        /// How long it lasts, in s.
        may duration_s: NonNegative;
    }

    /// What the diameter of a spool does to the flow of a printer that feeds by length.
    finding "flow_fit" => FlowFit<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot (spool).
        need lot: Name<'a>;
        /// Machine (printer).
        need machine: Name<'a>;
        /// Nominal diameter of the machine, in mm.
        need nominal_mm: Positive;
        /// Error of the flow over the whole spool, in per cent: mean area over nominal area, less one.
        need error_pct: Number;
        /// Factor on the flow that cancels it: nominal area over mean area.
        need factor: Positive;
        /// Length over which areas are averaged for the spread, in m.
        may smoothing_m: Positive;
        /// Windows of that length that are filled with readings.
        may windows: Count;
        /// Standard deviation of the flow over the windows, in per cent of nominal (divisor n - 1).
        may spread_pct: NonNegative;
        /// Smallest error of a window, in per cent.
        may least_pct: Number;
        /// Largest error of a window, in per cent.
        may most_pct: Number;
    }

    /// How a spool as a process fits the tolerance of a machine, were its readings normal.
    finding "capability" => Capability<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot (spool).
        need lot: Name<'a>;
        /// Machine whose tolerance is meant.
        need machine: Name<'a>;
        /// Axis that these figures are of: the one with the smallest Ppk, since each must be within the
        /// tolerance.
        may axis: Axis;
        /// Width of the tolerance over six overall standard deviations, Pp (ISO 22514-1).
        need pp: Number;
        /// Its lower 95 % bound (chi-square, with the effective number of readings).
        may pp_low: Number;
        /// Distance from mean to the nearer limit over three overall standard deviations, Ppk.
        need ppk: Number;
        /// Its lower 95 % bound (Bissell 1990, with the effective number of readings).
        may ppk_low: Number;
        /// Width of the tolerance over six times the root mean square distance from nominal, Cpm.
        may cpm: Number;
        /// Its lower 95 % bound (Boyles 1991, approximate, with the effective number of readings).
        may cpm_low: Number;
        /// Cp, as Pp with the standard deviation between neighbouring readings (mean square
        /// successive difference; von Neumann 1941). Absent where readings follow one another, since
        /// neighbours are then alike and it says nothing.
        may cp: Number;
        /// Lower 95 % bound of Cp (chi-square with 2 (n - 1)^2 / (3 n - 4) degrees of freedom, which the
        /// mean square successive difference has nearly; Hald 1952).
        may cp_low: Number;
        /// Cpk, likewise.
        may cpk: Number;
        /// Its lower 95 % bound (Bissell 1990, the same degrees of freedom).
        may cpk_low: Number;
        /// Why Cp and Cpk are left out.
        may warning: Text<'a>;
        /// Readings as many independent ones as these count for.
        need effective_readings: NonNegative;
        /// Share of a normal spool that would be outside along that axis, in per cent. Absent where it is
        /// below 0.0001 %: nobody knows a spool to be normal so far out.
        may estimated_out_pct: Percent;
        /// What it is at most with 95 % confidence (from the lower bound of Ppk, either side; not below
        /// 0.0001 %), in per cent.
        may estimated_out_high_pct: Percent;
        /// Share of the readings with an axis outside, in per cent.
        need observed_out_pct: Percent;
    }

    /// How the diameter drifts along a spool.
    finding "drift" => Drift<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot (spool).
        need lot: Name<'a>;
        /// Slope of a line through means of diameter by area over windows along the spool, in mm
        /// per m, in the order of reading.
        need slope_mm_per_m: Number;
        /// Lower end of its 95 % interval, allowing for autocorrelation of the residuals.
        may low_mm_per_m: Number;
        /// Upper end of the same.
        may high_mm_per_m: Number;
        /// The slope over the whole length, in mm.
        need over_length_mm: Number;
        /// Length of a window, in m.
        need window_m: Positive;
        /// Windows.
        need windows: Count;
        /// As many independent windows as these count for.
        need effective_windows: NonNegative;
        /// Probability of so steep a slope were there no drift.
        need probability: Fraction;
    }

    /// A wave in the diameter along a spool, and the turning part of the line that fits it.
    finding "wave" => Wave<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot (spool).
        need lot: Name<'a>;
        /// Length of a wave, in m.
        need period_m: Positive;
        /// Its standard uncertainty, in m.
        need u_period_m: NonNegative;
        /// Half the height of the wave in the diameter by area, in mm.
        need amplitude_mm: NonNegative;
        /// Standard uncertainty of the amplitude, in mm.
        need u_amplitude_mm: NonNegative;
        /// Chance that a spool of the same noise without waves shows one as high anywhere.
        need false_alarm: Fraction;
        /// Length of the wave that this one is an overtone of, in m.
        may overtone_of_m: Positive;
        /// Turning part that fits best; absent where none of those recorded does.
        may part: Part;
        /// Machine it belongs to.
        may machine: Name<'a>;
        /// Length of the wave that the part would make, in m.
        may part_period_m: Positive;
        /// Waves it would make a turn.
        may waves_a_turn: Count;
        /// Other parts that fit as well; run the line at another speed to tell them apart.
        may or_else: Text<'a>;
        /// Shortest wave that the spacing of the readings can show, in m. A shorter one shows as a
        /// longer one.
        need shortest_m: Positive;
        /// Longest wave that was looked for, in m.
        need longest_m: Positive;
    }

    /// Inclusions for a length of filament that was looked over.
    finding "cleanliness" => Cleanliness<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot (spool).
        need lot: Name<'a>;
        /// Inclusions found.
        need inclusions: Count;
        /// Length that was looked over, in m.
        need length_m: Positive;
        /// Inclusions per metre found.
        need per_m: NonNegative;
        /// Lower 95 % limit of the rate, one-sided (Garwood 1936); zero where none was found.
        need low_per_m: NonNegative;
        /// Upper 95 % limit of the rate, one-sided; three over the length where none was found.
        need high_per_m: NonNegative;
    }

    /// What went into a step and what came out.
    finding "step_balance" => StepBalance<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Step.
        need step: Name<'a>;
        /// What it does.
        may does: Does;
        /// Mass fed in, in g.
        need in_g: NonNegative;
        /// Mass of good product, in g.
        need out_g: NonNegative;
        /// Mass that left otherwise, in g, by role (`fines_g`, `purge_g` ...).
        need losses: Settings;
        /// Water that left it (negative: that it took up) by the moisture readings of all that went in
        /// and came out, in g. Only for steps that dry or wash and whose water was not weighed.
        may water_g: Number;
        /// In minus all that came out, in g: what no weighing explains; water by moisture is taken off.
        may unexplained_g: Number;
        /// Standard uncertainty of that difference, in g.
        may u_unexplained_g: NonNegative;
        /// Good product over feed, in per cent.
        may yield_pct: NonNegative;
        /// Standard uncertainty of the yield, in per cent.
        may u_yield_pct: NonNegative;
        /// Weighings used.
        need weighings: Count;
        /// Streams that flowed and were not weighed.
        need not_weighed: Count;
    }

    /// What came into being of a lot and where it went.
    finding "lot_balance" => LotBalance<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot.
        need lot: Name<'a>;
        /// Mass that steps have put out as this lot, in g.
        need made_g: NonNegative;
        /// Mass that steps have taken in of it, in g.
        need used_g: NonNegative;
        /// Mass on the shelf by its last stock weighing, in g.
        may stock_g: NonNegative;
        /// Step that used it or made more of it after that weighing, or of which that is not known where nothing
        /// else tells, so that it may not be what is there now.
        may moved_by: Name<'a>;
        /// Made minus used minus stock, in g.
        may unexplained_g: Number;
        /// Standard uncertainty of that difference, in g.
        may u_unexplained_g: NonNegative;
        /// Mass used, in per cent of the mass made.
        may used_pct: NonNegative;
        /// Streams that flowed and were not weighed.
        need not_weighed: Count;
    }

    /// A melt-flow test worked out from its cut-offs (ISO 1133-1).
    finding "melt_flow_result" => MeltFlowResult<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot.
        need lot: Name<'a>;
        /// Filling of the barrel.
        may run: Name<'a>;
        /// Test temperature, in degrees Celsius.
        need temp_c: Celsius;
        /// Test load, in kg.
        need load_kg: Positive;
        /// Number of cut-offs.
        need cuts: Count;
        /// Melt mass-flow rate, in g/10 min: 600 times mass over time, mean over cut-offs.
        need mfr_g_10min: Number;
        /// Its standard deviation over the cut-offs (divisor n - 1), in g/10 min.
        may sd_g_10min: NonNegative;
        /// Largest minus smallest cut-off, in per cent of their mean.
        may spread_pct: NonNegative;
        /// Melt volume-flow rate, in cm3/10 min, where the piston travel is known.
        may mvr_cm3_10min: Number;
        /// Density of the melt, in g/cm3: mass flow over volume flow.
        may melt_density_g_cm3: Number;
    }
}
