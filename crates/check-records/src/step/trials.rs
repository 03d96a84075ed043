//! The trials that a step is put to: what it is given, and what its output shows.

use super::align::{lines, passed_on, shown};
use super::material::{good, reading, readings};
use super::process::Ended;
use super::rules::{Findings, Rule};
use super::{Step, added};
use secondmelt_record::scan::{Peek, peek};
use secondmelt_record::{Kind, Problem};
use std::io;
use std::os::unix::process::ExitStatusExt;

/// Lines that are no records, between others that are.
const NOT_JSON: [&str; 2] = [
    "{\"kind\":\"diameter\",\"lot\":\"spool-7\",\"position_m\":",
    "a line of a log that got among the records",
];
/// A kind that nobody knows and that has no dot.
const NO_DOT: &str = "{\"kind\":\"colour\",\"lot\":\"spool-7\",\"name\":\"signal green\"}";
/// A line in another encoding (ISO 8859-1).
const NOT_UTF8: &[u8] = b"{\"kind\":\"example.text\",\"text\":\"gr\xfcn\"}";
/// How much of a long stream is fed while more may come, and how much of it may be held back.
const FLOW: usize = 1 << 20;
const HELD_BACK: usize = 128 << 10;
/// How much is fed to a step whose reader closes.
const CLOSED: usize = 2 << 20;
/// Status of a shell whose command a closed pipe has ended (128 + SIGPIPE).
const BY_PIPE: i32 = 128 + SIGPIPE;
const SIGPIPE: i32 = 13;
/// Status of a shell that finds no such command, or one that it cannot run (POSIX, Shell
/// Command Language, 2.8.2).
const NOT_FOUND: i32 = 127;
const NOT_A_PROGRAM: i32 = 126;

/// A good stream of every kind, and what the step adds to it. Returns what it says on
/// standard error when all is well, or that there is no such command.
pub(crate) fn good_stream(step: &Step, findings: &mut Findings) -> io::Result<String> {
    let given = good();
    let input: String = given.iter().map(|g| g.line.as_str()).collect();
    let ended = step.run(input.as_bytes())?;
    if let Some(status @ (NOT_FOUND | NOT_A_PROGRAM)) = ended.status.and_then(|s| s.code())
        && ended.output.is_empty()
    {
        let how = format!("the shell ended with status {status}{}", said(&ended));
        return Err(io::Error::new(io::ErrorKind::NotFound, how));
    }
    let (output, whole) = lines(&ended.output);
    if !whole {
        findings.broken(Rule::Encoding, "the last line of its output has no line end");
    }
    let passed_on = passed_on(&given, &output, findings);
    added::judge(&output, &passed_on, findings);
    match ended.status {
        None => {
            findings.broken(Rule::Ends, stuck(step, "its input had ended"));
            findings.untried(Rule::Status, "it did not end by itself");
        }
        Some(status) if !status.success() => {
            findings.broken(Rule::Status, format!("{status}{}", said(&ended)));
        }
        Some(_) if ended.left_open => {
            findings.broken(
                Rule::Ends,
                "it ended, but something that it started holds its output open",
            );
        }
        Some(_) => {}
    }
    Ok(ended.errors)
}

/// No input at all. A step may call that cut short (status 3).
pub(crate) fn empty(step: &Step, findings: &mut Findings) -> io::Result<()> {
    let ended = step.run(b"")?;
    match ended.status {
        None => findings.broken(Rule::Empty, stuck(step, "its empty input had ended")),
        Some(status) if !matches!(status.code(), Some(0 | 3)) => {
            let how =
                format!("{status} on empty input, where 0, or 3 for input cut short, is right");
            findings.broken(Rule::Empty, format!("{how}{}", said(&ended)));
        }
        Some(_) => {
            let mut of_it = Findings::default();
            let output = lines(&ended.output).0;
            added::judge(&output, &vec![false; output.len()], &mut of_it);
            if of_it.count() > 0 {
                let how = format!("on empty input it writes {}", shown(&ended.output));
                findings.broken(Rule::Empty, how);
            }
        }
    }
    Ok(())
}

/// A last line that came without its line end.
pub(crate) fn last_line(step: &Step, findings: &mut Findings) -> io::Result<()> {
    let (first, last) = (reading(0), reading(1));
    let ended = step.run(format!("{first}\n{last}").as_bytes())?;
    let output = lines(&ended.output).0;
    if !output.contains(&last.as_bytes()) {
        let how = format!("a last line without its line end is not in the output: {last}");
        findings.broken(Rule::LastLine, format!("{how}{}", said(&ended)));
    }
    Ok(())
}

/// Lines that are no records, between good ones.
pub(crate) fn bad_lines(step: &Step, findings: &mut Findings) -> io::Result<()> {
    for (n, bad) in (0..).step_by(2).zip(NOT_JSON) {
        beside(step, n, bad.as_bytes(), Rule::NotJson, findings)?;
    }
    Ok(())
}

/// A kind that nobody knows and that has no dot, among others.
pub(crate) fn no_dot(step: &Step, findings: &mut Findings) -> io::Result<()> {
    beside(step, 0, NO_DOT.as_bytes(), Rule::Strangers, findings)
}

/// A line in another encoding. The stream is UTF-8 by contract, so a step may show
/// what it cannot decode by the replacement character; but it must live through it.
pub(crate) fn not_utf8(step: &Step, findings: &mut Findings) -> io::Result<()> {
    beside(step, 0, NOT_UTF8, Rule::NotUtf8, findings)
}

/// One line between two good ones, and what becomes of all three.
fn beside(step: &Step, n: u64, line: &[u8], rule: Rule, findings: &mut Findings) -> io::Result<()> {
    let (before, after) = (reading(n), reading(n + 1));
    let input = [before.as_bytes(), line, after.as_bytes(), b""].join(&b'\n');
    let ended = step.run(&input)?;
    let output = lines(&ended.output).0;
    let line = String::from_utf8_lossy(line);
    let how = if !answered(&line, &output) {
        "it is neither passed on nor answered by a problem"
    } else if !answered(&before, &output) || !answered(&after, &output) {
        "a good line beside it is lost"
    } else {
        return Ok(());
    };
    let how = format!("given {}, {how}{}", shown(line.as_bytes()), said(&ended));
    findings.broken(rule, how);
    Ok(())
}

/// Whether a line was passed on, or a problem holds its raw text.
fn answered(line: &str, output: &[&[u8]]) -> bool {
    let is_it = |out: &[u8]| String::from_utf8_lossy(out) == line;
    output.iter().any(|out| is_it(out) || raw_of(out).as_deref() == Some(line))
}

/// The raw text that a problem holds; none where the line is no problem.
fn raw_of(line: &[u8]) -> Option<String> {
    let line = std::str::from_utf8(line).ok()?;
    if !line.starts_with('{') || peek(line) != Peek::Known(Kind::Problem) {
        return None;
    }
    serde_json::from_str::<Problem<'_>>(line).ok()?.raw.map(|raw| raw.to_string())
}

/// One line at a time, with more to come.
pub(crate) fn live(step: &Step, findings: &mut Findings) -> io::Result<()> {
    let mut running = step.start()?;
    for n in 0..2 {
        let line = reading(n) + "\n";
        running.feed(line.as_bytes());
        if !running.hear_until(|heard| has_line(heard, &line)) {
            let how = format!(
                "line {} had not come out {} s after it went in, with the input still open: it is held in a buffer of the step, or the interpreter reads ahead (mawk does without -W interactive)",
                n + 1,
                step.patience.as_secs()
            );
            findings.broken(Rule::Live, how);
            break;
        }
    }
    running.close();
    running.end();
    Ok(())
}

fn has_line(heard: &[u8], line: &str) -> bool {
    memchr::memmem::find(heard, line.as_bytes()).is_some()
}

/// A long stream that has not ended.
pub(crate) fn flow(step: &Step, findings: &mut Findings) -> io::Result<()> {
    let mut running = step.start()?;
    let input = readings(FLOW);
    running.feed(input.as_bytes());
    if !running.hear_until(|heard| heard.len() + HELD_BACK >= input.len()) {
        let heard = running.heard();
        let how = format!(
            "of {} bytes that went in, {heard} came out while more might come",
            input.len()
        );
        findings.broken(Rule::Flow, how);
    }
    running.close();
    running.end();
    Ok(())
}

/// A reader that closes while there is more to write. What the step says on a good
/// day (`usual`) it may say now.
pub(crate) fn closed(step: &Step, usual: &str, findings: &mut Findings) -> io::Result<()> {
    let mut running = step.start()?;
    running.feed(readings(CLOSED).as_bytes());
    if !running.hear_until(|heard| heard.contains(&b'\n')) {
        findings.untried(Rule::Closed, "it writes nothing before its input ends");
        running.close();
        running.end();
        return Ok(());
    }
    running.stop_hearing();
    let ended = running.end();
    match ended.status {
        None => {
            let how = stuck(step, "its reader had closed");
            findings.broken(Rule::Closed, how);
        }
        Some(status) => {
            let by_pipe = status.signal() == Some(SIGPIPE) || status.code() == Some(BY_PIPE);
            if !status.success() && !by_pipe {
                findings.broken(Rule::Closed, format!("{status}{}", said(&ended)));
            } else if ended.errors.lines().any(|line| !usual.lines().any(|known| known == line)) {
                findings.broken(Rule::Closed, format!("it is not quiet{}", said(&ended)));
            }
        }
    }
    Ok(())
}

fn stuck(step: &Step, when: &str) -> String {
    format!("it was still running {} s after {when} and had to be killed", step.patience.as_secs())
}

/// The last line that a step has said on standard error, for the end of a message.
fn said(ended: &Ended) -> String {
    let last = ended.errors.lines().rev().find(|line| !line.trim().is_empty());
    last.map_or(String::new(), |line| format!("; it said: {}", shown(line.trim().as_bytes())))
}
