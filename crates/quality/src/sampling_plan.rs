//! Acceptance sampling: how many items of a lot to check, and when to accept it.
//!
//! [`attributes`] counts bad items, [`variables`] uses mean and standard deviation of a
//! measured value, [`standard`] looks up the plans of the standards. The chance to accept a
//! lot over its share of bad items is the operating characteristic.

pub mod attributes;
pub mod standard;
pub mod variables;

use crate::distributions::Split;

/// Two points of an operating characteristic that a plan shall keep: a lot with the share
/// `good` of bad items is refused with probability `producer` at most, one with the share
/// `bad` accepted with probability `consumer` at most.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Risks {
    good: Split,
    producer: f64,
    bad: Split,
    consumer: f64,
}

impl Risks {
    /// None unless 0 < good < bad < 1, both risks lie between 0 and 1, and less than one
    /// together.
    #[must_use]
    pub fn new(good: f64, producer: f64, bad: f64, consumer: f64) -> Option<Self> {
        Split::with_below(producer)?;
        Split::with_below(consumer)?;
        (good < bad && producer + consumer < 1.0).then_some(Self {
            good: Split::with_above(good)?,
            producer,
            bad: Split::with_above(bad)?,
            consumer,
        })
    }
}
