//! What a lab says of itself before its readings.

use crate::charts::Fed;
use crate::line::Line;
use crate::machines::Machines;

/// Machines, the extrusion line, and limits of charts that were kept.
#[derive(Debug, Default)]
pub struct Lab {
    /// Printers.
    pub machines: Machines,
    /// The extrusion line.
    pub production: Line,
    /// Limits of control charts, in the order in which they came.
    pub fed: Vec<Fed>,
}
