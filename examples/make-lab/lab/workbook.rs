//! The ledger as a workbook: a sheet of weighings and a sheet of steps.

use super::Trouble;
use super::ledger::Weighing;
use super::passes::steps;
use super::story::{Clock, Step};
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, Workbook, Worksheet};
use std::io::Cursor;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

/// The workbook as a file.
pub fn bytes(weighings: &[Weighing]) -> Result<Vec<u8>, Trouble> {
    let mut book = Workbook::new();
    let made = ExcelDateTime::from_ymd(2026, 6, 1)?.and_hms(16, 30, 0)?;
    book.set_properties(&DocProperties::new().set_creation_datetime(&made));
    let clock = Format::new().set_num_format("yyyy-mm-dd hh:mm");
    let sheet = book.add_worksheet().set_name("Weighings")?;
    write_weighings(sheet, weighings, &clock)?;
    let sheet = book.add_worksheet().set_name("Steps")?;
    write_steps(sheet, &steps(), &clock)?;
    stored(book.save_to_buffer()?)
}

/// The same workbook without compression: a compressor's bytes may differ from one
/// processor to another, and the file is small.
fn stored(packed: Vec<u8>) -> Result<Vec<u8>, Trouble> {
    let mut packed = ZipArchive::new(Cursor::new(packed))?;
    let mut plain = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::DEFAULT.compression_method(CompressionMethod::Stored);
    for index in 0..packed.len() {
        let mut part = packed.by_index(index)?;
        let name = part.name()?.into_owned();
        plain.start_file(name, options)?;
        std::io::copy(&mut part, &mut plain)?;
    }
    Ok(plain.finish()?.into_inner())
}

fn moment((month, day, hour, minute): Clock) -> Result<ExcelDateTime, Trouble> {
    Ok(ExcelDateTime::from_ymd(2026, month, day)?.and_hms(u16::from(hour), minute, 0)?)
}

fn write_weighings(
    sheet: &mut Worksheet,
    weighings: &[Weighing],
    clock: &Format,
) -> Result<(), Trouble> {
    sheet.write_row(0, 0, ["Step", "Lot", "Role", "Net weight [kg]", "Scale", "Time"])?;
    for (row, weighing) in (1..).zip(weighings) {
        sheet.write_row(row, 0, [weighing.step, weighing.lot, weighing.role])?;
        if let Some(mass) = weighing.mass_dg {
            sheet.write_number(row, 3, mass as f64 / 10_000.0)?;
        }
        sheet.write_string(row, 4, "bench scale")?;
        sheet.write_datetime_with_format(row, 5, moment(weighing.at)?, clock)?;
    }
    Ok(())
}

const STEP_HEADINGS: [&str; 9] = [
    "Step",
    "Operation",
    "Started",
    "Machine",
    "settings.screw_rpm",
    "settings.line_speed_m_min",
    "settings.melt_c",
    "settings.bed_c",
    "Energy [kWh]",
];

fn write_steps(sheet: &mut Worksheet, steps: &[Step], clock: &Format) -> Result<(), Trouble> {
    sheet.write_row(0, 0, STEP_HEADINGS)?;
    for (row, step) in (1..).zip(steps) {
        sheet.write_row(row, 0, [step.step, step.does])?;
        sheet.write_datetime_with_format(row, 2, moment(step.at)?, clock)?;
        if !step.machine.is_empty() {
            sheet.write_string(row, 3, step.machine)?;
        }
        for (column, setting) in (4..).zip(step.settings) {
            if setting > 0.0 {
                sheet.write_number(row, column, setting)?;
            }
        }
        if step.energy > 0 {
            sheet.write_number(row, 8, f64::from(step.energy) / 10.0)?;
        }
    }
    Ok(())
}
