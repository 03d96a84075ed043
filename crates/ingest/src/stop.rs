//! Why the reading of a source ended before its end.

use secondmelt_record::Problem;

/// Why the reading of a source ended before its end.
#[derive(Debug)]
pub(crate) enum Stop {
    /// It cannot be read without a guess.
    Refused(Box<Problem<'static>>),
    /// It was followed and is not any more what it was.
    Lost(&'static str),
    /// It could not be read.
    Unreadable(String),
}

impl From<std::io::Error> for Stop {
    fn from(error: std::io::Error) -> Self {
        Self::Unreadable(error.to_string())
    }
}
