//! What was measured on the bench: melt flow, moisture, sieving, immersion, marks,
//! and what was found in the filament.

use super::chance::Chance;
use super::table::{PLAIN, SPREADSHEET, TABS, Table, words};
use super::{LabFile, Trouble};

/// Files of the bench.
pub fn files(chance: &mut Chance) -> Result<Vec<LabFile>, Trouble> {
    Ok(vec![
        melt_flow(chance)?,
        words("moisture.csv", SPREADSHEET, MOISTURE)?,
        words("sieve.tsv", TABS, SIEVE)?,
        words("immersion.csv", PLAIN, IMMERSION)?,
        words("markings.csv", PLAIN, MARKINGS)?,
        words("inspections.csv", PLAIN, INSPECTIONS)?,
        words("inclusions.csv", PLAIN, INCLUSIONS)?,
    ])
}

/// True melt flow at 220 degrees and 2.16 kg, in g/10 min: it climbs from pass to
/// pass, and the virgin pellets blended into the third hold it back a little.
const MELT_FLOW: [(&str, f64); 6] = [
    ("regrind-1", 8.10),
    ("spool-1a", 9.35),
    ("spool-2a", 10.90),
    ("regrind-3", 10.95),
    ("virgin-1", 6.60),
    ("spool-3a", 11.35),
];
/// Time between cuts, in s.
const CUT_S: f64 = 20.0;
/// Repeatability of a cut-off, relative.
const CUT_SPREAD: f64 = 0.012;
/// Density of the melt, in g/cm3, and area of piston and barrel, in cm2 (ISO 1133-1).
const MELT_G_CM3: f64 = 1.14;
const PISTON_CM2: f64 = 0.711;

/// Two fillings of the barrel for each lot, five cut-offs each.
fn melt_flow(chance: &mut Chance) -> Result<LabFile, Trouble> {
    let mut table = Table::new(TABS);
    table.line("# melt flow tester, invented example");
    table.row(&[
        "Lot",
        "Run",
        "Temp [°C]",
        "Load [kg]",
        "Cut-off mass [mg]",
        "Cut-off time [s]",
        "Piston travel [mm]",
    ]);
    for (lot, rate) in MELT_FLOW {
        for run in 1..=2 {
            for _ in 0..5 {
                let cut_g = rate * CUT_S / 600.0 * (1.0 + CUT_SPREAD * chance.normal());
                let stroke_mm = cut_g / MELT_G_CM3 / PISTON_CM2 * 10.0;
                table.row(&[
                    lot.to_owned(),
                    format!("{lot} {run}"),
                    "220".to_owned(),
                    "2.16".to_owned(),
                    table.number(cut_g * 1000.0, 0),
                    table.number(CUT_S, 0),
                    table.number(stroke_mm, 2),
                ]);
            }
        }
    }
    table.file("melt-flow.tsv")
}

const MOISTURE: &[&[&str]] = &[
    &["Batch", "Time", "Water content [%]", "Drying time [h]", "Drying temperature [°C]"],
    &["regrind-1", "2026-03-03 13:50", "0.212", "0", "65"],
    &["regrind-1", "2026-03-03 15:50", "0.094", "2", "65"],
    &["regrind-1", "2026-03-03 17:50", "0.043", "4", "65"],
    &["dried-1", "2026-03-03 19:50", "0.021", "6", "65"],
    &["regrind-2", "2026-04-13 13:20", "0.186", "0", "65"],
    &["dried-2", "2026-04-13 18:20", "0.026", "5", "65"],
    &["regrind-3", "2026-05-18 12:50", "0.201", "0", "65"],
    &["dried-3", "2026-05-18 16:50", "0.047", "4", "65"],
];

const SIEVE: &[&[&str]] = &[
    &["lot", "Opening [mm]", "Retained [g]", "Charge [g]"],
    &["regrind-1", "8", "0.0", "50.0"],
    &["regrind-1", "5.6", "3.1", "50.0"],
    &["regrind-1", "4", "14.6", "50.0"],
    &["regrind-1", "2.8", "15.9", "50.0"],
    &["regrind-1", "2", "9.2", "50.0"],
    &["regrind-1", "1", "5.4", "50.0"],
    &["regrind-1", "0", "1.7", "50.0"],
    &["regrind-2", "8", "0.6", "50.0"],
    &["regrind-2", "5.6", "4.8", "50.0"],
    &["regrind-2", "4", "15.7", "50.0"],
    &["regrind-2", "2.8", "14.4", "50.0"],
    &["regrind-2", "2", "8.1", "50.0"],
    &["regrind-2", "1", "4.7", "50.0"],
    &["regrind-2", "0", "1.6", "50.0"],
    &["regrind-3", "8", "0.0", "50.0"],
    &["regrind-3", "5.6", "2.4", "50.0"],
    &["regrind-3", "4", "12.9", "50.0"],
    &["regrind-3", "2.8", "16.2", "50.0"],
    &["regrind-3", "2", "10.3", "50.0"],
    &["regrind-3", "1", "6.1", "50.0"],
    &["regrind-3", "0", "2.0", "50.0"],
];

// The last is a housing lid that floats: not PETG, whatever its mark says.
const IMMERSION: &[&[&str]] = &[
    &["lot", "air_g", "liquid_g", "temp (°F)"],
    &["housings-1", "4.213", "0.908", "72.3"],
    &["housings-1", "3.876", "0.832", "72.3"],
    &["print-scrap-0", "2.954", "0.633", "72.3"],
    &["odd-lid", "3.107", "-0.331", "72.3"],
];

const MARKINGS: &[&[&str]] = &[
    &["lot", "mark"],
    &["housings-1", ">PET<"],
    &["print-scrap-0", ">PETG<"],
    &["odd-lid", ">PETG<"],
];

const INSPECTIONS: &[&[&str]] = &[
    &["lot", "length_m"],
    &["spool-1a", "120"],
    &["spool-1b", "40"],
    &["spool-2a", "90"],
    &["spool-2b", "60"],
    &["spool-3a", "120"],
];

const INCLUSIONS: &[&[&str]] = &[
    &["lot", "position_m", "size [µm]", "what"],
    &["spool-1b", "12.4", "310", "dark speck"],
    &["spool-2b", "41.3", "900", "unmelted lump"],
    &["spool-3a", "17.9", "250", "dark speck"],
    &["spool-3a", "88.0", "400", "bubble"],
];
