//! Tables as text: numbers under numbers, long texts wrapped in their cells; where a
//! table does not fit at all, each row becomes a short list.

use super::wrap::{longest_word, width_of, wrapped};
use super::{Style, bold, cell, painted};
use crate::document::{Align, Column, Table, Tone};

/// Columns between columns: two, or one where the table does not fit otherwise.
const GAPS: [usize; 2] = [2, 1];
/// A column of text is made narrower than this only where the table does not fit otherwise.
const NARROW: usize = 10;
/// Words up to this length are not broken while another column can give way.
const WORD: usize = 30;

/// The lines of a table.
pub(super) fn lines(table: &Table, style: Style) -> Vec<String> {
    let texts = aligned(table);
    match layout(table, &texts, style.width) {
        Some(layout) => grid(table, &texts, &layout, style),
        None => rows_apart(table, style),
    }
}

/// The texts of all cells, by row; numbers of a column padded to stand under one another.
fn aligned(table: &Table) -> Vec<Vec<String>> {
    let mut texts: Vec<Vec<String>> =
        table.rows.iter().map(|row| row.iter().map(cell).collect()).collect();
    for (i, column) in table.columns.iter().enumerate() {
        if column.align == Align::Point {
            let mut cells: Vec<&mut String> =
                texts.iter_mut().filter_map(|row| row.get_mut(i)).collect();
            let after = cells.iter().map(|c| after_point(c)).max().unwrap_or(0);
            for cell in &mut cells {
                let pad = after - after_point(cell);
                cell.push_str(&" ".repeat(pad));
            }
        }
    }
    texts
}

/// Columns from the decimal point on.
fn after_point(number: &str) -> usize {
    number.find('.').map_or(0, |at| number.len() - at)
}

/// How a table is laid out.
struct Layout {
    widths: Vec<usize>,
    gap: usize,
}

/// The layout of a table; none where it does not fit. Words are broken only where it does
/// not fit otherwise.
fn layout(table: &Table, texts: &[Vec<String>], width: usize) -> Option<Layout> {
    let tries = [WORD, NARROW].into_iter().flat_map(|word| GAPS.map(|gap| (word, gap)));
    tries.into_iter().find_map(|(unbroken, gap)| {
        let room = width.checked_sub(gap * table.columns.len().saturating_sub(1))?;
        fitted(table, texts, room, unbroken).map(|widths| Layout { widths, gap })
    })
}

fn fitted(
    table: &Table,
    texts: &[Vec<String>],
    room: usize,
    unbroken: usize,
) -> Option<Vec<usize>> {
    let mut wide: Vec<usize> = Vec::new();
    let mut least: Vec<usize> = Vec::new();
    for (i, column) in table.columns.iter().enumerate() {
        let cells = || texts.iter().filter_map(|row| row.get(i));
        let head = longest_word(&column.title).max(width_of(column.unit));
        let natural = cells().map(|t| width_of(t)).max().unwrap_or(0).max(head);
        let word = cells().map(|t| longest_word(t)).max().unwrap_or(0).min(unbroken);
        wide.push(natural);
        least.push(match column.align {
            Align::Left => natural.min(head.max(word).max(NARROW)),
            Align::Right | Align::Point => natural,
        });
    }
    if least.iter().sum::<usize>() > room {
        return None;
    }
    while wide.iter().sum::<usize>() > room {
        let widest = wide
            .iter_mut()
            .zip(&least)
            .filter(|(wide, least)| **wide > **least)
            .max_by_key(|(wide, _)| **wide)?;
        *widest.0 -= 1;
    }
    Some(wide)
}

fn grid(table: &Table, texts: &[Vec<String>], layout: &Layout, style: Style) -> Vec<String> {
    let mut lines = head(table, layout, style);
    lines.push(rule(layout));
    for (row, texts) in table.rows.iter().zip(texts) {
        let cells: Vec<Vec<String>> = texts
            .iter()
            .zip(&table.columns)
            .zip(&layout.widths)
            .map(|((text, column), width)| match column.align {
                Align::Left => wrapped(text, *width),
                Align::Right | Align::Point => vec![text.clone()],
            })
            .collect();
        let tones: Vec<Tone> = row.iter().map(|c| c.tone).collect();
        lines.extend(side_by_side(table, &cells, layout, &tones, style));
    }
    lines
}

/// The titles, ending on the same line, and the units below them.
fn head(table: &Table, layout: &Layout, style: Style) -> Vec<String> {
    let titles = |(column, width): (&Column, &usize)| wrapped(&column.title, *width);
    let mut cells: Vec<Vec<String>> =
        table.columns.iter().zip(&layout.widths).map(titles).collect();
    let tall = cells.iter().map(Vec::len).max().unwrap_or(0);
    let units = table.columns.iter().any(|c| !c.unit.is_empty());
    for (cell, column) in cells.iter_mut().zip(&table.columns) {
        let empty = tall - cell.len();
        cell.splice(0..0, std::iter::repeat_n(String::new(), empty));
        if units {
            cell.push(column.unit.to_owned());
        }
    }
    side_by_side(table, &cells, layout, &[], style).iter().map(|l| bold(l, style)).collect()
}

fn rule(layout: &Layout) -> String {
    let bars: Vec<String> = layout.widths.iter().map(|w| "-".repeat(*w)).collect();
    bars.join(&" ".repeat(layout.gap))
}

fn side_by_side(
    table: &Table,
    cells: &[Vec<String>],
    layout: &Layout,
    tones: &[Tone],
    style: Style,
) -> Vec<String> {
    let tall = cells.iter().map(Vec::len).max().unwrap_or(0);
    let line = |n: usize| {
        let mut parts = Vec::new();
        for (i, (column, width)) in table.columns.iter().zip(&layout.widths).enumerate() {
            let text = cells.get(i).and_then(|c| c.get(n)).map_or("", String::as_str);
            let gap = " ".repeat(width.saturating_sub(width_of(text)));
            let text = painted(text, tones.get(i).copied().unwrap_or_default(), style);
            parts.push(match column.align {
                Align::Left => text + &gap,
                Align::Right | Align::Point => gap + &text,
            });
        }
        parts.join(&" ".repeat(layout.gap))
    };
    (0..tall).map(|n| line(n).trim_end().to_owned()).collect()
}

/// Each row as lines of "title: text unit", for a table wider than the page.
fn rows_apart(table: &Table, style: Style) -> Vec<String> {
    let mut lines = Vec::new();
    for row in &table.rows {
        let mut mark = "  - ";
        for (column, cell) in table.columns.iter().zip(row).filter(|(_, c)| !c.text.is_empty()) {
            let gap = if column.unit.is_empty() { "" } else { " " };
            let text = format!("{}: {}{gap}{}", column.title, cell.text, column.unit);
            for line in wrapped(&text, style.width.saturating_sub(4)) {
                lines.push(format!("{mark}{}", painted(&line, cell.tone, style)));
                mark = "    ";
            }
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::Cell;

    const PLAIN: Style = Style { width: 80, colour: false };

    fn table() -> Table {
        let columns =
            vec![Column::text("lot"), Column::number("mean", "mm"), Column::count("readings")];
        let row = |lot: &str, mean: &str, n: &str| -> Vec<Cell> {
            vec![lot.into(), mean.into(), n.into()]
        };
        Table::new(
            String::new(),
            columns,
            vec![row("A", "1.75", "9"), row("B-7", "10.7012", "1200")],
        )
    }

    #[test]
    fn decimal_points_stand_under_one_another() {
        let wanted = [
            "lot     mean  readings",
            "          mm",
            "---  -------  --------",
            "A     1.75           9",
            "B-7  10.7012      1200",
        ];
        assert_eq!(lines(&table(), PLAIN), wanted);
    }

    #[test]
    fn a_long_text_wraps_within_its_column() {
        let columns = vec![Column::text("lot"), Column::text("note"), Column::count("n")];
        let note = "one two three four five six seven";
        let table =
            Table::new(String::new(), columns, vec![vec!["A".into(), note.into(), "1".into()]]);
        let lines = lines(&table, Style { width: 30, colour: false });
        assert!(lines.iter().all(|l| width_of(l) <= 30), "{lines:?}");
        assert_eq!(lines.len(), 4);
    }

    #[test]
    fn a_table_too_wide_for_the_page_becomes_a_list() {
        let lines = lines(&table(), Style { width: 12, colour: false });
        assert_eq!(lines[0], "  - lot: A");
        assert!(lines.iter().all(|l| width_of(l) <= 12), "{lines:?}");
    }
}
