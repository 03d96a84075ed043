//! A document as one page of HTML that needs nothing from anywhere: no script, no network. Every text is
//! escaped, so that no name in the data becomes markup.

mod plot;

use crate::document::{Align, Block, Cell, Document, Item, Table, Tone};
use secondmelt_record::contract::visible;

const STYLE: &str = include_str!("html/style.css");

/// The document as a page.
pub(crate) fn render(document: &Document) -> String {
    let title = document.blocks.iter().find_map(|block| match block {
        Block::Heading(1, text) => Some(text.as_str()),
        _ => None,
    });
    let mut page = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n<title>{}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n",
        escaped(title.unwrap_or("Report"))
    );
    page.push_str(&contents(document));
    page.push_str("<main>\n");
    let mut above = String::new();
    for (n, block) in document.blocks.iter().enumerate() {
        match block {
            Block::Heading(level, text) => {
                above.clone_from(text);
                let level = level.clamp(&1, &6);
                page.push_str(&format!("<h{level} id=\"s{n}\">{}</h{level}>\n", escaped(text)));
            }
            Block::Alarm { shout, why } => page.push_str(&format!(
                "<section class=\"alarm\" role=\"alert\"><h1>{}</h1><p>{}</p></section>\n",
                escaped(shout),
                escaped(why)
            )),
            Block::Paragraph(cell) => page.push_str(&format!("<p>{}</p>\n", toned(cell))),
            Block::List(items) => {
                let items: String = items.iter().map(item).collect();
                page.push_str(&format!("<ul>\n{items}</ul>\n"));
            }
            Block::Table(table) => page.push_str(&rows(table, &above)),
            Block::Figure(figure) => page.push_str(&plot::svg(figure, n)),
        }
    }
    page.push_str("</main>\n</body>\n</html>\n");
    page
}

/// Links to the main parts.
fn contents(document: &Document) -> String {
    let parts: String = document
        .blocks
        .iter()
        .enumerate()
        .filter_map(|(n, block)| match block {
            Block::Heading(2, text) => {
                Some(format!("<li><a href=\"#s{n}\">{}</a></li>\n", escaped(text)))
            }
            _ => None,
        })
        .collect();
    if parts.is_empty() {
        return String::new();
    }
    format!("<nav aria-label=\"Parts of the report\"><ul>\n{parts}</ul></nav>\n")
}

fn item(item: &Item) -> String {
    let text = escaped(&item.text);
    if item.lead.text.is_empty() {
        return format!("<li>{text}</li>\n");
    }
    format!("<li>{} {text}</li>\n", toned(&item.lead))
}

fn rows(table: &Table, caption: &str) -> String {
    let class = |align: Align| if align == Align::Left { "" } else { " class=\"n\"" };
    let head: String = table
        .columns
        .iter()
        .map(|column| {
            let unit = match column.unit {
                "" => String::new(),
                unit => format!(" <span class=\"unit\">{}</span>", escaped(unit)),
            };
            format!(
                "<th scope=\"col\"{}>{}{unit}</th>",
                class(column.align),
                escaped(&column.title)
            )
        })
        .collect();
    let body: String = table
        .rows
        .iter()
        .map(|row| {
            let cells: String = row
                .iter()
                .zip(&table.columns)
                .map(|(cell, column)| format!("<td{}>{}</td>", class(column.align), toned(cell)))
                .collect();
            format!("<tr>{cells}</tr>\n")
        })
        .collect();
    let caption = escaped(caption);
    // A wide table scrolls by itself, also by keyboard, and not the page.
    format!(
        "<div class=\"table\" role=\"region\" tabindex=\"0\" aria-label=\"{caption}\">\n<table>\n<caption>{caption}</caption>\n\
         <thead><tr>{head}</tr></thead>\n<tbody>\n{body}</tbody>\n</table>\n</div>\n"
    )
}

/// A tone is said by weight and shape as well as by colour.
fn toned(cell: &Cell) -> String {
    let text = escaped(&cell.text);
    let class = match cell.tone {
        _ if text.is_empty() => return text,
        Tone::Plain => return text,
        Tone::Good => "good",
        Tone::Bad => "bad",
        Tone::Unsure => "unsure",
    };
    format!("<span class=\"{class}\">{text}</span>")
}

/// Text that a browser shows as it is, also within an attribute. What cannot be seen, such as a mark that
/// turns the direction of writing, is made visible.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    for c in visible(text).chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::Column;

    #[test]
    fn hostile_names_stay_text() {
        let hostile = "</title><script>alert(1)</script>\" onload='x' \u{202e}";
        let mut document = Document::default();
        document.heading(1, hostile);
        document.heading(2, hostile);
        document.paragraph(hostile);
        document.table(vec![Column::text(hostile)], vec![vec![hostile.into()]]);
        let page = render(&document);
        assert!(
            !page.contains("<script") && !page.contains("onload='") && !page.contains('\u{202e}'),
            "{page}"
        );
        assert_eq!(page.matches("<caption>").count(), page.matches("<table>").count());
    }
}
