//! Where the interval of a mean diameter stands to the diameter that is wanted.

/// A difference of less than this share of the tolerance is noise, and a change for it would
/// only chase it: the lab's own measure, common practice, without a source.
const NOISE: f64 = 0.25;

/// A tolerance and the machine that states it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tolerance<'a> {
    /// Largest deviation from the target, either way, in mm.
    pub(crate) mm: f64,
    /// Name of the machine.
    pub(crate) machine: &'a str,
}

/// What an interval of the diameter shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Stand {
    /// All of it is so near that a change would be noise.
    Near,
    /// It does not hold the target.
    Off,
    /// It holds the target, and all of it is within the tolerance.
    Within,
    /// It holds the target and reaches past the tolerance, or none is known.
    Wide,
}

/// Where the interval from `low` to `high` stands, all in mm.
pub(crate) fn stand(low: f64, high: f64, target: f64, tolerance: Option<f64>) -> Stand {
    let within = |share: f64| {
        tolerance.is_some_and(|t| target - share * t <= low && high <= target + share * t)
    };
    if within(NOISE) {
        Stand::Near
    } else if high < target || target < low {
        Stand::Off
    } else if within(1.0) {
        Stand::Within
    } else {
        Stand::Wide
    }
}

/// The end of the tolerance that the interval comes closest to or passes furthest, in mm.
pub(crate) fn nearer_limit(low: f64, high: f64, target: f64, tolerance: f64) -> f64 {
    let limit = if high - target >= target - low { target + tolerance } else { target - tolerance };
    // Far below what any gauge reads: 2.85 - 0.05 is 2.8 again.
    (limit * 1e9).round() / 1e9
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_whole_interval_decides_and_not_its_middle() {
        for (low, high, tolerance, expected) in [
            (1.74, 1.76, Some(0.04), Stand::Near),
            (1.751, 1.759, Some(0.04), Stand::Near),
            (1.751, 1.761, Some(0.04), Stand::Off),
            (1.74, 1.761, Some(0.04), Stand::Within),
            (1.70, 1.76, Some(0.04), Stand::Wide),
            (1.74, 1.76, None, Stand::Wide),
            (1.751, 1.752, None, Stand::Off),
            (1.70, 1.71, Some(0.04), Stand::Off),
        ] {
            assert_eq!(stand(low, high, 1.75, tolerance), expected, "{low} {high} {tolerance:?}");
        }
    }
}
