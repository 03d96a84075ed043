//! Writing a stream: lines passed on as they came, own records between them, the
//! signature of the run around them.

use crate::contract::{Begin, CONTRACT, Consumed, Counts, End, Problem};
use crate::define::Described;
pub use crate::dropped::Dropped;
use crate::kind::Kind;
use crate::quantity::Count;
use crate::tally::Tally;
use crate::text::{Name, Text};
use crate::whole::Whole;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, Write};
use std::marker::PhantomData;
use std::os::fd::AsFd;

/// How much is gathered before it is written.
const BLOCK: usize = 64 << 10;
/// How many problems are told one by one on standard error.
const TOLD: u64 = 5;

/// What a run is, for its signature.
#[derive(Debug, Clone)]
pub struct Identity {
    /// Program.
    pub program: &'static str,
    /// Its version.
    pub version: &'static str,
    /// Options it runs with.
    pub options: Vec<String>,
}

/// The writer of a stream.
pub struct Out {
    sink: Option<File>,
    /// Bytes in the order in which they will be written.
    pending: Vec<u8>,
    /// Own records of the line in hand, which come after it; none while nothing is in hand.
    held: Option<Vec<u8>>,
    identity: Identity,
    id: String,
    dropped: Dropped,
    written: Tally,
    problems: BTreeMap<&'static str, u64>,
    failure: Option<io::Error>,
}

impl Out {
    /// A writer to standard output.
    ///
    /// # Errors
    /// Where standard output is closed.
    pub fn stdout(identity: Identity, dropped: Dropped) -> io::Result<Self> {
        let sink = File::from(io::stdout().as_fd().try_clone_to_owned()?);
        Ok(Self::new(Some(sink), identity, dropped))
    }

    /// A writer that writes no records, for a program whose output is not a stream.
    #[must_use]
    pub fn nowhere(identity: Identity) -> Self {
        Self::new(None, identity, Dropped::default())
    }

    fn new(sink: Option<File>, identity: Identity, dropped: Dropped) -> Self {
        Self {
            sink,
            pending: Vec::with_capacity(2 * BLOCK),
            held: None,
            identity,
            id: String::new(),
            dropped,
            written: Tally::default(),
            problems: BTreeMap::new(),
            failure: None,
        }
    }

    /// Program that writes.
    #[must_use]
    pub fn program(&self) -> &'static str {
        self.identity.program
    }

    /// Signs the start. `sources` are the files that `ingest` was told to read.
    pub fn begin(&mut self, whole: &Whole, sources: Option<&[String]>) {
        let name = |id: &String| Name::from(id.clone());
        let mut begin = Begin {
            id: Name::default(),
            program: Name::from(self.identity.program),
            version: Text::from(self.identity.version),
            contract: Count(CONTRACT),
            options: self.identity.options.iter().cloned().map(Text::from).collect(),
            after: whole.seen().iter().map(name).collect(),
            sources: sources.map(|s| s.iter().cloned().map(Text::from).collect()),
            life: PhantomData,
        };
        self.id = content_id(&begin);
        begin.id = Name::from(self.id.clone());
        self.record(Kind::Begin, &begin, false);
    }

    /// Signs the end, with what was read.
    pub fn end(
        &mut self,
        whole: &Whole,
        after: usize,
        read: &Tally,
        cut: Option<&str>,
        sources: Option<Vec<Consumed<'_>>>,
    ) {
        let joined: Vec<_> =
            whole.seen().iter().skip(after).map(|id| Name::from(id.clone())).collect();
        let end = End {
            id: Name::from(self.id.clone()),
            read: read.counts(),
            written: self.written.counts(),
            problems: self.problem_counts(),
            cut_short: cut.map(|why| Text::from(why.to_owned())),
            joined: (!joined.is_empty()).then_some(joined),
            sources,
            life: PhantomData,
        };
        self.record(Kind::End, &end, false);
    }

    /// Writes a finding, signed with the id of this run.
    pub fn write<T: Described + serde::Serialize>(&mut self, finding: &T) {
        if let Some(kind) = Kind::from_name(T::KIND) {
            self.record(kind, finding, true);
        }
    }

    /// Writes a problem and tells the first few on standard error.
    pub fn problem(&mut self, problem: &Problem<'_>) {
        let total = self.problem_total();
        *self.problems.entry(problem.code.as_str()).or_default() += 1;
        if total < TOLD {
            self.tell(&problem.sentence());
        } else if total == TOLD {
            self.tell("more problems follow; they are in the `problem` records");
        }
        self.write(problem);
    }

    /// Problems of this run so far.
    #[must_use]
    pub fn problem_total(&self) -> u64 {
        self.problems.values().sum()
    }

    fn problem_counts(&self) -> Counts {
        Counts(self.problems.iter().map(|(code, n)| ((*code).to_owned(), *n)).collect())
    }

    /// Says something to the person who runs it, on standard error.
    pub fn tell(&self, what: &str) {
        say(self.identity.program, what);
    }

    /// Shows one line on standard error in place of the one shown before, for a person at a
    /// terminal; an empty one takes it away.
    pub fn show(&self, line: &str) {
        let mut stderr = io::stderr().lock();
        let columns = rustix::termios::tcgetwinsize(&stderr).map_or(0, |size| size.ws_col);
        let room = if columns > 1 { usize::from(columns) - 1 } else { usize::MAX };
        let line: String = line.chars().take(room).collect();
        // A terminal that is gone is no reason to stop.
        let _ = write!(stderr, "\r\x1b[K{line}").and_then(|()| stderr.flush());
    }

    fn record<T: serde::Serialize>(&mut self, kind: Kind, record: &T, sign: bool) {
        if self.sink.is_none() || self.dropped.kind(kind) {
            return;
        }
        self.written.add(kind);
        let body = serde_json::to_vec(record).unwrap_or_default();
        let by = (sign && !self.id.is_empty()).then_some(self.id.as_str());
        join(self.held.as_mut().unwrap_or(&mut self.pending), kind, by, &body);
        self.relieve();
    }

    /// Writes a record that the caller has put together: `fill` appends one line,
    /// with its line end, and says whether it is to stand.
    #[inline]
    pub fn line(&mut self, kind: Kind, fill: impl FnOnce(&mut Vec<u8>) -> bool) -> bool {
        let start = self.pending.len();
        let stands = fill(&mut self.pending);
        if stands && !self.dropped.kind(kind) {
            self.written.add(kind);
            self.relieve();
        } else {
            self.pending.truncate(start);
        }
        stands
    }

    /// From here on, own records wait until the line in hand has been passed on.
    pub(crate) fn hold(&mut self) {
        self.held.get_or_insert_default();
    }

    /// Whether own records wait.
    #[inline]
    pub(crate) fn holds(&self) -> bool {
        self.held.as_ref().is_some_and(|held| !held.is_empty())
    }

    /// Lets the waiting records go.
    #[inline]
    pub(crate) fn release(&mut self) {
        if let Some(held) = &mut self.held {
            self.pending.append(held);
            self.relieve();
        }
    }

    /// No line is in hand any more.
    pub(crate) fn unhold(&mut self) {
        self.release();
        self.held = None;
    }

    /// Writes plain text, for a program whose output is not a stream.
    ///
    /// # Errors
    /// Those of standard output.
    pub fn print(&mut self, text: &str) -> io::Result<()> {
        let mut stdout = io::stdout().lock();
        stdout.write_all(text.as_bytes())?;
        stdout.flush()
    }

    /// Columns of the terminal that [`Out::print`] writes to (0 where it does not say);
    /// none where it writes to a file or a pipe.
    #[must_use]
    pub fn terminal_columns(&self) -> Option<u16> {
        let stdout = io::stdout();
        rustix::termios::isatty(&stdout)
            .then(|| rustix::termios::tcgetwinsize(&stdout).map_or(0, |size| size.ws_col))
    }

    /// Passes whole lines on as they are. A last line that came without its line end
    /// gets one, since own records follow it.
    #[inline]
    pub(crate) fn pass(&mut self, lines: &[u8]) {
        if lines.is_empty() || self.sink.is_none() {
            return;
        }
        if self.pending.is_empty() && lines.len() >= BLOCK / 2 {
            self.send(lines);
        } else {
            self.pending.extend_from_slice(lines);
        }
        if !lines.ends_with(b"\n") {
            self.pending.push(b'\n');
        }
        self.relieve();
    }

    pub(crate) fn written(&mut self) -> &mut Tally {
        &mut self.written
    }

    pub(crate) fn dropped(&self) -> &Dropped {
        &self.dropped
    }

    #[inline]
    fn relieve(&mut self) {
        if self.pending.len() >= BLOCK {
            self.flush();
        }
    }

    /// Writes all that is pending.
    pub fn flush(&mut self) {
        let pending = std::mem::take(&mut self.pending);
        self.send(&pending);
        self.pending = pending;
        self.pending.clear();
    }

    fn send(&mut self, bytes: &[u8]) {
        if let (Some(sink), None) = (&mut self.sink, &self.failure)
            && let Err(error) = sink.write_all(bytes)
        {
            self.failure = Some(error);
        }
    }

    /// Writes what is pending, unless `source` has something to read at once.
    pub fn flush_before_wait(&mut self, source: &impl AsFd) {
        if !self.pending.is_empty() && !ready(source) {
            self.flush();
        }
    }

    /// How writing ended so far.
    #[must_use]
    pub fn state(&self) -> State<'_> {
        match &self.failure {
            None => State::Open,
            Some(error) if error.kind() == io::ErrorKind::BrokenPipe => State::Closed,
            Some(error) => State::Failed(error),
        }
    }
}

/// Says something to the person who runs a program. Where nobody listens, the work goes on.
pub(crate) fn say(program: &str, what: &str) {
    let _ = writeln!(io::stderr(), "{program}: {what}");
}

/// How writing ended so far.
#[derive(Debug)]
pub enum State<'a> {
    /// All was written.
    Open,
    /// The reader downstream has closed.
    Closed,
    /// Writing failed.
    Failed(&'a io::Error),
}

/// One line from a kind, the signature and a record's body.
fn join(to: &mut Vec<u8>, kind: Kind, by: Option<&str>, body: &[u8]) {
    to.extend_from_slice(b"{\"kind\":\"");
    to.extend_from_slice(kind.name().as_bytes());
    to.push(b'"');
    if let Some(by) = by {
        to.extend_from_slice(b",\"by\":\"");
        to.extend_from_slice(by.as_bytes());
        to.push(b'"');
    }
    match body.strip_prefix(b"{") {
        Some(rest) if rest != b"}" => {
            to.push(b',');
            to.extend_from_slice(rest);
        }
        _ => to.push(b'}'),
    }
    to.push(b'\n');
}

/// Whether a read would return at once. A file is always ready; so is what cannot
/// be asked, save that its output is then flushed for safety.
fn ready(source: &impl AsFd) -> bool {
    let mut fds = [PollFd::new(source, PollFlags::IN)];
    let now = Timespec { tv_sec: 0, tv_nsec: 0 };
    matches!(poll(&mut fds, Some(&now)), Ok(1..))
}

/// Hash of a `begin` record's own content: SHA-256 of its JSON with an empty id,
/// first 16 hexadecimal digits.
fn content_id(begin: &Begin<'_>) -> String {
    let content = serde_json::to_vec(begin).unwrap_or_default();
    Sha256::digest(&content).iter().take(8).map(|b| format!("{b:02x}")).collect()
}
