//! A document as plain text for a terminal or a mail, fitted to a width.

mod table;
mod wrap;

use crate::document::{Block, Cell, Document, Item, Tone};
use wrap::{width_of, wrapped};

/// How wide the text may be, and whether it may use colour.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Style {
    pub(crate) width: usize,
    pub(crate) colour: bool,
}

/// Lines longer than this are hard to read, however wide the terminal.
const READABLE: usize = 100;

/// The document as text.
pub(crate) fn render(document: &Document, style: Style) -> String {
    let mut text = String::new();
    let mut before: Option<&Block> = None;
    let shown = document.blocks.iter().filter(|block| !matches!(block, Block::Figure(_)));
    for block in shown {
        // A heading belongs to what follows it.
        if before.is_some_and(|b| !matches!(b, Block::Heading(3.., _))) {
            text.push('\n');
        }
        before = Some(block);
        for line in lines(block, style) {
            text.push_str(line.trim_end());
            text.push('\n');
        }
    }
    text
}

fn lines(block: &Block, style: Style) -> Vec<String> {
    let readable = style.width.min(READABLE);
    match block {
        Block::Alarm { shout, why } => alarm(shout, why, style),
        Block::Heading(level, text) => heading(*level, text, style),
        Block::Paragraph(cell) => wrapped(&cell.text, readable)
            .into_iter()
            .map(|line| painted(&line, cell.tone, style))
            .collect(),
        Block::List(items) => items.iter().flat_map(|i| item(i, readable, style)).collect(),
        Block::Table(table) => table::lines(table, style),
        Block::Figure(_) => Vec::new(),
    }
}

fn heading(level: u8, text: &str, style: Style) -> Vec<String> {
    let colon = if level > 3 { ":" } else { "" };
    let lines = wrapped(&format!("{text}{colon}"), style.width);
    let longest = lines.iter().map(|l| width_of(l)).max().unwrap_or(0);
    let mut lines: Vec<String> = lines.iter().map(|l| bold(l, style)).collect();
    match level {
        1 => lines.push("=".repeat(longest)),
        2 => lines.push("-".repeat(longest)),
        3 => lines.push("~".repeat(longest)),
        _ => {}
    }
    lines
}

/// A frame of asterisks that nobody overlooks, even in a log of other things.
fn alarm(shout: &str, why: &str, style: Style) -> Vec<String> {
    let inner = style.width.saturating_sub(6).max(10);
    let bar = "*".repeat(style.width);
    let mut lines = vec![bar.clone(), bar.clone()];
    let mut row = |text: &str| {
        let gap = " ".repeat(inner.saturating_sub(width_of(text)));
        lines.push(format!("** {text}{gap} **"));
    };
    row("");
    wrapped(&shout.to_uppercase(), inner).iter().for_each(|line| row(line));
    row("");
    wrapped(why, inner).iter().for_each(|line| row(line));
    row("");
    lines.extend([bar.clone(), bar]);
    lines.iter().map(|line| painted(line, Tone::Bad, style)).collect()
}

fn item(item: &Item, width: usize, style: Style) -> Vec<String> {
    let lead = wrap::safe(&item.lead.text);
    let whole = if lead.is_empty() { item.text.clone() } else { format!("{lead} {}", item.text) };
    let mut lines = Vec::new();
    for (i, line) in wrapped(&whole, width.saturating_sub(4)).into_iter().enumerate() {
        let line = match line.strip_prefix(&lead) {
            Some(rest) if i == 0 => painted(&lead, item.lead.tone, style) + rest,
            _ => line,
        };
        lines.push(format!("{}{line}", if i == 0 { "  - " } else { "    " }));
    }
    lines
}

/// Text in the colour of its tone (ECMA-48 graphic rendition).
fn painted(text: &str, tone: Tone, style: Style) -> String {
    let code = match tone {
        Tone::Plain => return text.to_owned(),
        Tone::Good => "32",
        Tone::Bad => "1;31",
        Tone::Unsure => "33",
    };
    if style.colour { format!("\u{1b}[{code}m{text}\u{1b}[0m") } else { text.to_owned() }
}

fn bold(text: &str, style: Style) -> String {
    if style.colour { format!("\u{1b}[1m{text}\u{1b}[0m") } else { text.to_owned() }
}

fn cell(cell: &Cell) -> String {
    wrap::safe(&cell.text)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn document() -> Document {
        let mut document = Document::default();
        document.heading(1, "Title");
        document.list(vec![Item::new(Cell::new("fails", Tone::Bad), "for lot A")]);
        document.heading(4, "Table");
        document.paragraph("plain");
        document
    }

    #[test]
    fn a_heading_of_a_table_stands_right_above_it() {
        let text = render(&document(), Style { width: 80, colour: false });
        assert_eq!(text, "Title\n=====\n\n  - fails for lot A\n\nTable:\nplain\n");
    }

    #[test]
    fn colour_marks_the_word_that_matters_and_changes_no_text() {
        let plain = render(&document(), Style { width: 80, colour: false });
        let coloured = render(&document(), Style { width: 80, colour: true });
        assert!(coloured.contains("  - \u{1b}[1;31mfails\u{1b}[0m for lot A\n"), "{coloured:?}");
        let stripped =
            coloured.replace("\u{1b}[1;31m", "").replace("\u{1b}[1m", "").replace("\u{1b}[0m", "");
        assert_eq!(stripped, plain);
        assert!(!plain.contains('\u{1b}'));
    }
}
