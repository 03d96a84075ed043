//! A plot's frame: two scales, their marks and names.

use super::scale::Scale;
use super::svg::{Anchor, Drawing};

/// Units across a drawing. On a phone a unit is three quarters of a pixel, on a desk a bit more
/// than one.
pub(crate) const WIDTH: f64 = 480.0;
const LEFT: f64 = 50.0;
const RIGHT: f64 = 470.0;

/// The inner area of a plot and its scales.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Axes {
    pub(crate) x: Scale,
    pub(crate) y: Scale,
    pub(crate) left: f64,
    pub(crate) right: f64,
    pub(crate) top: f64,
    pub(crate) bottom: f64,
}

/// Where the values of a plot lie across.
pub(crate) const ACROSS: (f64, f64) = (LEFT, RIGHT);

impl Axes {
    pub(crate) fn new(x: Scale, y: Scale, top: f64, bottom: f64) -> Self {
        Self { x, y, left: LEFT, right: RIGHT, top, bottom }
    }

    pub(crate) fn at(&self, x: f64, y: f64) -> (f64, f64) {
        (self.x.at(x), self.y.at(y))
    }

    /// Lines and labels of the upright axis; its name stands over it.
    pub(crate) fn upright(&self, drawing: &mut Drawing, name: &str) {
        for (value, label) in self.y.ticks(5) {
            let y = self.y.at(value);
            drawing.line((self.left, y), (self.right, y), "grid");
            drawing.text((self.left - 5.0, y + 4.0), Anchor::End, "tick", label);
        }
        if !name.is_empty() {
            drawing.text((2.0, self.top - 10.0), Anchor::Start, "name", name);
        }
    }

    /// The level axis at `y`; its name stands under its end.
    pub(crate) fn level(&self, drawing: &mut Drawing, y: f64, name: &str) {
        drawing.line((self.left, y), (self.right, y), "axis");
        for (value, label) in self.x.ticks(6) {
            let x = self.x.at(value);
            drawing.line((x, y), (x, y + 4.0), "axis");
            drawing.text((x, y + 16.0), Anchor::Middle, "tick", label);
        }
        drawing.text((self.right, y + 31.0), Anchor::End, "name", name);
    }
}
