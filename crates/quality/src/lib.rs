//! Statistics of filament. Pure functions and accumulators, no input or output.
//!
//! Accumulators take one value at a time and keep a fixed amount of memory.

pub mod autocorrelation;
pub mod chart;
pub mod chart_factors;
pub mod cusum;
pub mod decimal;
pub mod ewma;
pub mod histogram;
pub mod mean_interval;
pub mod readings;
pub mod regression;
pub mod run_rules;
pub mod spectrum;
pub mod success_run;
pub mod sums;
mod tails;
