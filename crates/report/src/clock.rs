//! Times as people read them. Records and tables keep them as they were written.

use secondmelt_record::Time;

/// "2026-04-06 14:00 +02:00": the clock of the place, without seconds. A no-break space keeps hour
/// and offset together where a table has little room.
pub(crate) fn shown(time: &Time<'_>) -> String {
    let text = time.as_str();
    // A time has this form; whatever has not is shown as it is.
    let parts = || {
        let (date, rest) = text.split_at_checked(10)?;
        let clock = rest.get(1..6)?;
        let offset = rest.get(9..)?.trim_start_matches(|c: char| c == '.' || c.is_ascii_digit());
        let offset = if offset.eq_ignore_ascii_case("z") { "UTC" } else { offset };
        Some(format!("{date} {clock}\u{a0}{offset}"))
    };
    parts().unwrap_or_else(|| text.to_owned())
}

/// The same of a time that may be missing.
pub(crate) fn maybe(time: Option<&Time<'_>>) -> String {
    time.map(shown).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_is_shown_by_the_clock_of_its_place_without_seconds() {
        for (written, wanted) in [
            ("2026-04-06T14:00:00+02:00", "2026-04-06 14:00\u{a0}+02:00"),
            ("2026-04-06t14:59:59.987654321-03:30", "2026-04-06 14:59\u{a0}-03:30"),
            ("2026-04-06T14:00:00z", "2026-04-06 14:00\u{a0}UTC"),
            ("2016-12-31T23:59:60.5Z", "2016-12-31 23:59\u{a0}UTC"),
        ] {
            let time = Time::parse(written).unwrap();
            assert_eq!(shown(&time), wanted);
        }
        assert_eq!(maybe(None), "");
    }
}
