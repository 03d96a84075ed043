//! From one unit to another: exact in decimal wherever the factor allows it.

/// A way to write a unit, and what it takes to get to the unit of the field:
/// `(x + shift) * numerator / denominator`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Scale {
    /// Added first, in hundredths (degrees Fahrenheit and kelvin only).
    pub shift_hundredths: i64,
    /// Multiplied.
    pub numerator: u64,
    /// Divided by; never 0.
    pub denominator: u64,
}

impl Scale {
    /// The scale that changes nothing.
    pub const ONE: Self = Self { shift_hundredths: 0, numerator: 1, denominator: 1 };
}

impl Scale {
    /// Writes a number, given as JSON text, in the unit of the field. Where the
    /// result is a finite decimal it is exact, its last digits kept (1750 µm is
    /// 1.750 mm); otherwise it is the nearest double. False where the text is no
    /// number or its digits are beyond all use.
    #[must_use]
    pub fn convert(&self, text: &str, to: &mut Vec<u8>) -> bool {
        if *self == Self::ONE {
            to.extend_from_slice(text.as_bytes());
            return true;
        }
        Decimal::read(text).and_then(|x| self.apply(x)).is_some_and(|converted| {
            to.extend_from_slice(converted.as_bytes());
            true
        })
    }

    /// This scale, followed by a factor of `numerator / denominator`.
    #[must_use]
    pub fn times(self, numerator: u64, denominator: u64) -> Option<Self> {
        let (n, d) =
            (self.numerator.checked_mul(numerator)?, self.denominator.checked_mul(denominator)?);
        let common = gcd(n, d).max(1);
        (d > 0).then_some(Self { numerator: n / common, denominator: d / common, ..self })
    }

    fn apply(&self, x: Decimal) -> Option<String> {
        let x = x.plus_hundredths(self.shift_hundredths)?;
        // A factor of ten moves the point as far as there are places: 1.25 kg is 1250 g.
        let (mut numerator, mut places_left) = (self.numerator, x.places);
        while places_left > 0 && numerator > 0 && numerator.is_multiple_of(10) {
            (numerator, places_left) = (numerator / 10, places_left - 1);
        }
        let top = x.digits.checked_mul(i128::from(numerator))?;
        if self.denominator == 0 {
            return None;
        }
        // A denominator of twos and fives only moves the point; the rest must divide.
        let (mut rest, mut twos, mut fives) = (self.denominator, 0_u32, 0_u32);
        while rest.is_multiple_of(2) {
            (rest, twos) = (rest / 2, twos + 1);
        }
        while rest.is_multiple_of(5) {
            (rest, fives) = (rest / 5, fives + 1);
        }
        let places = twos.max(fives);
        let widened =
            2_i128.checked_pow(places - twos)?.checked_mul(5_i128.checked_pow(places - fives)?)?;
        let top = top.checked_mul(widened)?;
        let scale = places_left.checked_add(i32::try_from(places).ok()?)?;
        let rest = i128::from(rest);
        if top % rest == 0 {
            return Some(
                Decimal { digits: top / rest, places: scale, negative: x.negative }.text(),
            );
        }
        nearest(top, rest, scale)
    }
}

fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// The double nearest to `top / bottom / 10^places`, as text.
fn nearest(top: i128, bottom: i128, places: i32) -> Option<String> {
    let sign = if top < 0 { "-" } else { "" };
    let (mut rest, bottom) = (top.unsigned_abs(), bottom.unsigned_abs());
    let mut digits = (rest / bottom).to_string();
    rest %= bottom;
    // More digits than a double can tell apart, then one that says "and a little more".
    for _ in 0..24 {
        let next = rest.checked_mul(10)?;
        digits.push(char::from(b'0' + u8::try_from(next / bottom).ok()?));
        rest = next % bottom;
    }
    let x: f64 = format!("{sign}{digits}1e{}", -25 - i64::from(places)).parse().ok()?;
    Some(format!("{x}"))
}

/// A decimal number: `digits / 10^places`.
struct Decimal {
    digits: i128,
    places: i32,
    /// Keeps the sign of a zero.
    negative: bool,
}

impl Decimal {
    /// Most digits that are taken in; beyond what any instrument shows.
    const DIGITS_MAX: usize = 20;
    /// Largest power of ten.
    const PLACES_MAX: i32 = 300;

    /// Reads JSON number text.
    fn read(text: &str) -> Option<Self> {
        let (mantissa, power) = match text.split_once(['e', 'E']) {
            Some((mantissa, power)) => (mantissa, power.parse::<i32>().ok()?),
            None => (text, 0),
        };
        let (negative, mantissa) = match mantissa.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, mantissa),
        };
        let (whole, part) = mantissa.split_once('.').unwrap_or((mantissa, ""));
        let all = format!("{whole}{part}");
        let all = all.trim_start_matches('0');
        if all.len() > Self::DIGITS_MAX || !all.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let digits: i128 = if all.is_empty() { 0 } else { all.parse().ok()? };
        let places = i32::try_from(part.len()).ok()?.checked_sub(power)?;
        let within = (-Self::PLACES_MAX..=Self::PLACES_MAX).contains(&places);
        within.then_some(Self { digits: if negative { -digits } else { digits }, places, negative })
    }

    fn plus_hundredths(self, hundredths: i64) -> Option<Self> {
        if hundredths == 0 {
            return Some(self);
        }
        let whole = hundredths % 100 == 0;
        let (add, add_places) = if whole { (hundredths / 100, 0) } else { (hundredths, 2) };
        let places = self.places.max(add_places);
        let grown = |digits: i128, from: i32| {
            digits.checked_mul(10_i128.checked_pow(u32::try_from(places - from).ok()?)?)
        };
        let digits =
            grown(self.digits, self.places)?.checked_add(grown(i128::from(add), add_places)?)?;
        Some(Self { digits, places, negative: digits < 0 })
    }

    /// Plain decimal text, with as many places as the number has.
    fn text(&self) -> String {
        let sign = if self.digits < 0 || (self.digits == 0 && self.negative) { "-" } else { "" };
        let digits = self.digits.unsigned_abs().to_string();
        let Ok(places) = usize::try_from(self.places) else {
            let zeros = usize::try_from(-self.places).unwrap_or(0);
            let zeros = if self.digits == 0 { 0 } else { zeros };
            return format!("{sign}{digits}{}", "0".repeat(zeros));
        };
        if places == 0 {
            return format!("{sign}{digits}");
        }
        let digits = format!("{digits:0>width$}", width = places + 1);
        let (whole, part) = digits.split_at(digits.len() - places);
        format!("{sign}{whole}.{part}")
    }
}
