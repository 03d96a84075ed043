//! Whether a stream is whole: every run that signed its start must have signed its
//! end, as often as it began (a stream may be joined with a copy of itself).

use crate::contract::{Begin, End};
use std::collections::HashMap;

/// How many unfinished runs are remembered.
const OPEN_MAX: usize = 100_000;
/// How many ids are listed.
const SEEN_MAX: usize = 1000;
/// How long an id or a name of a program may be; ours are 16 digits. What is longer counts by
/// its start.
const NAME_MAX: usize = 64;
/// How much of a reason is passed on.
const WHY_MAX: usize = 500;

/// What the `begin` and `end` records of a stream say so far.
#[derive(Debug, Default)]
pub struct Whole {
    /// Begun minus ended, and the program, for every id that has not ended as often as begun.
    open: HashMap<String, (u64, String)>,
    seen: Vec<String>,
    overflow: bool,
    /// A run that ended before it began.
    headless: Option<String>,
    cut_upstream: Option<String>,
}

impl Whole {
    /// Notes the start of a run.
    pub fn begin(&mut self, begin: &Begin<'_>) {
        let id = start(&begin.id);
        if let Some((n, _)) = self.open.get_mut(id) {
            *n += 1;
        } else if self.open.len() < OPEN_MAX {
            self.open.insert(id.to_owned(), (1, start(&begin.program).to_owned()));
        } else {
            self.overflow = true;
        }
        if self.seen.len() < SEEN_MAX && !self.seen.iter().any(|seen| seen == id) {
            self.seen.push(id.to_owned());
        }
    }

    /// Notes the end of a run.
    pub fn end(&mut self, end: &End<'_>) {
        let id = start(&end.id);
        match self.open.get_mut(id) {
            Some((1, _)) => drop(self.open.remove(id)),
            Some((n, _)) => *n -= 1,
            None => drop(self.headless.get_or_insert_with(|| id.to_owned())),
        }
        if let Some(why) = &end.cut_short {
            self.cut_upstream.get_or_insert_with(|| why.chars().take(WHY_MAX).collect());
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
        if let Some(id) = &self.headless {
            return Some(format!(
                "run {id} ended before it began: the start of its records is missing"
            ));
        }
        let mut open: Vec<_> = self.open.iter().collect();
        open.sort();
        let (id, (_, program)) = open.first()?;
        let more = match open.len() {
            1 => String::new(),
            n => format!(" (and {} more like it)", n - 1),
        };
        Some(format!("{program} (run {id}) began and did not end{more}"))
    }
}

/// The start of a name, as far as it counts.
fn start(name: &str) -> &str {
    let end = name
        .char_indices()
        .map(|(i, c)| i + c.len_utf8())
        .take_while(|end| *end <= NAME_MAX)
        .last();
    &name[..end.unwrap_or(0)]
}

/// The innermost reason, so that a long chain does not repeat itself.
fn plain(why: &str) -> &str {
    why.rsplit("cut short: ").next().unwrap_or(why)
}
