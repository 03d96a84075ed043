//! Workbooks: cells to text, then the same way as rows of a table.
use crate::{options::Format, settings::Settings, sink::Sink, source::Source, stop::Stop};
pub(crate) fn read(_: &mut Source, _: Format, _: &Settings, _: &mut Sink<'_>) -> Result<(), Stop> {
    Err(Stop::Unreadable("workbooks".to_owned()))
}
