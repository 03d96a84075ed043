//! A document as Markdown: CommonMark, with tables as on code hosts (GFM). Every text
//! is escaped, so that no name in the data becomes markup.

use crate::document::{Align, Block, Cell, Column, Document, Item, Table, Tone};
use secondmelt_record::contract::visible;

/// The document as Markdown.
pub(crate) fn render(document: &Document) -> String {
    let shown = document.blocks.iter().filter(|block| !matches!(block, Block::Figure(_)));
    let blocks: Vec<String> = shown.map(block).collect();
    blocks.join("\n")
}

fn block(block: &Block) -> String {
    match block {
        Block::Alarm { shout, why } => {
            format!("# {}\n\n> **{}**\n", escaped(&shout.to_uppercase()), escaped(why))
        }
        Block::Heading(level, text) => {
            format!("{} {}\n", "#".repeat(usize::from(*level)), escaped(text))
        }
        Block::Paragraph(cell) => format!("{}\n", toned(cell, Where::Start)),
        Block::List(items) => items.iter().map(item).collect(),
        Block::Table(table) => rows(table),
        Block::Figure(_) => String::new(),
    }
}

fn item(item: &Item) -> String {
    if item.lead.text.is_empty() {
        return format!("- {}\n", escaped_at(&item.text, Where::Start));
    }
    format!("- {} {}\n", toned(&item.lead, Where::Start), escaped(&item.text))
}

fn rows(table: &Table) -> String {
    let mut text = String::from("|");
    for column in &table.columns {
        text.push_str(&format!(" {} |", title(column)));
    }
    text.push_str("\n|");
    for column in &table.columns {
        text.push_str(if column.align == Align::Left { ":---|" } else { "---:|" });
    }
    text.push('\n');
    for row in &table.rows {
        text.push('|');
        for cell in row {
            text.push_str(&format!(" {} |", toned(cell, Where::Within)));
        }
        text.push('\n');
    }
    text
}

fn title(column: &Column) -> String {
    let title = escaped(&column.title);
    if column.unit.is_empty() { title } else { format!("{title} ({})", escaped(column.unit)) }
}

/// Bold where a person is needed.
fn toned(cell: &Cell, place: Where) -> String {
    let text = escaped_at(&cell.text, place);
    match cell.tone {
        Tone::Bad | Tone::Unsure if !text.is_empty() => format!("**{text}**"),
        _ => text,
    }
}

/// Whether a text starts a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Where {
    Start,
    Within,
}

fn escaped(text: &str) -> String {
    escaped_at(text, Where::Within)
}

/// Text that Markdown shows as it is.
fn escaped_at(text: &str, place: Where) -> String {
    let safe = visible(text);
    let chars: Vec<char> = safe.trim().chars().collect();
    let at = |i: Option<usize>| i.and_then(|i| chars.get(i)).copied().unwrap_or(' ');
    let mut out = String::with_capacity(safe.len() + 8);
    let starts = place == Where::Start;
    let number = chars.iter().take_while(|c| c.is_ascii_digit()).count();
    for (i, c) in chars.iter().enumerate() {
        let (before, after) = (at(i.checked_sub(1)), at(Some(i + 1)));
        let escape = match c {
            '\\' | '`' | '*' | '[' | ']' | '|' | '~' | '$' => true,
            // Within a word an underscore is no markup (CommonMark 6.2).
            '_' => !(before.is_alphanumeric() && after.is_alphanumeric()),
            // What would make a link of an address (GFM 6.9).
            ':' => after == '/',
            '@' => true,
            '.' => starts && i == number && i > 0 && after == ' ' || www(&chars, i),
            ')' => starts && i == number && i > 0,
            // What would start another block at the start of a line.
            '#' | '+' | '-' | '=' => starts && i == 0,
            _ => false,
        };
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            c => {
                if escape {
                    out.push('\\');
                }
                out.push(*c);
            }
        }
    }
    out
}

fn www(chars: &[char], dot: usize) -> bool {
    dot >= 3
        && chars.get(dot - 3..dot).is_some_and(|w| w.iter().all(|c| c.eq_ignore_ascii_case(&'w')))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hostile_names_stay_text() {
        // CommonMark 0.31 lets a backslash escape any ASCII punctuation (2.4); GFM needs it
        // for a pipe in a cell (4.10).
        let cases = [
            ("<script>alert(1)</script>", "&lt;script&gt;alert(1)&lt;/script&gt;"),
            ("a|b", "a\\|b"),
            ("`rm -rf`", "\\`rm -rf\\`"),
            ("[x](http://a.b)", "\\[x\\](http\\://a.b)"),
            ("www.a.b", "www\\.a.b"),
            ("a\nb", "a\\\\u{a}b"),
            ("_a_ *b*", "\\_a\\_ \\*b\\*"),
            ("melt_flow 1.75", "melt_flow 1.75"),
            ("# h", "\\# h"),
            ("- x", "\\- x"),
            ("1. x", "1\\. x"),
            ("&lt;", "&amp;lt;"),
            ("    code", "code"),
            ("-0.5", "\\-0.5"),
        ];
        for (name, wanted) in cases {
            assert_eq!(escaped_at(name, Where::Start), wanted, "{name:?}");
        }
        assert_eq!(escaped("-0.5"), "-0.5");
    }
}
