//! Numbers in cells: from the way a lab writes them to the way JSON does, digits kept.

use std::borrow::Cow;

/// The sign between units and tenths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Decimal {
    /// 1.75
    #[serde(alias = ".")]
    #[value(alias = ".")]
    Point,
    /// 1,75
    #[serde(alias = ",")]
    #[value(alias = ",")]
    Comma,
}

impl Decimal {
    fn sign(self) -> char {
        match self {
            Self::Point => '.',
            Self::Comma => ',',
        }
    }
}

/// The sign between groups of three digits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Thousands {
    /// 1,234.5
    #[serde(alias = ",")]
    #[value(alias = ",")]
    Comma,
    /// 1.234,5
    #[serde(alias = ".")]
    #[value(alias = ".")]
    Point,
    /// 1 234.5, also with a narrow or no-break space
    Space,
    /// 1'234.5
    Apostrophe,
}

impl Thousands {
    fn is(self, c: char) -> bool {
        match self {
            Self::Comma => c == ',',
            Self::Point => c == '.',
            Self::Space => matches!(c, ' ' | '\u{a0}' | '\u{2009}' | '\u{202f}'),
            Self::Apostrophe => matches!(c, '\'' | '\u{2019}'),
        }
    }
}

/// How numbers are written in a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Style {
    /// The decimal sign.
    pub(crate) decimal: Decimal,
    /// The grouping, only where it has been stated.
    pub(crate) thousands: Option<Thousands>,
}

impl Style {
    /// Numbers as in JSON.
    pub(crate) const PLAIN: Self = Self { decimal: Decimal::Point, thousands: None };
}

/// The number as JSON text, every digit kept; none where the cell is no number.
pub(crate) fn json(cell: &str, style: Style) -> Option<Cow<'_, str>> {
    if style == Style::PLAIN && is_json(cell) {
        return Some(Cow::Borrowed(cell));
    }
    normalised(cell, style).map(Cow::Owned)
}

/// Whether the text is a number by the grammar of JSON (RFC 8259, section 6).
fn is_json(text: &str) -> bool {
    let (mantissa, power) = split_power(text);
    let mantissa = mantissa.strip_prefix('-').unwrap_or(mantissa);
    let (whole, part) = match mantissa.split_once('.') {
        Some((whole, part)) => (whole, Some(part)),
        None => (mantissa, None),
    };
    digits(whole)
        && (whole == "0" || !whole.starts_with('0'))
        && part.is_none_or(digits)
        && power.is_none_or(|p| digits(p.strip_prefix(['+', '-']).unwrap_or(p)))
}

fn digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())
}

fn split_power(text: &str) -> (&str, Option<&str>) {
    match text.split_once(['e', 'E']) {
        Some((mantissa, power)) => (mantissa, Some(power)),
        None => (text, None),
    }
}

fn normalised(cell: &str, style: Style) -> Option<String> {
    let (mantissa, power) = split_power(cell);
    let (sign, mantissa) = match mantissa.strip_prefix(['-', '\u{2212}']) {
        Some(rest) => ("-", rest),
        None => ("", mantissa.strip_prefix('+').unwrap_or(mantissa)),
    };
    let (whole, part) = mantissa.split_once(style.decimal.sign()).unwrap_or((mantissa, ""));
    let whole = match style.thousands {
        Some(thousands) => ungrouped(whole, thousands)?,
        None => whole.to_owned(),
    };
    let all = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
    if (whole.is_empty() && part.is_empty()) || !all(&whole) || !all(part) {
        return None;
    }
    let whole = whole.trim_start_matches('0');
    let whole = if whole.is_empty() { "0" } else { whole };
    let point = if part.is_empty() { "" } else { "." };
    let mut text = format!("{sign}{whole}{point}{part}");
    if let Some(power) = power {
        if !digits(power.strip_prefix(['+', '-']).unwrap_or(power)) {
            return None;
        }
        text.push('e');
        text.push_str(power);
    }
    Some(text)
}

/// The whole part without its grouping; none where the groups are not of three.
fn ungrouped(whole: &str, thousands: Thousands) -> Option<String> {
    let groups: Vec<&str> = whole.split(|c| thousands.is(c)).collect();
    let (first, rest) = groups.split_first()?;
    let fits = rest.is_empty() || ((1..=3).contains(&first.len()) && digits(first));
    (fits && rest.iter().all(|g| g.len() == 3)).then(|| groups.concat())
}

/// What one cell says about the decimal sign of its file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Hint {
    /// Nothing.
    None,
    /// It is a point.
    Point,
    /// It is a point, if no other cell speaks against it.
    LikelyPoint,
    /// It is a comma.
    Comma,
    /// It can be read in two ways.
    Either,
}

/// What a cell says about the decimal sign. In a file that is separated by commas, a
/// single point is likely a decimal sign even before three digits: who groups by points
/// writes decimal commas, and seldom separates by commas, too.
pub(crate) fn hint(cell: &str, commas: bool) -> Hint {
    let (body, _) = split_power(cell.trim().trim_start_matches(['+', '-', '\u{2212}']));
    let never = |c: &char| !Thousands::Space.is(*c) && !Thousands::Apostrophe.is(*c);
    let body: String = body.chars().filter(never).collect();
    let groups: Vec<&str> = body.split([',', '.']).collect();
    let signs: Vec<char> = body.chars().filter(|c| !c.is_ascii_digit()).collect();
    let (Some(first), Some(last)) = (groups.first(), groups.last()) else { return Hint::None };
    let inner = groups.get(1..groups.len() - 1).unwrap_or_default();
    let grouped = (1..=3).contains(&first.len()) && inner.iter().all(|g| g.len() == 3);
    match signs.as_slice() {
        [sign @ (',' | '.')] if !grouped || last.len() != 3 || first.starts_with('0') => of(*sign),
        ['.'] if commas => Hint::LikelyPoint,
        [',' | '.'] => Hint::Either,
        [sign @ (',' | '.'), middle @ .., end] if grouped && middle.iter().all(|s| s == sign) => {
            match (sign == end, last.len()) {
                // The last of several signs of two sorts is the decimal sign.
                (false, _) => of(*end),
                // Several of one sort can only be grouping.
                (true, 3) => of(if *sign == ',' { '.' } else { ',' }),
                (true, _) => Hint::None,
            }
        }
        _ => Hint::None,
    }
}

/// The hint that a sign is the decimal sign.
fn of(sign: char) -> Hint {
    match sign {
        '.' => Hint::Point,
        ',' => Hint::Comma,
        _ => Hint::None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const COMMA: Style = Style { decimal: Decimal::Comma, thousands: None };

    fn plain(cell: &str) -> Option<String> {
        json(cell, Style::PLAIN).map(Cow::into_owned)
    }

    #[test]
    fn digits_stay_as_they_stand() {
        for cell in ["1.7500", "0.0", "-3", "1e-3", "120", "0", "-0.50"] {
            assert_eq!(plain(cell).as_deref(), Some(cell));
        }
        assert_eq!(json("1,7500", COMMA).as_deref(), Some("1.7500"));
    }

    #[test]
    fn what_json_does_not_allow_is_put_right() {
        for (cell, text) in [
            ("+5", "5"),
            (".5", "0.5"),
            ("5.", "5"),
            ("007", "7"),
            ("00.50", "0.50"),
            ("−1.5", "-1.5"),
        ] {
            assert_eq!(plain(cell).as_deref(), Some(text), "{cell}");
        }
    }

    #[test]
    fn what_is_no_number_is_refused() {
        for cell in [
            "", ".", "-", "NaN", "inf", "1.2.3", "1,75", "1 75", "1.75mm", "e5", "1e", "--1",
            "0x10", "١",
        ] {
            assert_eq!(plain(cell), None, "{cell}");
        }
        assert_eq!(json("1.75", COMMA), None);
    }

    #[test]
    fn groups_are_read_only_where_stated() {
        let style = Style { decimal: Decimal::Point, thousands: Some(Thousands::Comma) };
        assert_eq!(json("1,234,567.50", style).as_deref(), Some("1234567.50"));
        assert_eq!(json("1234.5", style).as_deref(), Some("1234.5"));
        assert_eq!(json("12,34", style), None);
        assert_eq!(json(",234", style), None);
        let style = Style { decimal: Decimal::Comma, thousands: Some(Thousands::Space) };
        assert_eq!(json("1\u{202f}234,5", style).as_deref(), Some("1234.5"));
    }

    #[test]
    fn every_json_number_of_serde_json_is_one_here() {
        for text in
            ["1", "01", "1.", ".1", "-1", "+1", "1e5", "1E+05", "1e", "-", "-0", "1.0e-0", "1.e3"]
        {
            let theirs = serde_json::from_str::<f64>(text).is_ok();
            assert_eq!(is_json(text), theirs, "{text}");
        }
    }

    #[test]
    fn the_decimal_sign_shows_only_in_cells_that_cannot_be_groups() {
        for (cell, commas, expected) in [
            ("1750", true, Hint::None),
            ("1.75", true, Hint::Point),
            ("1,7512", false, Hint::Comma),
            ("0,050", false, Hint::Comma),
            ("1,234", false, Hint::Either),
            ("1.234", false, Hint::Either),
            ("1.234", true, Hint::LikelyPoint),
            ("1 234,5", false, Hint::Comma),
            ("1 234,567", false, Hint::Comma),
            ("1'234.567", false, Hint::Point),
            ("1.2.3", false, Hint::None),
            ("01.02.2026", false, Hint::None),
            ("1.234.567", false, Hint::Comma),
            (",5", false, Hint::Comma),
            ("", false, Hint::None),
            ("0.234", false, Hint::Point),
            ("1234,567", false, Hint::Comma),
            ("1,234.5", true, Hint::Point),
            ("1.234,5", false, Hint::Comma),
            ("1,234,567", false, Hint::Point),
            ("n/a", false, Hint::None),
        ] {
            assert_eq!(hint(cell, commas), expected, "{cell}");
        }
    }
}
