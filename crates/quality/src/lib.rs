//! Statistics of filament. Pure functions and accumulators, no input or output.
//!
//! Accumulators take one value at a time and keep a fixed amount of memory.

pub mod autocorrelation;
pub mod capability;
pub mod chart;
pub mod chart_factors;
pub mod contingency;
pub mod cusum;
pub mod decimal;
pub mod decision_rule;
pub mod designs;
pub mod distributions;
pub mod ewma;
pub mod firth;
pub mod gauge_study;
pub mod histogram;
mod integral_equation;
pub mod limits;
pub mod mean_interval;
pub mod network;
pub mod packing;
pub mod period_match;
pub mod poisson_rate;
pub mod proportion;
pub mod random;
pub mod readings;
pub mod regression;
pub mod run_rules;
pub mod running_difference;
pub mod sampling_plan;
pub mod separating;
pub mod sequential;
pub mod spectrum;
pub mod sums;
mod tails;
pub mod tolerance_interval;
pub mod yield_product;
