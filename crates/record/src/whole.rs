//! Whether a stream is whole: every run that signed its start must have signed its
//! end, as often as it began (a stream may be joined with a copy of itself).

use crate::contract::{Begin, End};
use std::collections::HashMap;

/// How many unfinished runs are remembered.
const OPEN_MAX: usize = 100_000;
/// How many ids of finished runs are listed.
const SEEN_MAX: usize = 1000;

/// What the `begin` and `end` records of a stream say so far.
#[derive(Debug, Default)]
pub struct Whole {
    /// Begun minus ended, for every id where that is not zero.
    open: HashMap<String, (i64, String)>,
    seen: Vec<String>,
    overflow: bool,
    cut_upstream: Option<String>,
}

impl Whole {
    /// Notes the start of a run.
    pub fn begin(&mut self, begin: &Begin<'_>) {
        self.count(&begin.id, 1, &begin.program);
        if self.seen.len() < SEEN_MAX && !self.seen.iter().any(|id| *id == begin.id.as_str()) {
            self.seen.push(begin.id.to_string());
        }
    }

    /// Notes the end of a run.
    pub fn end(&mut self, end: &End<'_>) {
        self.count(&end.id, -1, "");
        if let Some(why) = &end.cut_short {
            self.cut_upstream.get_or_insert_with(|| why.to_string());
        }
    }

    fn count(&mut self, id: &str, by: i64, program: &str) {
        if let Some((n, _)) = self.open.get_mut(id) {
            *n += by;
            if *n == 0 {
                self.open.remove(id);
            }
        } else if self.open.len() < OPEN_MAX {
            self.open.insert(id.to_owned(), (by, program.to_owned()));
        } else {
            self.overflow = true;
        }
    }

    /// Ids of the `begin` records seen so far, in order.
    #[must_use]
    pub fn seen(&self) -> &[String] {
        &self.seen
    }

    /// Why the stream is not whole; none where it is.
    #[must_use]
    pub fn fault(&self) -> Option<String> {
        if let Some(why) = &self.cut_upstream {
            return Some(format!("an earlier filter found its input cut short: {}", plain(why)));
        }
        if self.overflow {
            return Some(format!("more than {OPEN_MAX} runs began and did not end"));
        }
        let mut open: Vec<_> = self.open.iter().collect();
        open.sort();
        let (id, (n, program)) = open.first()?;
        let more = match open.len() {
            1 => String::new(),
            n => format!(" (and {} more like it)", n - 1),
        };
        Some(if *n > 0 {
            format!("{program} (run {id}) began and did not end{more}")
        } else {
            format!("run {id} ended and did not begin: the start of its records is missing{more}")
        })
    }
}

/// The innermost reason, so that a long chain does not repeat itself.
fn plain(why: &str) -> &str {
    why.rsplit("cut short: ").next().unwrap_or(why)
}
