//! Facts: what the lab recorded. Flat records, one event each.

use crate::define::{record, words};
use crate::quantity::{Celsius, Count, NonNegative, Number, Percent, Positive, SizeMm};
use crate::shape::{Shape, Shaped};
use crate::text::{Name, Text, Time};
use std::collections::BTreeMap;

words! {
    /// What form the plastic has.
    Form {
        /// As collected.
        Waste = "waste",
        /// Shredded.
        Regrind = "regrind",
        /// Granules.
        Pellets = "pellets",
        /// Wound or loose filament.
        Filament = "filament",
        /// Printed or moulded parts.
        Parts = "parts",
    }
    /// Shape of the pieces of a lot, as water sees it on its way out.
    PieceShape {
        /// Flat: it dries through both faces.
        Flake = "flake",
        /// Round.
        Bead = "bead",
        /// Long and round, as filament is.
        Strand = "strand",
        /// A cut length of strand.
        Pellet = "pellet",
    }
    /// Where the plastic comes from, by the terms of ISO 14021.
    Origin {
        /// Discarded by its end user.
        PostConsumer = "post-consumer",
        /// Diverted from waste during manufacture elsewhere.
        PreConsumer = "pre-consumer",
        /// Regrind or scrap of this lab's own process, which ISO 14021 does not count.
        InProcess = "in-process",
        /// Never used.
        Virgin = "virgin",
        /// Not known.
        Unknown = "unknown",
    }
    /// What a step or a machine does.
    Does {
        /// Sorts.
        Sort = "sort",
        /// Washes.
        Wash = "wash",
        /// Shreds.
        Shred = "shred",
        /// Dries.
        Dry = "dry",
        /// Mixes lots.
        Blend = "blend",
        /// Melts and draws filament.
        Extrude = "extrude",
        /// Winds onto a spool.
        Wind = "wind",
        /// Prints parts.
        Print = "print",
        /// Anything else.
        Other = "other",
    }
    /// What a weighed mass is to its step.
    Role {
        /// Fed into the step.
        In = "in",
        /// The good product of the step.
        Out = "out",
        /// Too small to use.
        Fines = "fines",
        /// Melt used to clean the barrel.
        Purge = "purge",
        /// Rejected pieces.
        Scrap = "scrap",
        /// Filament outside its tolerance.
        OffTolerance = "off-tolerance",
        /// Taken for a test.
        Sample = "sample",
        /// Swept up or filtered out.
        Dust = "dust",
        /// Water driven off.
        Water = "water",
        /// What is left of the lot on the shelf.
        Stock = "stock",
    }
    /// Basis of a moisture content.
    MoistureBasis {
        /// Water over wet mass.
        Wet = "wet",
        /// Water over dry mass.
        Dry = "dry",
    }
    /// How a trial came out.
    Outcome {
        /// As wanted.
        Good = "good",
        /// Not as wanted.
        Failed = "failed",
    }
    /// What went wrong in a trial.
    Fault {
        /// The part let go of the bed.
        PoorBedAdhesion = "poor bed adhesion",
        /// The layers did not hold together.
        PoorLayerAdhesion = "poor layer adhesion",
        /// Nothing came out.
        Jam = "jam",
        /// Too little came out.
        UnderExtrusion = "under-extrusion",
        /// Too much came out.
        OverExtrusion = "over-extrusion",
        /// Corners lifted.
        Warping = "warping",
        /// Threads between walls.
        Stringing = "stringing",
        /// The part or filament broke without bending.
        Brittle = "brittle",
        /// Anything else.
        Other = "other",
    }
    /// A turning part of the line.
    Part {
        /// The extruder's screw.
        Screw = "screw",
        /// A roller of the puller.
        PullerRoller = "puller roller",
        /// The winder.
        Winder = "winder",
        /// Anything else that turns.
        Other = "other",
    }
}

/// Named numbers; the unit is the suffix of each name (`screw_rpm`, `melt_c`).
#[derive(Debug, Clone, Default, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(transparent)]
pub struct Settings(
    #[serde(deserialize_with = "crate::named::values")] pub BTreeMap<String, Number>,
);

impl Shaped for Settings {
    const SHAPE: Shape = Shape::Numbers;
}

impl Settings {
    /// One setting.
    #[must_use]
    pub fn get(&self, name: &str) -> Option<f64> {
        self.0.get(name).map(|x| x.get())
    }
}

record! {
    /// Where a record came from.
    fact "src" => Source<'a> {
        /// File as it was named.
        need file: Text<'a>;
        /// Line in the file, or row of the sheet, counted from 1.
        may line: Count;
        /// Sheet of a workbook.
        may sheet: Text<'a>;
    }

    /// A batch of plastic that is kept apart and has a name.
    fact "lot" => Lot<'a> {
        /// Name of the lot.
        need lot: Name<'a>, also "batch" "spool";
        /// Polymer, by its abbreviation in ISO 1043-1 (PP, PE-HD, PLA ...).
        need material: Name<'a>, also "polymer" "plastic";
        /// Form of the plastic.
        may form: Form;
        /// Origin of the plastic (ISO 14021).
        may origin: Origin;
        /// Times it has been melted in this loop so far.
        may passes: Count, also "cycle" "cycles";
        /// Shape of its pieces.
        may piece: PieceShape, also "piece shape" "granule";
        /// Thickness of a flake, diameter of any other piece, in mm.
        may piece_mm: Positive, also "piece size" "thickness";
        /// Length of a pellet, in mm.
        may piece_length_mm: Positive, also "piece length" "pellet length";
        /// Anything worth remembering.
        may note: Text<'a>, also "notes" "remark" "remarks" "comment";
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// One operation of the loop, from sorting to printing.
    fact "step" => Step<'a> {
        /// Name of the step, unique in the stream.
        need step: Name<'a>;
        /// What it does.
        need does: Does, also "operation" "process";
        /// When it began.
        may at: Time<'a>, also "time" "date" "started" "start";
        /// Machine it ran on.
        may machine: Name<'a>;
        /// Settings it ran with, each name with its unit.
        may settings: Settings;
        /// Electric energy it took, in kWh.
        may energy_kwh: NonNegative, also "energy";
        /// What it cost, in the currency named.
        may cost: NonNegative;
        /// Currency (ISO 4217).
        may currency: Name<'a>;
        /// Anything worth remembering.
        may note: Text<'a>, also "notes" "remark" "remarks" "comment";
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// A mass on a scale, or a stream that was not weighed (no `mass_g`).
    fact "weighing" => Weighing<'a> {
        /// Step it belongs to.
        need step: Name<'a>;
        /// Lot that was weighed.
        need lot: Name<'a>, also "batch" "spool";
        /// What the mass is to the step.
        need role: Role, also "direction" "stream";
        /// Mass in g. Absent: it flowed and was not weighed.
        may mass_g: NonNegative, also "mass" "weight" "net" "net mass" "net weight";
        /// Standard uncertainty of the mass, in g.
        may u_g: NonNegative, also "uncertainty";
        /// Scale it was weighed on.
        may scale: Name<'a>, also "balance";
        /// When.
        may at: Time<'a>, also "time" "date" "timestamp";
        /// Anything worth remembering.
        may note: Text<'a>, also "notes" "remark" "remarks" "comment";
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// A machine and what it can do or bear.
    fact "machine" => Machine<'a> {
        /// Name of the machine.
        need machine: Name<'a>;
        /// What it does.
        need does: Does, also "operation" "process";
        /// Filament diameter it is made for, in mm.
        may nominal_mm: Positive, also "nominal" "nominal diameter" "filament diameter";
        /// Largest deviation from the nominal diameter it lives with, either way, in mm.
        may tolerance_mm: NonNegative, also "tolerance" "diameter tolerance";
        /// Largest ovality it lives with (largest minus smallest diameter), in mm.
        may ovality_mm: NonNegative, also "ovality" "max ovality";
        /// Narrowest bore that the filament must pass, in mm.
        may bore_mm: Positive, also "bore";
        /// Lowest melt temperature it holds, in degrees Celsius.
        may melt_min_c: Celsius;
        /// Highest melt temperature it holds, in degrees Celsius.
        may melt_max_c: Celsius;
        /// Lowest line speed, in m/min.
        may line_speed_min_m_min: NonNegative;
        /// Highest line speed, in m/min.
        may line_speed_max_m_min: Positive;
        /// Lowest screw speed, in turns a minute.
        may screw_min_rpm: NonNegative;
        /// Highest screw speed, in turns a minute.
        may screw_max_rpm: Positive;
        /// Largest throughput, in kg/h.
        may throughput_max_kg_h: Positive;
        /// What its hopper holds, in cm3.
        may hopper_cm3: Positive, also "hopper" "hopper volume";
        /// Usual throughput, in kg/h, as it was timed.
        may throughput_kg_h: Positive;
        /// What one load of it holds, in kg.
        may load_kg: Positive;
        /// Anything worth remembering.
        may note: Text<'a>, also "notes" "remark" "remarks" "comment";
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// A part of the line that turns and may leave its period in the filament.
    fact "turning_part" => TurningPart<'a> {
        /// Machine it is part of.
        need machine: Name<'a>;
        /// Which part.
        need part: Part;
        /// Its diameter, in mm.
        may diameter_mm: Positive, also "diameter";
        /// Its speed, in turns a minute.
        may rpm: NonNegative, also "speed";
        /// Turns of this part per turn of the screw.
        may gear: Positive;
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// A gauge for diameters.
    fact "gauge" => Gauge<'a> {
        /// Name of the gauge.
        need gauge: Name<'a>;
        /// Standard uncertainty of a reading, in mm.
        may u_mm: NonNegative, also "uncertainty";
        /// Smallest step of its display, in mm.
        may resolution_mm: Positive, also "resolution";
        /// Number of axes it reads.
        may axes: Count;
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// A scale for masses.
    fact "scale" => Scale<'a> {
        /// Name of the scale.
        need scale: Name<'a>, also "balance";
        /// Standard uncertainty of a weighing, in g.
        may u_g: NonNegative, also "uncertainty";
        /// Smallest step of its display, in g.
        may resolution_g: Positive, also "resolution";
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// A limit that the lab has set.
    fact "limit" => Limit<'a> {
        /// Quantity that is limited, its unit in the name (`moisture_pct`).
        need what: Name<'a>;
        /// Lot it holds for; absent: every lot.
        may lot: Name<'a>;
        /// Material it holds for; absent: every material.
        may material: Name<'a>;
        /// Machine it holds for; absent: every machine.
        may machine: Name<'a>;
        /// Of a melt flow rate: test temperature it holds at, in degrees Celsius.
        may temp_c: Celsius;
        /// Of a melt flow rate: test load it holds at, in kg.
        may load_kg: Positive;
        /// Smallest value allowed.
        may min: Number;
        /// Largest value allowed.
        may max: Number;
        /// Value aimed at.
        may target: Number;
        /// Unit of them.
        need unit: Text<'a>;
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// One reading of a diameter gauge or caliper, by position or by time.
    fact "diameter" => Diameter<'a> {
        /// Lot (spool) it was read on.
        need lot: Name<'a>, also "batch" "spool";
        /// Position along the filament, in m.
        may position_m: Number, also "position" "length" "distance" "meter" "metre";
        /// Time since the start of the log, in s.
        may time_s: Number, also "time" "elapsed" "t";
        /// Diameter along the first axis, in mm.
        need dx_mm: SizeMm, also "diameter" "diameter x" "dia x" "d x" "x" "d1" "d";
        /// Diameter along the second axis, in mm.
        may dy_mm: SizeMm, also "diameter y" "dia y" "d y" "y" "d2";
        /// Diameter along the third axis, in mm.
        may dz_mm: SizeMm, also "diameter z" "dia z" "d z" "z" "d3";
        /// Gauge that read it.
        may gauge: Name<'a>;
        /// In a gauge study: the piece that was measured.
        may part: Name<'a>;
        /// In a gauge study: who measured.
        may operator: Name<'a>;
        /// In a gauge study: number of the repeat.
        may trial: Count;
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// A speck, bubble or lump found in the filament.
    fact "inclusion" => Inclusion<'a> {
        /// Lot (spool) it was found on.
        need lot: Name<'a>, also "batch" "spool";
        /// Position along the filament, in m.
        need position_m: Number, also "position";
        /// Its size, in mm.
        may size_mm: NonNegative, also "size";
        /// What it is.
        may what: Text<'a>;
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// A length that was looked over for inclusions.
    fact "inspection" => Inspection<'a> {
        /// Lot (spool) that was looked over.
        need lot: Name<'a>, also "batch" "spool";
        /// Length that was looked over, in m.
        need length_m: Positive, also "length";
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// A material marking found on the plastic.
    fact "marking" => Marking<'a> {
        /// Lot it was found on.
        need lot: Name<'a>, also "batch";
        /// The mark as it stands there.
        need mark: Name<'a>, also "marking";
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// A density by weighing in air and in a liquid (ISO 1183-1, method A).
    fact "immersion" => Immersion<'a> {
        /// Lot the specimen is from.
        need lot: Name<'a>, also "batch";
        /// Mass in air, in g.
        need air_g: Positive, also "air" "mass in air";
        /// Apparent mass in the liquid, in g (with the sinker, where one is used).
        need liquid_g: Number, also "liquid mass" "mass in liquid";
        /// Temperature of the liquid, in degrees Celsius.
        need temp_c: Celsius, also "temp" "temperature";
        /// The liquid; water unless said.
        may liquid: Name<'a>;
        /// Its density, in g/cm3; that of water at the temperature unless said.
        may liquid_g_cm3: Positive;
        /// Apparent mass of the sinker alone in the liquid, in g.
        may sinker_g: NonNegative, also "sinker";
        /// Standard uncertainty of each weighing, in g.
        may u_g: NonNegative, also "uncertainty";
        /// Scale it was weighed on.
        may scale: Name<'a>, also "balance";
        /// Air that may cling to it as bubbles, in cm3 (one of 1 mm across holds 0.0005).
        may bubble_cm3: NonNegative, also "bubble" "bubbles";
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// A moisture content.
    fact "moisture" => Moisture<'a> {
        /// Lot the sample is from.
        need lot: Name<'a>, also "batch";
        /// Moisture content, in per cent by mass.
        need moisture_pct: Percent, also "moisture" "water content";
        /// When.
        may at: Time<'a>, also "time" "date" "timestamp";
        /// Hours it had been dried by then.
        may dried_h: NonNegative, also "dried" "drying time";
        /// Drying temperature, in degrees Celsius.
        may dry_c: Celsius, also "drying temp" "drying temperature";
        /// Basis of the content; wet unless said.
        may basis: MoistureBasis;
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// What one sieve kept back.
    fact "sieve" => Sieve<'a> {
        /// Lot the sample is from.
        need lot: Name<'a>, also "batch";
        /// Opening of the sieve, in mm; 0 for the pan.
        need opening_mm: NonNegative, also "opening" "aperture" "mesh opening";
        /// Mass kept back, in g.
        need retained_g: NonNegative, also "retained";
        /// Mass of the whole sample, in g.
        may charge_g: Positive, also "charge";
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// Plastic poured into a vessel of known volume (apparent density, ISO 60).
    fact "bulk" => Bulk<'a> {
        /// Lot the sample is from.
        need lot: Name<'a>, also "batch";
        /// Mass in the full vessel, struck off level, in g.
        need filled_g: Positive, also "filled" "mass";
        /// Volume of the vessel, in cm3.
        need vessel_cm3: Positive, also "vessel" "volume";
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// One cut-off of a melt-flow test (ISO 1133-1).
    fact "melt_flow" => MeltFlow<'a> {
        /// Lot the sample is from.
        need lot: Name<'a>, also "batch";
        /// Test temperature, in degrees Celsius.
        need temp_c: Celsius, also "temp" "temperature" "test temperature";
        /// Test load, in kg.
        need load_kg: Positive, also "load";
        /// Mass of the cut-off, in g.
        need cut_g: Positive, also "cut-off mass" "cut mass";
        /// Time between cuts, in s.
        need cut_s: Positive, also "cut-off time" "cut time";
        /// Piston travel in that time, in mm.
        may stroke_mm: Positive, also "stroke" "piston travel";
        /// Name of the filling of the barrel the cut belongs to.
        may run: Name<'a>;
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// One attempt to make something, and how it came out.
    fact "trial" => Trial<'a> {
        /// Lot that was used.
        need lot: Name<'a>, also "batch" "spool";
        /// Machine that was used.
        need machine: Name<'a>;
        /// What was made.
        need part: Name<'a>;
        /// How it came out.
        need outcome: Outcome, also "result";
        /// When.
        may at: Time<'a>, also "time" "date" "timestamp";
        /// Settings it was made with, each name with its unit.
        may settings: Settings;
        /// What went wrong.
        may fault: Fault;
        /// What was changed since the trial before.
        may changed: Text<'a>;
        /// Difficulty of the part, 1 for the simplest.
        may complexity: Count;
        /// Anything worth remembering.
        may note: Text<'a>, also "notes" "remark" "remarks" "comment";
        /// Where the record came from.
        may src: Source<'a>;
    }

    /// The lab's own card of a material.
    fact "material" => Material<'a> {
        /// Abbreviation (ISO 1043-1).
        need material: Name<'a>, also "polymer" "plastic";
        /// Its name in words.
        may name: Text<'a>;
        /// Density of the solid at 23 degrees Celsius, in g/cm3.
        may density_g_cm3: Positive, also "density";
        /// Smallest density of its lots at 23 degrees Celsius, in g/cm3.
        may density_min_g_cm3: Positive;
        /// Largest density of its lots at 23 degrees Celsius, in g/cm3.
        may density_max_g_cm3: Positive;
        /// Density of its melt, in g/cm3.
        may melt_density_g_cm3: Positive;
        /// Temperature at which its melt flow is tested, in degrees Celsius.
        may flow_test_c: Celsius;
        /// Load with which its melt flow is tested, in kg.
        may flow_test_kg: Positive;
        /// Lowest melt temperature it is processed at, in degrees Celsius.
        may melt_min_c: Celsius;
        /// Highest melt temperature it is processed at, in degrees Celsius.
        may melt_max_c: Celsius;
        /// Drying temperature, in degrees Celsius.
        may dry_c: Celsius;
        /// Highest temperature it may be dried at, in degrees Celsius.
        may dry_max_c: Celsius;
        /// Drying time, in h.
        may dry_h: NonNegative;
        /// Moisture that the lab's dryer leaves in it however long it runs, in per cent by mass.
        may dry_end_pct: Percent;
        /// Water it takes up at most in water of 23 degrees Celsius, in per cent by mass.
        may water_uptake_pct: Percent;
        /// Moisture above which it is not melted, in per cent by mass.
        may moisture_max_pct: Percent;
        /// Lowest activation energy of flow at constant stress, in kJ/mol.
        may activation_min_kj_mol: Positive;
        /// Highest activation energy of flow at constant stress, in kJ/mol.
        may activation_max_kj_mol: Positive;
        /// Whether it takes up enough water to need drying.
        may hygroscopic: bool;
        /// Anything worth remembering.
        may note: Text<'a>, also "notes" "remark" "remarks" "comment";
        /// Where the record came from.
        may src: Source<'a>;
    }
}
