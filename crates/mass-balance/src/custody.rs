//! Chain of custody: which streams count as recycled, what each model of ISO 22095 keeps, and how a
//! claim is drawn and marked.
//!
//! Definitions: ISO 14021 (recycled content), ISO 22095 (models), ISO 11469 (a marked content is a
//! minimum). Local consumer law decides what may be claimed.

use secondmelt_record::facts::Origin;

/// Where a stream of plastic waste comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WasteOf {
    /// A process that can put it back into itself: rework, regrind, scrap, purge, failed prints of
    /// the same loop. Where the boundary of the process is drawn must be declared.
    SameProcess,
    /// Another process, which could not put it back.
    OtherProcess,
    /// End users: households, trades, institutions.
    Users,
    /// The distribution chain: unsold and returned goods.
    Distribution,
}

impl WasteOf {
    /// The origin that ISO 14021 gives it: in-process waste is not recycled content.
    #[must_use]
    pub fn origin(self) -> Origin {
        match self {
            Self::SameProcess => Origin::InProcess,
            Self::OtherProcess => Origin::PreConsumer,
            Self::Users | Self::Distribution => Origin::PostConsumer,
        }
    }
}

/// A model of ISO 22095.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Model {
    /// Identity preserved: one source, kept apart.
    IdentityPreserved,
    /// Segregated: like with like, of several sources.
    Segregated,
    /// Controlled blending: mixed to a share that is known for every batch.
    ControlledBlending,
    /// Mass balance: inputs and claims agree over a period, not in each batch.
    MassBalance,
    /// Book and claim: claims are traded apart from the material.
    BookAndClaim,
}

impl Model {
    /// Whether the content of each batch is known.
    #[must_use]
    pub fn knows_each_batch(self) -> bool {
        matches!(self, Self::IdentityPreserved | Self::Segregated | Self::ControlledBlending)
    }

    /// Whether all comes from one source.
    #[must_use]
    pub fn has_one_source(self) -> bool {
        self == Self::IdentityPreserved
    }

    /// Whether records follow the material.
    #[must_use]
    pub fn follows_the_material(self) -> bool {
        self != Self::BookAndClaim
    }

    /// The strictest model that a lot of these shares by origin keeps, where every mixing is recorded:
    /// segregated while only one origin is in it, else controlled blending.
    #[must_use]
    pub fn of_shares(shares: impl IntoIterator<Item = f64>) -> Self {
        let origins = shares.into_iter().filter(|share| *share > 0.0).count();
        if origins > 1 { Self::ControlledBlending } else { Self::Segregated }
    }

    /// The name that the standard gives it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::IdentityPreserved => "identity preserved",
            Self::Segregated => "segregated",
            Self::ControlledBlending => "controlled blending",
            Self::MassBalance => "mass balance",
            Self::BookAndClaim => "book and claim",
        }
    }
}

/// Recycled content, in per cent, of masses that count and masses that do not; additives and colour
/// count in the whole. None of nothing, or of a negative mass.
#[must_use]
pub fn content_pct(recycled: f64, rest: f64) -> Option<f64> {
    let whole = recycled + rest;
    let sound = recycled >= 0.0 && rest >= 0.0 && whole > 0.0 && whole.is_finite();
    sound.then(|| 100.0 * recycled / whole)
}

/// What may be claimed over a period under the mass-balance model, in the unit of the input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Credit {
    left: f64,
    gained: f64,
}

impl Credit {
    /// The credit of an input with the property, at a yield between 0 and 1. None unless both make
    /// sense.
    #[must_use]
    pub fn of(input: f64, gain: f64) -> Option<Self> {
        let sound = input >= 0.0 && input.is_finite() && (0.0..=1.0).contains(&gain);
        sound.then_some(Self { left: input * gain, gained: input * gain })
    }

    /// A credit that is left from before.
    #[must_use]
    pub fn left_over(left: f64) -> Option<Self> {
        Self::of(left, 1.0)
    }

    /// What was gained.
    #[must_use]
    pub fn gained(self) -> f64 {
        self.gained
    }

    /// What is left.
    #[must_use]
    pub fn left(self) -> f64 {
        self.left
    }

    /// Mean share over an output, in per cent.
    #[must_use]
    pub fn mean_pct(self, output: f64) -> Option<f64> {
        (output > 0.0).then(|| 100.0 * self.gained / output).filter(|pct| pct.is_finite())
    }

    /// Takes out what is claimed.
    ///
    /// # Errors
    /// The shortfall, and nothing is taken, where more is wanted than is left.
    pub fn draw(&mut self, wanted: f64) -> Result<(), f64> {
        if wanted > self.left {
            return Err(wanted - self.left);
        }
        self.left -= wanted.max(0.0);
        Ok(())
    }
}

/// The content that may be marked, in steps of `step` per cent: a marked content is a minimum, so it
/// is rounded down. A content that misses a step by rounding noise only (1e-9) is taken as on it.
#[must_use]
pub fn mark_pct(content_pct: f64, step: f64) -> f64 {
    ((content_pct + 1e-9) / step).floor() * step
}
