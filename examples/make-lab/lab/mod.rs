//! An invented lab: the river station turns retired PETG sensor housings and
//! print scrap into filament for new housings.

mod bench;
mod chance;
mod ledger;
mod logs;
mod passes;
mod spools;
mod story;
mod table;
mod trials;
mod workbook;
mod workshop;

use chance::Chance;

/// Seed of all that is random.
const SEED: u64 = 20_260_302;

/// A file of the lab: its name and its bytes.
pub type LabFile = (String, Vec<u8>);

/// Why the lab could not be made.
pub type Trouble = Box<dyn std::error::Error>;

/// Every file of the lab, in a fixed order.
pub fn files() -> Result<Vec<LabFile>, Trouble> {
    let spools = spools::made(&mut Chance::of(SEED, 1));
    let weighings = ledger::weighings(&spools, &mut Chance::of(SEED, 2))?;
    let mut files = logs::files(&spools, &mut Chance::of(SEED, 3))?;
    files.push(("ledger.xlsx".to_owned(), workbook::bytes(&weighings)?));
    files.extend(bench::files(&mut Chance::of(SEED, 4))?);
    files.extend(trials::files()?);
    files.extend(workshop::files()?);
    Ok(files)
}
