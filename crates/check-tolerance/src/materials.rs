//! What each lot is made of, as far as its mass needs it.

use secondmelt_record::facts::{Lot, Material};
use secondmelt_record::{Code, Line, Problem};
use std::collections::HashMap;

/// Materials of lots, and densities of materials.
#[derive(Debug, Default)]
pub struct Materials {
    of_lot: HashMap<String, String>,
    density_g_cm3: HashMap<String, f64>,
}

impl Materials {
    /// Takes a lot; a problem where it was said to be of another material.
    pub fn lot(&mut self, lot: &Lot<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        let material = lot.material.as_str();
        let first = self.of_lot.entry(lot.lot.to_string()).or_insert_with(|| material.to_owned());
        (first != material).then(|| {
            let found = format!("lot {} of {material}", lot.lot);
            line.problem(Code::Contradiction, found, format!("{first} as before; that one is used"))
        })
    }

    /// Takes the lab's own card of a material; a later one replaces an earlier one.
    pub fn material(&mut self, material: &Material<'_>) {
        if let Some(density) = material.density_g_cm3 {
            self.density_g_cm3.insert(material.material.to_string(), density.get());
        }
    }

    /// Density of the material of a lot, where both are known.
    pub fn density_g_cm3(&self, lot: &str) -> Option<f64> {
        self.density_g_cm3.get(self.of_lot.get(lot)?).copied()
    }
}
