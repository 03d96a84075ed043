//! What a step is: what went in and out of it, with true masses.
//!
//! A loss that nobody uses again is booked under the lot that it was lost from; scrap
//! that is used again has a name of its own.
//!
//! Masses are in tenths of a gram. In every step what goes in equals what comes
//! out; only the scale, one slip of the keyboard and what nobody weighed stand
//! between these figures and the ledger.

use super::Trouble;
use super::spools::Spool;

/// When something happened, by the clock on the wall: month, day, hour, minute of 2026.
pub type Clock = (u8, u8, u8, u8);

/// A mass, or how to find it.
#[derive(Clone, Copy)]
pub enum Mass {
    /// So many tenths of a gram.
    Of(i64),
    /// The mass of the spool of that name.
    Wound,
    /// Whatever makes in and out of the step equal.
    Rest,
}

/// What somebody did to a weighing.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Slip {
    /// Weighed and written down.
    None,
    /// Two digits changed places on the keyboard.
    MisKeyed,
    /// It flowed, and nobody weighed it.
    NotWeighed,
}

/// Something that went in or out of a step.
pub struct Stream {
    /// Lot.
    pub lot: &'static str,
    /// Role, by its word in the records.
    pub role: &'static str,
    /// True mass.
    pub mass: Mass,
    /// What became of the weighing.
    pub slip: Slip,
}

/// A step.
pub struct Step {
    /// Name.
    pub step: &'static str,
    /// What it does, by its word in the records.
    pub does: &'static str,
    /// When it began.
    pub at: Clock,
    /// Machine.
    pub machine: &'static str,
    /// Screw speed in rpm, line speed in m/min, melt and bed temperature in C; 0 where none.
    pub settings: [f64; 4],
    /// Energy, in tenths of a kWh; 0 where nobody read the meter.
    pub energy: u32,
    /// Streams.
    pub streams: Vec<Stream>,
}

impl Step {
    /// True mass of a stream, in tenths of a gram.
    pub fn mass_dg(&self, stream: &Stream, spools: &[Spool]) -> Result<i64, Trouble> {
        match stream.mass {
            Mass::Of(mass) => Ok(mass),
            Mass::Wound => {
                let spool = spools.iter().find(|s| s.lot == stream.lot);
                Ok(spool.ok_or_else(|| format!("no spool {}", stream.lot))?.mass_dg())
            }
            Mass::Rest => {
                let mut rest = 0;
                for other in self.streams.iter().filter(|s| !matches!(s.mass, Mass::Rest)) {
                    let mass = self.mass_dg(other, spools)?;
                    rest += if other.role == "in" { mass } else { -mass };
                }
                Ok(if stream.role == "in" { -rest } else { rest })
            }
        }
    }
}

/// The step in which the shelf was weighed, after all others.
pub const STOCKTAKE: &str = "stocktake";

/// Lots of which something was left on the shelf by then.
pub const STOCK: [&str; 8] =
    ["dried-1", "dried-2", "dried-3", "blend-3", "spool-1a", "spool-1b", "spool-2a", "spool-3a"];
