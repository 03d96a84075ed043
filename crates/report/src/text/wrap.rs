//! Breaking text into lines by the columns it takes on a terminal.

use secondmelt_record::contract::visible;
use unicode_width::UnicodeWidthStr;

/// Text without anything that could act on a terminal.
pub(super) fn safe(text: &str) -> String {
    visible(text)
}

/// Columns that a text takes.
pub(super) fn width_of(text: &str) -> usize {
    text.width()
}

/// The text in lines of at most `width` columns, made safe; at least one line. Breaks at
/// spaces; a word that does not fit on a line of its own is broken anywhere.
pub(super) fn wrapped(text: &str, width: usize) -> Vec<String> {
    let width = width.max(2);
    let (mut lines, mut line) = (Vec::new(), String::new());
    for word in safe(text).split(' ').filter(|w| !w.is_empty()) {
        let gap = usize::from(!line.is_empty());
        if width_of(&line) + gap + width_of(word) <= width {
            line.push_str(if gap == 1 { " " } else { "" });
            line.push_str(word);
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        line = broken(word, width, &mut lines);
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

/// Puts all but the last piece of a long word onto lines; the last piece.
fn broken(word: &str, width: usize, lines: &mut Vec<String>) -> String {
    let mut piece = String::new();
    for c in word.chars() {
        piece.push(c);
        // The whole piece is asked: some characters change the width of the one before.
        if width_of(&piece) > width && piece.chars().nth(1).is_some() {
            piece.pop();
            lines.push(std::mem::replace(&mut piece, c.to_string()));
        }
    }
    piece
}

/// The columns of the longest word.
pub(super) fn longest_word(text: &str) -> usize {
    text.split(' ').map(width_of).max().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn wide_characters_count_as_two_columns() {
        // Unicode Standard Annex 11: ideographs are wide.
        assert_eq!(width_of("\u{7dda}\u{6750}"), 4);
        assert_eq!(wrapped("\u{7dda}\u{6750}\u{7dda}", 4), ["\u{7dda}\u{6750}", "\u{7dda}"]);
    }

    #[test]
    fn what_could_act_on_a_terminal_is_made_visible() {
        assert_eq!(wrapped("a\u{1b}[31m\u{202e}b\nc", 80), ["a\\u{1b}[31m\\u{202e}b\\u{a}c"]);
    }

    proptest! {
        #[test]
        fn no_line_is_wider_than_asked_and_nothing_but_spaces_is_lost(
            text in ".{0,200}", width in 2_usize..60,
        ) {
            let lines = wrapped(&text, width);
            prop_assert!(lines.iter().all(|l| width_of(l) <= width), "{lines:?}");
            prop_assert_eq!(lines.concat().replace(' ', ""), safe(&text).replace(' ', ""));
        }
    }
}
