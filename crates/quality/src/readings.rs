//! What the readings of one spool say of its diameter, in one pass.

use crate::decimal::{mantissa, power, scale_of};
use crate::histogram::Histogram;
use crate::sums::Sums;

/// Readings have one to three axes. Their mean is a whole number of sixths.
const SIXTHS: i64 = 6;

/// The diameters of one reading along its axes, in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axes {
    /// Along the first axis.
    pub dx_mm: f64,
    /// Along the second, where it was read.
    pub dy_mm: Option<f64>,
    /// Along the third, where it was read.
    pub dz_mm: Option<f64>,
}

impl Axes {
    /// The smallest of them.
    #[must_use]
    #[inline]
    pub fn min_mm(&self) -> f64 {
        let least = self.dy_mm.map_or(self.dx_mm, |y| y.min(self.dx_mm));
        self.dz_mm.map_or(least, |z| z.min(least))
    }

    /// The largest of them.
    #[must_use]
    #[inline]
    pub fn max_mm(&self) -> f64 {
        let most = self.dy_mm.map_or(self.dx_mm, |y| y.max(self.dx_mm));
        self.dz_mm.map_or(most, |z| z.max(most))
    }

    /// Squared geometric mean of the axes, in mm2: 4/pi times the area of the
    /// cross-section, exactly so for an ellipse read along its own axes.
    #[must_use]
    #[inline]
    pub fn square_mm2(&self) -> f64 {
        match (self.dy_mm, self.dz_mm) {
            (None, None) => self.dx_mm * self.dx_mm,
            (Some(y), None) => self.dx_mm * y,
            (None, Some(z)) => self.dx_mm * z,
            (Some(y), Some(z)) => (self.dx_mm * y * z).powf(2.0 / 3.0),
        }
    }
}

/// The readings so far.
#[derive(Debug, Clone, Default)]
pub struct Readings {
    scale: usize,
    mean: Sums,
    /// Means of axes, in sixths of a unit of the scale.
    sixths: Histogram,
    axes: [Sums; 3],
    squares_mm2: Compensated,
    /// Ovalities of the readings that have more than one axis.
    ovality_mm: Sums,
    most_oval_mm: f64,
    min_mm: f64,
    max_mm: f64,
}

impl Readings {
    /// Adds a reading. True where it is the most oval one so far.
    #[inline]
    pub fn push(&mut self, axes: &Axes) -> bool {
        let (min, max) = (axes.min_mm(), axes.max_mm());
        if self.n() == 0 {
            (self.min_mm, self.max_mm) = (min, max);
        }
        self.min_mm = self.min_mm.min(min);
        self.max_mm = self.max_mm.max(max);
        self.squares_mm2.add(axes.square_mm2());
        let most = self.push_ovality(axes, max - min);
        if !self.push_decimals(axes) {
            self.push_otherwise(axes);
        }
        most
    }

    /// Adds an ovality, where there is one. True where it is the largest so far.
    #[inline]
    fn push_ovality(&mut self, axes: &Axes, oval_mm: f64) -> bool {
        if axes.dy_mm.is_none() && axes.dz_mm.is_none() {
            return false;
        }
        self.ovality_mm.push(oval_mm, 1.0);
        let most = self.ovality_mm.n() == 1 || oval_mm > self.most_oval_mm;
        if most {
            self.most_oval_mm = oval_mm;
        }
        most
    }

    /// Adds a reading whose axes are decimals at the scale so far.
    #[inline]
    fn push_decimals(&mut self, axes: &Axes) -> bool {
        let Some(x) = mantissa(axes.dx_mm, self.scale) else { return false };
        let one = self.one();
        let whole = |value: Option<f64>| match value {
            Some(value) => mantissa(value, self.scale).map(Some),
            None => Some(None),
        };
        let (Some(y), Some(z)) = (whole(axes.dy_mm), whole(axes.dz_mm)) else { return false };
        let (mut sum, mut count) = (x, 1);
        let [xs, ys, zs] = &mut self.axes;
        xs.push_whole(x, one);
        for (sums, m) in [(ys, y), (zs, z)] {
            if let Some(m) = m {
                sums.push_whole(m, one);
                // Each is below 2^53, so a sum of three of them times six fits.
                sum += m;
                count += 1;
            }
        }
        let sixths = sum * (SIXTHS / count);
        self.mean.push_whole(sixths, one * 6.0);
        self.sixths.push(sixths);
        true
    }

    /// Adds a reading that needs a finer scale, or doubles.
    #[cold]
    fn push_otherwise(&mut self, axes: &Axes) {
        let all = [Some(axes.dx_mm), axes.dy_mm, axes.dz_mm];
        let finer = all.iter().flatten().try_fold(self.scale, |scale, x| scale_of(*x, scale));
        let one = self.one();
        if let Some(finer) = finer
            && all.iter().flatten().all(|x| mantissa(*x, finer).is_some())
        {
            let tens = u32::try_from(finer - self.scale).unwrap_or(0);
            self.mean.refine(tens, one * 6.0);
            self.sixths.refine(tens);
            self.axes.iter_mut().for_each(|sums| sums.refine(tens, one));
            self.scale = finer;
            self.push_decimals(axes);
            return;
        }
        let (mut sum, mut count) = (0.0, 0.0);
        for (sums, x) in self.axes.iter_mut().zip(all) {
            if let Some(x) = x {
                sums.push(x, one);
                sum += x;
                count += 1.0;
            }
        }
        self.mean.push(sum / count, one * 6.0);
        self.sixths.spoil();
    }

    /// How many units of the scale make one mm.
    #[inline]
    fn one(&self) -> f64 {
        power(self.scale)
    }

    /// Number of readings.
    #[must_use]
    #[inline]
    pub fn n(&self) -> u64 {
        self.mean.n()
    }

    /// Mean of the readings, each the mean of its axes, in mm.
    #[must_use]
    pub fn mean_mm(&self) -> Option<f64> {
        self.mean.mean(self.one() * 6.0)
    }

    /// Standard deviation of the same (divisor n - 1), in mm.
    #[must_use]
    pub fn sd_mm(&self) -> Option<f64> {
        self.mean.sd(self.one() * 6.0)
    }

    /// Standard deviation of the same by the mean square successive difference, in mm.
    #[must_use]
    pub fn successive_sd_mm(&self) -> Option<f64> {
        self.mean.successive_sd(self.one() * 6.0)
    }

    /// Quantile of the same, in mm: the ceil(n p)-th smallest. None where the readings have too
    /// many different values, or some are no decimals.
    #[must_use]
    pub fn quantile_mm(&self, p: f64) -> Option<f64> {
        #[expect(clippy::cast_precision_loss, reason = "below 2^53")]
        let sixths = self.sixths.quantile(p)? as f64;
        Some(sixths / (self.one() * 6.0))
    }

    /// Lag-1 autocorrelation of the same, in order of reading.
    #[must_use]
    pub fn lag1(&self) -> Option<f64> {
        self.mean.lag1()
    }

    /// Number of axes that every reading has.
    #[must_use]
    pub fn common_axes(&self) -> usize {
        self.axes.iter().take_while(|sums| sums.n() > 0 && sums.n() == self.n()).count()
    }

    /// Mean along one axis (0, 1 or 2), in mm; none where it was not read.
    #[must_use]
    pub fn axis_mean_mm(&self, axis: usize) -> Option<f64> {
        self.axes.get(axis)?.mean(self.one())
    }

    /// Standard deviation along one axis, in mm.
    #[must_use]
    pub fn axis_sd_mm(&self, axis: usize) -> Option<f64> {
        self.axes.get(axis)?.sd(self.one())
    }

    /// Standard deviation along one axis by the mean square successive difference, in mm.
    #[must_use]
    pub fn axis_successive_sd_mm(&self, axis: usize) -> Option<f64> {
        self.axes.get(axis)?.successive_sd(self.one())
    }

    /// Lag-1 autocorrelation along one axis, in order of reading.
    #[must_use]
    pub fn axis_lag1(&self, axis: usize) -> Option<f64> {
        self.axes.get(axis)?.lag1()
    }

    /// Diameter of the circle with the mean area of the readings, in mm.
    #[must_use]
    pub fn area_mm(&self) -> Option<f64> {
        let area = (self.squares_mm2.total() / self.count()).sqrt();
        area.is_finite().then_some(area)
    }

    /// Smallest diameter along any axis, in mm.
    #[must_use]
    pub fn min_mm(&self) -> Option<f64> {
        (self.n() > 0).then_some(self.min_mm)
    }

    /// Largest diameter along any axis, in mm.
    #[must_use]
    pub fn max_mm(&self) -> Option<f64> {
        (self.n() > 0).then_some(self.max_mm)
    }

    /// Number of readings with more than one axis.
    #[must_use]
    pub fn ovality_n(&self) -> u64 {
        self.ovality_mm.n()
    }

    /// Lag-1 autocorrelation of the ovalities, in order of reading.
    #[must_use]
    pub fn ovality_lag1(&self) -> Option<f64> {
        self.ovality_mm.lag1()
    }

    /// Mean ovality of the readings with more than one axis, in mm; none where there is none.
    #[must_use]
    pub fn ovality_mean_mm(&self) -> Option<f64> {
        self.ovality_mm.mean(1.0)
    }

    /// Largest ovality of the readings with more than one axis, in mm.
    #[must_use]
    pub fn ovality_max_mm(&self) -> Option<f64> {
        (self.ovality_n() > 0).then_some(self.most_oval_mm)
    }

    #[expect(clippy::cast_precision_loss, reason = "a count")]
    fn count(&self) -> f64 {
        self.n() as f64
    }
}

/// A sum of doubles that keeps what each addition rounds off (Neumaier 1974,
/// Zeitschrift fuer Angewandte Mathematik und Mechanik 54:39).
#[derive(Debug, Clone, Copy, Default)]
pub struct Compensated {
    sum: f64,
    lost: f64,
}

impl Compensated {
    /// Adds a number.
    #[inline]
    pub fn add(&mut self, x: f64) {
        let sum = self.sum + x;
        self.lost +=
            if self.sum.abs() >= x.abs() { (self.sum - sum) + x } else { (x - sum) + self.sum };
        self.sum = sum;
    }

    /// The sum.
    #[must_use]
    pub fn total(self) -> f64 {
        self.sum + self.lost
    }
}
