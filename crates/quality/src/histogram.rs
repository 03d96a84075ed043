//! Counts of whole numbers near one another, for quantiles that are exact.

/// How many numbers next to one another are counted at the most: 1 mm at 0.1 micrometres
/// in sixths, or 10 mm at a micrometre.
const WIDTH_MAX: usize = 1 << 16;
/// How many are counted at first, so that a stream of very many spools stays small.
const WIDTH: usize = 1 << 8;

/// Counts of whole numbers within a window around the first, in fixed memory.
#[derive(Debug, Clone, Default)]
pub struct Histogram {
    origin: i64,
    counts: Vec<u32>,
    total: u64,
    /// A number lay outside the window, or a count ran over.
    spoilt: bool,
}

#[expect(clippy::cast_possible_wrap, reason = "widths are small")]
impl Histogram {
    /// Counts a number.
    #[inline]
    pub fn push(&mut self, m: i64) {
        self.add(m, 1);
        self.total += 1;
    }

    #[inline]
    fn add(&mut self, m: i64, times: u32) {
        let index = m.wrapping_sub(self.origin);
        let place = usize::try_from(index).ok().and_then(|index| self.counts.get_mut(index));
        match place.and_then(|count| Some((count.checked_add(times)?, count))) {
            Some((sum, count)) => *count = sum,
            None => self.add_outside(m, times),
        }
    }

    /// Counts a number that the window does not hold yet.
    #[cold]
    fn add_outside(&mut self, m: i64, times: u32) {
        if self.spoilt {
            return;
        }
        let first = self.counts.iter().position(|count| *count > 0);
        let last = self.counts.iter().rposition(|count| *count > 0);
        let (used, low, high) = match (first, last) {
            (Some(first), Some(last)) => {
                let at = |index: usize| self.origin.saturating_add(index as i64);
                (first..last + 1, m.min(at(first)), m.max(at(last)))
            }
            _ => (0..0, m, m),
        };
        let span = high.checked_sub(low).and_then(|span| usize::try_from(span).ok());
        let width = span.and_then(|span| (span + 1).max(WIDTH).checked_next_power_of_two());
        let (Some(span), Some(width)) = (span, width.filter(|width| *width <= WIDTH_MAX)) else {
            self.spoilt = true;
            return;
        };
        // The numbers so far stay in the middle of the window.
        let origin = low.saturating_sub(((width - span - 1) / 2) as i64);
        let mut counts = vec![0; width];
        let from = self.origin.saturating_add(used.start as i64).wrapping_sub(origin);
        let from = usize::try_from(from).unwrap_or(0);
        if let (Some(place), Some(old)) =
            (counts.get_mut(from..from + used.len()), self.counts.get(used))
        {
            place.copy_from_slice(old);
        }
        (self.origin, self.counts) = (origin, counts);
        self.add(m, times);
    }

    /// Says that a value could not be counted, so that no quantile is known.
    pub fn spoil(&mut self) {
        self.spoilt = true;
    }

    /// Makes each number ten times what it was, `tens` times over.
    pub fn refine(&mut self, tens: u32) {
        if self.counts.is_empty() || tens == 0 {
            return;
        }
        let old = std::mem::take(self);
        (self.total, self.spoilt) = (old.total, old.spoilt);
        let power = 10_i64.checked_pow(tens);
        for (m, count) in (old.origin..).zip(&old.counts).filter(|(_, count)| **count > 0) {
            match power.and_then(|power| m.checked_mul(power)) {
                Some(finer) => self.add(finer, *count),
                None => self.spoilt = true,
            }
        }
    }

    /// The ceil(n p)-th smallest number (the inverse of the empirical distribution
    /// function; Hyndman and Fan 1996, The American Statistician 50:361, definition 1).
    /// None of nothing, outside 0 to 1, or where not every number was counted.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Option<i64> {
        if self.spoilt || self.total == 0 || !(0.0..=1.0).contains(&p) {
            return None;
        }
        #[expect(
            clippy::cast_precision_loss,
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a rank, at most the count"
        )]
        let rank = ((self.total as f64 * p).ceil() as u64).clamp(1, self.total);
        let mut below = 0;
        for (m, count) in (self.origin..).zip(&self.counts) {
            below += u64::from(*count);
            if below >= rank {
                return Some(m);
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn of(numbers: &[i64]) -> Histogram {
        let mut histogram = Histogram::default();
        numbers.iter().for_each(|m| histogram.push(*m));
        histogram
    }

    #[test]
    fn nothing_has_no_quantile() {
        assert_eq!(Histogram::default().quantile(0.5), None);
        assert_eq!(of(&[1]).quantile(f64::NAN), None);
        assert_eq!(of(&[1]).quantile(1.1), None);
    }

    #[test]
    fn a_number_out_of_reach_leaves_no_quantile() {
        assert_eq!(of(&[0, 1 << 40]).quantile(0.5), None);
        assert_eq!(of(&[i64::MIN, i64::MAX]).quantile(0.5), None);
    }

    proptest! {
        #[test]
        fn quantiles_are_those_of_the_sorted_numbers(mut numbers in prop::collection::vec(prop_oneof![17_000_i64..18_000, -9000_i64..40_000], 1..300), p in 0.0..=1.0_f64) {
            let histogram = of(&numbers);
            numbers.sort_unstable();
            let rank = ((numbers.len() as f64 * p).ceil() as usize).max(1);
            prop_assert_eq!(histogram.quantile(p), Some(numbers[rank - 1]));
        }

        #[test]
        fn a_finer_scale_keeps_the_quantiles(numbers in prop::collection::vec(1700_i64..1800, 1..100), p in 0.0..=1.0_f64) {
            let mut histogram = of(&numbers);
            let before = histogram.quantile(p).unwrap();
            histogram.refine(1);
            prop_assert_eq!(histogram.quantile(p), Some(before * 10));
        }
    }
}
