//! The register of record kinds: names, tables of fields, and the one type that
//! holds a record of any of them.

use crate::contract::{Begin, End, Problem};
use crate::define::Described;
use crate::facts::*;
use crate::findings::*;
use crate::shape::{Field, paragraph};

/// What a kind is in the contract.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Class {
    /// What the lab recorded.
    Fact,
    /// What a filter worked out.
    Finding,
    /// What holds the stream together.
    Frame,
}

macro_rules! kinds {
    ($($class:ident { $($name:ident,)* })*) => {
        /// A record kind.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Kind {
            $($(
                #[doc = concat!("See [`", stringify!($name), "`].")]
                $name,
            )*)*
        }

        /// A record of any kind.
        #[derive(Debug, Clone, PartialEq)]
        #[allow(clippy::large_enum_variant, reason = "lives on the stack, one at a time, and must not allocate")]
        pub enum Record<'a> {
            $($(
                #[doc = concat!("See [`", stringify!($name), "`].")]
                $name($name<'a>),
            )*)*
        }

        impl Kind {
            /// Every kind.
            pub const ALL: &'static [Self] = &[$($(Self::$name,)*)*];

            /// The word in the field `kind`.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $($(Self::$name => <$name as Described>::KIND,)*)* }
            }

            /// What it is in the contract.
            #[must_use]
            pub const fn class(self) -> Class {
                match self { $($(Self::$name => Class::$class,)*)* }
            }

            /// Its fields, in the order in which they are written.
            #[must_use]
            pub const fn fields(self) -> &'static [Field] {
                match self { $($(Self::$name => <$name as Described>::FIELDS,)*)* }
            }

            fn doc(self) -> &'static str {
                match self { $($(Self::$name => <$name as Described>::DOC,)*)* }
            }
        }

        impl<'a> Record<'a> {
            /// Reads a record of a known kind from its line.
            ///
            /// # Errors
            /// Where the line is not a record of that kind; [`crate::diagnose`] says why.
            pub fn parse(kind: Kind, line: &'a str) -> Result<Self, serde_json::Error> {
                Ok(match kind { $($(Kind::$name => Self::$name(serde_json::from_str(line)?),)*)* })
            }

            /// Its kind.
            #[must_use]
            pub fn kind(&self) -> Kind {
                match self { $($(Self::$name(_) => Kind::$name,)*)* }
            }
        }
    };
}

kinds! {
    Fact {
        Lot, Step, Weighing, Machine, TurningPart, Gauge, Scale, Limit, Diameter, Inclusion,
        Inspection, Marking, Immersion, Moisture, Sieve, Bulk, MeltFlow, Trial,
        Material,
    }
    Finding {
        Verdict, Adjustment, Caution, DiameterSummary, Excursion, OutShare, Piece, LogGap, FlowFit,
        Capability, Drift, Wave, Cleanliness,
        ChartLimits, Chart, ChartPoint, Alarm, CauseFound, DiameterSoFar, GaugeStudy, SamplingPlan,
        StepBalance,
        LotBalance, MeltFlowResult,
        MeltViscosity, MeltFlowRepeatability, MeltFlowDrift, PassesLeft, BlendShare, FlowActivation,
        ReconciledStream, Suspect, Composition, RecycledContent, Descent, MassFlow, Loss, Outlay,
        LossTrend, RolledYield,
        DensityFound, Candidate, FloatSink, DryingCurve, ParticleSize, BulkDensity,
        TrialEvidence, FaultShare, SettingEffect, NextTrial, ScreeningDesign, ScreeningRun,
        FeedNeed, MachineTime, ReadingPlan, BatchStage, PieceUse, PiecePlan,
    }
    Frame { Begin, End, Problem, }
}

impl Kind {
    /// The kind of that name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|kind| kind.name() == name)
    }

    /// What the kind is, in plain words.
    #[must_use]
    pub fn text(self) -> String {
        paragraph(self.doc())
    }

    /// One of its fields.
    #[must_use]
    pub fn field(self, name: &str) -> Option<&'static Field> {
        self.fields().iter().find(|f| f.name == name)
    }
}

impl std::fmt::Display for Kind {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(self.name())
    }
}

impl std::str::FromStr for Kind {
    type Err = String;

    fn from_str(name: &str) -> Result<Self, String> {
        Self::from_name(name).ok_or_else(|| {
            let names: Vec<_> = Self::ALL.iter().map(|k| k.name()).collect();
            format!("no such kind; the kinds are {}", names.join(", "))
        })
    }
}
