//! Findings on melt flow and on what changes from pass to pass.

use crate::define::{record, words};
use crate::quantity::{Celsius, Count, Fraction, NonNegative, Number, Percent, Positive};
use crate::text::{Name, Text};

words! {
    /// What a lack of fit would show by.
    FitBy {
        /// Lots of one origin after the same number of passes.
        Replicates = "replicates",
        /// A bend along the passes, for want of replicates.
        Bend = "bend",
    }
}

record! {
    /// What a melt-flow test says of stress, shear rate and viscosity in its die. Apparent
    /// values: for comparing lots, not for predicting an extruder.
    finding "melt_viscosity" => MeltViscosity<'a> {
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
        /// Melt volume-flow rate it rests on, in cm3/10 min.
        need mvr_cm3_10min: Positive;
        /// Density of the melt it rests on, in g/cm3.
        need melt_density_g_cm3: Positive;
        /// Shear stress at the wall of the standard die, in Pa: m g R / (2 L A) with A = 0.711 cm2.
        need stress_pa: Positive;
        /// Apparent shear rate at the wall, in 1/s: 4 Q / (pi R^3).
        need shear_rate_per_s: Positive;
        /// Apparent viscosity, in Pa s: stress over rate.
        need viscosity_pa_s: Positive;
    }

    /// How well a lab repeats its melt-flow tests: several fillings of one lot.
    finding "melt_flow_repeatability" => MeltFlowRepeatability<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Polymer.
        need material: Name<'a>;
        /// Test temperature, in degrees Celsius.
        need temp_c: Celsius;
        /// Test load, in kg.
        need load_kg: Positive;
        /// Lots with more than one filling.
        need lots: Count;
        /// Degrees of freedom: fillings less lots.
        need freedom: Count;
        /// Standard deviation between fillings of a lot, in per cent of the flow rate.
        need sd_pct: NonNegative;
        /// Repeatability limit, in per cent of the flow rate: two fillings differ by less in 95 of
        /// 100 cases (Student t times root 2 times the standard deviation; 2.77 times it for many
        /// degrees of freedom, which ISO 5725 practice rounds to 2.8).
        need limit_pct: NonNegative;
    }

    /// How the melt flow rate of a family of lots changes with every pass: a weighted straight
    /// line through its logarithms, a lot being one point.
    finding "melt_flow_drift" => MeltFlowDrift<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot of the family that was tested after the most passes.
        need lot: Name<'a>;
        /// Polymer.
        need material: Name<'a>;
        /// Test temperature, in degrees Celsius.
        need temp_c: Celsius;
        /// Test load, in kg.
        need load_kg: Positive;
        /// Lots of this family on the line.
        need lots: Count;
        /// Families of lots that share the slope; each starts where it will.
        need families: Count;
        /// Degrees of freedom of the residuals.
        need freedom: Count;
        /// Fewest passes on the line of the family.
        need from_pass: Count;
        /// Most passes on the line of the family.
        need to_pass: Count;
        /// What one pass multiplies the flow rate by.
        need factor_per_pass: Positive;
        /// Lower end of its 95 % interval.
        need factor_low: Positive;
        /// Upper end of its 95 % interval.
        need factor_high: Positive;
        /// Standard deviation of a lot about the line, in per cent of the flow rate.
        need scatter_pct: NonNegative;
        /// The pass to come.
        need next_pass: Count;
        /// Flow rate expected of a lot after it, in g/10 min.
        need next_g_10min: Positive;
        /// Lower end of the 95 % prediction interval for one lot, tested as the others were.
        need next_low_g_10min: Positive;
        /// Upper end of that interval.
        need next_high_g_10min: Positive;
        /// Probability of so large a lack of fit were the line straight; absent where nothing
        /// shows one.
        may fit_p: Fraction;
        /// What it would show by.
        may fit_by: FitBy;
        /// Which way published studies of this polymer went, where one is known.
        may published: Text<'a>;
    }

    /// How many passes are left before the melt flow rate meets a limit.
    finding "passes_left" => PassesLeft<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot of the family that was tested after the most passes.
        need lot: Name<'a>;
        /// Polymer.
        need material: Name<'a>;
        /// The limit, in g/10 min.
        need limit_g_10min: Positive;
        /// Passes so far.
        need passes: Count;
        /// Passes left for which the whole prediction interval of a lot keeps the limit; counted
        /// to 100 at most.
        need left: Count;
        /// Pass at which the line meets the limit, not a whole number as a rule. Absent where
        /// the rate does not drift towards it.
        may at_pass: Number;
        /// Lower end of its 95 % interval (Fieller 1954). Absent, as is the upper one, where the
        /// slope is too uncertain for both to be finite.
        may low: Number;
        /// Upper end of its 95 % interval.
        may high: Number;
    }

    /// The share of a younger lot in a blend that brings the melt flow rate where it is wanted.
    finding "blend_share" => BlendShare<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot to be blended.
        need lot: Name<'a>;
        /// Lot to blend it with.
        need added: Name<'a>;
        /// Polymer of both.
        need material: Name<'a>;
        /// Test temperature, in degrees Celsius.
        need temp_c: Celsius;
        /// Test load, in kg.
        need load_kg: Positive;
        /// Flow rate of the lot, in g/10 min.
        need lot_g_10min: Positive;
        /// Flow rate of the added one, in g/10 min.
        need added_g_10min: Positive;
        /// Flow rate wanted of the blend, in g/10 min.
        need target_g_10min: Positive;
        /// Share of the added lot by the logarithmic rule, in per cent by mass.
        need share_pct: Percent;
        /// The same by the power rule with the exponent 3.4.
        need share_power_pct: Percent;
        /// Flow rate of the blend of `share_pct` by the power rule, in g/10 min: how far the rules
        /// part ways.
        need power_g_10min: Positive;
        /// Lower end of the share, in per cent: both rules, and the 95 % intervals of the rates.
        need low_pct: Percent;
        /// Upper end of the share, in per cent.
        need high_pct: Percent;
        /// Share of new material in every batch with which a closed loop, where all the rest is
        /// the batch before, settles with its feed at the rate wanted, by the logarithmic rule.
        /// Absent where the added lot is not virgin, or no share does.
        may loop_pct: Percent;
        /// Lower end of that share, over the 95 % interval of the factor a pass.
        may loop_low_pct: Percent;
        /// Upper end of that share.
        may loop_high_pct: Percent;
        /// Blends of the lab's own that the rules were checked on; the largest of their
        /// differences widens the share. Absent where there are none.
        may blends: Count;
        /// Smallest share of the least melted part in those blends, in per cent.
        may checked_from_pct: Percent;
        /// Largest share of it, in per cent.
        may checked_to_pct: Percent;
        /// Largest difference of a measured flow rate from the logarithmic rule, in per cent.
        may off_pct: NonNegative;
        /// Largest difference from the power rule, in per cent.
        may off_power_pct: NonNegative;
    }

    /// The activation energy of flow that a lab's own tests at several temperatures show.
    finding "flow_activation" => FlowActivation<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Polymer.
        need material: Name<'a>;
        /// Test load, in kg.
        need load_kg: Positive;
        /// Lots tested at more than one temperature.
        need lots: Count;
        /// Degrees of freedom of the residuals.
        need freedom: Count;
        /// Lowest test temperature, in degrees Celsius.
        need from_c: Celsius;
        /// Highest test temperature, in degrees Celsius.
        need to_c: Celsius;
        /// Activation energy at constant stress, in kJ/mol.
        need energy_kj_mol: Number;
        /// Lower end of its 95 % interval.
        need low_kj_mol: Number;
        /// Upper end of its 95 % interval.
        need high_kj_mol: Number;
    }
}
