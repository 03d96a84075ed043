//! The command line and the mapping file.

use crate::number::{Decimal, Thousands};
use secondmelt_record::runtime::Common;
use std::collections::BTreeMap;

/// Format of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Format {
    /// Rows of cells between separators
    Csv,
    /// One JSON object a line
    Jsonl,
    /// A workbook of Office Open XML
    Xlsx,
    /// A workbook of OpenDocument
    Ods,
}

/// The command line.
#[derive(Debug, clap::Parser)]
pub(crate) struct Options {
    /// Kind of the records to make, e.g. diameter, weighing, step, trial
    #[arg(value_name = "KIND")]
    pub(crate) kind: String,
    /// Tables to read, one after another; standard input if none, or for -
    #[arg(value_name = "FILE")]
    pub(crate) files: Vec<String>,
    /// Format of the files; else by extension, else by content
    #[arg(long)]
    pub(crate) format: Option<Format>,
    /// Separator of columns: comma, semicolon, tab or a sign; else by the header
    #[arg(long, value_name = "SIGN")]
    pub(crate) delimiter: Option<String>,
    /// Decimal sign; else by the cells of the first block
    #[arg(long)]
    pub(crate) decimal: Option<Decimal>,
    /// Sign between groups of three digits; none is accepted unless stated
    #[arg(long)]
    pub(crate) thousands: Option<Thousands>,
    /// Encoding of text, e.g. utf-16le or windows-1252; else by its first bytes
    #[arg(long, value_name = "NAME")]
    pub(crate) encoding: Option<String>,
    /// Sheet of a workbook; else the one that fits
    #[arg(long, value_name = "NAME")]
    pub(crate) sheet: Option<String>,
    /// Line of the header, counted from 1; else found by its headings
    #[arg(long, value_name = "N")]
    pub(crate) header_line: Option<u64>,
    /// How times are written, by the letters of strptime, e.g. '%d.%m.%Y %H:%M'
    #[arg(long, value_name = "FORMAT")]
    pub(crate) time_format: Option<String>,
    /// Zone of times that name none: an offset like +01:00 or a name like Europe/Berlin
    #[arg(long)]
    pub(crate) zone: Option<String>,
    /// Column that fills a field (repeatable); without a unit in its heading, in that of the field
    #[arg(long, value_name = "FIELD=HEADER")]
    pub(crate) column: Vec<String>,
    /// Unit of a column (repeatable)
    #[arg(long, value_name = "HEADER=UNIT")]
    pub(crate) unit: Vec<String>,
    /// The same value in every record, in the unit of the field (repeatable)
    #[arg(long, value_name = "FIELD=VALUE")]
    pub(crate) set: Vec<String>,
    /// Mapping file (TOML) with any of these settings, as examples/every-setting.toml shows them;
    /// the command line goes first
    #[arg(long, value_name = "FILE")]
    pub(crate) map: Option<String>,
    /// Line speed in m/min, for the position of readings that have only a time
    #[arg(long, value_name = "V")]
    pub(crate) line_speed_m_min: Option<String>,
    /// Go on reading as the file grows; ends on an interrupt
    #[arg(long)]
    pub(crate) follow: bool,
    /// With --follow: end once the file has not grown for so many seconds
    #[arg(long, value_name = "N")]
    pub(crate) idle_s: Option<u64>,
    #[command(flatten)]
    pub(crate) common: Common,
}

/// A mapping file.
#[derive(Debug, Default, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct Map {
    pub(crate) format: Option<Format>,
    pub(crate) delimiter: Option<String>,
    pub(crate) decimal: Option<Decimal>,
    pub(crate) thousands: Option<Thousands>,
    pub(crate) encoding: Option<String>,
    pub(crate) sheet: Option<String>,
    pub(crate) header_line: Option<u64>,
    pub(crate) time_format: Option<String>,
    pub(crate) zone: Option<String>,
    line_speed_m_min: Option<toml::Value>,
    pub(crate) column: BTreeMap<String, String>,
    pub(crate) unit: BTreeMap<String, String>,
    set: BTreeMap<String, toml::Value>,
}

impl Map {
    /// Reads a mapping file.
    ///
    /// # Errors
    /// Where it cannot be read or holds something else.
    pub(crate) fn read(path: &str) -> Result<Self, String> {
        let text = std::fs::read_to_string(path).map_err(|e| format!("--map {path}: {e}"))?;
        toml::from_str(&text).map_err(|e| format!("--map {path}: {}", e.to_string().trim_end()))
    }

    /// Its constants as text.
    ///
    /// # Errors
    /// Where one is a list, a table or a date.
    pub(crate) fn set_texts(&self) -> Result<Vec<(String, String)>, String> {
        self.set
            .iter()
            .map(|(name, value)| Ok((name.clone(), text(&format!("set.{name}"), value)?)))
            .collect()
    }

    /// Its line speed as text.
    ///
    /// # Errors
    /// Where it is not a number.
    pub(crate) fn speed_text(&self) -> Result<Option<String>, String> {
        self.line_speed_m_min.as_ref().map(|v| text("line_speed_m_min", v)).transpose()
    }
}

fn text(name: &str, value: &toml::Value) -> Result<String, String> {
    match value {
        toml::Value::String(text) => Ok(text.clone()),
        toml::Value::Integer(n) => Ok(n.to_string()),
        toml::Value::Float(x) => Ok(x.to_string()),
        toml::Value::Boolean(flag) => Ok(flag.to_string()),
        _ => Err(format!(
            "--map: {name}: found a {}, expected text, a number or true or false",
            value.type_str()
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// serde names the fields that it knows where it meets one that it does not.
    #[test]
    fn the_map_with_every_setting_lacks_none() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/every-setting.toml");
        let text = std::fs::read_to_string(path).unwrap();
        let table: toml::Table = toml::from_str(&text).unwrap();
        Map::read(path).unwrap();
        let fault = toml::from_str::<Map>("no_such_setting = 1").unwrap_err().to_string();
        let (_, known) = fault.split_once("expected one of").unwrap();
        let known: Vec<&str> = known.split('`').skip(1).step_by(2).collect();
        assert!(known.len() > 10, "{fault}");
        for name in known {
            assert!(table.contains_key(name), "{name} is not shown");
        }
    }
}
