//! Sums from which mean, standard deviation and lag-1 autocorrelation follow.
//!
//! As long as every value is a whole number (of some power of ten), the sums are
//! whole numbers too and nothing is lost, however far the mean is from zero. Values
//! that are no decimals switch the sums to doubles, taken about the first value so
//! that no digits cancel as long as that value lies anywhere near the others.

use num_bigint::BigInt;
use num_traits::ToPrimitive;

/// Sums of a sequence of numbers.
#[derive(Debug, Clone)]
pub enum Sums {
    /// Sums of whole numbers.
    Exact(Whole),
    /// Sums of doubles.
    Rounded(Rounded),
}

/// Sums of whole numbers, each taken about the first.
#[derive(Debug, Clone, Default)]
pub struct Whole {
    n: u64,
    origin: i64,
    last: i64,
    sum: i128,
    squares: i128,
    products: i128,
}

/// Sums of doubles, each taken about the first.
#[derive(Debug, Clone, Default)]
pub struct Rounded {
    n: u64,
    origin: f64,
    last: f64,
    sum: f64,
    squares: f64,
    products: f64,
}

impl Default for Sums {
    fn default() -> Self {
        Self::Exact(Whole::default())
    }
}

impl Sums {
    /// Adds a whole number. `one` is how many make one, should doubles be needed.
    #[inline]
    pub fn push_whole(&mut self, m: i64, one: f64) {
        match self {
            Self::Exact(whole) => {
                if !whole.push(m) {
                    self.round(one);
                    self.push_whole(m, one);
                }
            }
            #[expect(clippy::cast_precision_loss, reason = "doubles are asked for")]
            Self::Rounded(rounded) => rounded.push(m as f64 / one),
        }
    }

    /// Adds a double. `one` is how many made one in the sums so far.
    #[inline]
    pub fn push(&mut self, x: f64, one: f64) {
        self.round(one);
        if let Self::Rounded(rounded) = self {
            rounded.push(x);
        }
    }

    /// Makes each a tenth of what it was, `tens` times over; `one` is how many made one.
    pub fn refine(&mut self, tens: u32, one: f64) {
        if let Self::Exact(whole) = self
            && !whole.refine(tens)
        {
            self.round(one);
        }
    }

    /// Goes over to doubles.
    fn round(&mut self, one: f64) {
        if let Self::Exact(whole) = self {
            *self = Self::Rounded(whole.rounded(one));
        }
    }

    /// Number of values.
    #[must_use]
    pub fn n(&self) -> u64 {
        match self {
            Self::Exact(whole) => whole.n,
            Self::Rounded(rounded) => rounded.n,
        }
    }

    /// Arithmetic mean; none of nothing. `one` is the number of units in one, a whole number.
    /// Exact sums give it within two units of the last place.
    #[must_use]
    pub fn mean(&self, one: f64) -> Option<f64> {
        match self {
            Self::Exact(whole) => whole.mean(one),
            Self::Rounded(rounded) => rounded.mean(),
        }
    }

    /// Standard deviation with divisor n - 1; none of fewer than two values.
    #[must_use]
    pub fn sd(&self, one: f64) -> Option<f64> {
        match self {
            Self::Exact(whole) => whole.sd(one),
            Self::Rounded(rounded) => rounded.sd(),
        }
    }

    /// Standard deviation by the mean square successive difference (von Neumann et al. 1941,
    /// Annals of Mathematical Statistics 12:153): the root of half the mean squared step from
    /// value to value. It leaves a slow wander out, and is too small where neighbours are alike.
    #[must_use]
    pub fn successive_sd(&self, one: f64) -> Option<f64> {
        match self {
            Self::Exact(whole) => whole.successive_sd(one),
            Self::Rounded(rounded) => rounded.successive_sd(),
        }
    }

    /// Lag-1 autocorrelation coefficient: the sum of products of neighbouring
    /// deviations over the sum of squared deviations (Box, Jenkins and Reinsel, Time
    /// Series Analysis, 2.1; NIST StRD defines it the same way). None where all values
    /// are equal.
    #[must_use]
    pub fn lag1(&self) -> Option<f64> {
        match self {
            Self::Exact(whole) => whole.lag1(),
            Self::Rounded(rounded) => rounded.lag1(),
        }
    }
}

impl Whole {
    /// Adds a number; false where a sum would overflow, and then nothing is added.
    #[inline]
    fn push(&mut self, m: i64) -> bool {
        if self.n == 0 {
            self.origin = m;
        }
        let Some(d) = m.checked_sub(self.origin) else { return false };
        let wide = i128::from(d);
        let product = if self.n == 0 { 0 } else { wide * i128::from(self.last) };
        let (Some(squares), Some(products)) =
            (self.squares.checked_add(wide * wide), self.products.checked_add(product))
        else {
            return false;
        };
        self.n += 1;
        self.sum += wide;
        self.squares = squares;
        self.products = products;
        self.last = d;
        true
    }

    fn refine(&mut self, tens: u32) -> bool {
        let refined = || {
            let power = 10_i64.checked_pow(tens)?;
            let wide = i128::from(power);
            let square = wide.checked_mul(wide)?;
            Some(Self {
                n: self.n,
                origin: self.origin.checked_mul(power)?,
                last: self.last.checked_mul(power)?,
                sum: self.sum.checked_mul(wide)?,
                squares: self.squares.checked_mul(square)?,
                products: self.products.checked_mul(square)?,
            })
        };
        refined().map(|refined| *self = refined).is_some()
    }

    #[expect(clippy::cast_precision_loss, reason = "doubles are asked for")]
    fn rounded(&self, one: f64) -> Rounded {
        Rounded {
            n: self.n,
            origin: self.origin as f64 / one,
            last: self.last as f64 / one,
            sum: self.sum as f64 / one,
            squares: self.squares as f64 / one / one,
            products: self.products as f64 / one / one,
        }
    }

    fn mean(&self, one: f64) -> Option<f64> {
        let total = BigInt::from(self.origin) * self.n + self.sum;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a whole number"
        )]
        let one = one as u64;
        quotient(&total, &(BigInt::from(self.n) * one))
    }

    /// n times the sum of squared deviations.
    fn scatter(&self) -> BigInt {
        BigInt::from(self.squares) * self.n - BigInt::from(self.sum) * self.sum
    }

    fn sd(&self, one: f64) -> Option<f64> {
        let pairs = BigInt::from(self.n) * self.n.checked_sub(1)?;
        quotient(&self.scatter(), &pairs).map(|variance| variance.sqrt() / one)
    }

    fn successive_sd(&self, one: f64) -> Option<f64> {
        // The first deviation is zero by choice of the origin.
        let last = BigInt::from(self.last);
        let steps =
            BigInt::from(self.squares) * 2 - &last * &last - BigInt::from(self.products) * 2;
        let pairs = BigInt::from(self.n.checked_sub(1)?) * 2;
        quotient(&steps, &pairs).map(|variance| variance.sqrt() / one)
    }

    fn lag1(&self) -> Option<f64> {
        let (n, sum) = (BigInt::from(self.n), BigInt::from(self.sum));
        // The first deviation is zero by choice of the origin.
        let ends = BigInt::from(self.last);
        let above =
            &n * &n * self.products - &n * &sum * (2 * &sum - ends) + (&n - 1_u32) * &sum * &sum;
        quotient(&above, &(self.scatter() * &n))
    }
}

impl Rounded {
    #[inline]
    fn push(&mut self, x: f64) {
        if self.n == 0 {
            self.origin = x;
        }
        let d = x - self.origin;
        self.n += 1;
        self.sum += d;
        self.squares += d * d;
        self.products += d * self.last;
        self.last = d;
    }

    #[expect(clippy::cast_precision_loss, reason = "a count")]
    fn count(&self) -> f64 {
        self.n as f64
    }

    fn mean(&self) -> Option<f64> {
        (self.n > 0).then(|| self.origin + self.sum / self.count())
    }

    fn scatter(&self) -> f64 {
        (self.squares - self.sum * self.sum / self.count()).max(0.0)
    }

    fn sd(&self) -> Option<f64> {
        (self.n > 1).then(|| (self.scatter() / (self.count() - 1.0)).sqrt())
    }

    fn successive_sd(&self) -> Option<f64> {
        let steps = 2.0 * self.squares - self.last * self.last - 2.0 * self.products;
        (self.n > 1).then(|| (steps.max(0.0) / 2.0 / (self.count() - 1.0)).sqrt())
    }

    fn lag1(&self) -> Option<f64> {
        let mean = self.sum / self.count();
        let above = self.products - mean * (2.0 * self.sum - self.last)
            + (self.count() - 1.0) * mean * mean;
        let ratio = above / self.scatter();
        ratio.is_finite().then_some(ratio)
    }
}

/// A quotient of whole numbers as a double, within about two units of the last
/// place; none where it is not finite.
fn quotient(above: &BigInt, below: &BigInt) -> Option<f64> {
    let ratio = above.to_f64()? / below.to_f64()?;
    ratio.is_finite().then_some(ratio)
}
