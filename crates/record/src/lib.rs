//! The record contract of secondmelt: record types and their schemas, the reader
//! and writer of streams, and the runtime that every filter shares.
//!
//! Start at [`facts`] for what a lab records, [`findings`] for what the filters
//! work out, [`contract`] for what holds a stream together, and [`runtime`] for
//! how a filter is written.

pub mod contract;
mod define;
pub mod diagnose;
mod dropped;
pub mod facts;
pub mod findings;
pub mod kind;
pub mod lines;
mod named;
pub mod output;
pub mod quantity;
pub mod runtime;
pub mod scan;
pub mod schema;
pub mod shape;
pub mod spools;
pub mod tally;
pub mod text;
pub mod units;
pub mod whole;
pub mod words;

pub use contract::{Code, Place, Problem};
pub use define::Described;
pub use kind::{Class, Kind, Record};
pub use output::Out;
pub use quantity::{Celsius, Count, Fraction, NonNegative, Number, Percent, Positive, SizeMm};
pub use runtime::{About, Filter, Gate, Input, Line, run};
pub use text::{Name, Text, Time};
