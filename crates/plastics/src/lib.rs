//! What plastics do: melt flow, filament and flow. Pure functions, no input or output.
