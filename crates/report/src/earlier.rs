//! The findings of an earlier day, for comparison.

use crate::collect::Standing;
use secondmelt_record::contract::visible;
use secondmelt_record::lines::{Block, Lines};
use secondmelt_record::scan::{Peek, peek};
use secondmelt_record::{Kind, Record};
use std::fs::File;
use std::path::Path;

/// What an earlier stream says.
#[derive(Debug, Default)]
pub(crate) struct Earlier {
    /// Name of the file.
    pub(crate) file: String,
    pub(crate) standing: Standing,
    /// Lines that are no records, and so are not compared.
    pub(crate) unread: u64,
}

/// Kinds that are compared.
const KINDS: [Kind; 7] = [
    Kind::Verdict,
    Kind::DiameterSummary,
    Kind::StepBalance,
    Kind::LotBalance,
    Kind::MeltFlowResult,
    Kind::MeltFlowDrift,
    Kind::RecycledContent,
];

impl Earlier {
    /// Reads a file of records.
    ///
    /// # Errors
    /// Which file could not be read, and why.
    pub(crate) fn read(path: &Path) -> Result<Self, String> {
        let name = visible(&path.to_string_lossy());
        let fault = |error: std::io::Error| format!("--since {name} could not be read: {error}");
        let mut earlier = Self { file: name.clone(), ..Self::default() };
        let mut lines = Lines::new(File::open(path).map_err(fault)?);
        while let Some(block) = lines.next_block(|_| Ok(())).map_err(fault)? {
            match block {
                Block::TooLong(..) => earlier.unread += 1,
                Block::Lines(bytes) => {
                    for line in bytes.split(|b| *b == b'\n').filter(|l| !l.is_empty()) {
                        earlier.line(line);
                    }
                }
            }
        }
        Ok(earlier)
    }

    fn line(&mut self, line: &[u8]) {
        let Ok(text) = std::str::from_utf8(line) else {
            self.unread += 1;
            return;
        };
        match peek(text) {
            Peek::Known(kind) if KINDS.contains(&kind) => match Record::parse(kind, text) {
                Ok(record) => self.standing.take(&record),
                Err(_) => self.unread += 1,
            },
            Peek::Bad(_) => self.unread += 1,
            Peek::Known(_) | Peek::Stranger(_) | Peek::Blank => {}
        }
    }
}
