//! A file that is read as it grows, until it rests, an interrupt comes, or it is not
//! any more the file that it was.

use std::fs::File;
use std::io::{self, Read};
use std::os::unix::fs::MetadataExt;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// How often a file that is followed is looked at.
const LOOK: Duration = Duration::from_millis(100);

/// How a growing file is followed.
#[derive(Debug, Clone)]
pub(crate) struct Follow {
    /// Name of the file.
    pub(crate) name: String,
    /// Set by an interrupt, and by whatever else ends the following.
    pub(crate) stop: Arc<AtomicBool>,
    /// When to give up on a file that does not grow.
    pub(crate) idle: Option<Duration>,
}

/// What a look at a file that is followed came to.
pub(crate) enum Growth {
    /// So many bytes; none once it is to stop.
    Bytes(usize),
    /// It is not the file any more that it was.
    Lost(&'static str),
}

/// Reads from a file that may still grow.
///
/// # Errors
/// Those of the file.
pub(crate) fn read_growing(
    file: &mut File,
    follow: &Follow,
    so_far: u64,
    buffer: &mut [u8],
) -> io::Result<Growth> {
    let since = Instant::now();
    loop {
        // Asked for before the read, so that what was written before it is still read.
        let lost = lost(file, follow, so_far)?;
        if follow.stop.load(Ordering::Relaxed) {
            return Ok(Growth::Bytes(0));
        }
        match file.read(buffer) {
            Ok(0) => {}
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            other => return other.map(Growth::Bytes),
        }
        if let Some(why) = lost {
            return Ok(Growth::Lost(why));
        }
        if follow.idle.is_some_and(|idle| since.elapsed() >= idle) {
            return Ok(Growth::Bytes(0));
        }
        std::thread::sleep(LOOK);
    }
}

/// What became of a file, if it is not any more what it was. A name that is gone may
/// come back with the same file.
fn lost(file: &File, follow: &Follow, so_far: u64) -> io::Result<Option<&'static str>> {
    let about = file.metadata()?;
    if !about.is_file() {
        return Ok(None);
    }
    if about.len() < so_far {
        return Ok(Some("it was made shorter while it was followed"));
    }
    let other = |named: std::fs::Metadata| (named.dev(), named.ino()) != (about.dev(), about.ino());
    let replaced = std::fs::metadata(&follow.name).is_ok_and(other);
    Ok(replaced.then_some("it was replaced by another file of its name while it was followed"))
}
