//! A document as one page that needs nothing else: no network, no script. A policy in its head
//! forbids both, so that no name in the data can bring one in.

pub(crate) mod escape;

use crate::compose::Depth;
use crate::document::{Align, Block, Cell, Document, Item, Table, Tone};
use crate::figure::Figure;
use escape::{attribute, text};

const STYLE: &str = include_str!("html/style.css");
/// Rows from which on a table is folded away.
const FOLDED: usize = 16;
/// Units across from which on a drawing takes the whole width.
const BROAD: f64 = 576.0;

/// A page of so many bytes at the most, as long as it can be: where it would be longer, it shows
/// less of each thing, and says so.
pub(crate) fn within(most: usize, report: impl Fn(Depth) -> Document) -> String {
    let mut depth = Depth::PAGE;
    loop {
        let page = render(&report(depth));
        if page.len() < most || depth.lots <= 1 {
            return page;
        }
        depth = depth.half();
    }
}

/// The document as a page.
pub(crate) fn render(document: &Document) -> String {
    let title = document.blocks.iter().find_map(|b| match b {
        Block::Heading(1, text) => Some(text.as_str()),
        _ => None,
    });
    let mut page = format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n<title>{}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n\
         <a class=\"skip\" href=\"#content\">To the content</a>\n",
        text(title.unwrap_or("Report"))
    );
    page.push_str(&format!("<header><h1>{}</h1></header>\n", text(title.unwrap_or("Report"))));
    contents(&mut page, document);
    page.push_str("<main id=\"content\">\n");
    Body { page: &mut page, blocks: &document.blocks, tables: 0, figures: 0, open: false }.write();
    page.push_str("</main>\n</body>\n</html>\n");
    page
}

/// Links to the main sections.
fn contents(page: &mut String, document: &Document) {
    page.push_str("<nav aria-label=\"Contents\"><ul>\n");
    for (i, block) in document.blocks.iter().enumerate() {
        if let Block::Heading(2, title) = block {
            page.push_str(&format!("<li><a href=\"#s{i}\">{}</a></li>\n", text(title)));
        }
    }
    page.push_str("</ul></nav>\n");
}

/// The part of the page that is made of blocks.
struct Body<'a> {
    page: &'a mut String,
    blocks: &'a [Block],
    tables: usize,
    figures: usize,
    /// Whether a section is open.
    open: bool,
}

impl Body<'_> {
    fn write(mut self) {
        let mut i = 0;
        while let Some(block) = self.blocks.get(i) {
            match block {
                Block::Alarm { shout, why } => self.put(&format!(
                    "<div class=\"alarm\" role=\"alert\"><p class=\"shout\">{}</p><p>{}</p></div>\n",
                    text(shout),
                    text(why)
                )),
                Block::Heading(1, _) => {}
                // A heading of a table alone is its caption.
                Block::Heading(4, _) if matches!(self.blocks.get(i + 1), Some(Block::Table(_))) => {}
                Block::Heading(level, title) => self.heading(i, *level, title),
                Block::Paragraph(cell) => self.put(&paragraph(cell)),
                Block::List(items) => self.list(items),
                Block::Table(table) => self.table(table),
                Block::Figure(_) => {
                    let row = self.blocks[i..].iter().take_while(|b| matches!(b, Block::Figure(_))).count();
                    self.figures(i, row);
                    i += row - 1;
                }
            }
            i += 1;
        }
        if self.open {
            self.put("</section>\n");
        }
    }

    fn put(&mut self, html: &str) {
        self.page.push_str(html);
    }

    fn heading(&mut self, i: usize, level: u8, title: &str) {
        if level == 2 {
            if self.open {
                self.put("</section>\n");
            }
            self.open = true;
            self.put(&format!("<section aria-labelledby=\"s{i}\">\n"));
        }
        self.put(&format!("<h{level} id=\"s{i}\">{}</h{level}>\n", text(title)));
    }

    fn list(&mut self, items: &[Item]) {
        self.put("<ul>\n");
        for item in items {
            let lead = if item.lead.text.is_empty() {
                String::new()
            } else {
                format!("{} ", toned(&item.lead, "b"))
            };
            let item = format!("<li>{lead}{}</li>\n", text(&item.text));
            self.put(&item);
        }
        self.put("</ul>\n");
    }

    fn figures(&mut self, from: usize, number: usize) {
        let blocks = self.blocks;
        self.put(if number > 1 {
            "<div class=\"figures\">\n"
        } else {
            "<div class=\"figures one\">\n"
        });
        for block in &blocks[from..from + number] {
            if let Block::Figure(figure) = block {
                self.figures += 1;
                let html = drawn(figure, self.figures);
                self.put(&html);
            }
        }
        self.put("</div>\n");
    }

    fn table(&mut self, table: &Table) {
        self.tables += 1;
        let label = format!("Table {}. {}", self.tables, table.caption);
        let folded = table.rows.len() >= FOLDED;
        if folded {
            let rows = crate::numbers::count(table.rows.len() as u64);
            self.put(&format!("<details><summary>{} ({rows} rows)</summary>\n", text(&label)));
        }
        self.put(&format!(
            "<div class=\"wide\" role=\"region\" tabindex=\"0\" aria-label=\"{}\"><table><caption{}><b>Table {}.</b> {}</caption>\n<thead><tr>",
            attribute(&label),
            if folded { " class=\"told\"" } else { "" },
            self.tables,
            text(&table.caption)
        ));
        for column in &table.columns {
            let unit = if column.unit.is_empty() {
                String::new()
            } else {
                format!(" <span class=\"unit\">{}</span>", text(column.unit))
            };
            self.put(&format!(
                "<th scope=\"col\"{}>{}{unit}</th>",
                aligned(column.align),
                text(&column.title)
            ));
        }
        self.put("</tr></thead>\n<tbody>\n");
        for row in &table.rows {
            self.put("<tr>");
            for (i, cell) in row.iter().enumerate() {
                let align = table.columns.get(i).map_or("", |c| aligned(c.align));
                let inner = toned(cell, "span");
                // A row is named by its first cell, where that is a text.
                let names = i == 0 && align.is_empty() && !cell.text.is_empty();
                let html = if names {
                    format!("<th scope=\"row\">{inner}</th>")
                } else {
                    format!("<td{align}>{inner}</td>")
                };
                self.put(&html);
            }
            self.put("</tr>\n");
        }
        self.put("</tbody></table></div>\n");
        if folded {
            self.put("</details>\n");
        }
    }
}

fn drawn(figure: &Figure, number: usize) -> String {
    let drawing = figure.drawing.element(number, &figure.title, &figure.description);
    let drawing = if figure.network {
        let label = format!("Figure {number}");
        format!(
            "<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-label=\"{label}\">{drawing}</div>"
        )
    } else {
        drawing
    };
    let class = match (figure.network, figure.drawing.width > BROAD) {
        (true, true) => " class=\"net broad\"",
        (true, false) => " class=\"net\"",
        (false, _) => "",
    };
    format!(
        "<figure{class}>\n{drawing}\n<figcaption><b>Figure {number}.</b> {}. <span>{}</span></figcaption>\n</figure>\n",
        text(&figure.title),
        text(&figure.caption)
    )
}

fn paragraph(cell: &Cell) -> String {
    match class(cell.tone) {
        "" => format!("<p>{}</p>\n", text(&cell.text)),
        class => format!("<p class=\"answer {class}\">{}</p>\n", text(&cell.text)),
    }
}

fn toned(cell: &Cell, tag: &str) -> String {
    match class(cell.tone) {
        "" if tag == "b" => format!("<b>{}</b>", text(&cell.text)),
        "" => text(&cell.text),
        class => format!("<{tag} class=\"{class}\">{}</{tag}>", text(&cell.text)),
    }
}

fn class(tone: Tone) -> &'static str {
    match tone {
        Tone::Plain => "",
        Tone::Good => "good",
        Tone::Bad => "bad",
        Tone::Unsure => "unsure",
    }
}

fn aligned(align: Align) -> &'static str {
    match align {
        Align::Left => "",
        Align::Right | Align::Point => " class=\"n\"",
    }
}
