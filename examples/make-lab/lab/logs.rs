//! The gauge logs, one for each spool, as three instruments wrote them.

use super::chance::Chance;
use super::spools::{LINE_SPEED_M_MIN, Spool};
use super::table::{LOGGER, PLAIN, Table, WIDE_LOGGER};
use super::{LabFile, Trouble};

/// The log of every spool.
pub fn files(spools: &[Spool], chance: &mut Chance) -> Result<Vec<LabFile>, Trouble> {
    spools
        .iter()
        .map(|spool| match spool.lot {
            "spool-1b" => by_rig(spool),
            "spool-2a" => by_time(spool),
            "spool-2c" => by_hand(spool, chance),
            _ => by_logger(spool),
        })
        .collect()
}

/// The older logger: a few lines of its own, decimal comma, micrometres.
fn by_logger(spool: &Spool) -> Result<LabFile, Trouble> {
    let mut table = Table::new(LOGGER);
    table.line("Two-axis gauge, log export (invented example)");
    table.line("Head at 22 °C; resolution 1 µm");
    table.line("");
    table.row(&["Position [m]", "Diameter X [µm]", "Diameter Y [µm]"]);
    for place in &spool.places {
        let cells = [
            table.number(place.position_m, 2),
            table.number(place.dx_mm * 1000.0, 0),
            table.number(place.dy_mm * 1000.0, 0),
        ];
        table.row(&cells);
    }
    table.file(&format!("gauge/{}.csv", spool.lot))
}

/// The rig for thick filament: plain, in millimetres, the spool in a column.
fn by_rig(spool: &Spool) -> Result<LabFile, Trouble> {
    let mut table = Table::new(PLAIN);
    table.row(&["Spool", "Position (m)", "Diameter X (mm)", "Diameter Y (mm)"]);
    for place in &spool.places {
        let cells = [
            spool.lot.to_owned(),
            table.number(place.position_m, 2),
            table.number(place.dx_mm, 3),
            table.number(place.dy_mm, 3),
        ];
        table.row(&cells);
    }
    table.file(&format!("gauge/{}.csv", spool.lot))
}

/// The newer logger: it knows the time only, so the line speed must give the place.
fn by_time(spool: &Spool) -> Result<LabFile, Trouble> {
    let mut table = Table::new(WIDE_LOGGER);
    table.row(&["Time [s]", "Diameter X [mm]", "Diameter Y [mm]"]);
    for place in &spool.places {
        let cells = [
            table.number(place.position_m / LINE_SPEED_M_MIN * 60.0, 1),
            table.number(place.dx_mm, 3),
            table.number(place.dy_mm, 3),
        ];
        table.row(&cells);
    }
    table.file(&format!("gauge/{}.tsv", spool.lot))
}

/// Ten readings with a caliper, to a hundredth of a millimetre.
fn by_hand(spool: &Spool, chance: &mut Chance) -> Result<LabFile, Trouble> {
    let mut table = Table::new(PLAIN);
    table.row(&["position_m", "d1 (mm)", "d2 (mm)"]);
    for place in spool.places.iter().step_by(50) {
        let cells = [
            table.number(place.position_m, 1),
            table.number(place.dx_mm + 0.012 * chance.normal(), 2),
            table.number(place.dy_mm + 0.012 * chance.normal(), 2),
        ];
        table.row(&cells);
    }
    table.file(&format!("gauge/{}-by-hand.csv", spool.lot))
}
