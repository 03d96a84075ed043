//! Residuals of points that follow one another closely.

/// Takes the lag-1 autocorrelation out of a sequence: what is left of each point once the
/// one before has told what to expect, over its standard deviation.
#[derive(Debug, Clone)]
pub struct Whitener {
    centre: f64,
    sigma: f64,
    r: f64,
    last: Option<f64>,
}

impl Whitener {
    /// For points of standard deviation `sigma` about `centre` with lag-1 autocorrelation
    /// `r` between -1 and 1.
    #[must_use]
    pub fn new(centre: f64, sigma: f64, r: f64) -> Option<Self> {
        let sound = centre.is_finite() && sigma > 0.0 && sigma.is_finite() && r.abs() < 1.0;
        sound.then_some(Self { centre, sigma, r, last: None })
    }

    /// Centre, standard deviation and lag-1 autocorrelation: all that has to be kept.
    #[must_use]
    pub fn model(&self) -> (f64, f64, f64) {
        (self.centre, self.sigma, self.r)
    }

    /// Standardised residual of the next point; of the first, its distance from the centre.
    pub fn push(&mut self, x: f64) -> f64 {
        let z = (x - self.centre) / self.sigma;
        match self.last.replace(z) {
            Some(last) => (z - self.r * last) / (1.0 - self.r * self.r).sqrt(),
            None => z,
        }
    }

    /// Forgets the point before, as after a gap.
    pub fn restart(&mut self) {
        self.last = None;
    }
}
