//! Lines to cells. A line without quotes is cut at its delimiters; one with quotes
//! goes through the automaton of the csv library, and may take in more lines.

use csv_core::{ReadRecordResult, Reader, ReaderBuilder, Terminator};

/// Cuts a line without quotes into the spans of its cells.
pub(crate) fn cut(line: &str, delimiter: u8, spans: &mut Vec<(usize, usize)>) {
    spans.clear();
    let mut start = 0;
    for end in memchr::memchr_iter(delimiter, line.as_bytes()) {
        spans.push((start, end));
        start = end + 1;
    }
    spans.push((start, line.len()));
}

/// A row with quotes, put together line by line.
pub(crate) struct Quoted {
    automaton: Reader,
    text: Vec<u8>,
    filled: usize,
    ends: Vec<usize>,
    cells: usize,
    /// Its lines as they stand in the file.
    pub(crate) raw: Vec<u8>,
    /// The line it starts on.
    pub(crate) line: u64,
}

impl Quoted {
    pub(crate) fn new(delimiter: u8) -> Self {
        let automaton =
            ReaderBuilder::new().delimiter(delimiter).terminator(Terminator::Any(b'\n')).build();
        Self {
            automaton,
            text: Vec::new(),
            filled: 0,
            ends: vec![0; 16],
            cells: 0,
            raw: Vec::new(),
            line: 0,
        }
    }

    /// Whether a row is still open.
    pub(crate) fn is_open(&self) -> bool {
        !self.raw.is_empty()
    }

    /// Forgets the row in hand and gives its lines back.
    pub(crate) fn give_back(&mut self) -> Vec<u8> {
        (self.filled, self.cells) = (0, 0);
        self.automaton.reset();
        std::mem::take(&mut self.raw)
    }

    /// Takes one more line of the row; says whether the row is whole.
    pub(crate) fn feed(&mut self, line: &[u8]) -> bool {
        if self.raw.is_empty() {
            (self.filled, self.cells) = (0, 0);
            self.automaton.reset();
        }
        self.raw.extend_from_slice(line);
        self.text.resize(self.filled + line.len() + 1, 0);
        let ended = line.ends_with(b"\n");
        self.run(line) || (!ended && self.run(b"\n"))
    }

    fn run(&mut self, mut input: &[u8]) -> bool {
        loop {
            let text = self.text.get_mut(self.filled..).unwrap_or_default();
            let ends = self.ends.get_mut(self.cells..).unwrap_or_default();
            let (result, read, wrote, cells) = self.automaton.read_record(input, text, ends);
            input = input.get(read..).unwrap_or_default();
            self.filled += wrote;
            self.cells += cells;
            match result {
                ReadRecordResult::Record => return true,
                ReadRecordResult::InputEmpty | ReadRecordResult::End => return false,
                ReadRecordResult::OutputFull => self.text.resize(self.text.len() + 64, 0),
                ReadRecordResult::OutputEndsFull => self.ends.resize(self.ends.len() * 2, 0),
            }
        }
    }

    /// The text of the cells of a whole row, and their spans.
    pub(crate) fn cells(&self, spans: &mut Vec<(usize, usize)>) -> &str {
        spans.clear();
        let mut start = 0;
        for end in self.ends.iter().take(self.cells) {
            spans.push((start, *end));
            start = *end;
        }
        let text = self.text.get(..self.filled).unwrap_or_default();
        std::str::from_utf8(text).unwrap_or_default()
    }
}

/// A row of the head of a file, its cells on their own.
#[derive(Debug)]
pub(crate) struct HeadRow {
    /// Line it starts on, counted from 1.
    pub(crate) line: u64,
    /// Lines of the head up to its end.
    pub(crate) lines: u64,
    /// Bytes up to its end.
    pub(crate) end: usize,
    /// Its cells.
    pub(crate) cells: Vec<String>,
}

/// Rows of whole lines at the head of a file; bytes that are not UTF-8 are replaced,
/// since nothing is taken from here but headings and hints.
pub(crate) fn head_rows(head: &[u8], delimiter: u8, most: usize) -> Vec<HeadRow> {
    let (mut rows, mut spans) = (Vec::new(), Vec::new());
    let mut quoted = Quoted::new(delimiter);
    let (mut end, mut lines) = (0, 0);
    for raw in head.split_inclusive(|b| *b == b'\n') {
        end += raw.len();
        lines += 1;
        let text = String::from_utf8_lossy(raw);
        if quoted.is_open() || raw.contains(&b'"') {
            if !quoted.is_open() {
                quoted.line = lines;
            }
            if !quoted.feed(text.as_bytes()) {
                continue;
            }
            let cells = collect(quoted.cells(&mut spans), &spans);
            rows.push(HeadRow { line: quoted.line, lines, end, cells });
            quoted.give_back();
        } else {
            let line = text.trim_end_matches(['\n', '\r']);
            cut(line, delimiter, &mut spans);
            rows.push(HeadRow { line: lines, lines, end, cells: collect(line, &spans) });
        }
        if rows.len() >= most {
            break;
        }
    }
    rows
}

fn collect(text: &str, spans: &[(usize, usize)]) -> Vec<String> {
    spans.iter().map(|(s, e)| text.get(*s..*e).unwrap_or_default().trim().to_owned()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(text: &str) -> Vec<Vec<String>> {
        head_rows(text.as_bytes(), b',', 100).into_iter().map(|r| r.cells).collect()
    }

    /// The examples of RFC 4180, section 2.
    #[test]
    fn rows_are_cut_as_in_rfc_4180() {
        assert_eq!(
            rows("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n"),
            [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]
        );
        assert_eq!(
            rows("\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx"),
            [["aaa", "b\r\nbb", "ccc"], ["zzz", "yyy", "xxx"]]
        );
        assert_eq!(rows("\"aaa\",\"b\"\"bb\",\"ccc\""), [["aaa", "b\"bb", "ccc"]]);
    }

    #[test]
    fn a_quote_within_a_cell_is_a_sign_like_others() {
        assert_eq!(rows("a,5\" nozzle,b\nc,d,e\n"), [["a", "5\" nozzle", "b"], ["c", "d", "e"]]);
    }

    #[test]
    fn lines_are_counted_through_quotes() {
        let rows = head_rows(b"a\n\"b\nb\"\nc\n", b',', 100);
        let lines: Vec<_> = rows.iter().map(|r| (r.line, r.lines)).collect();
        assert_eq!(lines, [(1, 1), (2, 3), (4, 4)]);
    }
}
