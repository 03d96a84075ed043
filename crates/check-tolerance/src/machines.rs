//! What each machine asks of a filament.

use secondmelt_quality::decimal::nearest;
use secondmelt_record::facts::Machine;
use secondmelt_record::{NonNegative, Positive};

/// A spool is meant for a machine when its first usable reading lies within this
/// share of the machine's nominal diameter. It tells 1.75 mm from 2.85 mm and leaves
/// room for any filament that is merely bad (common practice, no source).
const REACH: f64 = 0.2;

/// The demands of one machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Name of the machine.
    pub machine: String,
    /// Filament diameter it is made for.
    pub nominal_mm: Positive,
    /// Largest deviation either way.
    pub tolerance_mm: NonNegative,
    /// Largest ovality, where it has a limit.
    pub ovality_mm: Option<NonNegative>,
    /// Narrowest bore, where it is known.
    pub bore_mm: Option<Positive>,
    /// Smallest diameter allowed.
    pub low_mm: f64,
    /// Largest diameter allowed.
    pub high_mm: f64,
    /// Whether it was asked for, and so is meant whatever the diameter.
    pub asked_for: bool,
}

impl Fit {
    /// The demands of a machine; none where it takes no filament or states no tolerance.
    pub fn of(machine: &Machine<'_>) -> Option<Self> {
        crate::uses_filament(machine.does).then_some(())?;
        let (nominal, tolerance) = (machine.nominal_mm?, machine.tolerance_mm?);
        let fit = Self::new(machine.machine.to_string(), nominal, tolerance, machine.ovality_mm);
        Some(Self { bore_mm: machine.bore_mm, ..fit })
    }

    /// Demands in figures.
    pub fn new(
        machine: String,
        nominal_mm: Positive,
        tolerance_mm: NonNegative,
        ovality_mm: Option<NonNegative>,
    ) -> Self {
        let (nominal, tolerance) = (nominal_mm.get(), tolerance_mm.get());
        let (low_mm, high_mm) = (nearest(nominal - tolerance), nearest(nominal + tolerance));
        Self {
            machine,
            nominal_mm,
            tolerance_mm,
            ovality_mm,
            bore_mm: None,
            low_mm,
            high_mm,
            asked_for: false,
        }
    }

    /// How far a diameter is from nominal, in mm.
    #[inline]
    pub fn deviation_mm(&self, diameter_mm: f64) -> f64 {
        (diameter_mm - self.nominal_mm.get()).abs()
    }

    /// How far a diameter is beyond the limits, in mm; negative within them.
    pub fn beyond_mm(&self, diameter_mm: f64) -> f64 {
        (diameter_mm - self.high_mm).max(self.low_mm - diameter_mm)
    }

    /// Whether a filament of this diameter is meant for the machine at all.
    pub fn is_meant(&self, diameter_mm: f64) -> bool {
        self.asked_for || is_near(diameter_mm, self.nominal_mm.get())
    }

    /// The tolerance as people write it.
    pub fn tolerance_text(&self) -> String {
        format!("{} ± {} mm", self.nominal_mm.get(), self.tolerance_mm.get())
    }
}

/// Whether a diameter is near enough to a nominal one to be meant for it.
pub fn is_near(diameter_mm: f64, nominal_mm: f64) -> bool {
    (diameter_mm / nominal_mm - 1.0).abs() <= REACH
}

/// Every machine so far.
#[derive(Debug, Default)]
pub struct Machines(Vec<Fit>);

impl Machines {
    /// Adds a machine.
    pub fn add(&mut self, fit: Fit) {
        self.0.push(fit);
    }

    /// The machine of that name.
    pub fn find(&self, name: &str) -> Option<&Fit> {
        self.0.iter().find(|fit| fit.machine == name)
    }

    /// Whether there are machines for filaments of more than one diameter.
    pub fn differ(&self) -> bool {
        let mut sizes = self.0.iter().filter(|fit| !fit.asked_for).map(|fit| fit.nominal_mm.get());
        let first = sizes.next();
        first.is_some_and(|first| sizes.any(|other| (other / first - 1.0).abs() > REACH / 2.0))
    }

    /// Those whose nominal diameter is nearest to this one.
    pub fn nearest(&self, diameter_mm: f64) -> impl Iterator<Item = &Fit> {
        let apart = move |fit: &Fit| (diameter_mm / fit.nominal_mm.get()).ln().abs();
        let least = self.0.iter().map(apart).fold(f64::INFINITY, f64::min);
        self.0.iter().filter(move |fit| apart(fit) <= least + 1e-9)
    }

    /// All of them.
    pub fn all(&self) -> &[Fit] {
        &self.0
    }
}
