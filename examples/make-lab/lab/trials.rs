//! Trials: what was printed with the filament, and how it came out.

use super::table::{LOGGER, Table};
use super::{LabFile, Trouble};

/// The file of trials: a spreadsheet of a land of semicolons, days first.
pub fn files() -> Result<Vec<LabFile>, Trouble> {
    let mut table = Table::new(LOGGER);
    for line in TRIALS.trim().lines() {
        table.line(line);
    }
    Ok(vec![table.file("trials.csv")?])
}

const TRIALS: &str = "
Spool;Machine;Part;Date;settings.melt_c;settings.bed_c;Result;Fault;Changed;Complexity
spool-1a;printer-easy;test cube;09.03.2026 09:10;240;65;failed;poor bed adhesion;;1
spool-1a;printer-easy;test cube;09.03.2026 09:55;240;75;good;;bed 65 °C to 75 °C;1
spool-1a;printer-easy;cable gland;09.03.2026 11:20;240;75;good;;;2
spool-1a;printer-easy;sensor housing;09.03.2026 13:30;240;75;good;;;3
spool-1a;printer-easy;sensor housing;10.03.2026 08:30;240;75;good;;;3
spool-1a;printer-tight;cable gland;10.03.2026 13:05;240;75;good;;;2
spool-1a;printer-tight;sensor lid;10.03.2026 15:40;240;75;good;;;3
spool-1b;printer-wide;mast bracket;10.03.2026 09:15;245;80;failed;warping;;2
spool-1b;printer-wide;mast bracket;10.03.2026 12:45;245;85;good;;bed 80 °C to 85 °C;2
spool-1b;printer-wide;mast bracket;11.03.2026 08:50;245;85;good;;;2
spool-2a;printer-tight;cable gland;20.04.2026 09:20;240;75;failed;under-extrusion;;2
spool-2a;printer-tight;cable gland;20.04.2026 10:40;245;75;failed;under-extrusion;melt 240 °C to 245 °C;2
spool-2a;printer-easy;cable gland;20.04.2026 12:10;240;75;good;;;2
spool-2a;printer-easy;sensor housing;20.04.2026 14:00;240;75;good;;;3
spool-2a;printer-easy;sensor housing;21.04.2026 08:30;240;75;good;;;3
spool-2b;printer-easy;sensor housing;21.04.2026 13:15;240;75;good;;;3
spool-2b;printer-tight;sensor lid;22.04.2026 09:05;240;75;failed;jam;;3
spool-3a;printer-easy;sensor housing;26.05.2026 09:10;240;75;failed;stringing;;3
spool-3a;printer-easy;sensor housing;26.05.2026 14:20;235;75;good;;melt 240 °C to 235 °C;3
spool-3a;printer-easy;sensor housing;27.05.2026 08:30;235;75;good;;;3
spool-3a;printer-easy;cable gland;27.05.2026 13:45;235;75;good;;;2
";
