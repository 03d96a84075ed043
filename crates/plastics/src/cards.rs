//! The cards of twenty polymers: ranges to start from, never promises. A grade's own
//! data sheet and the lab's own card win. Every group of figures has source and status.

use serde::Deserialize;
use std::sync::LazyLock;

/// The cards as they are kept, with their sources.
const DATA: &str = include_str!("../data/materials.json");

/// A card.
#[derive(Debug, Clone, Deserialize)]
pub struct Card {
    /// Abbreviation, after ISO 1043-1 where it has one.
    pub abbreviation: String,
    /// Name in words.
    pub name: String,
    /// How it is marked.
    pub marking: Marking,
    /// Density of the solid at 23 °C, unfilled, in g/cm3.
    pub density_g_cm3: Density,
    /// Temperatures of the melt in extrusion, in °C.
    #[serde(rename = "extrusion_C")]
    pub extrusion: Window,
    /// Usual drying.
    pub drying: Drying,
    /// Activation energy of flow, in kJ/mol.
    #[serde(rename = "flow_activation_kJ_mol")]
    pub flow_activation: Option<Spread>,
    /// Water it takes up.
    #[serde(rename = "water_uptake_pct")]
    pub water_uptake: WaterUptake,
    /// How its melt flow is usually tested.
    #[serde(rename = "mfr_condition")]
    pub flow_test: FlowTest,
    /// Density of its melt, in g/cm3.
    #[serde(rename = "melt_density_g_cm3")]
    pub melt_density: Spread,
    /// Whether water cuts its chains in the melt.
    pub hydrolyses_in_melt: bool,
    /// Whether it holds chlorine, fluorine or bromine.
    pub contains_halogen: bool,
    /// What may come off when it is heated.
    pub hazards_on_heating: Listed,
    /// What it must not be mixed with.
    pub incompatible_with: Listed,
    /// What else to know.
    #[serde(default)]
    pub note: Option<String>,
}

/// Marks of a polymer.
#[derive(Debug, Clone, Deserialize)]
pub struct Marking {
    /// Symbol of ISO 1043-1.
    pub iso_1043_1: String,
    /// Resin identification code of ASTM D7611, 1 to 7 (7: other).
    pub resin_code: Option<u8>,
    /// Other abbreviations in use.
    pub aliases: Vec<String>,
}

/// A range of densities.
#[derive(Debug, Clone, Deserialize)]
pub struct Density {
    /// Smallest, in g/cm3.
    pub min: f64,
    /// Largest, in g/cm3.
    pub max: f64,
    /// Where it is from.
    pub source: String,
    /// How well that is known.
    pub status: String,
}

/// A range of temperatures.
#[derive(Debug, Clone, Deserialize)]
pub struct Window {
    /// Lowest, in °C.
    pub min: f64,
    /// Highest, in °C.
    pub max: f64,
    /// Where it is from.
    pub source: String,
    /// How well that is known.
    pub status: String,
}

/// A range of a figure.
#[derive(Debug, Clone, Deserialize)]
pub struct Spread {
    /// Smallest and largest.
    pub range: Option<(f64, f64)>,
    /// Where it is from.
    pub source: String,
    /// How well that is known.
    pub status: String,
}

/// Water that a polymer takes up, in per cent by mass, smallest and largest.
#[derive(Debug, Clone, Deserialize)]
pub struct WaterUptake {
    /// In air of 23 °C and half of its moisture.
    #[serde(rename = "at_23C_50rh")]
    pub in_air: Option<(f64, f64)>,
    /// In water of 23 °C, in the end; none where it dissolves.
    #[serde(rename = "saturated_23C")]
    pub in_water: Option<(f64, f64)>,
    /// Where it is from.
    pub source: String,
    /// How well that is known.
    pub status: String,
}

/// Condition of a melt-flow test.
#[derive(Debug, Clone, Deserialize)]
pub struct FlowTest {
    /// Temperature, in °C.
    #[serde(rename = "temperature_C")]
    pub temp_c: f64,
    /// Load, in kg.
    pub load_kg: f64,
    /// Where it is from.
    pub source: String,
    /// How well that is known.
    pub status: String,
}

/// Usual drying of a polymer.
#[derive(Debug, Clone, Deserialize)]
pub struct Drying {
    /// How much water it takes up, in words.
    pub class: String,
    /// Usual drying temperatures, in °C, lowest and highest; none where it needs no drying.
    #[serde(rename = "temperature_C")]
    pub temperature_c: Option<[f64; 2]>,
    /// Usual drying times, in h, shortest and longest.
    pub time_h: Option<[f64; 2]>,
    /// Usual largest moisture before melting, in per cent by mass.
    pub max_moisture_pct: f64,
    /// Where it is from.
    pub source: String,
    /// How well that is known.
    pub status: String,
}

/// A list with its source.
#[derive(Debug, Clone, Deserialize)]
pub struct Listed {
    /// What is on it.
    pub list: Vec<String>,
    /// Where it is from.
    pub source: String,
    /// How well that is known.
    pub status: String,
}

#[derive(Default, Deserialize)]
struct File {
    cards: Vec<Card>,
}

// The file is part of the program and a test reads it, so that it always parses.
static CARDS: LazyLock<Vec<Card>> =
    LazyLock::new(|| serde_json::from_str::<File>(DATA).unwrap_or_default().cards);

/// Every card.
#[must_use]
pub fn all() -> &'static [Card] {
    &CARDS
}

/// The card of an abbreviation or another one in use for the same polymer, whatever its case.
#[must_use]
pub fn card(name: &str) -> Option<&'static Card> {
    let is = |other: &str| other.eq_ignore_ascii_case(name.trim());
    all()
        .iter()
        .find(|c| is(&c.abbreviation))
        .or_else(|| all().iter().find(|c| c.marking.aliases.iter().any(|a| is(a))))
}

/// The one name under which a material is kept, whichever of its names is used: the
/// abbreviation of its card, or the name itself in capitals.
#[must_use]
pub fn one_name(name: &str) -> String {
    card(name).map_or_else(|| name.trim().to_uppercase(), |card| card.abbreviation.clone())
}

/// A whole card as it is kept, each figure with its source and status, as indented JSON.
#[must_use]
pub fn whole(card: &Card) -> Option<String> {
    let file: serde_json::Value = serde_json::from_str(DATA).ok()?;
    let cards = file.get("cards")?.as_array()?;
    let found = cards.iter().find(|c| c["abbreviation"] == card.abbreviation)?;
    serde_json::to_string_pretty(found).ok()
}

impl Card {
    /// Whether it takes up enough water to need drying at all.
    #[must_use]
    pub fn takes_up_water(&self) -> bool {
        self.drying.class != "none"
    }

    /// Whether it must not be mixed with another, by either card.
    #[must_use]
    pub fn incompatible(&self, other: &Card) -> bool {
        self.incompatible_with.list.contains(&other.abbreviation)
            || other.incompatible_with.list.contains(&self.abbreviation)
    }
}
