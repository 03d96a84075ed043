//! Findings of a line that is watched: control charts, alarms, running figures, and how far
//! a gauge and a sample can be trusted.

use crate::define::{record, words};
use crate::facts::{Part, Settings};
use crate::quantity::{Count, Fraction, NonNegative, Number, Percent, Positive};
use crate::text::{Name, Text};

words! {
    /// What an alarm is about.
    Alarming {
        /// A reading above the upper limit of a machine.
        Above = "above-tolerance",
        /// A reading below the lower limit of a machine.
        Below = "below-tolerance",
        /// The mean, on its way to a limit of a machine.
        MeanOff = "mean-off",
        /// A signal of a control chart whose limits came from a baseline.
        Chart = "chart",
    }
    /// What makes a spool uneven.
    Cause {
        /// A part of the line that turns.
        TurningPart = "turning-part",
        /// A wave that no turning part recorded explains.
        Wave = "unexplained-wave",
        /// A drift along the spool.
        Drift = "drift",
    }
    /// An axis of a gauge.
    Axis {
        /// The first axis.
        X = "x",
        /// The second axis.
        Y = "y",
        /// The third axis.
        Z = "z",
    }
    /// How a sampling plan judges.
    PlanOf {
        /// By counting readings that are outside.
        Attributes = "attributes",
        /// By mean and standard deviation, were the readings normal.
        Variables = "variables",
    }
}

record! {
    /// Limits of a control chart, learned from baseline lots. Kept in a file and put before
    /// the readings of a later run, they judge its lots.
    finding "chart_limits" => ChartLimits<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lots they were learned from, separated by commas.
        need learned_from: Text<'a>;
        /// Length of a subgroup, in m; absent where the readings have no positions.
        may subgroup_m: Positive;
        /// Readings in a subgroup.
        need subgroup_readings: Count;
        /// Subgroups of the baseline.
        need subgroups: Count;
        /// Mean of the subgroup means, in mm.
        need mean_mm: Positive;
        /// Standard deviation of a subgroup mean, within and between subgroups together, in mm.
        need mean_sd_mm: Positive;
        /// Lower limit of subgroup means, in mm.
        need mean_low_mm: Number;
        /// Upper limit of subgroup means, in mm.
        need mean_high_mm: Number;
        /// Mean of the standard deviations within subgroups, in mm.
        need spread_mm: NonNegative;
        /// Standard deviation of these, in mm.
        need spread_sd_mm: Positive;
        /// Lower limit of the standard deviation within a subgroup, in mm.
        need spread_low_mm: NonNegative;
        /// Upper limit of the same, in mm.
        need spread_high_mm: NonNegative;
        /// Lag-1 autocorrelation of the subgroup means, 0 to below 1.
        need lag1: Fraction;
    }

    /// What the control charts of a lot show.
    finding "chart" => Chart<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot (spool).
        need lot: Name<'a>;
        /// Baseline lots whose limits judge it; absent where they are the lot's own.
        may limits_of: Text<'a>;
        /// Length of a subgroup, in m; absent where the readings have no positions.
        may subgroup_m: Positive;
        /// Readings in a subgroup.
        need subgroup_readings: Count;
        /// Subgroups that were judged.
        need subgroups: Count;
        /// Centre line of the subgroup means, in mm.
        need mean_mm: Positive;
        /// Standard deviation of a subgroup mean, in mm.
        need mean_sd_mm: Positive;
        /// Lower limit of subgroup means, in mm.
        need mean_low_mm: Number;
        /// Upper limit of subgroup means, in mm.
        need mean_high_mm: Number;
        /// Centre line of the standard deviations within subgroups, in mm.
        need spread_mm: NonNegative;
        /// Lower limit of the same, in mm.
        need spread_low_mm: NonNegative;
        /// Upper limit of the same, in mm.
        need spread_high_mm: NonNegative;
        /// Standard deviation between subgroups beyond what is within them (one-way analysis of
        /// variance), in mm; of the lot itself.
        may sd_between_mm: NonNegative;
        /// Lag-1 autocorrelation of the subgroup means that the run rules allow for.
        need lag1: Fraction;
        /// Subgroups at which each rule signals, by its name.
        need signals: Settings;
        /// The number that chance alone gives on average, by the same names.
        need by_chance: Settings;
    }

    /// One subgroup on the control charts; of a very long spool each point is several subgroups next to
    /// one another, with the signals of all of them.
    finding "chart_point" => ChartPoint<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot (spool).
        need lot: Name<'a>;
        /// Position of its middle, in m.
        may at_m: Number;
        /// Number of its last reading within the lot.
        need last_reading: Count;
        /// Readings in it.
        need readings: Count;
        /// Mean diameter by area, in mm.
        need mean_mm: Positive;
        /// Standard deviation within it (divisor n - 1), in mm.
        need sd_mm: NonNegative;
        /// Rules that signal here, separated by commas.
        may signals: Text<'a>;
    }

    /// Something a person at the line should see now, as it begins. It is not repeated until a whole
    /// subgroup has passed without it.
    finding "alarm" => Alarm<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot (spool).
        need lot: Name<'a>;
        /// Machine whose tolerance is meant.
        may machine: Name<'a>;
        /// What it is about.
        need what: Alarming;
        /// Number of the reading that caused it, counted from 1 within the lot.
        need reading: Count;
        /// Position of that reading, in m.
        may at_m: Number;
        /// Time of that reading, in s.
        may at_s: Number;
        /// The diameter that caused it, in mm.
        need value_mm: Positive;
        /// The limit it passed, in mm.
        may limit_mm: Positive;
        /// Mean diameter by area over the last subgroup and what came since, in mm.
        may recent_mm: Positive;
        /// Factor on the puller speed that brings that mean to the nominal diameter, the feed
        /// unchanged: its square over the nominal squared (mass continuity).
        may speed_factor: Positive;
        /// The reason, in one plain sentence.
        need why: Text<'a>;
    }

    /// What makes a lot uneven, and how much of its unevenness. What explains less than 1 % of the
    /// variance is not named.
    finding "cause" => CauseFound<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot (spool).
        need lot: Name<'a>;
        /// What it is.
        need cause: Cause;
        /// Turning part that it is.
        may part: Part;
        /// Machine it belongs to.
        may machine: Name<'a>;
        /// Share of the variance of the diameter that it explains, in per cent.
        need share_pct: Percent;
        /// Chance that a spool without it shows as much.
        need probability: Fraction;
        /// What was seen and what to do about it, in plain words.
        need why: Text<'a>;
    }

    /// A lot in figures so far, while it is being read.
    finding "diameter_so_far" => DiameterSoFar<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot (spool).
        need lot: Name<'a>;
        /// Readings so far.
        need readings: Count;
        /// Position of the last reading, in m.
        may at_m: Number;
        /// Length covered so far, in m.
        may length_m: NonNegative;
        /// Mean diameter by area so far, in mm.
        need area_mm: Positive;
        /// Mean diameter by area over the last subgroup and what came since, in mm.
        may recent_mm: Positive;
        /// Standard deviation of the readings so far (divisor n - 1), in mm.
        may sd_mm: NonNegative;
        /// Smallest diameter along any axis so far, in mm.
        need min_mm: Positive;
        /// Largest diameter along any axis so far, in mm.
        need max_mm: Positive;
        /// Readings so far outside the tolerance of the machine that is hardest to please.
        may readings_out: Count;
        /// That machine.
        may machine: Name<'a>;
    }

    /// What a repeatability study shows of a gauge: the spread of its readings taken apart by
    /// analysis of variance.
    finding "gauge_study" => GaugeStudy<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Gauge; absent where the readings name none.
        may gauge: Name<'a>;
        /// Axis of the readings.
        need axis: Axis;
        /// Pieces that were measured.
        need parts: Count;
        /// People who measured; 1 where none are named.
        need operators: Count;
        /// Repeats of each person on each piece.
        need trials: Count;
        /// Standard deviation of repeats (equipment variation), in mm.
        need repeatability_mm: NonNegative;
        /// Standard deviation between people (appraiser variation), in mm; absent for one person.
        may reproducibility_mm: NonNegative;
        /// Standard deviation of the interaction of people and pieces, in mm; zero where it
        /// was not significant at 5 % and was taken as repeatability.
        may interaction_mm: NonNegative;
        /// Standard deviation between pieces, in mm.
        need parts_mm: NonNegative;
        /// Gauge as a whole: root of the sum of squares of all but the pieces, in mm. Taken as the
        /// standard uncertainty of a reading; a bias of the gauge is not in it.
        need gauge_mm: NonNegative;
        /// The same in per cent of the total variation of the study.
        may gauge_pct: NonNegative;
        /// Lower 95 % bound of the same standard deviation (chi square for one person, the modified
        /// large-sample method of Graybill and Wang 1980 for several), in mm.
        may gauge_low_mm: NonNegative;
        /// Its upper 95 % bound, in mm.
        may gauge_high_mm: NonNegative;
        /// Distinct categories that the gauge tells among these pieces (1.41 times pieces over
        /// gauge), cut to a whole number.
        may categories: Count;
    }

    /// A sampling plan for the readings of a lot, from the two shares and risks that were
    /// asked for.
    finding "sampling_plan" => SamplingPlan<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// How it judges.
        need judges_by: PlanOf;
        /// Share of readings outside at which a lot is still accepted with probability 95 %,
        /// in per cent.
        need good_pct: Percent;
        /// Share of readings outside at which a lot is refused with probability 90 %, in per
        /// cent.
        need bad_pct: Percent;
        /// Readings to take.
        need readings: Count;
        /// Readings outside that are allowed (by attributes).
        may allowed: Count;
        /// Smallest distance of the mean from each limit, in standard deviations (by variables).
        may distance: Number;
    }
}
