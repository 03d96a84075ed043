//! What plastics do: melt flow, filament and flow. Pure functions, no input or output.
//!
//! Quantities are plain numbers with their unit in the name. Callers pass finite values
//! above zero, as the record types guarantee; what may be empty returns an `Option`.

pub mod blending;
pub mod filament;
pub mod melt_flow;
pub mod melt_flow_conditions;
pub mod reprocessing;
pub mod rheology;
pub mod section;
pub mod temperature_shift;
