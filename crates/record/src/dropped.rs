//! Kinds that a run leaves out of its output.

use crate::kind::Kind;

/// Kinds that are left out of the output.
#[derive(Debug, Clone, Default)]
pub struct Dropped {
    known: Vec<Kind>,
    strangers: Vec<String>,
}

impl Dropped {
    /// The kinds named.
    ///
    /// # Errors
    /// `begin` and `end` cannot be left out: they show that a stream is whole.
    pub fn new(names: &[String]) -> Result<Self, String> {
        let mut dropped = Self::default();
        for name in names {
            match Kind::from_name(name) {
                Some(Kind::Begin | Kind::End) => {
                    return Err(format!(
                        "--drop {name}: `begin` and `end` show that a stream is whole and cannot be left out"
                    ));
                }
                Some(kind) => dropped.known.push(kind),
                None if name.contains('.') => dropped.strangers.push(name.clone()),
                None => {
                    return Err(format!(
                        "--drop {name}: no such kind (`check-records --list` shows them; a kind made by \
                         somebody else has a dot in its name)"
                    ));
                }
            }
        }
        Ok(dropped)
    }

    #[inline]
    pub(crate) fn kind(&self, kind: Kind) -> bool {
        self.known.contains(&kind)
    }

    pub(crate) fn stranger(&self, kind: &str) -> bool {
        self.strangers.iter().any(|name| name == kind)
    }
}
