//! Probability distributions, for the intervals, plans and rules of the other modules.
//!
//! A distribution function is given as two tails, a [`Split`]: what lies below and what
//! lies above. The smaller one keeps its digits, so that a share of 1e-20 above a limit
//! is not lost as one minus a number that rounds to one. Quantiles are asked for with the
//! same pair.
//!
//! Only the error function is a library's. The incomplete gamma and beta functions are
//! worked out here, since those of the library lose digits, leave the range from 0 to 1 or
//! do not return for large arguments; `tests/cross_check.rs` holds each against values of
//! other libraries. Every loop here has an end; what does not converge is none.

pub mod beta;
pub mod binomial;
pub mod fisher_f;
pub mod gamma;
pub mod hypergeometric;
pub mod noncentral_t;
pub mod normal;
pub mod poisson;
pub mod student_t;

pub(crate) mod integral;
pub(crate) mod root;
pub(crate) mod saddle;

/// What lies below and what lies above a point, as shares of one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Split {
    /// Share below the point (of counts: up to and including it).
    pub below: f64,
    /// Share above it.
    pub above: f64,
}

impl Split {
    /// Everything lies above.
    pub(crate) const ALL_ABOVE: Self = Self { below: 0.0, above: 1.0 };
    /// Everything lies below.
    pub(crate) const ALL_BELOW: Self = Self { below: 1.0, above: 0.0 };

    /// A split with the share `p` below; none unless 0 < p < 1.
    #[must_use]
    pub fn with_below(p: f64) -> Option<Self> {
        (p > 0.0 && p < 1.0).then_some(Self { below: p, above: 1.0 - p })
    }

    /// A split with the share `p` above; none unless 0 < p < 1.
    #[must_use]
    pub fn with_above(p: f64) -> Option<Self> {
        Self::with_below(p).map(Self::swapped)
    }

    /// The split seen from the other side.
    #[must_use]
    pub fn swapped(self) -> Self {
        Self { below: self.above, above: self.below }
    }

    /// The pair of a share below that was worked out by itself.
    fn of_below(p: f64) -> Option<Self> {
        (-1e-9..=1.0 + 1e-9).contains(&p).then(|| {
            let p = p.clamp(0.0, 1.0);
            Self { below: p, above: 1.0 - p }
        })
    }

    /// The pair of a share above that was worked out by itself.
    fn of_above(p: f64) -> Option<Self> {
        Self::of_below(p).map(Self::swapped)
    }

    /// Whether both are proper shares that a quantile exists for.
    fn is_inside(self) -> bool {
        self.below > 0.0 && self.above > 0.0 && (self.below + self.above - 1.0).abs() < 1e-9
    }
}

/// The point that splits a distribution as asked: the root over `x` of the logarithm of
/// the smaller share. `split_at` gives the shares at a point and the density there.
/// None where it does not exist or is not found.
pub(crate) fn point_of(
    wanted: Split,
    start: f64,
    reach: f64,
    split_at: impl Fn(f64) -> Option<(Split, f64)>,
) -> Option<f64> {
    if !wanted.is_inside() {
        return None;
    }
    let lower = wanted.below <= wanted.above;
    root::of_increasing(start, reach, |x| {
        let (split, density) = split_at(x)?;
        Some(if lower {
            (split.below.ln() - wanted.below.ln(), density / split.below)
        } else {
            (wanted.above.ln() - split.above.ln(), density / split.above)
        })
    })
}
