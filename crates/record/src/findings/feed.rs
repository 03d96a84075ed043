//! Findings on the plastic as it comes: what it may be, how wet and how coarse it is.

use crate::define::record;
use crate::facts::PieceShape;
use crate::quantity::{Celsius, Count, Fraction, NonNegative, Number, Percent, Positive};
use crate::text::{Name, Text};

record! {
    /// The density of a lot by immersion, and where its uncertainty comes from.
    finding "density" => DensityFound<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot.
        need lot: Name<'a>;
        /// Pieces that were weighed.
        need pieces: Count;
        /// Mean density at the temperature of the liquid, in g/cm3, by ISO 1183-1 (method A), which
        /// leaves the buoyancy of air out, as tables of plastics do.
        need density_g_cm3: Positive;
        /// The same with the buoyancy of air of 0.0012 g/cm3.
        need with_air_g_cm3: Positive;
        /// Standard uncertainty of `density_g_cm3`: weighing and temperature and bubbles, or the
        /// scatter of the pieces where that says more (JCGM 100:2008).
        need u_g_cm3: NonNegative;
        /// Part of that which the scale brings.
        need u_scale_g_cm3: NonNegative;
        /// Part of that which the temperature of the liquid brings, known to half a degree.
        need u_temp_g_cm3: NonNegative;
        /// Part of that which clinging air brings.
        need u_bubble_g_cm3: NonNegative;
        /// Largest less smallest density of the pieces, in g/cm3. Absent for one piece.
        may spread_g_cm3: NonNegative;
        /// What the uncertainties of scale and bubbles rest on.
        need basis: Text<'a>;
    }

    /// A plastic that a lot may be, by its density. One record for each.
    finding "candidate" => Candidate<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot.
        need lot: Name<'a>;
        /// Abbreviation of the plastic.
        need material: Name<'a>;
        /// Its share of the likelihood of all cards: each is taken as equally likely before, and
        /// every density of its range, too.
        need share: Fraction;
        /// Smallest density of its unfilled grades, in g/cm3.
        need from_g_cm3: Positive;
        /// Largest.
        need to_g_cm3: Positive;
        /// Whether the lot is marked or named so.
        need claimed: bool;
    }

    /// A liquid in which unfilled, unfoamed pieces of one plastic float and those of the other
    /// sink, wetted and stirred free of air.
    finding "float_sink" => FloatSink<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot.
        may lot: Name<'a>;
        /// Plastic that floats.
        need floats: Name<'a>;
        /// Plastic that sinks.
        need sinks: Name<'a>;
        /// The liquid.
        need liquid: Text<'a>;
        /// Its density, in g/cm3, to be checked with a hydrometer.
        need liquid_g_cm3: Positive;
        /// What is dissolved or mixed into the water, in per cent by mass.
        may added_pct: Percent;
        /// Temperature at which that holds, in degrees Celsius.
        need temp_c: Celsius;
        /// Smaller distance from the liquid's density to either plastic's range, in g/cm3.
        need margin_g_cm3: NonNegative;
    }

    /// The curve of diffusion that fits the moisture readings of a lot best.
    finding "drying_curve" => DryingCurve<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot.
        need lot: Name<'a>;
        /// Shape that it holds for.
        need piece: PieceShape;
        /// Whether the lot said that shape; otherwise it is the one that fits best.
        need piece_known: bool;
        /// Temperature of the dryer, in degrees Celsius.
        may dry_c: Celsius;
        /// Readings it rests on.
        need readings: Count;
        /// Moisture at the start, in per cent by mass.
        need start_pct: Number;
        /// Moisture at which it ends, in per cent by mass. Below zero where the readings do not
        /// show it.
        need end_pct: Number;
        /// Whether the end was given; otherwise it is fitted.
        need end_known: bool;
        /// Diffusion coefficient over the squared size (thickness of a flake, radius of any other),
        /// per hour.
        need rate_per_h: Positive;
        /// The diffusion coefficient that this means, in mm2/h; of this dryer and these pieces, no
        /// property of the plastic. Absent where the size is not known.
        may diffusion_mm2_h: Positive;
        /// Standard deviation of the readings about the curve, in per cent of the reading.
        need scatter_pct: NonNegative;
        /// Moisture wanted, in per cent by mass.
        need limit_pct: Percent;
        /// Hours from the start to it, by the best curve. Absent where that ends above.
        may hours: NonNegative;
        /// Lower end of the 95 % interval of the hours.
        may low_h: NonNegative;
        /// Upper end. Absent where the readings do not bound it.
        may high_h: NonNegative;
    }

    /// The sieve curve of a lot.
    finding "particle_size" => ParticleSize<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot.
        need lot: Name<'a>;
        /// Mass found again on the sieves and in the pan, in g.
        need recovered_g: NonNegative;
        /// Mass lost of the charge, in per cent. Absent without a charge.
        may loss_pct: Number;
        /// Openings of the sieves, in mm, from the coarsest.
        need openings_mm: Vec<Positive>;
        /// Share by mass that passes each, in per cent.
        need undersize_pct: Vec<Percent>;
        /// Size that 10 % by mass passes, in mm, on a straight line between sieves. Absent, as all
        /// sizes here, where it lies outside the sieves.
        may d10_mm: Positive;
        /// The same for 50 %.
        may d50_mm: Positive;
        /// The same for 90 %.
        may d90_mm: Positive;
        /// Share by mass below 1 mm, in per cent.
        may fines_pct: Percent;
        /// Share by mass above 5.6 mm, in per cent.
        may oversize_pct: Percent;
        /// Exponent of the law of Rosin, Rammler, Sperling and Bennett: the larger, the narrower.
        /// Holds between the finest and the coarsest sieve alone.
        may rrsb_n: Positive;
        /// Its size, which 63.2 % by mass passes, in mm.
        may rrsb_mm: Positive;
        /// Share of the spread that the law explains on its own grid.
        may rrsb_r2: Fraction;
    }

    /// The apparent density of a lot as poured, and what a hopper holds of it.
    finding "bulk_density" => BulkDensity<'a> {
        /// Id of the `begin` record of the run that wrote it.
        may by: Name<'a>;
        /// Lot.
        need lot: Name<'a>;
        /// Machine with the hopper.
        may machine: Name<'a>;
        /// Fillings it is the mean of.
        need fillings: Count;
        /// Mean apparent density, in g/cm3 (ISO 60).
        need bulk_g_cm3: Positive;
        /// Standard deviation of the fillings, in g/cm3. Absent for one.
        may sd_g_cm3: NonNegative;
        /// Share of the volume that is plastic, in per cent. Absent without the density of the solid.
        may packing_pct: NonNegative;
        /// What the hopper holds, in g.
        may hopper_g: Positive;
    }
}
