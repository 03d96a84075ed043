//! Why the puller speed is to be changed or not, in words.

use super::Puller;
use super::stand::{Stand, Tolerance};
use secondmelt_quality::mean_interval::Interval;

impl Puller<'_> {
    /// In words what the interval of the diameter shows, where that asks for no change.
    pub(super) fn standing(
        &self,
        stand: Stand,
        (low, high): (f64, f64),
        target: f64,
        tolerance: Option<Tolerance<'_>>,
    ) -> String {
        let found =
            format!("the diameter of the mean area lies between {low:.4} mm and {high:.4} mm");
        let Some(Tolerance { mm, machine }) = tolerance else {
            return format!(
                "{found}, which holds the {target} mm that is wanted, but no machine says how far off it \
                 may be: give the extruder's `machine` record `tolerance_mm`"
            );
        };
        let allowed = format!("the tolerance of {mm} mm of machine {machine}");
        match stand {
            Stand::Near => format!(
                "{found}, all within a quarter of {allowed} around the {target} mm that is wanted: a \
                 change would chase noise"
            ),
            Stand::Wide => format!(
                "{found}, which holds the {target} mm that is wanted but reaches past {allowed}: take \
                 more readings, or a better gauge"
            ),
            Stand::Within | Stand::Off => format!(
                "{found}, which holds the {target} mm that is wanted, all within {allowed}: no change \
                 is shown to be needed"
            ),
        }
    }

    /// Why the speed is to be changed.
    pub(super) fn because(&self, target: f64, interval: Interval) -> String {
        format!(
            "the mean area of lot {} is that of a diameter of {:.4} mm, where {target} mm is wanted{}",
            self.lot,
            self.measured.area_mm,
            self.allowance(interval)
        )
    }

    /// What the interval allows for, and what not.
    pub(super) fn allowance(&self, interval: Interval) -> String {
        let gauge = match self.gauge_u_mm() {
            Some(u_mm) => format!("the gauge's standard uncertainty of {u_mm} mm is included"),
            None => "a bias of the gauge is not included".to_owned(),
        };
        format!(
            "; {} readings count as {:.0} independent ones; {gauge}",
            self.measured.readings, interval.effective
        )
    }

    /// That the interval of the speed reaches past what the machine can do; nothing where
    /// it does not. The interval is cut there, and what it was is said.
    pub(super) fn reach(&self, low: f64, high: f64) -> String {
        let passed = [low, high].into_iter().filter_map(|speed| self.limit_passed(speed));
        let passed = passed.map(|(side, limit)| {
            let machine = self.machine().unwrap_or_default();
            format!(
                "; its interval of {low:.3} to {high:.3} m/min reaches {side} the {limit} m/min of machine \
                 {machine} and is cut there: do not run it there"
            )
        });
        passed.collect()
    }
}
