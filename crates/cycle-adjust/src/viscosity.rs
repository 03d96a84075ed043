//! What a melt-flow test says of viscosity, and how well it repeats.

use crate::melt::Filling;
use crate::series::Series;
use secondmelt_plastics::rheology::{
    STANDARD_DIE, shear_rate_per_s, standard_wall_stress_pa, viscosity_pa_s,
};
use secondmelt_quality::distributions::{Split, student_t};
use secondmelt_quality::mean_interval::CONFIDENCE;
use secondmelt_record::findings::{MeltFlowRepeatability, MeltViscosity};
use secondmelt_record::{Celsius, Count, Name, NonNegative, Positive};

/// Stress, rate and viscosity of a filling whose piston travel was read; none of another.
pub(crate) fn of(filling: &Filling) -> Option<MeltViscosity<'_>> {
    let (mvr, density) = filling.volume()?;
    let stress = standard_wall_stress_pa(filling.load_kg());
    let rate = shear_rate_per_s(mvr, STANDARD_DIE.diameter_mm);
    Some(MeltViscosity {
        lot: Name::from(filling.lot()),
        run: filling.run().map(Name::from),
        temp_c: Celsius::new(filling.temp_c())?,
        load_kg: Positive::new(filling.load_kg())?,
        mvr_cm3_10min: Positive::new(mvr)?,
        melt_density_g_cm3: Positive::new(density)?,
        stress_pa: Positive::new(stress)?,
        shear_rate_per_s: Positive::new(rate)?,
        viscosity_pa_s: Positive::new(viscosity_pa_s(stress, rate))?,
        ..MeltViscosity::default()
    })
}

/// How well a lab repeats its tests; none where no lot was tested twice.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count")]
pub(crate) fn repeatability<'a>(series: &Series<'a>) -> Option<MeltFlowRepeatability<'a>> {
    let (variance, freedom) = series.within?;
    let sd_pct = 100.0 * variance.sqrt();
    let t = student_t::quantile(freedom, Split::with_above(0.5 * (1.0 - CONFIDENCE))?)?;
    Some(MeltFlowRepeatability {
        material: Name::from(series.material),
        temp_c: Celsius::new(series.temp_c)?,
        load_kg: Positive::new(series.load_kg)?,
        lots: Count::from(series.lots.iter().filter(|lot| lot.logs.len() > 1).count()),
        freedom: Count(freedom as u64),
        sd_pct: NonNegative::new(sd_pct)?,
        limit_pct: NonNegative::new(t * std::f64::consts::SQRT_2 * sd_pct)?,
        ..MeltFlowRepeatability::default()
    })
}
