//! What is known of a material: the lab's own figures, and the card behind its name.

use secondmelt_plastics::cards::{self, Card};
use secondmelt_plastics::marks;
use secondmelt_record::facts;

/// The lab's own figures of a material, where it gave any.
#[derive(Debug, Default, Clone, Copy, PartialEq)]
pub(crate) struct Own {
    /// Smallest and largest density, in g/cm3.
    pub(crate) density_g_cm3: Option<(f64, f64)>,
    pub(crate) dry_c: Option<f64>,
    pub(crate) dry_max_c: Option<f64>,
    pub(crate) dry_h: Option<f64>,
    pub(crate) dry_end_pct: Option<f64>,
    pub(crate) moisture_max_pct: Option<f64>,
    pub(crate) takes_up_water: Option<bool>,
    /// Most water it takes up, in per cent.
    pub(crate) uptake_pct: Option<f64>,
}

/// A lab's one density stands for lots within this of it, in g/cm3 (common practice).
const OWN_G_CM3: f64 = 0.01;
/// A plastic that takes up no more than this in water needs no drying, in per cent (common
/// practice, no source: the cards' polyolefins take up 0.01 to 0.03).
const NEXT_TO_NONE_PCT: f64 = 0.05;

impl Own {
    pub(crate) fn of(card: &facts::Material<'_>) -> Self {
        let one = card.density_g_cm3.map(f64::from);
        let low = card.density_min_g_cm3.map(f64::from).or(one.map(|x| x - OWN_G_CM3));
        let high = card.density_max_g_cm3.map(f64::from).or(one.map(|x| x + OWN_G_CM3));
        let uptake = card.water_uptake_pct.map(f64::from);
        Self {
            density_g_cm3: low.zip(high),
            dry_c: card.dry_c.map(Into::into),
            dry_max_c: card.dry_max_c.map(Into::into),
            dry_h: card.dry_h.map(Into::into),
            dry_end_pct: card.dry_end_pct.map(Into::into),
            moisture_max_pct: card.moisture_max_pct.map(Into::into),
            uptake_pct: uptake,
            takes_up_water: card.hygroscopic.or(uptake.map(|pct| pct > NEXT_TO_NONE_PCT)),
        }
    }
}

/// The card of a material, fillers and the like aside; none for a blend.
pub(crate) fn card_of(name: &str) -> Option<&'static Card> {
    cards::card(name).or_else(|| match marks::read(name).polymers.as_slice() {
        [one] => cards::card(one),
        _ => None,
    })
}
