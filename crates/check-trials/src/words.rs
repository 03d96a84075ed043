//! Words and figures that several modules share.

use secondmelt_record::facts::Settings;
use secondmelt_record::units::of_setting;
pub(crate) use secondmelt_record::words::{joined, plural};
use secondmelt_record::{Fraction, Number, Percent, Positive};
use std::collections::BTreeMap;

/// A setting's name with the unit it says; none where it says none.
pub(crate) fn name_and_unit(name: &str) -> Option<(&str, &'static str)> {
    of_setting(name).map(|unit| (name, unit))
}

/// The unit of a setting; a plain number where its name does not say.
pub(crate) fn unit(name: &str) -> &'static str {
    of_setting(name).unwrap_or("1")
}

/// Rounded to six decimals, beyond which nothing here is known.
pub(crate) fn rounded(x: f64) -> f64 {
    (x * 1e6).round() / 1e6
}

/// A share as per cent.
pub(crate) fn percent(share: f64) -> Percent {
    Percent::new(rounded(100.0 * share).clamp(0.0, 100.0)).unwrap_or_default()
}

/// A probability; small ones keep their digits.
pub(crate) fn fraction(p: f64) -> Fraction {
    Fraction::new(p.clamp(0.0, 1.0)).unwrap_or_default()
}

/// A ratio of odds, kept within what a record holds.
pub(crate) fn odds(x: f64) -> Option<Positive> {
    let digits = if x > 0.0 { 4.0 - x.abs().log10().floor() } else { 0.0 };
    let scale = 10_f64.powf(digits.clamp(0.0, 12.0));
    Positive::new((x * scale).round() / scale)
}

/// Settings as they stand in a record.
pub(crate) fn settings(values: &BTreeMap<String, f64>) -> Settings {
    let number = |(name, x): (&String, &f64)| Some((name.clone(), Number::new(*x)?));
    Settings(values.iter().filter_map(number).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn odds_keep_five_figures_and_never_leave_the_range() {
        assert_eq!(odds(0.001_234_567), Positive::new(0.001_234_6));
        assert_eq!(odds(123_456.7), Positive::new(123_457.0));
        assert_eq!(odds(1e300), None);
        assert_eq!(odds(0.0), None);
    }
}
