//! What plastics are and do: cards, marks, density, drying, sieving, melt flow, filament. Pure functions, no input or output.
//!
//! Quantities are plain numbers with their unit in the name. Callers pass finite values
//! above zero, as the record types guarantee; what may be empty returns an `Option`.

pub mod blending;
pub mod cards;
pub mod density;
pub mod drying;
pub mod filament;
pub mod identify;
pub mod liquids;
pub mod marks;
pub mod melt_flow;
pub mod melt_flow_conditions;
pub mod reprocessing;
pub mod rheology;
pub mod section;
pub mod sieve;
pub mod sieve_sizes;
pub mod temperature_shift;
