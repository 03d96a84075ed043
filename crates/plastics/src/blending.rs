//! Flow rate of blends of one polymer, by two rules that agree for parts that are alike and
//! part ways for parts that are not. Neither holds for polymers that do not mix.

/// Viscosity goes with the molar mass to this power (exponents of 3.4 to 3.7 are printed).
pub const MOLAR_MASS_EXPONENT: f64 = 3.4;

/// A part of a blend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Its share of the mass.
    pub fraction: f64,
    /// Its melt mass-flow rate, in g/10 min.
    pub mfr_g_10min: f64,
}

/// How the flow rates of parts make that of a blend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rule {
    /// Logarithms of the flow rates add by mass.
    Logarithmic,
    /// Viscosity to the power 1/exponent adds by mass, which follows from molar masses that
    /// add by mass and a viscosity that goes with the molar mass to the power `exponent`.
    Power {
        /// The exponent.
        exponent: f64,
    },
    /// Flow rates add by mass: an upper bound, for comparison.
    Linear,
}

/// The power rule with the usual exponent.
pub const POWER: Rule = Rule::Power { exponent: MOLAR_MASS_EXPONENT };

impl Rule {
    /// What adds by mass.
    fn additive(self, mfr: f64) -> f64 {
        match self {
            Self::Logarithmic => mfr.ln(),
            Self::Power { exponent } => mfr.powf(-1.0 / exponent),
            Self::Linear => mfr,
        }
    }

    fn back(self, sum: f64) -> f64 {
        match self {
            Self::Logarithmic => sum.exp(),
            Self::Power { exponent } => sum.powf(-exponent),
            Self::Linear => sum,
        }
    }

    /// Flow rate of a blend, in g/10 min. Fractions are taken relative to their sum. None
    /// without parts.
    #[must_use]
    pub fn mfr_g_10min(self, parts: &[Part]) -> Option<f64> {
        let whole: f64 = parts.iter().map(|part| part.fraction).sum();
        let sum: f64 = parts.iter().map(|p| p.fraction * self.additive(p.mfr_g_10min)).sum();
        let mfr = self.back(sum / whole);
        mfr.is_finite().then_some(mfr)
    }

    /// The share of `added` in a blend with `base` that has the flow rate `target`, all in
    /// g/10 min. Below 0 or above 1 where the target is not between the two; none where the
    /// two are the same.
    #[must_use]
    pub fn share_for(self, base: f64, added: f64, target: f64) -> Option<f64> {
        let at_base = self.additive(base);
        let share = (self.additive(target) - at_base) / (self.additive(added) - at_base);
        share.is_finite().then_some(share)
    }
}

/// Ratio of flow rates that goes with a ratio of molar masses.
#[must_use]
pub fn mfr_ratio_of_molar_mass(molar_mass_ratio: f64, exponent: f64) -> f64 {
    molar_mass_ratio.powf(-exponent)
}
