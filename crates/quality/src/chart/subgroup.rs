//! From readings to subgroups.

/// A finished subgroup.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Subgroup {
    /// Number of readings.
    pub n: u32,
    /// Their mean.
    pub mean: f64,
    /// Largest less smallest.
    pub range: f64,
    /// Standard deviation, divisor n - 1.
    pub sd: f64,
}

/// Gathers readings into subgroups of a fixed size.
#[derive(Debug, Clone)]
pub struct Subgrouper {
    size: u32,
    n: u32,
    mean: f64,
    squares: f64,
    smallest: f64,
    largest: f64,
}

impl Subgrouper {
    /// Subgroups of `size`, two or more.
    #[must_use]
    pub fn new(size: u32) -> Option<Self> {
        (size > 1).then(|| Self::empty(size))
    }

    fn empty(size: u32) -> Self {
        Self {
            size,
            n: 0,
            mean: 0.0,
            squares: 0.0,
            smallest: f64::INFINITY,
            largest: f64::NEG_INFINITY,
        }
    }

    /// Adds a reading; the subgroup once it is full. What is not finite is left out.
    pub fn push(&mut self, x: f64) -> Option<Subgroup> {
        if !x.is_finite() {
            return None;
        }
        self.n += 1;
        let deviation = x - self.mean;
        self.mean += deviation / f64::from(self.n);
        self.squares += deviation * (x - self.mean);
        self.smallest = self.smallest.min(x);
        self.largest = self.largest.max(x);
        if self.n < self.size {
            return None;
        }
        let full = std::mem::replace(self, Self::empty(self.size));
        Some(Subgroup {
            n: full.n,
            mean: full.mean,
            range: full.largest - full.smallest,
            sd: (full.squares / f64::from(full.n - 1)).max(0.0).sqrt(),
        })
    }

    /// Drops an unfinished subgroup, as after a gap in the readings.
    pub fn restart(&mut self) {
        *self = Self::empty(self.size);
    }
}
