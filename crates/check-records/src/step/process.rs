//! A command that runs, fed and heard by threads, so that neither side can wait for
//! the other for ever. It is a process group of its own, and whatever it leaves
//! behind is ended with it.

use rustix::process::{Pid, Signal, WaitId, WaitIdOptions, kill_process_group, waitid};
use std::io::{self, Read, Write};
use std::os::unix::process::CommandExt;
use std::process::{Child, ChildStdin, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel, sync_channel};
use std::thread;
use std::time::{Duration, Instant};

/// How much output is kept. A step that writes more has run wild.
const OUTPUT_MAX: usize = 4 << 20;
/// How much of standard error is kept.
const ERRORS_MAX: usize = 64 << 10;
/// How often a step is asked whether it has ended.
const TICK: Duration = Duration::from_millis(10);
/// How long its output may stay open once it has ended.
const LINGER: Duration = Duration::from_secs(2);

/// A command that runs.
pub(crate) struct Running {
    child: Child,
    patience: Duration,
    input: Option<Sender<Vec<u8>>>,
    output: Option<Receiver<Vec<u8>>>,
    errors: Receiver<Vec<u8>>,
    heard: Vec<u8>,
}

/// A command that has ended, or was ended.
#[derive(Debug)]
pub(crate) struct Ended {
    /// Its exit status; none where it had to be killed.
    pub(crate) status: Option<ExitStatus>,
    /// Whether something that it started holds its output open, so that its reader waits on.
    pub(crate) left_open: bool,
    /// What it wrote to standard output.
    pub(crate) output: Vec<u8>,
    /// The start of what it wrote to standard error.
    pub(crate) errors: String,
}

impl Running {
    /// Starts a command by the shell. It is stuck when it says nothing for as long as
    /// `patience`.
    pub(crate) fn start(command: &str, patience: Duration) -> io::Result<Self> {
        let mut child = Command::new("sh")
            .args(["-c", command])
            // Set here, it would hide a missing flush that shows elsewhere.
            .env_remove("PYTHONUNBUFFERED")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .process_group(0)
            .spawn()?;
        let (input, to_feed) = channel();
        if let Some(stdin) = child.stdin.take() {
            thread::spawn(move || feed(stdin, &to_feed));
        }
        let (says, output) = sync_channel(16);
        if let Some(stdout) = child.stdout.take() {
            thread::spawn(move || hear(stdout, usize::MAX, |part| says.send(part).is_ok()));
        }
        let (says, errors) = channel();
        if let Some(stderr) = child.stderr.take() {
            thread::spawn(move || hear(stderr, ERRORS_MAX, |part| says.send(part).is_ok()));
        }
        Ok(Self {
            child,
            patience,
            input: Some(input),
            output: Some(output),
            errors,
            heard: Vec::new(),
        })
    }

    /// Hands it more input. Nothing waits for it to be read.
    pub(crate) fn feed(&mut self, bytes: &[u8]) {
        if let Some(input) = &self.input {
            // A step that has ended takes no more; how it ended will be seen.
            let _ = input.send(bytes.to_vec());
        }
    }

    /// Ends its input.
    pub(crate) fn close(&mut self) {
        self.input = None;
    }

    /// Listens until `enough` holds for its output so far; whether it came to that.
    pub(crate) fn hear_until(&mut self, enough: impl Fn(&[u8]) -> bool) -> bool {
        let Some(output) = &self.output else { return false };
        while !enough(&self.heard) {
            match output.recv_timeout(self.patience) {
                Ok(part) => self.heard.extend_from_slice(&part),
                Err(_) => return false,
            }
            if self.heard.len() > OUTPUT_MAX {
                return false;
            }
        }
        true
    }

    /// How many bytes of output there have been so far.
    pub(crate) fn heard(&self) -> usize {
        self.heard.len()
    }

    /// Closes the reading end of its output.
    pub(crate) fn stop_hearing(&mut self) {
        self.output = None;
    }

    /// Waits for its end, and kills it where that does not come.
    pub(crate) fn end(mut self) -> Ended {
        let hearing = self.output.is_some();
        let ended = self.wait();
        let left_open = hearing && ended && self.output.is_some();
        // As long as nobody has asked for its status, its id cannot be given to another.
        if let Some(group) = self.id() {
            // It fails where all of the group has ended, which is what is wanted.
            let _ = kill_process_group(group, Signal::KILL);
        }
        let status = self.child.wait().ok().filter(|_| ended);
        let until = Instant::now() + LINGER;
        let mut errors = Vec::new();
        let left = || until.saturating_duration_since(Instant::now());
        while let Ok(part) = self.errors.recv_timeout(left()) {
            errors.extend_from_slice(&part);
        }
        let output = std::mem::take(&mut self.heard);
        Ended { status, left_open, output, errors: String::from_utf8_lossy(&errors).into_owned() }
    }

    /// Hears it out; whether it came to its own end.
    fn wait(&mut self) -> bool {
        let mut since = Instant::now();
        loop {
            match self.output.as_ref().map(|output| output.recv_timeout(TICK)) {
                Some(Ok(part)) => {
                    since = Instant::now();
                    self.heard.extend_from_slice(&part);
                }
                Some(Err(RecvTimeoutError::Disconnected)) => self.output = None,
                Some(Err(RecvTimeoutError::Timeout)) => {}
                None => thread::sleep(TICK),
            }
            let ended = self.has_ended();
            if ended && (self.output.is_none() || since.elapsed() >= LINGER) {
                return true;
            }
            if self.heard.len() > OUTPUT_MAX || (!ended && since.elapsed() >= self.patience) {
                return false;
            }
        }
    }

    fn has_ended(&self) -> bool {
        let how = WaitIdOptions::EXITED | WaitIdOptions::NOHANG | WaitIdOptions::NOWAIT;
        self.id().is_none_or(|id| !matches!(waitid(WaitId::Pid(id), how), Ok(None)))
    }

    fn id(&self) -> Option<Pid> {
        i32::try_from(self.child.id()).ok().and_then(Pid::from_raw)
    }
}

fn feed(mut stdin: ChildStdin, parts: &Receiver<Vec<u8>>) {
    while let Ok(part) = parts.recv() {
        if stdin.write_all(&part).is_err() {
            return;
        }
    }
}

/// Hands on what is read, and reads on without handing on once there is too much.
fn hear(mut from: impl Read, most: usize, say: impl Fn(Vec<u8>) -> bool) {
    let mut buffer = vec![0; 64 << 10];
    let mut said = 0;
    loop {
        match from.read(&mut buffer) {
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Ok(0) | Err(_) => return,
            Ok(_) if said >= most => {}
            Ok(n) => {
                said += n;
                if !say(buffer.get(..n).unwrap_or_default().to_vec()) {
                    return;
                }
            }
        }
    }
}
