//! How findings are worded.

use secondmelt_record::findings::{Decision, Verdict};

/// A number to four digits, without noughts at its end.
pub(crate) fn short(x: f64) -> String {
    if x == 0.0 || !x.is_finite() {
        return "0".to_owned();
    }
    let digits = (3.0 - x.abs().log10().floor()).clamp(0.0, 9.0);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 9")]
    let text = format!("{x:.*}", digits as usize);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// A verdict on a lot.
pub(crate) fn verdict(
    check: &'static str,
    lot: &str,
    result: Decision,
    rule: &'static str,
    why: String,
) -> Verdict<'static> {
    Verdict {
        check: check.into(),
        result,
        lot: Some(lot.to_owned().into()),
        rule: rule.into(),
        why: why.into(),
        ..Verdict::default()
    }
}
