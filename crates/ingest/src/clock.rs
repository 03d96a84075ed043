//! Times in cells: RFC 3339 as it stands, ISO 8601 without offset by a stated zone,
//! anything else by a stated format.

use crate::cell::{Fault, shown};
use jiff::ZonedDateTime;
use jiff::civil::DateTime;
use jiff::fmt::{strtime, temporal::Pieces};
use jiff::tz::{Offset, TimeZone};
use secondmelt_record::{Code, Time};

/// How times are written in a file.
#[derive(Debug, Clone, Default)]
pub(crate) struct Clock {
    /// A stated format, by the letters of strptime.
    pub(crate) format: Option<String>,
    /// The zone of times that name none.
    pub(crate) zone: Option<TimeZone>,
}

/// The zone of that name: an offset like +01:00, or a name of the IANA data base.
///
/// # Errors
/// Where it is neither.
pub(crate) fn zone(name: &str) -> Result<TimeZone, String> {
    if matches!(name, "Z" | "z" | "UTC") {
        return Ok(TimeZone::UTC);
    }
    let offset = offset_seconds(name).and_then(|s| Offset::from_seconds(s).ok());
    match offset {
        Some(offset) => Ok(TimeZone::fixed(offset)),
        None => TimeZone::get(name).map_err(|_| {
            format!("--zone {name}: found no such zone, expected an offset like +01:00 or a name like Europe/Berlin")
        }),
    }
}

fn offset_seconds(text: &str) -> Option<i32> {
    let (sign, rest) = match text.split_at_checked(1)? {
        ("+", rest) => (1, rest),
        ("-", rest) => (-1, rest),
        _ => return None,
    };
    let digits: String = rest.chars().filter(|c| *c != ':').collect();
    if digits.len() != 4 || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let (hours, minutes): (i32, i32) =
        (digits.get(..2)?.parse().ok()?, digits.get(2..)?.parse().ok()?);
    (hours < 24 && minutes < 60).then_some(sign * (hours * 3600 + minutes * 60))
}

impl Clock {
    /// The time as RFC 3339 text.
    ///
    /// # Errors
    /// Where the cell is no time, or can be read in two ways.
    pub(crate) fn read(&self, cell: &str) -> Result<String, Fault> {
        if let Some(format) = &self.format {
            // A date cell of a workbook comes as date, T and time, whatever is stated.
            let is_iso = cell.as_bytes().get(10) == Some(&b'T');
            let stated = self.by_format(cell, format);
            return stated.or_else(|fault| {
                if is_iso { self.by_iso(cell).map_err(|_| fault) } else { Err(fault) }
            });
        }
        self.by_iso(cell)
    }

    fn by_iso(&self, cell: &str) -> Result<String, Fault> {
        if Time::parse(cell).is_some() {
            return Ok(cell.to_owned());
        }
        match iso(cell) {
            Some((local, None)) => self.in_zone(cell, local),
            Some((local, Some(offset))) => {
                let there = Self { format: None, zone: Some(TimeZone::fixed(offset)) };
                there.in_zone(cell, local)
            }
            None => Err(unread(cell)),
        }
    }

    fn by_format(&self, cell: &str, format: &str) -> Result<String, Fault> {
        let wrong = || {
            Fault::new(Code::BadTime, shown(cell), format!("a time written as {format}"))
                .advice("put the cell right, or --time-format".to_owned())
        };
        let parts = strtime::parse(format, cell).map_err(|_| wrong())?;
        if let Ok(zoned) = parts.to_zoned_datetime() {
            return Ok(text(&zoned));
        }
        let date = parts.to_date().map_err(|_| wrong())?;
        let time = parts.to_time().unwrap_or_default();
        self.in_zone(cell, date.to_datetime(time))
    }

    fn in_zone(&self, cell: &str, local: DateTime) -> Result<String, Fault> {
        let Some(zone) = &self.zone else {
            return Err(Fault::new(
                Code::AmbiguousDate,
                format!("{cell:?}, which names no zone"),
                "a time with its offset",
            )
            .advice(
                "say where the clock stood, e.g. --zone +01:00 or --zone Europe/Berlin".to_owned(),
            ));
        };
        let zoned = zone.to_ambiguous_zoned_datetime(local).unambiguous().map_err(|_| {
            Fault::new(
                Code::AmbiguousDate,
                format!("{cell:?}, when the clocks were changed in that zone"),
                "a time that was there once",
            )
            .advice("write its offset beside it".to_owned())
        })?;
        Ok(text(&zoned))
    }
}

/// Date and time, or date alone (its first instant), by ISO 8601, with the offset
/// that it may name.
fn iso(cell: &str) -> Option<(DateTime, Option<Offset>)> {
    let pieces = Pieces::parse(cell).ok().filter(|_| cell.as_bytes().get(4) == Some(&b'-'))?;
    if pieces.time_zone_annotation().is_some() {
        return None;
    }
    let time = pieces.time().unwrap_or_default();
    Some((pieces.date().to_datetime(time), pieces.to_numeric_offset()))
}

fn text(zoned: &ZonedDateTime) -> String {
    let fraction = if zoned.subsec_nanosecond() == 0 { "" } else { "%.f" };
    zoned.strftime(&format!("%Y-%m-%dT%H:%M:%S{fraction}%:z")).to_string()
}

/// A cell in no form that is read without a stated format.
fn unread(cell: &str) -> Fault {
    let numbers: Vec<&str> =
        cell.split(|c: char| !c.is_ascii_digit()).filter(|part| !part.is_empty()).collect();
    let is_date = numbers.len() >= 3 && cell.contains(['/', '.', '-']);
    if !is_date {
        return Fault::new(
            Code::BadTime,
            format!("{cell:?}"),
            "a time like 2026-03-01T08:30:00+01:00 (RFC 3339 with offset)",
        )
        .advice("or state how times are written, e.g. --time-format '%d.%m.%Y %H:%M'".to_owned());
    }
    Fault::new(
        Code::AmbiguousDate,
        format!("{cell:?}, in which day and month may be either way round"),
        "a time like 2026-03-01T08:30:00+01:00 (RFC 3339 with offset)",
    )
    .advice(
        "state how times are written, e.g. --time-format '%d/%m/%Y' or --time-format '%m/%d/%Y', and --zone"
            .to_owned(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clock(format: Option<&str>, at: Option<&str>) -> Clock {
        Clock { format: format.map(str::to_owned), zone: at.map(|z| zone(z).unwrap()) }
    }

    #[test]
    fn a_time_with_an_offset_stays_as_it_stands() {
        let plain = clock(None, None);
        for text in
            ["2026-03-01T08:30:00+01:00", "2026-03-01T07:30:00Z", "2026-03-01T08:30:00.250+01:00"]
        {
            assert_eq!(plain.read(text).unwrap(), text);
        }
        assert_eq!(plain.read("2026-03-01 08:30:00+01:00").unwrap(), "2026-03-01T08:30:00+01:00");
    }

    #[test]
    fn every_time_that_is_written_is_read_back_by_the_record_contract() {
        let there = clock(None, Some("Europe/Berlin"));
        for text in [
            "2026-03-01 08:30",
            "2026-07-01T08:30:15",
            "2026-07-01",
            "2026-07-01 08:30:15.5",
            "2026-03-01 08:30:00z",
            "2026-03-01T08:30+01",
        ] {
            let time = there.read(text).unwrap();
            assert!(secondmelt_record::Time::parse(&time).is_some(), "{time}");
        }
    }

    /// Offsets of central Europe by the IANA time zone data base: +01:00 in winter,
    /// +02:00 in summer.
    #[test]
    fn a_zone_gives_the_offset_of_the_season() {
        let there = clock(None, Some("Europe/Berlin"));
        assert_eq!(there.read("2026-03-01 08:30").unwrap(), "2026-03-01T08:30:00+01:00");
        assert_eq!(there.read("2026-07-01 08:30").unwrap(), "2026-07-01T08:30:00+02:00");
        let fault = there.read("2026-10-25 02:30").unwrap_err();
        assert_eq!(fault.code, Code::AmbiguousDate);
    }

    #[test]
    fn a_stated_format_settles_day_and_month() {
        let (european, american) =
            (clock(Some("%d/%m/%Y"), Some("+01:00")), clock(Some("%m/%d/%Y"), Some("+01:00")));
        assert_eq!(european.read("03/04/2026").unwrap(), "2026-04-03T00:00:00+01:00");
        assert_eq!(american.read("03/04/2026").unwrap(), "2026-03-04T00:00:00+01:00");
        let fault = clock(None, Some("+01:00")).read("03/04/2026").unwrap_err();
        assert_eq!(fault.code, Code::AmbiguousDate);
    }

    #[test]
    fn a_zone_that_is_none_is_told() {
        assert!(zone("Mars/Olympus").is_err());
        assert!(zone("+25:00").is_err());
        assert!(zone("+0130").is_ok());
    }
}
