//! What a run is told: the command line over a mapping file.

use crate::cell::{Cell, Reading};
use crate::clock::{self, Clock};
use crate::header::{self, Target};
use crate::number::{Decimal, Style, Thousands};
use crate::options::{Format, Map, Options};
use encoding_rs::Encoding;
use secondmelt_record::shape::Shape;
use secondmelt_record::units::Scale;
use secondmelt_record::{Class, Kind, Number};
use std::time::Duration;

/// What a run is told.
#[derive(Debug, Clone)]
pub(crate) struct Settings {
    /// Kind of the records.
    pub(crate) kind: Kind,
    /// Format of the files; by name and content where not stated.
    pub(crate) format: Option<Format>,
    /// Separator of columns.
    pub(crate) delimiter: Option<u8>,
    /// Decimal sign.
    pub(crate) decimal: Option<Decimal>,
    /// Grouping of digits.
    pub(crate) thousands: Option<Thousands>,
    /// Encoding of text.
    pub(crate) encoding: Option<&'static Encoding>,
    /// Sheet of a workbook.
    pub(crate) sheet: Option<String>,
    /// Line of the header, counted from 1.
    pub(crate) header_line: Option<u64>,
    /// How times are written.
    pub(crate) clock: Clock,
    /// Fields by the heading of their column.
    pub(crate) columns: Vec<(Target, String)>,
    /// Units by heading.
    pub(crate) units: Vec<(String, String)>,
    /// Constants: the value as JSON.
    pub(crate) set: Vec<(Target, Vec<u8>)>,
    /// Metres per second, as a fraction, for positions from times.
    pub(crate) speed: Option<(u64, u64)>,
    /// Whether to go on reading as the file grows.
    pub(crate) follow: bool,
    /// When to stop following a file that does not grow.
    pub(crate) idle: Option<Duration>,
}

impl Settings {
    /// The settings of a command line.
    ///
    /// # Errors
    /// What is wrong with it, for the person who typed it.
    pub(crate) fn new(options: Options) -> Result<Self, String> {
        let kind = fact(&options.kind)?;
        let map = match &options.map {
            Some(path) => Map::read(path)?,
            None => Map::default(),
        };
        let speed = options.line_speed_m_min.clone().or(map.speed_text()?);
        let constants = map.set_texts()?;
        let columns = pairs(options.column, map.column, "--column FIELD=HEADER")?;
        let set = pairs(options.set, constants, "--set FIELD=VALUE")?;
        let units = pairs(options.unit, map.unit, "--unit HEADER=UNIT")?;
        let zone = options.zone.or(map.zone).as_deref().map(clock::zone).transpose()?;
        let clock = Clock { format: options.time_format.or(map.time_format), zone };
        let set = set.iter().map(|pair| constant(kind, pair, &clock)).collect::<Result<_, _>>()?;
        let columns = columns
            .into_iter()
            .map(|(field, heading)| Ok((target(kind, &field, "--column")?, heading)));
        Self {
            kind,
            format: options.format.or(map.format),
            delimiter: options.delimiter.or(map.delimiter).as_deref().map(delimiter).transpose()?,
            decimal: options.decimal.or(map.decimal),
            thousands: options.thousands.or(map.thousands),
            encoding: options.encoding.or(map.encoding).as_deref().map(encoding).transpose()?,
            sheet: options.sheet.or(map.sheet),
            header_line: options.header_line.or(map.header_line),
            clock,
            columns: columns.collect::<Result<_, String>>()?,
            units,
            set,
            speed: speed.as_deref().map(|text| metres_per_second(kind, text)).transpose()?,
            follow: options.follow,
            idle: options.idle_s.map(Duration::from_secs),
        }
        .checked(&options.files)
    }

    fn checked(self, files: &[String]) -> Result<Self, String> {
        let clash = matches!(
            (self.decimal, self.thousands),
            (Some(Decimal::Point), Some(Thousands::Point))
                | (Some(Decimal::Comma), Some(Thousands::Comma))
        );
        if clash {
            return Err("--decimal and --thousands name the same sign".to_owned());
        }
        if self.follow && (files.len() != 1 || files.iter().any(|f| f == "-")) {
            return Err(
                "--follow takes one file; standard input is read as it comes anyway".to_owned()
            );
        }
        if self.idle.is_some() && !self.follow {
            return Err("--idle-s only goes with --follow".to_owned());
        }
        Ok(self)
    }

    /// The decimal sign that is stated, by itself or by the sign for thousands.
    pub(crate) fn stated_decimal(&self) -> Option<Decimal> {
        self.decimal.or(match self.thousands {
            Some(Thousands::Comma) => Some(Decimal::Point),
            Some(Thousands::Point) => Some(Decimal::Comma),
            _ => None,
        })
    }

    /// How cells are read, with that decimal sign.
    pub(crate) fn reading(&self, decimal: Decimal) -> Reading {
        Reading { style: Style { decimal, thousands: self.thousands }, clock: self.clock.clone() }
    }
}

/// A kind that a lab records.
fn fact(name: &str) -> Result<Kind, String> {
    match Kind::from_name(name) {
        Some(kind) if kind.class() == Class::Fact => Ok(kind),
        _ => {
            let facts: Vec<_> =
                Kind::ALL.iter().filter(|k| k.class() == Class::Fact).map(|k| k.name()).collect();
            Err(format!("KIND: found {name}, expected one of: {}", facts.join(", ")))
        }
    }
}

/// The target of that name.
fn target(kind: Kind, name: &str, flag: &str) -> Result<Target, String> {
    header::named(kind, name).ok_or_else(|| {
        let names: Vec<_> = header::fillable(kind)
            .map(|f| {
                if matches!(f.shape, Shape::Numbers) {
                    format!("{}.NAME", f.name)
                } else {
                    f.name.to_owned()
                }
            })
            .collect();
        format!("{flag}: found no field {name} in {kind}, expected one of: {}", names.join(", "))
    })
}

/// A constant, checked and written as JSON.
fn constant(
    kind: Kind,
    pair: &(String, String),
    clock: &Clock,
) -> Result<(Target, Vec<u8>), String> {
    let (name, value) = pair;
    let target = target(kind, name, "--set")?;
    let number = Shape::Number(Number::RANGE);
    let shape = match &target {
        Target::Field(field) => kind.field(field).map_or(number, |f| f.shape),
        Target::Within(..) => number,
    };
    let reading = Reading { style: Style::PLAIN, clock: clock.clone() };
    let mut json = Vec::new();
    let value = value.trim();
    if value.is_empty() {
        return Err(format!("--set {name}: found nothing, expected {shape}"));
    }
    let cell =
        Cell::of(&shape, Scale::ONE).ok_or_else(|| format!("--set {name}: cannot be set"))?;
    cell.write(value, &reading, &mut json).map_err(|fault| {
        format!("--set {name}: found {}, expected {}", fault.found, fault.expected)
    })?;
    Ok((target, json))
}

/// Pairs of the command line, and those of the mapping file whose name is not among them.
fn pairs(
    given: Vec<String>,
    mapped: impl IntoIterator<Item = (String, String)>,
    form: &str,
) -> Result<Vec<(String, String)>, String> {
    let mut pairs: Vec<(String, String)> = Vec::new();
    for text in given {
        // A heading may hold an equals sign; a field or a unit does not.
        let cut =
            if form.starts_with("--unit") { text.rsplit_once('=') } else { text.split_once('=') };
        let (name, value) = cut.ok_or_else(|| format!("found {text:?}, expected {form}"))?;
        let name = name.trim().to_owned();
        if pairs.iter().any(|(other, _)| *other == name) {
            return Err(format!("{form}: found {name} twice"));
        }
        pairs.push((name, value.to_owned()));
    }
    for (name, value) in mapped {
        if !pairs.iter().any(|(other, _)| *other == name) {
            pairs.push((name, value));
        }
    }
    Ok(pairs)
}

fn delimiter(text: &str) -> Result<u8, String> {
    match text {
        "comma" => Ok(b','),
        "semicolon" => Ok(b';'),
        "tab" | "\\t" => Ok(b'\t'),
        _ => match text.as_bytes() {
            [byte]
                if byte.is_ascii()
                    && !byte.is_ascii_alphanumeric()
                    && !matches!(byte, b'"' | b'\n' | b'\r' | b'.' | b'-' | b'+') =>
            {
                Ok(*byte)
            }
            _ => Err(format!(
                "--delimiter: found {text:?}, expected comma, semicolon, tab or one ASCII sign"
            )),
        },
    }
}

fn encoding(label: &str) -> Result<&'static Encoding, String> {
    Encoding::for_label(label.as_bytes()).ok_or_else(|| {
        format!("--encoding: found {label:?}, expected a name like utf-8, utf-16le or windows-1252")
    })
}

/// Metres per second from metres per minute, as a fraction of whole numbers.
fn metres_per_second(kind: Kind, text: &str) -> Result<(u64, u64), String> {
    if kind.field("position_m").is_none() || kind.field("time_s").is_none() {
        return Err(format!("--line-speed-m-min: {kind} has no time and position to work out"));
    }
    let wrong =
        || format!("--line-speed-m-min: found {text:?}, expected a number above 0 like 12.5");
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let digits: u64 = format!("{whole}{part}").parse().map_err(|_| wrong())?;
    let scale = u32::try_from(part.len()).ok().and_then(|n| 10_u64.checked_pow(n));
    let below = scale.and_then(|s| s.checked_mul(60)).filter(|_| digits > 0).ok_or_else(wrong)?;
    Ok((digits, below))
}
