//! Statistics of filament and trials. Pure functions, no input or output.
