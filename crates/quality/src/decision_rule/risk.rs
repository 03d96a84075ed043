//! Global risks: what a rule costs over many items, when the true values vary and so do the
//! measurements (JCGM 106:2012, clause 9.5 and annex A).

use crate::distributions::integral::adaptive;
use crate::distributions::saddle::gamma_density;
use crate::distributions::{Split, gamma, normal, root};
use crate::limits::Limits;

/// How the true values of the items vary, known beforehand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Prior {
    /// A normal process.
    Normal {
        /// Its mean.
        mean: f64,
        /// Its standard deviation.
        sd: f64,
    },
    /// A quantity that is never negative.
    Gamma {
        /// Shape, 1 or more for a density that is finite at zero.
        shape: f64,
        /// Rate, per unit: the mean is shape over rate.
        rate: f64,
    },
}

/// Global risks of a rule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Risks {
    /// Share of items beyond the limits.
    pub nonconforming: f64,
    /// Share of items accepted.
    pub accepted: f64,
    /// Share of items that are accepted and lie beyond the limits: the consumer's risk.
    pub consumer: f64,
    /// Share of items that are refused and lie within: the producer's risk.
    pub producer: f64,
    /// Share beyond the limits among the accepted ones; none where nothing is accepted.
    pub consumer_given_accepted: Option<f64>,
}

/// Points in standard deviations at which the integrals are cut into pieces.
const CUTS: [f64; 13] =
    [-38.0, -20.0, -12.0, -8.0, -4.0, -1.5, 0.0, 1.5, 4.0, 8.0, 12.0, 20.0, 38.0];

impl Prior {
    fn is_proper(self) -> bool {
        let (centre, spread) = match self {
            Self::Normal { mean, sd } => (mean, sd),
            Self::Gamma { shape, rate } => (shape, rate),
        };
        let positive = matches!(self, Self::Normal { .. }) || centre > 0.0;
        centre.is_finite() && spread > 0.0 && spread.is_finite() && positive
    }

    fn density(self, x: f64) -> f64 {
        match self {
            Self::Normal { mean, sd } => normal::density((x - mean) / sd) / sd,
            Self::Gamma { shape, rate } if x > 0.0 => gamma_density(shape, rate * x) / x,
            Self::Gamma { .. } => 0.0,
        }
    }

    fn tails(self, x: f64) -> Option<Split> {
        match self {
            Self::Normal { mean, sd } => normal::tails((x - mean) / sd),
            Self::Gamma { shape, rate } => gamma::tails(shape, rate * x),
        }
    }

    /// Where its density changes, from one end of what counts to the other.
    fn cuts(self) -> Option<Vec<f64>> {
        match self {
            Self::Normal { mean, sd } => Some(CUTS.iter().map(|z| mean + z * sd).collect()),
            Self::Gamma { shape, rate } => {
                let shares = [1e-30, 1e-10, 1e-3, 0.1, 0.5, 0.9];
                let below = shares.iter().map(|p| Split::with_below(*p));
                let above = [1e-3, 1e-10, 1e-20, 1e-30].iter().map(|p| Split::with_above(*p));
                below.chain(above).map(|s| Some(gamma::quantile(shape, s?)? / rate)).collect()
            }
        }
    }
}

/// Global risks of accepting a measured value that lies inside both limits by the guard band
/// `guard`, with the standard uncertainty `u` of a normal measurement. A negative guard
/// widens the interval. None unless the prior is proper, u positive and the guard finite.
#[must_use]
pub fn global(prior: Prior, limits: Limits, guard: f64, u: f64) -> Option<Risks> {
    let model = Model::new(prior, limits, guard, u)?;
    let (consumer, accepted) = (model.consumer(), model.over(|x| model.inside.accepted(x)));
    let producer = model.over(|x| if limits.hold(x) { model.inside.refused(x) } else { 0.0 });
    let below = limits.lower().map_or(Some(0.0), |x| Some(prior.tails(x)?.below))?;
    let above = limits.upper().map_or(Some(0.0), |x| Some(prior.tails(x)?.above))?;
    let given = consumer / accepted;
    Some(Risks {
        nonconforming: below + above,
        accepted,
        consumer,
        producer,
        consumer_given_accepted: given.is_finite().then_some(given),
    })
}

/// Items, limits and measurement, and where to cut their integrals.
struct Model {
    prior: Prior,
    limits: Limits,
    inside: Acceptance,
    cuts: Vec<f64>,
}

impl Model {
    fn new(prior: Prior, limits: Limits, guard: f64, u: f64) -> Option<Self> {
        if !(prior.is_proper() && u > 0.0 && u.is_finite() && guard.is_finite()) {
            return None;
        }
        let inside = Acceptance { low: limits.lower(), high: limits.upper(), guard, u };
        let cuts = inside.cuts(limits, prior)?;
        Some(Self { prior, limits, inside, cuts })
    }

    fn consumer(&self) -> f64 {
        self.over(|x| if self.limits.hold(x) { 0.0 } else { self.inside.accepted(x) })
    }

    /// Mean of a chance over all items.
    fn over(&self, chance: impl Fn(f64) -> f64) -> f64 {
        let pieces = self.cuts.iter().zip(self.cuts.iter().skip(1));
        // No piece holds a limit inside: its middle tells on which side it lies.
        let count = pieces.filter(|(a, b)| chance(f64::midpoint(**a, **b)) > 0.0);
        count.map(|(a, b)| adaptive(*a, *b, &|x| self.prior.density(x) * chance(x))).sum()
    }
}

/// The interval that measured values are accepted in.
struct Acceptance {
    low: Option<f64>,
    high: Option<f64>,
    guard: f64,
    u: f64,
}

impl Acceptance {
    /// Distances of a true value from the edges, inwards, in standard uncertainties.
    fn depths(&self, x: f64) -> (f64, f64) {
        let low = self.low.map_or(f64::INFINITY, |low| (x - low - self.guard) / self.u);
        let high = self.high.map_or(f64::INFINITY, |high| (high - self.guard - x) / self.u);
        (low, high)
    }

    /// Probability that an item of the true value x is accepted.
    fn accepted(&self, x: f64) -> f64 {
        let (low, high) = self.depths(x);
        // The nearer edge first: no difference of shares near one.
        let (near, far) = (low.min(high), low.max(high));
        (normal::below(near) - normal::below(-far)).max(0.0)
    }

    /// Probability that it is refused.
    fn refused(&self, x: f64) -> f64 {
        let (low, high) = self.depths(x);
        (normal::below(-low) + normal::below(-high)).min(1.0)
    }

    /// Where the integrand changes, in order: limits, edges with their surroundings, prior.
    fn cuts(&self, limits: Limits, prior: Prior) -> Option<Vec<f64>> {
        let edges = [self.low.map(|x| x + self.guard), self.high.map(|x| x - self.guard)];
        let around = |edge: f64| CUTS.iter().map(move |z| edge + z * self.u);
        let of_prior = prior.cuts()?;
        let first = of_prior.iter().copied().fold(f64::INFINITY, f64::min);
        let last = of_prior.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let mut cuts: Vec<f64> = edges.into_iter().flatten().flat_map(around).collect();
        cuts.extend(limits.lower().into_iter().chain(limits.upper()));
        cuts.retain(|x| *x > first && *x < last);
        cuts.extend(of_prior);
        cuts.sort_by(f64::total_cmp);
        Some(cuts)
    }
}

/// The guard band inside both limits at which the consumer's risk is `target`; negative
/// where the limits themselves are safer than that. None where no band gives it, such as a
/// target above the share of nonconforming items.
#[must_use]
pub fn guard_for_consumer(prior: Prior, limits: Limits, u: f64, target: f64) -> Option<f64> {
    let wanted = Split::with_below(target)?.below;
    root::of_increasing(0.0, u, |guard| {
        let risk = Model::new(prior, limits, guard, u)?.consumer();
        Some((wanted.ln() - risk.ln(), f64::NAN))
    })
}
