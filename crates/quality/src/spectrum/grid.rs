//! Readings at their positions, put on an even grid.

/// Readings from which the spacing is judged.
const FIRST: usize = 64;
/// Steps of the grid that may lie between two readings before it is a gap.
const GAP_STEPS: f64 = 4.0;

/// What the grid gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Even {
    /// The next value.
    Value(f64),
    /// Values after this do not join on to those before.
    Gap,
}

/// Puts readings on an even grid of position, in order. Readings that stand closer than
/// the grid are averaged; between readings that stand wider, values lie on the straight
/// line that joins them, which lessens waves of few readings (to 0.81 of their height at
/// four readings a wave, where the two grids drift past one another; not at all where they
/// agree). A gap of more than four steps, or a step back, breaks the grid and starts it
/// again.
#[derive(Debug, Clone)]
pub struct EvenGrid {
    finest: f64,
    step: f64,
    /// Readings averaged into one.
    bunch: u32,
    held: Vec<(f64, f64)>,
    sums: (u32, f64, f64),
    last: Option<(f64, f64)>,
    start: f64,
    steps: f64,
}

impl EvenGrid {
    /// A grid whose step is the usual spacing of the first readings, or as many times that
    /// as make at least `finest`.
    #[must_use]
    pub fn new(finest: f64) -> Option<Self> {
        (finest >= 0.0 && finest.is_finite()).then(|| Self {
            finest,
            step: 0.0,
            bunch: 1,
            held: Vec::with_capacity(FIRST),
            sums: (0, 0.0, 0.0),
            last: None,
            start: 0.0,
            steps: 0.0,
        })
    }

    /// Step of the grid, once it is known.
    #[must_use]
    pub fn step(&self) -> Option<f64> {
        (self.step > 0.0).then_some(self.step)
    }

    /// Adds a reading and hands on what lies on the grid up to it. One that is not finite
    /// is left out.
    pub fn push(&mut self, position: f64, value: f64, give: &mut impl FnMut(Even)) {
        if !position.is_finite() || !value.is_finite() {
            return;
        }
        if self.step > 0.0 {
            self.place(position, value, give);
            return;
        }
        self.held.push((position, value));
        if self.held.len() == FIRST {
            self.settle(give);
        }
    }

    /// Ends the readings: what is still held back comes out.
    pub fn finish(&mut self, give: &mut impl FnMut(Even)) {
        if self.step <= 0.0 {
            self.settle(give);
        }
    }

    /// Fixes the step by the median spacing.
    fn settle(&mut self, give: &mut impl FnMut(Even)) {
        let held = std::mem::take(&mut self.held);
        let pairs = held.iter().zip(held.iter().skip(1));
        let mut spacings: Vec<f64> =
            pairs.map(|(a, b)| b.0 - a.0).filter(|spacing| *spacing > 0.0).collect();
        spacings.sort_unstable_by(f64::total_cmp);
        let Some(spacing) = spacings.get(spacings.len() / 2).copied() else {
            return;
        };
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "saturates; not negative"
        )]
        let bunch = ((self.finest / spacing - 1e-9).ceil() as u32).max(1);
        self.bunch = bunch;
        self.step = spacing * f64::from(bunch);
        for (position, value) in held {
            self.place(position, value, give);
        }
    }

    /// Averages a bunch of readings into one.
    fn place(&mut self, position: f64, value: f64, give: &mut impl FnMut(Even)) {
        if self.bunch == 1 {
            self.join(position, value, give);
            return;
        }
        let (count, positions, _) = &self.sums;
        let far = (position - *positions / f64::from(*count)).abs() > GAP_STEPS * self.step;
        if *count > 0 && far {
            self.sums = (0, 0.0, 0.0);
        }
        let (count, positions, values) = (&mut self.sums.0, &mut self.sums.1, &mut self.sums.2);
        *count += 1;
        *positions += position;
        *values += value;
        if *count == self.bunch {
            let n = f64::from(*count);
            let (position, value) = (*positions / n, *values / n);
            self.sums = (0, 0.0, 0.0);
            self.join(position, value, give);
        }
    }

    /// Hands on the values between the last reading and this one.
    fn join(&mut self, position: f64, value: f64, give: &mut impl FnMut(Even)) {
        let Some((before, last)) = self.last.replace((position, value)) else {
            self.begin(position, value, give);
            return;
        };
        let width = position - before;
        if width < 0.0 || width > (GAP_STEPS + 0.5) * self.step {
            give(Even::Gap);
            self.begin(position, value, give);
            return;
        }
        // A reading may fall short of its place on the grid by rounding.
        let reach = position + 1e-6 * self.step;
        // No more than fit into the widest gap, even where a step is lost in rounding.
        for _ in 0..8 {
            let next = self.start + (self.steps + 1.0) * self.step;
            if next > reach {
                return;
            }
            self.steps += 1.0;
            let share = if width > 0.0 { ((next - before) / width).clamp(0.0, 1.0) } else { 1.0 };
            give(Even::Value(last + share * (value - last)));
        }
    }

    fn begin(&mut self, position: f64, value: f64, give: &mut impl FnMut(Even)) {
        (self.start, self.steps) = (position, 0.0);
        give(Even::Value(value));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn even(readings: &[(f64, f64)], finest: f64) -> (Option<f64>, Vec<Even>) {
        let mut found = Vec::new();
        let mut grid = EvenGrid::new(finest).unwrap();
        for (position, value) in readings {
            grid.push(*position, *value, &mut |even| found.push(even));
        }
        grid.finish(&mut |even| found.push(even));
        (grid.step(), found)
    }

    #[test]
    fn even_readings_stay_as_they_are() {
        for n in [3, 63, 64, 65, 300] {
            let readings: Vec<_> =
                (0..n).map(|i| (7.0 + 0.1 * f64::from(i), f64::from(i * i % 13))).collect();
            let (step, found) = even(&readings, 0.01);
            assert!((step.unwrap() - 0.1).abs() < 1e-12);
            assert_eq!(found.len(), n as usize);
            for (even, (_, value)) in found.iter().zip(&readings) {
                let Even::Value(x) = even else { panic!("a gap") };
                assert!((x - value).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn close_readings_are_averaged() {
        let readings: Vec<_> =
            (0..400).map(|i| (0.0025 * f64::from(i), f64::from(i % 4))).collect();
        let (step, found) = even(&readings, 0.01);
        assert!((step.unwrap() - 0.01).abs() < 1e-12);
        assert_eq!(found.len(), 100);
        assert!(found.iter().all(|x| matches!(x, Even::Value(x) if (x - 1.5).abs() < 1e-9)));
    }

    #[test]
    fn gaps_and_steps_back_break_the_grid() {
        let mut readings: Vec<_> = (0..100).map(|i| (0.1 * f64::from(i), 1.0)).collect();
        readings.extend((0..100).map(|i| (50.0 + 0.1 * f64::from(i), 1.0)));
        readings.extend((0..100).map(|i| (0.1 * f64::from(i), 1.0)));
        let (_, found) = even(&readings, 0.0);
        assert_eq!(found.iter().filter(|even| **even == Even::Gap).count(), 2);
        assert_eq!(found.len(), 302);
    }

    #[test]
    fn one_position_gives_no_grid_and_no_endless_loop() {
        let (step, found) = even(&[(1.0, 2.0); 100], 0.01);
        assert_eq!((step, found.len()), (None, 0));
        let (step, _) = even(&[(0.0, 1.0), (1e300, 1.0), (1e300, 2.0)], 0.01);
        assert_eq!(step, Some(1e300));
        let mut lost: Vec<_> = (0..100).map(|i| (0.1 * f64::from(i), 1.0)).collect();
        lost.extend([(1e300, 1.0); 5]);
        assert!(even(&lost, 0.01).1.len() < 200);
        let tiny: Vec<_> = (0..200).map(|i| (1e-300 * f64::from(i), 1.0)).collect();
        assert!(even(&tiny, 0.01).1.len() < 300);
    }

    proptest! {
        #[test]
        fn a_straight_line_stays_straight(widths in prop::collection::vec(0.05_f64..0.2, 70..200)) {
            let mut position = 0.0;
            let readings: Vec<_> = widths.iter().map(|width| { position += width; (position, 3.0 * position) }).collect();
            let (step, found) = even(&readings, 0.0);
            let values: Vec<f64> = found.iter().filter_map(|even| if let Even::Value(x) = even { Some(*x) } else { None }).collect();
            for pair in values.windows(2) {
                prop_assert!((pair[1] - pair[0] - 3.0 * step.unwrap()).abs() < 1e-6);
            }
        }
    }
}
