//! Particle size by sieving: undersize curve, percentiles, RRSB law.

/// A sieving: openings in mm from the coarsest to the finest, with the mass on each in g,
/// and what the pan caught.
#[derive(Debug, Clone, PartialEq)]
pub struct Sieving {
    stack: Vec<(f64, f64)>,
    pan_g: f64,
    recovered_g: f64,
}

/// How a size between two openings is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Between {
    /// Straight line on the size.
    Linear,
    /// Straight line on the logarithm of the size.
    Log,
}

/// The law of Rosin, Rammler, Sperling and Bennett (DIN 66145): undersize
/// 1 - exp(-(d/d')^n).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rrsb {
    /// Width: the larger, the narrower.
    pub n: f64,
    /// Size that 63.2 % by mass passes, in mm.
    pub d63_2_mm: f64,
    /// Share of the spread explained on the RRSB grid.
    pub r_squared: f64,
}

impl Sieving {
    /// Opening in mm and mass in g of each sieve in any order, 0 mm the pan. None where
    /// nothing was kept back.
    #[must_use]
    pub fn new(masses: &[(f64, f64)]) -> Option<Self> {
        let of = |pan: bool| masses.iter().copied().filter(move |&(mm, _)| (mm == 0.0) == pan);
        let mut stack: Vec<_> = of(false).collect();
        stack.sort_by(|a, b| b.0.total_cmp(&a.0));
        let pan_g = of(true).map(|(_, g)| g).sum();
        let recovered_g = masses.iter().map(|(_, g)| g).sum();
        (recovered_g > 0.0 && !stack.is_empty()).then_some(Self { stack, pan_g, recovered_g })
    }

    /// Mass found again, in g.
    #[must_use]
    pub fn recovered_g(&self) -> f64 {
        self.recovered_g
    }

    /// Mass lost of a charge, in per cent; below zero where more was found than put in.
    #[must_use]
    pub fn loss_pct(&self, charge_g: f64) -> f64 {
        (charge_g - self.recovered_g) / charge_g * 100.0
    }

    /// Opening in mm and share by mass that passes it, from the coarsest.
    #[must_use]
    pub fn undersize(&self) -> Vec<(f64, f64)> {
        // From the pan upwards, so that small shares keep their digits.
        let mut below = self.pan_g;
        let mut curve: Vec<_> = self
            .stack
            .iter()
            .rev()
            .map(|&(mm, kept)| {
                let point = (mm, below / self.recovered_g);
                below += kept;
                point
            })
            .collect();
        curve.reverse();
        curve
    }

    /// Share by mass below a size, straight between openings; none outside the stack.
    #[must_use]
    pub fn below(&self, size_mm: f64) -> Option<f64> {
        self.undersize().windows(2).find_map(|pair| {
            let ((above, more), (under, less)) = (pair[0], pair[1]);
            (under..=above).contains(&size_mm).then(|| {
                if above > under {
                    less + (more - less) * (size_mm - under) / (above - under)
                } else {
                    more
                }
            })
        })
    }

    /// Size in mm that a share by mass passes; none where the stack does not reach it.
    #[must_use]
    pub fn size_mm(&self, share: f64, between: Between) -> Option<f64> {
        self.undersize().windows(2).find_map(|pair| {
            let ((above, more), (under, less)) = (pair[0], pair[1]);
            (less <= share && share <= more && more > less).then(|| {
                let part = (share - less) / (more - less);
                match between {
                    Between::Linear => under + part * (above - under),
                    Between::Log => under * (above / under).powf(part),
                }
            })
        })
    }

    /// Mass mean and surface mean (Sauter) size in mm, by the middles of the classes between
    /// sieves; what is on the top sieve and in the pan is left out (ISO 9276-2).
    #[must_use]
    pub fn means_mm(&self) -> Option<(f64, f64)> {
        let (mut mass, mut moment, mut surface) = (0.0, 0.0, 0.0);
        for pair in self.stack.windows(2) {
            let middle = f64::midpoint(pair[0].0, pair[1].0);
            mass += pair[1].1;
            moment += pair[1].1 * middle;
            surface += pair[1].1 / middle;
        }
        (mass > 0.0).then(|| (moment / mass, mass / surface))
    }
}

/// Fits the RRSB law to sizes in mm and the share passing, by least squares on its grid
/// (ln(-ln(1-D)) on ln d, unweighted). Shares of 0 and 1 have no place on it. None below
/// two sizes.
#[must_use]
pub fn rrsb(points: &[(f64, f64)]) -> Option<Rrsb> {
    let grid: Vec<_> = points
        .iter()
        .filter(|&&(mm, share)| mm > 0.0 && share > 0.0 && share < 1.0)
        .map(|&(mm, share)| (mm.ln(), (-(-share).ln_1p()).ln()))
        .collect();
    #[expect(clippy::cast_precision_loss, reason = "a few sieves")]
    let count = grid.len() as f64;
    let (x, y) = grid.iter().fold((0.0, 0.0), |(x, y), p| (x + p.0 / count, y + p.1 / count));
    let sum = |f: fn(f64, f64) -> f64| grid.iter().map(|p| f(p.0 - x, p.1 - y)).sum::<f64>();
    let (sxx, sxy, syy) = (sum(|a, _| a * a), sum(|a, b| a * b), sum(|_, b| b * b));
    if grid.len() < 2 || sxx <= 0.0 || sxy <= 0.0 {
        return None;
    }
    let n = sxy / sxx;
    Some(Rrsb { n, d63_2_mm: (x - y / n).exp(), r_squared: sxy * sxy / (sxx * syy) })
}

impl Rrsb {
    /// Whether its own size lies between two sizes: outside what was sieved it says nothing.
    #[must_use]
    pub fn is_between(&self, finest_mm: f64, coarsest_mm: f64) -> bool {
        (finest_mm..=coarsest_mm).contains(&self.d63_2_mm)
    }

    /// Share by mass below a size.
    #[must_use]
    pub fn undersize(&self, size_mm: f64) -> f64 {
        -(-(size_mm / self.d63_2_mm).powf(self.n)).exp_m1()
    }

    /// Size in mm that a share by mass passes.
    #[must_use]
    pub fn size_mm(&self, share: f64) -> f64 {
        self.d63_2_mm * (-(-share).ln_1p()).powf(1.0 / self.n)
    }
}
