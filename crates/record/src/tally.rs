//! Counting records by kind, in bounded memory whatever kinds a stream holds.

use crate::contract::Counts;
use crate::kind::Kind;
use std::collections::BTreeMap;

/// How many kinds of strangers are told apart.
const STRANGERS_MAX: usize = 1000;
const THE_REST: &str = "(other kinds)";
const BLANK: &str = "(blank lines)";

/// A count of records by kind.
#[derive(Debug, Clone)]
pub struct Tally {
    known: Vec<u64>,
    strangers: BTreeMap<String, u64>,
    blank: u64,
}

impl Default for Tally {
    fn default() -> Self {
        Self { known: vec![0; Kind::ALL.len()], strangers: BTreeMap::new(), blank: 0 }
    }
}

impl Tally {
    /// Counts a record of a known kind.
    #[inline]
    pub fn add(&mut self, kind: Kind) {
        self.known[kind as usize] += 1;
    }

    /// Counts a record of another kind.
    pub fn add_stranger(&mut self, kind: &str) {
        if let Some(n) = self.strangers.get_mut(kind) {
            *n += 1;
        } else {
            let full = self.strangers.len() >= STRANGERS_MAX || kind.len() > 200;
            let name = if full { THE_REST } else { kind };
            *self.strangers.entry(name.to_owned()).or_default() += 1;
        }
    }

    /// Counts a blank line.
    pub fn add_blank(&mut self) {
        self.blank += 1;
    }

    /// The count of one known kind.
    #[must_use]
    pub fn of(&self, kind: Kind) -> u64 {
        self.known[kind as usize]
    }

    /// The counts that are not zero, by name.
    #[must_use]
    pub fn counts(&self) -> Counts {
        let known = Kind::ALL.iter().map(|k| (k.name().to_owned(), self.of(*k)));
        let strangers = self.strangers.iter().map(|(name, n)| (name.clone(), *n));
        let blank = std::iter::once((BLANK.to_owned(), self.blank));
        Counts(known.chain(strangers).chain(blank).filter(|(_, n)| *n > 0).collect())
    }
}
