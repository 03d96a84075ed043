//! From values to places on a drawing, and the round values that are marked.

/// A linear scale, or one by logarithms.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scale {
    from: f64,
    to: f64,
    at_from: f64,
    at_to: f64,
    log: bool,
}

impl Scale {
    /// A scale from `at_from` to `at_to` for values between the two, in whatever order they
    /// come. Where they are equal, or no numbers, it shows some room around.
    pub(crate) fn new(values: (f64, f64), at: (f64, f64)) -> Self {
        let (mut from, mut to) = (values.0.min(values.1), values.0.max(values.1));
        if !(from.is_finite() && to.is_finite()) {
            (from, to) = (0.0, 1.0);
        }
        if to - from <= f64::EPSILON * 8.0 * from.abs().max(to.abs()) {
            let room = (from.abs() * 0.01).max(1e-6);
            (from, to) = (from - room, to + room);
        }
        Self { from, to, at_from: at.0, at_to: at.1, log: false }
    }

    /// The same with so much of the range left free at either end.
    pub(crate) fn roomy(values: (f64, f64), at: (f64, f64), share: f64) -> Self {
        let tight = Self::new(values, at);
        let room = share * (tight.to - tight.from);
        Self { from: tight.from - room, to: tight.to + room, ..tight }
    }

    /// A scale by logarithms, for values above zero.
    pub(crate) fn log(values: (f64, f64), at: (f64, f64)) -> Self {
        let safe = |x: f64| x.max(1e-9).log10();
        Self { log: true, ..Self::new((safe(values.0), safe(values.1)), at) }
    }

    /// Where a value lies on the drawing; beyond the ends for a value beyond them, within reason.
    pub(crate) fn at(&self, x: f64) -> f64 {
        let x = if self.log { x.max(1e-9).log10() } else { x };
        let share = ((x - self.from) / (self.to - self.from)).clamp(-1.0, 2.0);
        self.at_from + share * (self.at_to - self.at_from)
    }

    /// Where a value lies, kept between the ends.
    pub(crate) fn within(&self, x: f64) -> f64 {
        let (low, high) = (self.at_from.min(self.at_to), self.at_from.max(self.at_to));
        self.at(x).clamp(low, high)
    }

    /// Round values to mark, about so many, each with its label.
    pub(crate) fn ticks(&self, about: usize) -> Vec<(f64, String)> {
        if self.log {
            return self.log_ticks();
        }
        let step = round_step((self.to - self.from) / about.max(1) as f64);
        let decimals = (-step.log10().floor()).clamp(0.0, 9.0) as usize;
        let first = (self.from / step).ceil();
        (0..60)
            .map(|i| (first + f64::from(i)) * step)
            .take_while(|x| *x <= self.to + step * 1e-9)
            .map(|x| (x, crate::numbers::fixed(x, decimals)))
            .collect()
    }

    fn log_ticks(&self) -> Vec<(f64, String)> {
        let within = |x: &f64| (self.from - 1e-9..=self.to + 1e-9).contains(&x.log10());
        let decades = -9..=9;
        let of = |steps: &'static [f64]| {
            let ticks = decades.clone().flat_map(|e| steps.iter().map(move |s| s * 10_f64.powi(e)));
            ticks.filter(within).map(|x| (x, crate::numbers::significant(x, 1))).collect::<Vec<_>>()
        };
        let few = of(&[1.0]);
        if few.len() >= 3 { few } else { of(&[1.0, 2.0, 5.0]) }
    }
}

/// The nearest of 1, 2 and 5 times a power of ten that is not smaller.
fn round_step(x: f64) -> f64 {
    let power = 10_f64.powf(x.max(1e-300).log10().floor());
    [1.0, 2.0, 5.0, 10.0].map(|s| s * power).into_iter().find(|s| *s >= x * 0.999).unwrap_or(power)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_are_round_and_lie_within() {
        let scale = Scale::new((1.689, 1.852), (0.0, 100.0));
        let labels: Vec<String> = scale.ticks(5).into_iter().map(|(_, label)| label).collect();
        assert_eq!(labels, ["1.70", "1.75", "1.80", "1.85"]);
        assert_eq!(scale.at(1.689), 0.0);
        assert_eq!(scale.at(1.852), 100.0);
        let log = Scale::log((0.08, 60.0), (0.0, 1.0));
        let labels: Vec<String> = log.ticks(0).into_iter().map(|(_, label)| label).collect();
        assert_eq!(labels, ["0.1", "1", "10"]);
    }

    #[test]
    fn no_values_put_anything_nowhere() {
        for values in [(0.0, 0.0), (1.75, 1.75), (f64::NAN, 1.0), (-1e300, 1e300), (5.0, -5.0)] {
            let scale = Scale::roomy(values, (10.0, 20.0), 0.05);
            for x in [f64::NEG_INFINITY, -1e300, 0.0, 1.75, 1e300] {
                assert!(
                    scale.at(x).is_finite() && (0.0..=30.0).contains(&scale.at(x)),
                    "{values:?}"
                );
            }
            assert!(scale.ticks(5).len() < 60);
        }
    }
}
