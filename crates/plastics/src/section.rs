//! The cross-section of a filament, and what a gauge that reads widths makes of it.
//!
//! A gauge sees the width of a section between two parallel planes, not its shape. What that hides:
//!
//! - Of an ellipse at 45 degrees to two axes, everything: both widths are equal. Averaged over
//!   all angles, the difference of two widths at right angles is 2/pi (64 %) of the true
//!   ovality, for a small one. A two-axis gauge on filament that does not turn as it passes
//!   understates ovality by about a third on average, and in the worst case sees none.
//! - Of a section with an odd number of lobes, everything: its width is the same all around, and its
//!   area smaller than that of a circle of that width.
//! - Of four lobes, two axes at right angles see both maxima or both minima, and no ovality.
//!
//! The root mean square of two widths at right angles is the same at every angle of an
//! ellipse; their geometric mean is exact when the axes of gauge and ellipse agree.

use std::f64::consts::{FRAC_PI_2, PI};

/// Width, in the unit of the axes, of an ellipse of two diameters, in a direction at `angle`
/// (radians) to the major one: the root of a^2 cos^2 + b^2 sin^2.
#[must_use]
pub fn ellipse_width(major: f64, minor: f64, angle: f64) -> f64 {
    (major * angle.cos()).hypot(minor * angle.sin())
}

/// Difference of the widths along two axes at right angles, averaged over all angles of the ellipse
/// to them. Trapezoidal rule over a quarter turn, where it converges geometrically but for
/// the kink at 45 degrees, which is a node.
#[must_use]
pub fn mean_apparent_ovality(major: f64, minor: f64) -> f64 {
    const STEPS: u32 = 4096;
    let step = FRAC_PI_2 / f64::from(STEPS);
    let apparent = |i: u32| {
        let angle = step * f64::from(i);
        (ellipse_width(major, minor, angle) - ellipse_width(major, minor, angle + FRAC_PI_2)).abs()
    };
    let ends = (apparent(0) + apparent(STEPS)) / 2.0;
    (ends + (1..STEPS).map(apparent).sum::<f64>()) / f64::from(STEPS)
}

/// Diameter of the circle with the area of an ellipse of two diameters.
#[must_use]
pub fn ellipse_equal_area(major: f64, minor: f64) -> f64 {
    (major * minor).sqrt()
}

/// Width, in the unit of the radius, of a section with `lobes` lobes in a direction at `angle`
/// (radians) to one of them: h(phi) + h(phi + pi) with the support function
/// h = radius + height cos(lobes phi). The section is convex while
/// height (lobes^2 - 1) <= radius.
#[must_use]
pub fn lobed_width(radius: f64, height: f64, lobes: u32, angle: f64) -> f64 {
    if lobes % 2 == 1 {
        return 2.0 * radius;
    }
    2.0 * (radius + height * (f64::from(lobes) * angle).cos())
}

/// Area of such a section: pi radius^2 + pi/2 height^2 (1 - lobes^2).
#[must_use]
pub fn lobed_area(radius: f64, height: f64, lobes: u32) -> f64 {
    PI * radius * radius + FRAC_PI_2 * height * height * (1.0 - f64::from(lobes).powi(2))
}

/// Diameter of the circle with an area.
#[must_use]
pub fn diameter_of_area(area: f64) -> f64 {
    2.0 * (area / PI).sqrt()
}
