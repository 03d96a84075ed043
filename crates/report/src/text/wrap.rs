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
/// spaces; a word that does not fit on a line of its own is broken at no-break spaces, else anywhere.
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
        for part in parts(word, width) {
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            line = broken(part, width, &mut lines);
        }
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

/// A word that is to stand on lines of its own: whole where it fits, else parted at no-break spaces.
fn parts(word: &str, width: usize) -> impl Iterator<Item = &str> {
    let whole = width_of(word) <= width;
    word.split(move |c| c == '\u{a0}' && !whole).filter(|part| !part.is_empty())
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

    #[test]
    fn no_break_spaces_give_way_before_a_word_is_broken() {
        let time = "2026-04-06\u{a0}14:00\u{a0}+02:00";
        assert_eq!(wrapped(time, 23), [time]);
        assert_eq!(wrapped(time, 12), ["2026-04-06", "14:00", "+02:00"]);
        assert_eq!(wrapped("at 12\u{a0}345\u{a0}g", 8), ["at", "12\u{a0}345\u{a0}g"]);
    }

    proptest! {
        #[test]
        fn no_line_is_wider_than_asked_and_nothing_but_spaces_is_lost(
            text in ".{0,200}", width in 2_usize..60,
        ) {
            let lines = wrapped(&text, width);
            prop_assert!(lines.iter().all(|l| width_of(l) <= width), "{lines:?}");
            let bare = |text: &str| text.replace([' ', '\u{a0}'], "");
            prop_assert_eq!(bare(&lines.concat()), bare(&safe(&text)));
        }
    }
}
