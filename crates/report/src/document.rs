//! What a report is made of, apart from any format. Texts here are raw: each
//! renderer makes them harmless in its own way.

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
    pub(crate) columns: Vec<Column>,
    pub(crate) rows: Vec<Vec<Cell>>,
}

impl Table {
    /// A table without the columns that hold nothing.
    pub(crate) fn new(columns: Vec<Column>, rows: Vec<Vec<Cell>>) -> Self {
        let used: Vec<bool> = (0..columns.len())
            .map(|i| rows.iter().any(|row| row.get(i).is_some_and(|c| !c.text.is_empty())))
            .collect();
        let keep = |i: usize| used.get(i).copied().unwrap_or(false);
        let pick = |row: Vec<Cell>| {
            row.into_iter().enumerate().filter(|(i, _)| keep(*i)).map(|(_, c)| c).collect()
        };
        Self {
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
    /// A plot, in formats that can show one; what it shows is in tables as well.
    Figure(Figure),
}

/// A plot of one quantity over another.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Figure {
    pub(crate) title: String,
    /// What there is to see, for those who do not see it.
    pub(crate) description: String,
    pub(crate) x_title: String,
    pub(crate) y_title: String,
    pub(crate) points: Vec<Point>,
    pub(crate) lines: Vec<Level>,
}

/// A point of a plot, and why it is marked.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Point {
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) marked: Option<String>,
}

/// A level line across a plot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Level {
    pub(crate) y: f64,
    pub(crate) is_limit: bool,
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

    /// A table; nothing where it has no rows.
    pub(crate) fn table(&mut self, columns: Vec<Column>, rows: Vec<Vec<Cell>>) {
        if !rows.is_empty() {
            self.blocks.push(Block::Table(Table::new(columns, rows)));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_that_hold_nothing_are_left_out() {
        let table = Table::new(
            vec![Column::text("lot"), Column::number("length", "m"), Column::count("readings")],
            vec![vec!["a".into(), "".into(), "1".into()], vec!["b".into(), "".into()]],
        );
        assert_eq!(table.columns.len(), 2);
        assert_eq!(table.rows[0], [Cell::from("a"), Cell::from("1")]);
    }
}
