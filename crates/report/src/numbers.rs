//! Numbers as people read them, all in one place.

/// Number of decimals for a diameter in mm: a tenth of the finest gauge's step.
pub(crate) const MM: usize = 4;

/// What stands for a number that is none. Records cannot hold one.
const NONE: &str = "?";

/// A number with a fixed number of decimals; never "-0".
pub(crate) fn fixed(x: f64, decimals: usize) -> String {
    if !x.is_finite() {
        return NONE.to_owned();
    }
    let text = format!("{x:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        _ => text,
    }
}

/// A whole number, digits in groups of three from five digits on (ISO 80000-1, 7.3.1),
/// held together by no-break spaces.
pub(crate) fn count(n: u64) -> String {
    let digits = n.to_string();
    if digits.len() < 5 {
        return digits;
    }
    let first = digits.len() % 3;
    let mut text = digits[..first].to_owned();
    for (i, digit) in digits[first..].chars().enumerate() {
        if i % 3 == 0 && !text.is_empty() {
            text.push('\u{a0}');
        }
        text.push(digit);
    }
    text
}

/// A mass in g: two decimals below 10 kg, one above.
pub(crate) fn grams(x: f64) -> String {
    fixed(x, if x.abs() < 10_000.0 { 2 } else { 1 })
}

/// A mass that is planned, in g. Yields are known to two or three digits, so a plan is to a gram, and
/// to three digits below 100 g.
pub(crate) fn planned(x: f64) -> String {
    fixed(x, planned_decimals(x))
}

/// The same of a mass that must not be less: the last digit is rounded up.
pub(crate) fn planned_at_least(x: f64) -> String {
    let decimals = planned_decimals(x);
    let scale = [1.0, 10.0, 100.0].get(decimals).copied().unwrap_or(1.0);
    fixed((x * scale - 1e-6).ceil() / scale, decimals)
}

fn planned_decimals(x: f64) -> usize {
    match x.abs() {
        x if x < 9.995 => 2,
        x if x < 99.95 => 1,
        _ => 0,
    }
}

/// A length in m.
pub(crate) fn metres(x: f64) -> String {
    fixed(x, if x.abs() < 1.0 { 3 } else { 2 })
}

/// A number with so many significant digits, without needless zeros.
pub(crate) fn significant(x: f64, digits: usize) -> String {
    trimmed(all_significant(x, digits))
}

/// A number with so many significant digits, zeros at the end among them.
pub(crate) fn all_significant(x: f64, digits: usize) -> String {
    if !x.is_finite() {
        return NONE.to_owned();
    }
    if x == 0.0 {
        return "0".to_owned();
    }
    if x.abs() < 1e-4 || x.abs() >= 1e9 {
        return format!("{x:.*e}", digits.saturating_sub(1));
    }
    let decimals = decimals_for(x, digits).max(0);
    fixed(x, usize::try_from(decimals).unwrap_or(0))
}

fn trimmed(text: String) -> String {
    if !text.contains('.') || text.contains('e') {
        return text;
    }
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Decimals that show so many significant digits; below zero: tens, hundreds.
#[expect(clippy::cast_possible_truncation, reason = "logarithms of doubles are below 400")]
fn decimals_for(x: f64, digits: usize) -> i32 {
    let digits = i32::try_from(digits).unwrap_or(17);
    let decimals = |x: f64| digits - 1 - x.abs().log10().floor() as i32;
    // Rounding may carry into one more digit: 0.0996 is 0.10 to two digits.
    decimals(rounded(x, decimals(x)))
}

fn rounded(x: f64, decimals: i32) -> f64 {
    let scale = 10_f64.powi(decimals);
    let y = (x * scale).round() / scale;
    if y.is_finite() { y } else { x }
}

/// A share in per cent: two significant digits of the share or, near the whole, of what
/// is missing, and at least one decimal up to 99.9. Something never shows as nothing,
/// nor nearly all as all.
pub(crate) fn percent(x: f64) -> String {
    if !x.is_finite() {
        return NONE.to_owned();
    }
    let rest = (100.0 - x).abs();
    if x == 0.0 || rest == 0.0 || x < 0.0 {
        return fixed(x, 1);
    }
    // Digits that tell it from nothing, or from all, would be too many to read.
    if x < 1e-6 {
        return "<0.000001".to_owned();
    }
    if rest < 1e-6 {
        return if x < 100.0 { ">99.999999".to_owned() } else { fixed(x, 1) };
    }
    let small = x.min(rest);
    let decimals = if small >= 1.0 { 1 } else { decimals_for(small, 2).clamp(1, 9) };
    fixed(x, usize::try_from(decimals).unwrap_or(1))
}

/// A value and its standard uncertainty: the uncertainty with two significant digits,
/// the value to the same digit (JCGM 100:2008, 7.2.6).
pub(crate) fn with_u(x: f64, u: f64) -> (String, String) {
    if !(x.is_finite() && u.is_finite() && u > 0.0) {
        return (significant(x, 6), significant(u, 2));
    }
    let decimals = decimals_for(u, 2);
    let shown = usize::try_from(decimals).unwrap_or(0).min(12);
    let at = decimals.min(12);
    (fixed(rounded(x, at), shown), fixed(rounded(u, at), shown))
}

/// A value and, where it is known, its standard uncertainty.
pub(crate) fn maybe_u(x: f64, u: Option<f64>, plain: fn(f64) -> String) -> (String, String) {
    match u {
        Some(u) if u > 0.0 => with_u(x, u),
        Some(_) => (plain(x), "0".to_owned()),
        None => (plain(x), String::new()),
    }
}

/// What is written after a number: nothing for the unit one.
pub(crate) fn unit(unit: &str) -> &str {
    if unit == "1" { "" } else { unit }
}

/// A number in a unit that is only known from the record.
pub(crate) fn quantity(x: f64, unit: &str) -> String {
    match unit {
        "mm" => fixed(x, MM),
        // Whole grams, which plans have, were not weighed to a hundredth.
        "g" if x.abs() >= 100.0 && x.fract() == 0.0 => fixed(x, 0),
        "g" => grams(x),
        "h" => significant(x, 3),
        "m" => metres(x),
        "%" | "pct" | "per cent" => percent(x),
        "c" | "C" | "\u{b0}C" | "degrees Celsius" => trimmed(fixed(x, 1)),
        _ => significant(x, 5),
    }
}

/// A value beside its limit, with enough digits to tell them apart.
pub(crate) fn against(value: f64, limit: f64, unit: &str) -> (String, String) {
    let pair = (quantity(value, unit), quantity(limit, unit));
    if pair.0 != pair.1 || value == limit {
        return pair;
    }
    (6..=17)
        .map(|digits| (significant(value, digits), significant(limit, digits)))
        .find(|(v, l)| v != l)
        .unwrap_or(pair)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_rounded_to_the_digits_of_their_uncertainty() {
        // JCGM 100:2008 (GUM), 7.2.6: y = 10.057 62 ohm, u = 27 mohm is given as 10.058 ohm;
        // u(x) = 28.05 kHz should be rounded to 28 kHz.
        assert_eq!(with_u(10.05762, 0.027), ("10.058".into(), "0.027".into()));
        assert_eq!(with_u(0.0, 28.05).1, "28");
        // 7.2.2: m = 100.021 47 g with a combined standard uncertainty of 0.35 mg.
        assert_eq!(with_u(100.02147, 0.00035), ("100.02147".into(), "0.00035".into()));
        // By the same rule, where rounding carries and where the digit lies before the point.
        assert_eq!(with_u(1.23456, 0.0996), ("1.23".into(), "0.10".into()));
        assert_eq!(with_u(4567.0, 123.0), ("4570".into(), "120".into()));
    }

    #[test]
    fn something_tiny_shows_as_less_than_what_is_read() {
        assert_eq!([percent(1e-50), percent(100.0 - 1e-12)], ["<0.000001", ">99.999999"]);
    }

    #[test]
    fn something_never_shows_as_nothing_nor_nearly_all_as_all() {
        let shown: Vec<_> =
            [0.0, 0.00312, 0.5, 3.1259, 12.34, 97.44, 99.97, 99.9996, 100.0, 104.2, -3.0]
                .into_iter()
                .map(percent)
                .collect();
        let wanted = [
            "0.0", "0.0031", "0.50", "3.1", "12.3", "97.4", "99.970", "99.99960", "100.0", "104.2",
            "-3.0",
        ];
        assert_eq!(shown, wanted);
    }

    #[test]
    fn a_value_just_beyond_its_limit_does_not_look_equal_to_it() {
        assert_eq!(against(1.800004, 1.8, "mm"), ("1.800004".into(), "1.8".into()));
        assert_eq!(against(1.81, 1.8, "mm"), ("1.8100".into(), "1.8000".into()));
        assert_eq!(against(1.8, 1.8, "mm"), ("1.8000".into(), "1.8000".into()));
    }

    #[test]
    fn a_plan_claims_no_digits_that_nobody_knows() {
        let shown: Vec<_> =
            [8488.8, 123.45, 99.97, 27.317, 9.996, 1.234, 0.0].into_iter().map(planned).collect();
        assert_eq!(shown, ["8489", "123", "100", "27.3", "10.0", "1.23", "0.00"]);
        let least: Vec<_> = [8488.2, 8488.0, 27.31, 27.3, 1.001, f64::NAN]
            .into_iter()
            .map(planned_at_least)
            .collect();
        assert_eq!(least, ["8489", "8488", "27.4", "27.3", "1.01", "?"]);
        let in_verdicts =
            [(8489.0, "g"), (812.0, "g"), (8488.8, "g"), (41.824, "h"), (0.0513, "h")];
        let shown = in_verdicts.map(|(x, unit)| quantity(x, unit));
        assert_eq!(shown, ["8489", "812", "8488.80", "41.8", "0.0513"]);
    }

    #[test]
    fn counts_are_grouped_from_five_digits_on() {
        let shown: Vec<_> = [0, 999, 1234, 12_345, 1_234_567].into_iter().map(count).collect();
        assert_eq!(shown, ["0", "999", "1234", "12\u{a0}345", "1\u{a0}234\u{a0}567"]);
    }

    #[test]
    fn no_number_shows_as_nan_infinity_or_minus_nothing() {
        for x in [f64::NAN, f64::INFINITY, -0.0, -0.00001, 1e-300, 1e300, f64::MIN_POSITIVE] {
            for unit in ["mm", "g", "m", "%", "c", "rpm", ""] {
                let text = quantity(x, unit);
                assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
                assert!(
                    !text.trim_start_matches(['-', '0', '.']).is_empty() || !text.starts_with('-')
                );
            }
            let (a, b) = with_u(x, x.abs());
            assert!(!a.contains("NaN") && !b.contains("NaN") && !a.contains("inf"));
        }
    }
}
