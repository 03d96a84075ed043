//! The bytes of one source: counted and hashed as read, decoded to UTF-8, followed as
//! they grow.

use crate::follow::{Follow, Growth, read_growing};
use encoding_rs::{Decoder, Encoding, UTF_8, WINDOWS_1252};
use secondmelt_record::Out;
use secondmelt_record::lines::{Block, Lines};
use sha2::{Digest, Sha256};
use std::cell::Cell;
use std::fs::File;
use std::io::{self, Read};
use std::rc::Rc;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// How much is looked at to find the encoding and the format.
const SNIFF: usize = 64 << 10;
/// The bytes of one source.
pub(crate) struct Source {
    file: File,
    /// Raw bytes read ahead, and how many of them have been handed on.
    ahead: Vec<u8>,
    handed: usize,
    hash: Sha256,
    /// Bytes read so far.
    bytes: u64,
    decoder: Option<Decoder>,
    decoded: Vec<u8>,
    taken: usize,
    raw: Vec<u8>,
    follow: Option<Follow>,
    ended: bool,
    /// What became of a file that could not be followed any longer.
    lost: Option<&'static str>,
    /// Whether bytes were met that are not of the encoding.
    malformed: Rc<Cell<bool>>,
}

impl Source {
    /// A source of bytes as they come.
    pub(crate) fn new(file: File, follow: Option<Follow>) -> Self {
        Self {
            file,
            ahead: Vec::new(),
            handed: 0,
            hash: Sha256::new(),
            bytes: 0,
            decoder: None,
            decoded: Vec::new(),
            taken: 0,
            raw: Vec::new(),
            follow,
            ended: false,
            lost: None,
            malformed: Rc::default(),
        }
    }

    /// Bytes read so far.
    pub(crate) fn bytes(&self) -> u64 {
        self.bytes
    }

    /// SHA-256 of the bytes read so far, in hexadecimal.
    pub(crate) fn sha256(&self) -> String {
        self.hash.clone().finalize().iter().map(|b| format!("{b:02x}")).collect()
    }

    /// What is set once bytes were met that are not of the encoding; each stands as U+FFFD
    /// in what is read from then on.
    pub(crate) fn malformed(&self) -> Rc<Cell<bool>> {
        Rc::clone(&self.malformed)
    }

    /// What became of a file that could not be followed any longer.
    pub(crate) fn lost(&self) -> Option<&'static str> {
        self.lost
    }

    /// What is set once following the file ends, where it is followed.
    pub(crate) fn stop(&self) -> Option<Arc<AtomicBool>> {
        self.follow.as_ref().map(|f| Arc::clone(&f.stop))
    }

    /// Lets the output go, if the next read may wait.
    pub(crate) fn before_read(&self, out: &mut Out) {
        if self.follow.is_some() {
            out.flush();
        } else {
            out.flush_before_wait(&self.file);
        }
    }

    /// The first bytes: as many as are looked at of a file, as many as there are of
    /// what comes live.
    ///
    /// # Errors
    /// Those of the file.
    pub(crate) fn sniff(&mut self, out: &mut Out) -> io::Result<&[u8]> {
        let live = self.follow.is_some() || !self.file.metadata()?.is_file();
        let mut block = vec![0; SNIFF];
        while self.ahead.len() < SNIFF && !(live && self.ahead.contains(&b'\n')) {
            self.before_read(out);
            let n = match self.read_raw(&mut block) {
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                other => other?,
            };
            if n == 0 {
                break;
            }
            self.ahead.extend_from_slice(block.get(..n).unwrap_or_default());
        }
        Ok(&self.ahead)
    }

    /// All bytes at once, at most so many.
    ///
    /// # Errors
    /// Those of the file, or that it is larger.
    pub(crate) fn all(&mut self, most: usize) -> io::Result<Vec<u8>> {
        let mut all = std::mem::take(&mut self.ahead);
        let mut block = vec![0; SNIFF];
        loop {
            match self.read_raw(&mut block)? {
                0 => return Ok(all),
                n => all.extend_from_slice(block.get(..n).unwrap_or_default()),
            }
            if all.len() > most {
                return Err(io::Error::other(format!("it is larger than {} MiB", most >> 20)));
            }
        }
    }

    /// Settles the encoding by what is stated or by the first bytes; says what was
    /// assumed, where it was.
    pub(crate) fn settle(&mut self, stated: Option<&'static Encoding>) -> Option<&'static str> {
        let mark = Encoding::for_bom(&self.ahead);
        let (encoding, assumed) = match (stated, mark) {
            (Some(stated), _) => (stated, None),
            (None, Some((marked, _))) => (marked, None),
            (None, None) if looks_windows_1252(&self.ahead) => (
                WINDOWS_1252,
                Some(
                    "not UTF-8; read as Windows-1252, since all its odd bytes are common letters and signs there (--encoding says otherwise)",
                ),
            ),
            (None, None) => (UTF_8, None),
        };
        if encoding == UTF_8 {
            if let Some((_, length)) = mark.filter(|(marked, _)| *marked == UTF_8) {
                self.handed = length;
            }
        } else {
            self.decoder = Some(encoding.new_decoder_with_bom_removal());
        }
        assumed
    }

    fn read_raw(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let n = match &self.follow {
            None => self.file.read(buffer)?,
            Some(follow) => match read_growing(&mut self.file, follow, self.bytes, buffer)? {
                Growth::Bytes(n) => n,
                Growth::Lost(why) => {
                    self.lost = Some(why);
                    0
                }
            },
        };
        if let Some(follow) = self.follow.as_ref().filter(|_| n == 0) {
            follow.stop.store(true, Ordering::Relaxed);
        }
        self.hash.update(buffer.get(..n).unwrap_or_default());
        self.bytes += n as u64;
        Ok(n)
    }

    /// Raw bytes, those read ahead first.
    fn next_raw(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let waiting = self.ahead.get(self.handed..).unwrap_or_default();
        if waiting.is_empty() {
            return self.read_raw(buffer);
        }
        let n = waiting.len().min(buffer.len());
        if let (Some(to), Some(from)) = (buffer.get_mut(..n), waiting.get(..n)) {
            to.copy_from_slice(from);
        }
        self.handed += n;
        if self.handed >= self.ahead.len() {
            (self.ahead, self.handed) = (Vec::new(), 0);
        }
        Ok(n)
    }

    /// Decodes one more block.
    fn decode(&mut self) -> io::Result<()> {
        let mut raw = std::mem::take(&mut self.raw);
        raw.resize(SNIFF / 2, 0);
        let read = self.next_raw(&mut raw);
        self.raw = raw;
        let n = read?;
        self.ended = n == 0;
        let Some(decoder) = &mut self.decoder else { return Ok(()) };
        let source = self.raw.get(..n).unwrap_or_default();
        let room = decoder.max_utf8_buffer_length(n).unwrap_or(4 * SNIFF);
        self.decoded.resize(room, 0);
        let (_, _, length, bad) = decoder.decode_to_utf8(source, &mut self.decoded, n == 0);
        self.malformed.set(self.malformed.get() || bad);
        self.decoded.truncate(length);
        self.taken = 0;
        Ok(())
    }
}

/// The next block of lines; the output is let go before a read that may wait.
pub(crate) fn next_block<'a>(
    lines: &'a mut Lines<Source>,
    out: &mut Out,
) -> io::Result<Option<Block<'a>>> {
    lines.next_block(|source| {
        source.before_read(out);
        Ok(())
    })
}

impl Read for Source {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if self.decoder.is_none() {
            return self.next_raw(buffer);
        }
        while self.taken >= self.decoded.len() && !self.ended {
            self.decode()?;
        }
        let waiting = self.decoded.get(self.taken..).unwrap_or_default();
        let n = waiting.len().min(buffer.len());
        if let (Some(to), Some(from)) = (buffer.get_mut(..n), waiting.get(..n)) {
            to.copy_from_slice(from);
        }
        self.taken += n;
        Ok(n)
    }
}

/// Whether text that is not UTF-8 holds no odd bytes but those of letters and signs
/// that are common in Windows-1252. A character that is good UTF-8 speaks against it.
fn looks_windows_1252(bytes: &[u8]) -> bool {
    let is_utf8 = match std::str::from_utf8(bytes) {
        Ok(_) => true,
        // A character cut by the end of the block.
        Err(error) => error.error_len().is_none() && bytes.len() >= SNIFF,
    };
    let typical = |b: &u8| {
        matches!(b,
            0x80 | 0x85 | 0x91..=0x97 | 0x99 | 0xa0 | 0xa3 | 0xa7 | 0xa9 | 0xab | 0xae
            | 0xb0..=0xb3 | 0xb5 | 0xb7 | 0xb9 | 0xba | 0xbb | 0xbc..=0xfd)
    };
    let mixed = bytes.utf8_chunks().any(|chunk| !chunk.valid().is_ascii());
    !is_utf8 && !mixed && bytes.iter().filter(|b| !b.is_ascii()).all(typical)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_1252_is_assumed_for_common_letters_only() {
        assert!(looks_windows_1252(b"Diameter [\xb5m];Temperatur [\xb0C];M\xfchle"));
        for other in [
            &b"lot\xff,1.75"[..],
            b"\x81",
            "M\u{fc}hle".as_bytes(),
            b"M\xc3\xbchle M\xfchle",
            b"plain",
        ] {
            assert!(!looks_windows_1252(other), "{other:x?}");
        }
    }
}
