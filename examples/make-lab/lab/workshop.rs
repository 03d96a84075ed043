//! What there is in the workshop: lots, machines, their turning parts, instruments,
//! limits, and the lab's own card of the material.

use super::table::{PLAIN, SPREADSHEET, Table, words};
use super::{LabFile, Trouble};

/// Files of the workshop.
pub fn files() -> Result<Vec<LabFile>, Trouble> {
    Ok(vec![
        words("lots.csv", SPREADSHEET, LOTS)?,
        lines("machines.jsonl", MACHINES)?,
        words("turning-parts.csv", PLAIN, TURNING_PARTS)?,
        lines("workshop.jsonl", WORKSHOP)?,
    ])
}

fn lines(name: &str, lines: &[&str]) -> Result<LabFile, Trouble> {
    let mut table = Table::new(PLAIN);
    for line in lines {
        table.line(line);
    }
    table.file(name)
}

const LOTS: &[&[&str]] = &[
    &["Lot", "Polymer", "Form", "Origin", "Passes", "Remarks"],
    &[
        "housings-1",
        "PETG",
        "waste",
        "post-consumer",
        "0",
        "sensor housings back from the river, 2019 to 2024",
    ],
    &["odd-lid", "PETG", "waste", "unknown", "0", "a lid that came with the housings; floats"],
    &[
        "print-scrap-0",
        "PETG",
        "waste",
        "in-process",
        "0",
        "supports and failed prints of bought filament",
    ],
    &["virgin-1", "PETG", "pellets", "virgin", "0", ""],
    &["sorted-1", "PETG", "waste", "post-consumer", "0", "inserts and gaskets out"],
    &["washed-1", "PETG", "waste", "post-consumer", "0", ""],
    &["regrind-1", "PETG", "regrind", "", "0", ""],
    &["dried-1", "PETG", "regrind", "", "0", ""],
    &["spool-1a", "PETG", "filament", "", "1", "1.75 mm"],
    &["spool-1b", "PETG", "filament", "", "1", "2.85 mm"],
    &["parts-1a", "PETG", "parts", "", "1", "housings, flooded on purpose in the tank"],
    &["parts-1b", "PETG", "parts", "", "1", "brackets, pulled to breaking"],
    &["print-scrap-1a", "PETG", "waste", "in-process", "1", ""],
    &["print-scrap-1b", "PETG", "waste", "in-process", "1", ""],
    &["regrind-2", "PETG", "regrind", "in-process", "1", ""],
    &["dried-2", "PETG", "regrind", "in-process", "1", ""],
    &["spool-2a", "PETG", "filament", "", "2", "1.75 mm"],
    &["spool-2b", "PETG", "filament", "", "2", "1.75 mm"],
    &["spool-2c", "PETG", "filament", "", "2", "1.75 mm, the rest of the run, wound on a card"],
    &["parts-2a", "PETG", "parts", "", "2", ""],
    &["parts-2b", "PETG", "parts", "", "2", ""],
    &["print-scrap-2a", "PETG", "waste", "in-process", "2", ""],
    &["print-scrap-2b", "PETG", "waste", "in-process", "2", ""],
    &["regrind-3", "PETG", "regrind", "in-process", "2", ""],
    &["dried-3", "PETG", "regrind", "in-process", "2", ""],
    &["blend-3", "PETG", "regrind", "", "", "three parts dried-3, one part virgin-1"],
    &["spool-3a", "PETG", "filament", "", "3", "1.75 mm"],
    &["parts-3a", "PETG", "parts", "", "3", ""],
    &["print-scrap-3a", "PETG", "waste", "in-process", "3", ""],
];

const MACHINES: &[&str] = &[
    r#"{"machine":"printer-easy","does":"print","nominal_mm":1.75,"tolerance_mm":0.06,"ovality_mm":0.06,"bore_mm":1.95,"melt_min_c":180,"melt_max_c":260}"#,
    r#"{"machine":"printer-tight","does":"print","nominal_mm":1.75,"tolerance_mm":0.03,"ovality_mm":0.03,"bore_mm":1.85,"melt_min_c":180,"melt_max_c":270,"note":"long guide tube with a narrow bore"}"#,
    r#"{"machine":"printer-wide","does":"print","nominal_mm":2.85,"tolerance_mm":0.05,"ovality_mm":0.06,"bore_mm":3.1,"melt_min_c":180,"melt_max_c":270}"#,
    r#"{"machine":"extruder","does":"extrude","melt_min_c":150,"melt_max_c":280,"screw_min_rpm":5,"screw_max_rpm":60,"line_speed_min_m_min":0.5,"line_speed_max_m_min":12,"throughput_max_kg_h":1.5}"#,
    r#"{"machine":"shredder","does":"shred"}"#,
    r#"{"machine":"dryer","does":"dry"}"#,
];

const TURNING_PARTS: &[&[&str]] = &[
    &["Machine", "Part", "Diameter [cm]", "Speed [rpm]", "Gear"],
    &["extruder", "screw", "1.6", "15", "1"],
    &["extruder", "puller roller", "6.0", "23.87", ""],
    &["extruder", "winder", "20.0", "7.16", ""],
];

const WORKSHOP: &[&str] = &[
    r#"{"kind":"gauge","gauge":"two-axis gauge","u_mm":0.0015,"resolution_mm":0.001,"axes":2}"#,
    r#"{"kind":"gauge","gauge":"caliper","u_mm":0.015,"resolution_mm":0.01,"axes":1}"#,
    r#"{"kind":"scale","scale":"bench scale","u_g":0.1,"resolution_g":0.1}"#,
    r#"{"kind":"limit","what":"moisture_pct","material":"PETG","max":0.04,"unit":"%"}"#,
    r#"{"kind":"limit","what":"fines_pct","max":5,"unit":"%"}"#,
    r#"{"kind":"limit","what":"oversize_pct","max":12,"unit":"%"}"#,
    r#"{"kind":"limit","what":"mfr_g_10min","material":"PETG","max":14,"unit":"g/10 min"}"#,
    r#"{"kind":"limit","what":"inclusions_per_m","max":0.1,"unit":"1/m"}"#,
    r#"{"kind":"material","material":"PETG","name":"glycol-modified copolyester","density_g_cm3":1.27,"melt_min_c":210,"melt_max_c":250,"dry_c":65,"dry_h":5,"moisture_max_pct":0.04,"hygroscopic":true,"note":"invented card of an invented lab"}"#,
];
