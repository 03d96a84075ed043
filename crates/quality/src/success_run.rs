//! How much a run of good results shows.

/// Number of independent good results, none bad, that shows with confidence
/// `confidence` that at least the share `share` of all is good: the smallest n with
/// share^n <= 1 - confidence (success-run theorem; for the largest and smallest value
/// of a sample, Wilks 1941, Annals of Mathematical Statistics 12:91). None unless both
/// lie between 0 and 1.
#[must_use]
pub fn needed(share: f64, confidence: f64) -> Option<u64> {
    let within = |x: f64| x > 0.0 && x < 1.0;
    if !within(share) || !within(confidence) {
        return None;
    }
    let exact = (-confidence).ln_1p() / share.ln();
    // A quotient that is a whole number but for rounding is that number: 0.1^1 is 1 - 0.9.
    let near = exact.round();
    let n = if (exact - near).abs() <= 1e-12 * near { near } else { exact.ceil() };
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "positive; saturates"
    )]
    let n = n as u64;
    Some(n.max(1))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sizes in common tables of the success run.
    /// Source: Wilks (1941) and the success-run theorem; values from memory, checked by
    /// share^n <= 1 - confidence < share^(n - 1).
    #[test]
    fn run_lengths_are_those_of_the_tables() {
        for (share, confidence, n) in
            [(0.95, 0.95, 59), (0.9, 0.9, 22), (0.9, 0.95, 29), (0.99, 0.95, 299)]
        {
            assert_eq!(needed(share, confidence), Some(n));
            let chance = |n: u64| share.powi(i32::try_from(n).unwrap());
            assert!(chance(n) <= 1.0 - confidence && chance(n - 1) > 1.0 - confidence);
        }
    }

    #[test]
    fn exact_powers_are_not_rounded_up() {
        assert_eq!(needed(0.1, 0.9), Some(1));
        assert_eq!(needed(0.2, 0.8), Some(1));
        assert_eq!(needed(0.1, 0.99), Some(2));
        assert_eq!(needed(0.5, 0.875), Some(3));
    }

    #[test]
    fn certainty_is_not_to_be_had() {
        assert_eq!(needed(1.0, 0.95), None);
        assert_eq!(needed(0.95, 1.0), None);
        assert_eq!(needed(f64::NAN, 0.95), None);
    }
}
