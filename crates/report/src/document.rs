//! What a report is made of, apart from any format. Texts here are raw: each
//! renderer makes them harmless in its own way.

use crate::figure::Figure;

/// How a text is meant.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) enum Tone {
    #[default]
    Plain,
    Good,
    Bad,
    Unsure,
}

/// A piece of text.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Cell {
    pub(crate) text: String,
    pub(crate) tone: Tone,
}

impl Cell {
    pub(crate) fn new(text: impl Into<String>, tone: Tone) -> Self {
        Self { text: text.into(), tone }
    }
}

impl<T: Into<String>> From<T> for Cell {
    fn from(text: T) -> Self {
        Self::new(text, Tone::Plain)
    }
}

/// How the cells of a column stand under one another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Align {
    /// Text.
    Left,
    /// Whole numbers.
    Right,
    /// Numbers, decimal point under decimal point.
    Point,
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Column {
    pub(crate) title: String,
    pub(crate) unit: &'static str,
    pub(crate) align: Align,
}

impl Column {
    pub(crate) fn text(title: impl Into<String>) -> Self {
        Self { title: title.into(), unit: "", align: Align::Left }
    }

    pub(crate) fn count(title: impl Into<String>) -> Self {
        Self { title: title.into(), unit: "", align: Align::Right }
    }

    pub(crate) fn number(title: impl Into<String>, unit: &'static str) -> Self {
        Self { title: title.into(), unit, align: Align::Point }
    }
}

/// A table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Table {
    /// What it holds. Formats without captions leave it to the heading above.
    pub(crate) caption: String,
    pub(crate) columns: Vec<Column>,
    pub(crate) rows: Vec<Vec<Cell>>,
}

impl Table {
    /// A table without the columns that hold nothing.
    pub(crate) fn new(caption: String, columns: Vec<Column>, rows: Vec<Vec<Cell>>) -> Self {
        let used: Vec<bool> = (0..columns.len())
            .map(|i| rows.iter().any(|row| row.get(i).is_some_and(|c| !c.text.is_empty())))
            .collect();
        let keep = |i: usize| used.get(i).copied().unwrap_or(false);
        let pick = |row: Vec<Cell>| {
            row.into_iter().enumerate().filter(|(i, _)| keep(*i)).map(|(_, c)| c).collect()
        };
        Self {
            caption,
            columns: columns
                .into_iter()
                .enumerate()
                .filter(|(i, _)| keep(*i))
                .map(|(_, c)| c)
                .collect(),
            rows: rows.into_iter().map(pick).collect(),
        }
    }
}

/// An item of a list: a word in front, and a text.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Item {
    pub(crate) lead: Cell,
    pub(crate) text: String,
}

impl Item {
    pub(crate) fn new(lead: impl Into<Cell>, text: impl Into<String>) -> Self {
        Self { lead: lead.into(), text: text.into() }
    }

    /// An item without a word in front.
    pub(crate) fn plain(text: impl Into<String>) -> Self {
        Self { lead: Cell::default(), text: text.into() }
    }
}

/// A block of a document.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Block {
    /// What nobody may miss: what to shout, and why.
    Alarm { shout: String, why: String },
    /// A heading, level 1 to 4.
    Heading(u8, String),
    /// A paragraph.
    Paragraph(Cell),
    /// A list.
    List(Vec<Item>),
    /// A table.
    Table(Table),
    /// A drawing, for formats that have them; what stands around it says the same in words.
    Figure(Box<Figure>),
}

/// A document.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Document {
    pub(crate) blocks: Vec<Block>,
}

impl Document {
    pub(crate) fn heading(&mut self, level: u8, text: impl Into<String>) {
        self.blocks.push(Block::Heading(level, text.into()));
    }

    pub(crate) fn paragraph(&mut self, text: impl Into<Cell>) {
        self.blocks.push(Block::Paragraph(text.into()));
    }

    /// A list; nothing where it is empty.
    pub(crate) fn list(&mut self, items: Vec<Item>) {
        if !items.is_empty() {
            self.blocks.push(Block::List(items));
        }
    }

    /// A table; nothing where it has no rows. Its caption is what the headings above say.
    pub(crate) fn table(&mut self, columns: Vec<Column>, rows: Vec<Vec<Cell>>) {
        let caption = self.place();
        self.captioned(caption, columns, rows);
    }

    /// A table with a caption of its own; nothing where it has no rows.
    pub(crate) fn captioned(
        &mut self,
        caption: impl Into<String>,
        columns: Vec<Column>,
        rows: Vec<Vec<Cell>>,
    ) {
        if !rows.is_empty() {
            self.blocks.push(Block::Table(Table::new(caption.into(), columns, rows)));
        }
    }

    /// A drawing, where there is one.
    pub(crate) fn figure(&mut self, figure: Option<Figure>) {
        self.blocks.extend(figure.map(|f| Block::Figure(Box::new(f))));
    }

    /// How many drawings there are.
    pub(crate) fn figures(&self) -> usize {
        self.blocks.iter().filter(|b| matches!(b, Block::Figure(_))).count()
    }

    /// "Diameter, lot A": the last heading, and the one that it stands under.
    fn place(&self) -> String {
        let mut headings = self.blocks.iter().rev().filter_map(|b| match b {
            Block::Heading(level, text) => Some((*level, text)),
            _ => None,
        });
        let Some((level, text)) = headings.next() else { return String::new() };
        let above = headings.find(|(l, _)| *l < level).filter(|(l, _)| *l == 3);
        match above {
            Some((_, above)) => format!("{text}, {}", lower(above)),
            None => text.clone(),
        }
    }
}

/// The text with a small first letter.
fn lower(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map(|c| c.to_lowercase().collect::<String>() + chars.as_str()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_that_hold_nothing_are_left_out() {
        let table = Table::new(
            String::new(),
            vec![Column::text("lot"), Column::number("length", "m"), Column::count("readings")],
            vec![vec!["a".into(), "".into(), "1".into()], vec!["b".into(), "".into()]],
        );
        assert_eq!(table.columns.len(), 2);
        assert_eq!(table.rows[0], [Cell::from("a"), Cell::from("1")]);
    }
}
