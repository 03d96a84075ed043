//! Statistics of filament. Pure functions and accumulators, no input or output.
//!
//! Accumulators take one value at a time and keep a fixed amount of memory.

pub mod decimal;
pub mod mean_interval;
pub mod readings;
pub mod success_run;
pub mod sums;
