//! Reading a stream in blocks of whole lines, without a copy for each line.

use std::io::{self, Read};

/// How much is read at a time.
const BLOCK: usize = 128 << 10;
/// The longest line that is read, its line end included.
pub const LINE_MAX: usize = 1 << 20;
/// How much of a longer line is kept to show.
const HEAD: usize = 1 << 10;

/// What the next part of a stream is.
#[derive(Debug, PartialEq, Eq)]
pub enum Block<'a> {
    /// One or more whole lines. Only the last of the stream may lack its line end.
    Lines(&'a [u8]),
    /// A line longer than [`LINE_MAX`]: its start and its length.
    TooLong(&'a [u8], u64),
}

/// A reader of blocks of lines.
pub struct Lines<R> {
    source: R,
    buffer: Vec<u8>,
    start: usize,
    end: usize,
    /// How far the buffer has been searched for a line end.
    searched: usize,
    done: bool,
}

impl<R: Read> Lines<R> {
    /// Reads lines from a source.
    pub fn new(source: R) -> Self {
        Self { source, buffer: vec![0; BLOCK], start: 0, end: 0, searched: 0, done: false }
    }

    /// The source.
    pub fn source(&self) -> &R {
        &self.source
    }

    /// The next block; none at the end. `before_read` is called before each read,
    /// which may wait.
    ///
    /// # Errors
    /// Those of the source and of `before_read`.
    pub fn next_block(
        &mut self,
        mut before_read: impl FnMut(&R) -> io::Result<()>,
    ) -> io::Result<Option<Block<'_>>> {
        loop {
            let found = memchr::memrchr(b'\n', &self.buffer[self.searched..self.end]);
            if let Some(n) = found {
                let (from, to) = (self.start, self.searched + n + 1);
                (self.start, self.searched) = (to, self.end);
                return Ok(Some(Block::Lines(&self.buffer[from..to])));
            }
            self.searched = self.end;
            if self.done {
                let from = std::mem::replace(&mut self.start, self.end);
                let rest = &self.buffer[from..self.end];
                return Ok((!rest.is_empty()).then_some(Block::Lines(rest)));
            }
            if self.end - self.start >= LINE_MAX {
                return self.skip_line(before_read).map(Some);
            }
            self.make_room();
            before_read(&self.source)?;
            self.fill()?;
        }
    }

    /// Moves what is left to the front, and grows the buffer for a long line.
    fn make_room(&mut self) {
        self.buffer.copy_within(self.start..self.end, 0);
        self.end -= self.start;
        self.searched -= self.start;
        self.start = 0;
        if self.end > self.buffer.len() / 2 {
            self.buffer.resize((self.buffer.len() * 2).min(LINE_MAX + BLOCK), 0);
        }
    }

    fn fill(&mut self) -> io::Result<()> {
        loop {
            match self.source.read(&mut self.buffer[self.end..]) {
                Ok(0) => self.done = true,
                Ok(n) => self.end += n,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => return Err(error),
            }
            return Ok(());
        }
    }

    /// Reads to the end of a line that is too long, keeping only its start.
    fn skip_line(
        &mut self,
        mut before_read: impl FnMut(&R) -> io::Result<()>,
    ) -> io::Result<Block<'_>> {
        let mut length = (self.end - self.start) as u64;
        self.buffer.copy_within(self.start..self.start + HEAD, 0);
        loop {
            (self.start, self.end, self.searched) = (HEAD, HEAD, HEAD);
            before_read(&self.source)?;
            self.fill()?;
            let read = &self.buffer[HEAD..self.end];
            if let Some(n) = memchr::memchr(b'\n', read) {
                length += n as u64;
                self.start = HEAD + n + 1;
                self.searched = self.start;
                break;
            }
            length += read.len() as u64;
            if self.done {
                self.start = self.end;
                self.searched = self.end;
                break;
            }
        }
        Ok(Block::TooLong(&self.buffer[..HEAD], length))
    }
}
