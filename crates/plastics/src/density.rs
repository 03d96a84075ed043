//! Density by immersion (ISO 1183-1, method A), and that of water.

/// Density of air in a room, in g/cm3.
pub const AIR_G_CM3: f64 = 0.0012;

/// Density of air-free water at 101.325 kPa in g/cm3, 0 to 40 °C (Tanaka et al. 2001);
/// none outside.
#[must_use]
pub fn water_g_cm3(temp_c: f64) -> Option<f64> {
    (0.0..=40.0).contains(&temp_c).then(|| {
        let from_densest = temp_c - 3.983_035;
        let fall =
            from_densest * from_densest * (temp_c + 301.797) / (522_528.9 * (temp_c + 69.348_81));
        0.999_974_95 * (1.0 - fall)
    })
}

/// The weighings of one specimen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Immersed {
    /// Mass in air, in g.
    pub air_g: f64,
    /// Apparent mass in the liquid, in g, with the sinker where one is used. Below zero
    /// where a floating piece is held under.
    pub liquid_g: f64,
    /// Apparent mass of the sinker alone in the liquid, in g; 0 without one.
    pub sinker_g: f64,
    /// Density of the liquid, in g/cm3.
    pub liquid_g_cm3: f64,
}

impl Immersed {
    /// Apparent mass of the liquid displaced, in g; none where there is none.
    fn displaced_g(&self) -> Option<f64> {
        let displaced = self.air_g + self.sinker_g - self.liquid_g;
        (displaced > 0.0).then_some(displaced)
    }

    /// Density in g/cm3 by the formula of the standard, which leaves air out; none where
    /// the weighings show no volume.
    #[must_use]
    pub fn density_g_cm3(&self) -> Option<f64> {
        Some(self.air_g * self.liquid_g_cm3 / self.displaced_g()?)
    }

    /// Density in g/cm3 with the buoyancy of air.
    #[must_use]
    pub fn with_air_g_cm3(&self, air_g_cm3: f64) -> Option<f64> {
        Some(self.air_g / self.displaced_g()? * (self.liquid_g_cm3 - air_g_cm3) + air_g_cm3)
    }

    /// Standard uncertainty of the density in g/cm3, where each weighing has `u_g` of its
    /// own and independently (JCGM 100:2008, 5.1.2).
    #[must_use]
    pub fn u_g_cm3(&self, u_g: f64) -> Option<f64> {
        let displaced = self.displaced_g()?;
        let scale = self.liquid_g_cm3 / (displaced * displaced);
        let by_air = scale * (self.sinker_g - self.liquid_g);
        let by_liquid = scale * self.air_g;
        let by_sinker = if self.sinker_g == 0.0 { 0.0 } else { by_liquid };
        Some(u_g * by_air.hypot(by_liquid).hypot(by_sinker))
    }
}

/// Where the uncertainty of a density comes from: standard uncertainties in g/cm3.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Budget {
    /// The scale.
    pub scale: f64,
    /// The temperature of the liquid, through its density.
    pub temp: f64,
    /// Air that clings to the specimen.
    pub bubble: f64,
}

impl Budget {
    /// All of it, as of independent parts.
    #[must_use]
    pub fn all(&self) -> f64 {
        self.scale.hypot(self.temp).hypot(self.bubble)
    }
}

impl Immersed {
    /// The uncertainty where each weighing has `u_g`, the density of the liquid
    /// `u_liquid_g_cm3`, and up to `bubble_cm3` of air clings to the specimen: anything up to that is
    /// equally likely, and the density is not mended for it.
    #[must_use]
    pub fn budget(&self, u_g: f64, u_liquid_g_cm3: f64, bubble_cm3: f64) -> Option<Budget> {
        let density = self.density_g_cm3()?;
        Some(Budget {
            scale: self.u_g_cm3(u_g)?,
            temp: density / self.liquid_g_cm3 * u_liquid_g_cm3,
            // Root mean square of an even spread from nothing to the whole.
            bubble: density * density * bubble_cm3 / self.air_g / 3.0_f64.sqrt(),
        })
    }
}

/// Density that a specimen seems to have with a bubble clinging to it, in g/cm3.
#[must_use]
pub fn with_bubble_g_cm3(mass_g: f64, true_g_cm3: f64, bubble_cm3: f64) -> f64 {
    mass_g / (mass_g / true_g_cm3 + bubble_cm3)
}

/// Density of a mixture whose volumes add up, in g/cm3, from mass fractions and densities.
#[must_use]
pub fn mixed_g_cm3(parts: &[(f64, f64)]) -> Option<f64> {
    let mass: f64 = parts.iter().map(|(share, _)| share).sum();
    let volume: f64 = parts.iter().map(|(share, density)| share / density).sum();
    (volume > 0.0).then(|| mass / volume)
}
