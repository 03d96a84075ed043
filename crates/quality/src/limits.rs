//! The limits of a specification.

/// A lower limit, an upper limit, or both, the lower below the upper. A value on a limit
/// keeps it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    lower: Option<f64>,
    upper: Option<f64>,
}

impl Limits {
    /// Limits; none where both are missing, one is not finite, or lower is not below upper.
    #[must_use]
    pub fn new(lower: Option<f64>, upper: Option<f64>) -> Option<Self> {
        let finite = lower.into_iter().chain(upper).all(f64::is_finite);
        let ordered = match (lower, upper) {
            (Some(lower), Some(upper)) => lower < upper,
            (None, None) => false,
            _ => true,
        };
        (finite && ordered).then_some(Self { lower, upper })
    }

    /// The lower limit.
    #[must_use]
    pub fn lower(self) -> Option<f64> {
        self.lower
    }

    /// The upper limit.
    #[must_use]
    pub fn upper(self) -> Option<f64> {
        self.upper
    }

    /// Upper less lower limit; none where one is missing.
    #[must_use]
    pub fn width(self) -> Option<f64> {
        Some(self.upper? - self.lower?)
    }

    /// Half way between the limits; none where one is missing.
    #[must_use]
    pub fn middle(self) -> Option<f64> {
        Some(f64::midpoint(self.lower?, self.upper?))
    }

    /// Whether a value lies within the limits or on one.
    #[must_use]
    pub fn hold(self, x: f64) -> bool {
        self.lower.is_none_or(|lower| x >= lower) && self.upper.is_none_or(|upper| x <= upper)
    }
}
